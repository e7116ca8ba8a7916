"""Measurement plans: what a person has been asked to measure, as data, and what is due when.

Days and times are local to the person. A plan is a row of `KINDS` with its source; this
file knows no clock and no wording.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

from domain.readings import Half


class PlanKind(StrEnum):
    FIRST_WEEK = "first-week"
    NEW_TABLETS_WEEK = "new-tablets-week"
    REGULAR_DAYS = "regular-days"
    TWICE_A_YEAR = "twice-a-year"
    OWN_DAYS = "own-days"


BOTH: Final = (Half.MORNING, Half.EVENING)
MORNINGS: Final = (Half.MORNING,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """When a kind of plan asks, counted in days from its first day (day 0).

    Before `from_day` it asks on every `watch_every`-th morning (0: never). From then on
    it asks for `halves` on `days` days; None is without end. `weekdays` (0 is Monday)
    narrows to those; `repeat_days` begins anew after so many days.
    """

    halves: tuple[Half, ...]
    from_day: int = 0
    days: int | None = None
    watch_every: int = 0
    weekdays: tuple[int, ...] | None = None
    repeat_days: int | None = None
    then: PlanKind | None = None
    source: str


KINDS: Final[Mapping[PlanKind, Pattern]] = {
    PlanKind.FIRST_WEEK: Pattern(
        halves=BOTH,
        days=7,
        then=PlanKind.REGULAR_DAYS,
        source="NICE NG136 1.2.7, ESH 2021: seven days, two readings morning and evening",
    ),
    PlanKind.NEW_TABLETS_WEEK: Pattern(
        halves=BOTH,
        from_day=14,
        days=7,
        watch_every=3,
        then=PlanKind.REGULAR_DAYS,
        source="AHA/AMA 2020: from two weeks after a change; light watch before: common practice",
    ),
    PlanKind.REGULAR_DAYS: Pattern(
        halves=MORNINGS,
        weekdays=(0, 3),
        source="Stergiou 2018: one or two pairs a week when stable",
    ),
    PlanKind.TWICE_A_YEAR: Pattern(
        halves=BOTH,
        days=3,
        repeat_days=182,
        source="every six months when well: common practice; three days: ESH 2021 least",
    ),
    PlanKind.OWN_DAYS: Pattern(
        halves=BOTH,
        weekdays=(0, 2, 4),
        source="what the practitioner and the person agreed on",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A kind of plan as one person follows it."""

    kind: PlanKind
    first_day: date  #: local; for new tablets the day of the change
    weekdays: tuple[int, ...] | None = None  #: own choice instead of the pattern's

    @property
    def last_day(self) -> date | None:
        """The last day on which it asks, or None when it has no end."""
        pattern = KINDS[self.kind]
        if pattern.days is None or pattern.repeat_days is not None:
            return None
        return self.first_day + timedelta(days=pattern.from_day + pattern.days - 1)

    @property
    def counted_from(self) -> date:
        """The first day that belongs to its result: the watch before a new dose does not."""
        return self.first_day + timedelta(days=KINDS[self.kind].from_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """An occasion that a plan asks for."""

    moment: datetime  #: aware, UTC
    day: date
    half: Half


def halves_on(plan: Plan, day: date) -> tuple[Half, ...]:
    """The halves of a local day in which the plan asks for an occasion."""
    pattern = KINDS[plan.kind]
    number = (day - plan.first_day).days
    if number < 0:
        return ()
    if pattern.repeat_days is not None:
        number %= pattern.repeat_days
    if number < pattern.from_day:
        watched = pattern.watch_every and number % pattern.watch_every == 0
        return MORNINGS if watched else ()
    if pattern.days is not None and number >= pattern.from_day + pattern.days:
        return ()
    weekdays = plan.weekdays if plan.weekdays is not None else pattern.weekdays
    if weekdays is not None and day.weekday() not in weekdays:
        return ()
    return pattern.halves


def local_moment(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The UTC moment of a local clock time on a day, once on every day.

    A time that does not exist moves forward by the length of the gap; one that exists
    twice is the first.
    """
    return datetime.combine(day, clock.replace(fold=0), tzinfo=zone).astimezone(UTC)


def next_due(
    plan: Plan, prompts: Mapping[Half, time], zone: ZoneInfo, after: datetime
) -> Due | None:
    """The first occasion that falls due strictly after a moment, or None when none will."""
    for due in _coming(plan, prompts, zone, after):
        if due.moment > after:
            return due
    return None


#: Longest stretch without an occasion that any plan has, with room to spare.
_HORIZON_DAYS: Final = 400


def _coming(
    plan: Plan, prompts: Mapping[Half, time], zone: ZoneInfo, after: datetime
) -> Iterator[Due]:
    today = after.astimezone(zone).date()
    start = max(today - timedelta(days=1), plan.first_day)
    for offset in range(_HORIZON_DAYS):
        day = start + timedelta(days=offset)
        for half in halves_on(plan, day):
            if half in prompts:
                yield Due(moment=local_moment(day, prompts[half], zone), day=day, half=half)


def asked_for(plan: Plan, first_day: date, last_day: date) -> int:
    """How many occasions the plan asks for from one local day to another, both included."""
    days = (last_day - first_day).days + 1
    return sum(len(halves_on(plan, first_day + timedelta(days=n))) for n in range(days))
