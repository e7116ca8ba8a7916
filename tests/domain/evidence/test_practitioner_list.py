"""The practitioner's list: who stands where, why, in which order; numbers as one by one."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.wording.catalogue import languages, wording
from domain.averaging import average, printed
from domain.averaging_rules import RULES
from domain.evidence import quality
from domain.evidence.patients import LATELY, WINDOW, practitioner_list
from domain.evidence.plan_days import RESULT_DAYS
from domain.people import PersonId
from domain.plans import KINDS, Plan, PlanKind, asked_for
from domain.practice_list import ACTIONS, Action, Entry, Followed, Reason
from domain.readings import Mmhg, Reading
from domain.record_quality import Cause
from domain.shown import Pair, local_occasions
from domain.talk.practice_talk import reason_line
from tests.domain.evidence.many_readings import ZONES, columns_of, series

LISBON = ZoneInfo("Europe/Lisbon")
TODAY = date(2026, 6, 10)  # a Wednesday
NOW = datetime.combine(TODAY, time(12), LISBON)
ESH = RULES["esh"]


def day(ago: int) -> date:
    return TODAY - timedelta(days=ago)


def plan(kind: PlanKind, ago: int) -> Plan:
    """A plan whose first day was so many days ago."""
    return Plan(kind=kind, first_day=day(ago))


def hollis(**facts: object) -> Followed:
    known: dict[str, object] = {
        "person": PersonId("hollis"),
        "name": "Hollis",
        "zone": LISBON,
        "plan": plan(PlanKind.REGULAR_DAYS, 0),
    }
    return Followed(**(known | facts))  # type: ignore[arg-type]


def taken(ago: int, clock: time, *pairs: tuple[int, int], pause: float = 70) -> list[Reading]:
    """Readings of one occasion, so many days ago."""
    at = datetime.combine(day(ago), clock, LISBON)
    return [
        Reading(
            systolic=Mmhg(systolic),
            diastolic=Mmhg(diastolic),
            at=at + timedelta(seconds=pause * place),
        )
        for place, (systolic, diastolic) in enumerate(pairs)
    ]


def week(
    ending: int, systolic: int, diastolic: int = 78, *, days: int = 7, pause: float = 70
) -> list[Reading]:
    """Pairs on so many mornings and evenings, the last so many days ago."""
    found = []
    for ago in range(ending, ending + days):
        for clock in (time(7, 30), time(19, 30)):
            # No number ends in 0 more often than by chance, and the mean is as asked for.
            pairs = (systolic - 1, diastolic - 1), (systolic + 1, diastolic + 1)
            found += taken(ago, clock, *pairs, pause=pause)
    return found


def entry(readings: Sequence[Reading], patient: Followed | None = None) -> Entry:
    (found,) = practitioner_list([patient or hollis()], columns_of([readings]), now=NOW, rule=ESH)
    return found


FIRST_WEEK = hollis(plan=plan(PlanKind.FIRST_WEEK, 3))
REGULAR = hollis(plan=plan(PlanKind.REGULAR_DAYS, 40))
NEW_TABLETS = hollis(plan=plan(PlanKind.NEW_TABLETS_WEEK, 5))


@pytest.mark.parametrize(
    ("readings", "patient", "reason"),
    [
        pytest.param(week(1, 120), hollis(alarm_open=True), Reason.ALARM_OPEN, id="alarm"),
        pytest.param(taken(2, time(8), (180, 80)), REGULAR, Reason.SEVERE_LATELY, id="severe"),
        pytest.param(taken(2, time(8), (150, 110)), REGULAR, Reason.SEVERE_LATELY, id="diastolic"),
        pytest.param(taken(2, time(8), (179, 109)), REGULAR, Reason.AS_ASKED, id="not severe"),
        pytest.param(taken(3, time(8), (180, 80)), REGULAR, Reason.AS_ASKED, id="days ago"),
        pytest.param(taken(2, time(8), (89, 60)), REGULAR, Reason.LOW_LATELY, id="low"),
        pytest.param(taken(2, time(8), (90, 60)), REGULAR, Reason.AS_ASKED, id="not low"),
        pytest.param([], hollis(joined=False), Reason.NOT_JOINED, id="not joined"),
        pytest.param([], hollis(joined=False, asked=False), Reason.NOT_ASKED, id="declined"),
        pytest.param(week(1, 135), hollis(), Reason.ABOVE_TARGET, id="at the limit"),
        pytest.param(week(1, 120, 85), hollis(), Reason.ABOVE_TARGET, id="diastolic alone"),
        pytest.param(week(1, 134, 84), hollis(), Reason.AT_TARGET, id="below the limit"),
        pytest.param(week(1, 134), hollis(target=(130, 80)), Reason.ABOVE_TARGET, id="own target"),
        pytest.param(
            week(1, 140), hollis(asked=False), Reason.ABOVE_TARGET, id="paused, but a result"
        ),
        pytest.param(week(1, 120), hollis(asked=False), Reason.NOT_ASKED, id="paused"),
        pytest.param(week(1, 120), hollis(plan=None), Reason.NOT_ASKED, id="no plan"),
        pytest.param([], REGULAR, Reason.NO_READINGS, id="never measured"),
        pytest.param([], hollis(), Reason.AS_ASKED, id="begins today"),
        pytest.param(week(30, 120), REGULAR, Reason.SILENT, id="silent"),
        pytest.param(week(1, 140, days=3), FIRST_WEEK, Reason.PLAN_RUNS, id="week runs"),
        pytest.param(
            week(1, 140, days=7),
            hollis(plan=plan(PlanKind.FIRST_WEEK, 6)),
            Reason.PLAN_RUNS,
            id="enough, but the week is not over",
        ),
        pytest.param(
            week(1, 160, days=6),
            hollis(plan=plan(PlanKind.FIRST_WEEK, 6)),
            Reason.ABOVE_TARGET,
            id="too high to wait",
        ),
        pytest.param(
            [r for ago in (1, 2, 3) for r in taken(ago, time(8), (130, 80))],
            FIRST_WEEK,
            Reason.PLAN_RUNS,
            id="half of what was asked",
        ),
        pytest.param(taken(1, time(8), (130, 80)), FIRST_WEEK, Reason.BEHIND, id="behind"),
        pytest.param(
            week(6, 165),
            NEW_TABLETS,
            Reason.PLAN_RUNS,
            id="the week before the new tablets is no result",
        ),
        pytest.param(
            week(1, 140, days=2),
            hollis(plan=plan(PlanKind.FIRST_WEEK, 7)),
            Reason.TOO_FEW,
            id="the week is over with too few",
        ),
        pytest.param(
            week(2, 125, days=2),
            hollis(plan=plan(PlanKind.REGULAR_DAYS, 1)),
            Reason.TOO_FEW,
            id="the week before was too few",
        ),
        pytest.param(
            [r for ago in (2, 6, 9, 13) for r in taken(ago, time(8), (134, 80), (136, 82))],
            REGULAR,
            Reason.ABOVE_TOO_FEW,
            id="regular days above target",
        ),
        pytest.param(
            [r for ago in (2, 6, 9, 13) for r in taken(ago, time(8), (132, 80), (134, 82))],
            REGULAR,
            Reason.AS_ASKED,
            id="regular days below target",
        ),
        pytest.param(week(1, 120, pause=20), hollis(), Reason.POOR_DATA, id="poor data"),
        pytest.param(
            week(RESULT_DAYS, 140) + taken(1, time(8), (120, 70)),
            REGULAR,
            Reason.ABOVE_TARGET,
            id="an older result still waits",
        ),
        pytest.param(
            week(RESULT_DAYS + 1, 140, days=5) + taken(1, time(8), (120, 70)),
            REGULAR,
            Reason.ABOVE_TOO_FEW,
            id="a result too old",
        ),
        pytest.param(
            week(RESULT_DAYS + 1, 120),
            hollis(plan=plan(PlanKind.FIRST_WEEK, RESULT_DAYS + 7)),
            Reason.TOO_FEW,
            id="a week that ended long ago and was never decided on",
        ),
    ],
)
def test_each_stands_where_the_first_reason_that_holds_puts_them(
    readings: list[Reading], patient: Followed, reason: Reason
) -> None:
    found = entry(readings, patient)

    _is_said(found)
    assert found.reason is reason
    assert found.action is ACTIONS[reason]


# --- numbers


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(min_value=0, max_value=2**32),
    name=st.sampled_from(sorted(RULES)),
    days=st.integers(min_value=1, max_value=60),
)
def test_every_average_is_that_of_the_rule_one_by_one(seed: int, name: str, days: int) -> None:
    chance = random.Random(seed)
    patients, people = [], []
    for number in range(6):
        zone = chance.choice(ZONES)
        began = plan(chance.choice(list(PlanKind)), chance.randrange(30))
        patients.append(hollis(person=PersonId(str(number)), zone=zone, plan=began))
        start = NOW - timedelta(days=days + chance.randrange(25))
        people.append(series(seed + number, start, days))

    found = practitioner_list(patients, columns_of(people), now=NOW, rule=RULES[name])

    assert sorted(int(one.patient) for one in found) == list(range(6))
    for one in found:
        _is_said(one)
        place = int(one.patient)
        zone = patients[place].zone
        window = [r for r in people[place] if NOW - WINDOW <= r.at <= NOW]
        occasions = local_occasions(window, zone)
        today = NOW.astimezone(zone).date()
        assert one.last_day == (occasions[-1].day if occasions else None)
        began = patients[place].plan
        assert began is not None
        seven = [o for o in occasions if 1 <= (today - o.day).days <= 7]
        assert one.done == len([o for o in seven if o.day >= began.first_day])
        assert one.asked == asked_for(began, today - timedelta(7), today - timedelta(1))
        if one.average is None:
            continue
        rule = {**RULES, LATELY.name: LATELY}[one.average.rule]
        until = [r for o in occasions if o.day <= one.average.last_day for r in o.occasion.readings]
        expected = average(until, rule, zone)
        assert expected.overall.systolic is not None
        assert expected.overall.diastolic is not None
        assert one.average.systolic == printed(expected.overall.systolic)
        assert one.average.diastolic == printed(expected.overall.diastolic)
        assert one.average.readings == expected.overall.readings
        assert one.average.days == len(expected.days)
        if rule.name == name:
            assert one.lacks == expected.lacks


def _is_said(one: Entry) -> None:
    """Every line that can come up has all that its words name, in every language."""
    for language in languages():
        assert wording(language).plain(reason_line(one)).startswith(one.name)


def test_readings_outside_the_window_and_of_the_future_are_not_looked_at() -> None:
    before = taken(91, time(8), (150, 90))
    future = taken(-1, time(8), (200, 120))

    found = entry(before + week(1, 120) + future)

    assert found.reason is Reason.AT_TARGET
    assert found.average is not None
    assert (found.average.shown, found.average.readings) == (Pair(120, 78), 24)


def test_today_is_each_patients_own() -> None:
    late = datetime(2026, 6, 10, 22, 30, tzinfo=UTC)
    auckland = hollis(person=PersonId("kit"), zone=ZoneInfo("Pacific/Auckland"))
    at = datetime(2026, 6, 10, 8, 0, tzinfo=UTC)  # the 10th in both places
    one = [Reading(systolic=Mmhg(120), diastolic=Mmhg(70), at=at)]

    found = practitioner_list([hollis(), auckland], columns_of([one, one]), now=late, rule=ESH)

    assert {line.patient: line.silent for line in found} == {"hollis": 0, "kit": 1}


def test_the_worst_reading_of_the_last_days_is_the_one_that_is_named() -> None:
    readings = taken(0, time(8), (185, 90)) + taken(1, time(8), (192, 114), (192, 108))

    assert entry(readings).worst == Pair(192, 114)
    low = taken(0, time(8), (88, 55)) + taken(1, time(8), (85, 60))
    assert entry(low).worst == Pair(85, 60)


def test_nobody_gives_an_empty_list() -> None:
    assert practitioner_list([], columns_of([]), now=NOW, rule=ESH) == ()


# --- order


def test_the_order_is_what_cannot_wait_first_and_then_how_far_above() -> None:
    people = {
        "fine": (week(1, 120), hollis()),
        "little": (week(1, 137), hollis()),
        "much": (week(1, 158), hollis()),
        "diastolic": (week(1, 130, 94), hollis()),
        "alarm": (week(1, 120), hollis(alarm_open=True)),
        "severe": (taken(1, time(8), (188, 90)), REGULAR),
        "more severe": (taken(1, time(8), (199, 90)), REGULAR),
        "silent": (week(30, 120), REGULAR),
    }
    patients = [replace(patient, person=PersonId(name)) for name, (_, patient) in people.items()]

    found = practitioner_list(
        patients, columns_of([readings for readings, _ in people.values()]), now=NOW, rule=ESH
    )

    assert [one.patient for one in found] == [
        *("alarm", "more severe", "severe"),
        *("much", "diastolic", "little"),
        "silent",
        "fine",
    ]


def test_equals_stand_as_they_were_passed() -> None:
    names = ["c", "a", "b"]
    patients = [hollis(person=PersonId(name)) for name in names]

    found = practitioner_list(patients, columns_of([week(1, 140)] * 3), now=NOW, rule=ESH)

    assert [one.patient for one in found] == names


def test_reasons_are_declared_in_the_order_of_their_actions() -> None:
    order = [list(Action).index(ACTIONS[reason]) for reason in Reason]

    assert order == sorted(order)
    assert set(ACTIONS) == set(Reason)
    assert set(ACTIONS.values()) == set(Action)


def test_a_result_never_comes_from_before_a_change_of_medicine() -> None:
    change = KINDS[PlanKind.NEW_TABLETS_WEEK]
    assert change.days is not None
    assert change.from_day + change.days > RESULT_DAYS


# --- poor data


@pytest.mark.parametrize(
    ("readings", "causes", "pause"),
    [
        pytest.param(week(1, 120, pause=60), (), None, id="a full minute"),
        pytest.param(week(1, 120, pause=59), (Cause.NO_FULL_MINUTE,), 59, id="a second less"),
        pytest.param(week(1, 120, pause=20), (Cause.NO_FULL_MINUTE,), 20, id="twenty seconds"),
        pytest.param(week(1, 120, pause=1), (), None, id="told together, length not known"),
        pytest.param(week(1, 120, days=2, pause=20), (), None, id="too few to be a habit"),
        pytest.param(week(30, 120, pause=20), (), None, id="long ago"),
        pytest.param(
            [r for n in range(1, 7) for r in taken(n, time(8), (121, 71))],
            (Cause.SECOND_LEFT_OUT,),
            None,
            id="single readings",
        ),
        pytest.param(
            [r for n in range(1, 6) for r in taken(n, time(8), (121, 71))],
            (),
            None,
            id="five single readings",
        ),
        pytest.param(
            [r for n in range(1, 11) for r in taken(n, time(8), (120, 77), (130, 76))],
            (Cause.NUMBERS_ROUNDED,),
            None,
            id="every systolic rounded",
        ),
        pytest.param(
            [r for n in range(1, 11) for r in taken(n, time(8), (120, 77), (126, 76))],
            (),
            None,
            id="one number in four",
        ),
        pytest.param(
            [r for n in range(1, 10) for r in taken(n, time(8), (120, 70), (130, 80))],
            (),
            None,
            id="too few numbers to tell",
        ),
    ],
)
def test_a_likely_cause_is_named_only_where_it_is_a_habit(
    readings: list[Reading], causes: tuple[Cause, ...], pause: int | None
) -> None:
    found = entry(readings)

    assert (found.causes, found.pause) == (causes, pause)


def test_causes_have_the_names_that_the_record_of_one_patient_has_for_them() -> None:
    assert Cause is quality.Cause
