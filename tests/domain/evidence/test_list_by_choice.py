"""The practitioner's list where patients have rules and marks of their own."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from domain.averaging_rules import RULES
from domain.evidence.patients import practitioner_list
from domain.people import PersonId
from domain.practice_list import Action, Entry, Followed, Reason
from domain.practice_marks import Finding, Seen
from domain.readings import Mmhg, Reading
from tests.domain.evidence.many_readings import ZONES, columns_of, series

TODAY = date(2026, 6, 10)
ZONE = ZONES[0]
NOW = datetime.combine(TODAY, time(12), ZONE)
SEEN = Seen(
    by="Dr. Okafor-Lindqvist",
    at=datetime(2026, 6, 1, tzinfo=UTC),
    until=date(2026, 7, 1),
    finding=Finding("above_target"),
    value=(143, 78),
)


def patient(name: str, **facts: object) -> Followed:
    known: dict[str, object] = {"person": PersonId(name), "name": name, "zone": ZONE}
    return Followed(**(known | facts))  # type: ignore[arg-type]


def week(systolic: int) -> list[Reading]:
    return [
        Reading(
            systolic=Mmhg(systolic + offset),
            diastolic=Mmhg(78 + offset),
            at=datetime.combine(TODAY - timedelta(days=ago), time(hour, 30), ZONE)
            + timedelta(seconds=70 * (offset > 0)),
        )
        for ago in range(1, 8)
        for hour in (7, 19)
        for offset in (-1, 1)
    ]


def listed(*people: tuple[Followed, list[Reading]], now: datetime = NOW) -> dict[str, Entry]:
    readings = columns_of([readings for _, readings in people])
    found = practitioner_list([one for one, _ in people], readings, now=now)
    return {entry.name: entry for entry in found}


def test_each_patients_average_goes_by_the_rule_that_was_chosen_for_them() -> None:
    both = listed(
        (patient("esh"), week(143)),
        (patient("all", rule=RULES["aha-ama"]), week(143)),
    )

    averages = {name: entry.average for name, entry in both.items()}
    assert averages["esh"] is not None
    assert averages["all"] is not None
    assert (averages["esh"].rule, averages["esh"].readings) == ("esh", 24)  # without the first day
    assert (averages["all"].rule, averages["all"].readings) == ("aha-ama", 28)


@pytest.mark.parametrize("seed", range(6))
def test_with_several_rules_each_line_is_the_one_of_its_rule_alone(seed: int) -> None:
    chance = random.Random(seed)
    begin = NOW - timedelta(days=30)
    people = [
        (
            patient(f"p{n}", rule=RULES[chance.choice(("esh", "nice", "jsh"))], zone=ZONES[n % 4]),
            series(100 * seed + n, begin, 30),
        )
        for n in range(9)
    ]

    together = listed(*people)

    for one, readings in people:
        assert together[one.name] == listed((one, readings))[one.name]
    reasons = [list(Reason).index(entry.reason) for entry in together.values()]
    assert reasons == sorted(reasons)


def test_what_was_seen_and_decided_needs_nothing_now() -> None:
    entry = listed((patient("hollis", seen=SEEN), week(143)))["hollis"]

    assert (entry.action, entry.reason) == (Action.LEAVE_ALONE, Reason.SEEN)
    assert (entry.finding, entry.until) == (Reason.ABOVE_TARGET, date(2026, 7, 1))


@pytest.mark.parametrize(
    ("systolic", "seen", "reason"),
    [
        (152, SEEN, Reason.SEEN),
        (153, SEEN, Reason.ABOVE_TARGET),
        (143, replace(SEEN, until=TODAY), Reason.ABOVE_TARGET),
        (143, replace(SEEN, finding=Finding("silent")), Reason.ABOVE_TARGET),
        (185, SEEN, Reason.SEVERE_LATELY),
        (120, SEEN, None),
    ],
)
def test_a_worse_or_another_finding_is_told_all_the_same(
    systolic: int, seen: Seen, reason: Reason | None
) -> None:
    marked = listed((patient("hollis", seen=seen), week(systolic)))["hollis"]
    plain = listed((patient("hollis"), week(systolic)))["hollis"]

    assert marked.reason is (reason or plain.reason)
    if reason is not Reason.SEEN:
        assert marked == plain


def test_an_open_alarm_stands_first_whatever_was_seen() -> None:
    alarm = replace(SEEN, finding=Finding("alarm_open"))
    found = listed(
        (patient("seen", seen=SEEN), week(143)),
        (patient("alarm", seen=alarm, alarm_open=True), week(143)),
        (patient("above"), week(143)),
    )

    assert list(found) == ["alarm", "above", "seen"]
