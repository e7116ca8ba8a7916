"""What each kind of plan asks for, and that a local time comes once on every local day."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.plans import (
    KINDS,
    Due,
    Plan,
    PlanKind,
    asked_for,
    halves_on,
    local_moment,
    next_due,
)
from domain.readings import Half

MONDAY = date(2026, 3, 9)
PROMPTS = {Half.MORNING: time(7, 30), Half.EVENING: time(19, 30)}
LISBON = ZoneInfo("Europe/Lisbon")


def days_of(plan: Plan, count: int) -> dict[int, int]:
    """Occasions by the number of the day, of the days that have any."""
    asked = {n: len(halves_on(plan, plan.first_day + timedelta(days=n))) for n in range(count)}
    return {day: occasions for day, occasions in asked.items() if occasions}


def every_due(plan: Plan, zone: ZoneInfo, after: datetime, count: int) -> list[Due]:
    found: list[Due] = []
    while len(found) < count:
        due = next_due(plan, PROMPTS, zone, after)
        if due is None:
            break
        found.append(due)
        after = due.moment
    return found


def test_the_first_week_asks_twice_a_day_for_seven_days() -> None:
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=MONDAY)
    assert days_of(plan, 30) == dict.fromkeys(range(7), 2)
    assert plan.last_day == MONDAY + timedelta(days=6)
    assert plan.counted_from == MONDAY


def test_new_tablets_are_watched_lightly_and_measured_from_the_fifteenth_day() -> None:
    plan = Plan(kind=PlanKind.NEW_TABLETS_WEEK, first_day=MONDAY)
    assert days_of(plan, 40) == {
        **dict.fromkeys((0, 3, 6, 9, 12), 1),
        **dict.fromkeys(range(14, 21), 2),
    }
    assert halves_on(plan, MONDAY) == (Half.MORNING,)
    assert plan.counted_from == MONDAY + timedelta(days=14)
    assert plan.last_day == MONDAY + timedelta(days=20)


def test_regular_days_are_monday_and_thursday_mornings_without_end() -> None:
    plan = Plan(kind=PlanKind.REGULAR_DAYS, first_day=MONDAY)
    assert days_of(plan, 14) == {0: 1, 3: 1, 7: 1, 10: 1}
    assert halves_on(plan, MONDAY) == (Half.MORNING,)
    assert plan.last_day is None
    assert halves_on(plan, MONDAY + timedelta(days=7 * 500)) == (Half.MORNING,)


def test_twice_a_year_are_three_days_every_half_year() -> None:
    plan = Plan(kind=PlanKind.TWICE_A_YEAR, first_day=MONDAY)
    assert days_of(plan, 365) == dict.fromkeys((0, 1, 2, 182, 183, 184, 364), 2)
    assert plan.last_day is None


def test_own_days_may_be_chosen() -> None:
    usual = Plan(kind=PlanKind.OWN_DAYS, first_day=MONDAY)
    chosen = Plan(kind=PlanKind.OWN_DAYS, first_day=MONDAY, weekdays=(5,))
    assert days_of(usual, 7) == {0: 2, 2: 2, 4: 2}
    assert days_of(chosen, 14) == {5: 2, 12: 2}


@pytest.mark.parametrize("kind", list(PlanKind))
def test_no_plan_asks_before_its_first_day(kind: PlanKind) -> None:
    plan = Plan(kind=kind, first_day=MONDAY)
    assert halves_on(plan, MONDAY - timedelta(days=1)) == ()


@pytest.mark.parametrize("kind", list(PlanKind))
def test_every_kind_has_a_source_and_leads_to_a_plan_that_has_no_end(kind: PlanKind) -> None:
    assert KINDS[kind].source
    plan = Plan(kind=kind, first_day=MONDAY)
    following = KINDS[kind].then
    assert (following is None) == (plan.last_day is None)


def test_an_occasion_is_due_strictly_after_the_moment() -> None:
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=MONDAY)
    at = datetime(2026, 3, 9, 7, 30, tzinfo=UTC)
    before = next_due(plan, PROMPTS, LISBON, at - timedelta(seconds=1))
    then = next_due(plan, PROMPTS, LISBON, at)
    assert before is not None
    assert before.moment == at
    assert before.half is Half.MORNING
    assert then is not None
    assert then.moment == datetime(2026, 3, 9, 19, 30, tzinfo=UTC)


def test_a_finished_plan_has_nothing_due() -> None:
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=MONDAY)
    assert next_due(plan, PROMPTS, LISBON, datetime(2026, 3, 15, 19, 30, tzinfo=UTC)) is None


def test_what_was_asked_for_is_counted_with_both_ends() -> None:
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=MONDAY)
    assert asked_for(plan, MONDAY, MONDAY) == 2
    assert asked_for(plan, MONDAY, MONDAY + timedelta(days=20)) == 14
    assert asked_for(plan, MONDAY + timedelta(days=1), MONDAY) == 0


# --- the days on which clocks change

_ZONES = ("Europe/Lisbon", "America/Halifax", "Asia/Kolkata", "Australia/Lord_Howe")


@pytest.mark.parametrize("zone", _ZONES)
@pytest.mark.parametrize("clock", [time(7, 30), time(2, 30), time(2, 15), time(1, 30)])
def test_a_local_time_comes_once_on_every_local_day_of_the_year(zone: str, clock: time) -> None:
    place = ZoneInfo(zone)
    days = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]
    moments = [local_moment(day, clock, place) for day in days]
    assert [moment.astimezone(place).date() for moment in moments] == days
    assert all(before < after for before, after in pairwise(moments))


@pytest.mark.parametrize(
    ("zone", "day", "clock", "utc", "shown"),
    [
        # gaps: the clock jumps, and the time moves forward by the length of the gap
        ("Europe/Lisbon", date(2026, 3, 29), time(1, 30), "01:30", "02:30"),
        ("Europe/Lisbon", date(2026, 3, 29), time(2, 30), "01:30", "02:30"),
        ("America/Halifax", date(2026, 3, 8), time(2, 30), "06:30", "03:30"),
        ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15), "15:45", "02:45"),
        # folds: the first of the two
        ("Europe/Lisbon", date(2026, 10, 25), time(1, 30), "00:30", "01:30"),
        ("America/Halifax", date(2026, 11, 1), time(1, 30), "04:30", "01:30"),
        ("Australia/Lord_Howe", date(2026, 4, 5), time(1, 45), "14:45", "01:45"),
        # and the morning after keeps its own clock
        ("Europe/Lisbon", date(2026, 3, 29), time(7, 30), "06:30", "07:30"),
        ("Europe/Lisbon", date(2026, 10, 25), time(7, 30), "07:30", "07:30"),
        ("Asia/Kolkata", date(2026, 3, 29), time(2, 30), "21:00", "02:30"),
    ],
)
def test_gaps_move_forward_and_folds_take_the_first(
    zone: str, day: date, clock: time, utc: str, shown: str
) -> None:
    moment = local_moment(day, clock, ZoneInfo(zone))
    assert f"{moment:%H:%M}" == utc
    assert f"{moment.astimezone(ZoneInfo(zone)):%H:%M}" == shown


@pytest.mark.parametrize("zone", _ZONES)
@pytest.mark.parametrize("change", [date(2026, 3, 29), date(2026, 10, 25), date(2026, 4, 5)])
@pytest.mark.parametrize("clock", [time(7, 30), time(2, 30)])
def test_prompts_around_a_change_of_clocks_are_one_a_day(
    zone: str, change: date, clock: time
) -> None:
    place = ZoneInfo(zone)
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=change - timedelta(days=3))
    after = local_moment(plan.first_day, time(0), place) - timedelta(hours=6)
    days: list[date] = []
    while (due := next_due(plan, {Half.MORNING: clock}, place, after)) is not None:
        assert due.moment.astimezone(place).date() == due.day
        days.append(due.day)
        after = due.moment
    assert days == [plan.first_day + timedelta(days=n) for n in range(7)]


@given(
    kind=st.sampled_from(PlanKind),
    zone=st.sampled_from(_ZONES),
    after=st.datetimes(datetime(2026, 1, 1), datetime(2027, 12, 31), timezones=st.just(UTC)),  # noqa: DTZ001
)
def test_what_is_due_next_lies_ahead_and_is_asked_for_on_its_day(
    kind: PlanKind, zone: str, after: datetime
) -> None:
    plan = Plan(kind=kind, first_day=date(2026, 3, 9))
    for due in every_due(plan, ZoneInfo(zone), after, 5):
        assert due.moment > after
        assert due.half in halves_on(plan, due.day)
