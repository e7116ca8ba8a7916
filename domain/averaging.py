"""Averages of home readings under a published rule.

Pressures in mmHg, pulse in beats per minute, exact; days are local dates. The rules are
rows of `averaging_rules.RULES`, the bands rows of `bands.BAND_TABLES`; this file only applies
them. It knows no wording: what is missing comes back as numbers, and why a reading is left
out as a code. What an occasion is, the halves of the day and the limits: `readings.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from enum import StrEnum
from fractions import Fraction
from zoneinfo import ZoneInfo

from domain.averaging_rules import Counted, MeanOf, Rule
from domain.bands import Band, Guideline, band, higher_band
from domain.readings import Half, Occasion, Reading, Setting, half_of, occasions, whole


class Why(StrEnum):
    """Why a reading is not in the mean. The first one that holds is given."""

    CLINIC = "clinic"  #: taken at the clinic, and the average is one of home
    DUPLICATE = "duplicate"  #: same moment and numbers as one before it
    BEFORE_WEEK = "before_week"  #: before the days that the rule counts
    FIRST_DAY = "first_day"
    AFTERNOON = "afternoon"  #: neither half, under a rule that goes by halves


class Least(StrEnum):
    """The least that a rule asks for: what there may be too little of."""

    DAYS = "days"
    CONSECUTIVE_DAYS = "consecutive_days"
    READINGS = "readings"
    REPEATED_OCCASIONS = "repeated_occasions"
    MORNINGS_OR_EVENINGS = "mornings_or_evenings"


@dataclass(frozen=True, slots=True)
class Lack:
    """There are `found` of what the rule wants at least `needed` of."""

    least: Least
    needed: int
    found: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A reading that is not in the mean, and its place (from 0) among those passed in."""

    place: int
    reading: Reading
    why: Why


@dataclass(frozen=True, slots=True)
class LocalOccasion:
    """An occasion with the clock time of its first reading where it was taken.

    The whole occasion belongs to that date and half, also where a later reading lies past
    midnight.
    """

    occasion: Occasion
    places: tuple[int, ...]  #: of its readings, from 0, among those passed in
    local: datetime  #: without zone: clock time on the wall

    @property
    def day(self) -> date:
        return self.local.date()

    @property
    def half(self) -> Half:
        return half_of(self.local)


@dataclass(frozen=True, slots=True)
class Mean:
    """Exact means with their counts; None and 0 where there is no reading."""

    occasions: int
    readings: int
    systolic: Fraction | None
    diastolic: Fraction | None
    pulse: Fraction | None
    band: Band | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Average:
    """What a rule makes of some readings. Shown together with what it lacks, always.

    `overall.band` is the band of the overall mean, except under a rule that goes by halves:
    there it is the higher one of the halves' bands.
    """

    rule: Rule
    used: tuple[LocalOccasion, ...]  #: oldest first
    left_out: tuple[LeftOut, ...]  #: oldest first
    first_day: date | None  #: the one left out as such; it counts among the rule's least days
    overall: Mean
    morning: Mean
    evening: Mean
    lacks: tuple[Lack, ...]

    @property
    def enough(self) -> bool:
        return not self.lacks

    @property
    def guideline(self) -> Guideline:
        return self.rule.guideline

    @property
    def days(self) -> tuple[date, ...]:
        """Local dates with a used reading, in order."""
        return tuple(sorted({occasion.day for occasion in self.used}))


def average(readings: Sequence[Reading], rule: Rule, zone: ZoneInfo | None = None) -> Average:
    """The mean of the readings that `rule` keeps.

    Args:
        readings: in any order, with duplicates if there are any. Those taken at the clinic
            are left out before anything is counted: they make no day and no week either.
        rule: a row of `RULES`.
        zone: where the days begin. None: each reading by the offset of its own moment.

    Returns:
        Exact numbers; `printed` makes of them what is shown. Without a used reading the
        means are None. They are there also when it is not enough.

    Raises:
        OverflowError: a moment that has no date in UTC or in `zone` (year 1 or 9999).

    Source: the rule's own `source`; grouping, week and duplicates are the project's choice.
    """
    home = [place for place, one in enumerate(readings) if one.setting is Setting.HOME]
    different, duplicates = _without_duplicates(readings, home)
    found = _local_occasions(readings, different, zone)
    week_begins, first_day = _counted_days(found, rule)
    used: list[LocalOccasion] = []
    left_out = dict.fromkeys(set(range(len(readings))) - set(home), Why.CLINIC)
    left_out |= dict.fromkeys(duplicates, Why.DUPLICATE)
    for occasion in found:
        why = _why_left_out(occasion, rule, week_begins, first_day)
        if why is None:
            used.append(occasion)
        else:
            left_out.update(dict.fromkeys(occasion.places, why))
    overall, morning, evening = _means(used, rule)
    return Average(
        rule=rule,
        used=tuple(used),
        left_out=tuple(
            LeftOut(place, readings[place], left_out[place])
            for place in _in_order(readings, left_out)
        ),
        first_day=first_day,
        overall=overall,
        morning=morning,
        evening=evening,
        lacks=_lacks(used, rule, first_day),
    )


def printed(mean: Fraction) -> Fraction:
    """The mean as it is shown: one decimal, half to even, from the exact value."""
    return round(mean, 1)


def band_of_means(guideline: Guideline, systolic: Fraction, diastolic: Fraction) -> Band:
    """The band of two means, mmHg, from the numbers that are shown.

    Each printed number is rounded half up to a whole one, so that the same numbers always
    have the same band and the error is on the careful side: a shown 134.5 counts as 135
    (common practice).
    """
    return band(guideline, whole(printed(systolic)), whole(printed(diastolic)))


def _without_duplicates(
    readings: Sequence[Reading], places: Sequence[int]
) -> tuple[list[int], list[int]]:
    """Of these places those in order of moment, and those that repeat one before them."""
    seen: set[tuple[datetime, int, int, int | None]] = set()
    different: list[int] = []
    repeated: list[int] = []
    for place in _in_order(readings, places):
        reading = readings[place]
        same = (reading.at.astimezone(UTC), reading.systolic, reading.diastolic, reading.pulse)
        (repeated if same in seen else different).append(place)
        seen.add(same)
    return different, repeated


def _in_order(readings: Sequence[Reading], places: Iterable[int]) -> list[int]:
    return sorted(places, key=lambda place: (readings[place].at.astimezone(UTC), place))


def _local_occasions(
    readings: Sequence[Reading], places: Sequence[int], zone: ZoneInfo | None
) -> list[LocalOccasion]:
    """The readings at `places`, which are in order of moment, as occasions."""
    # In UTC, because Python subtracts two moments of one zone by their clock times, which
    # is an hour wrong over a change of clocks.
    in_utc = [replace(readings[place], at=readings[place].at.astimezone(UTC)) for place in places]
    found: list[LocalOccasion] = []
    begun = 0
    for group in occasions(in_utc):
        own = tuple(places[begun : begun + len(group.readings)])
        begun += len(own)
        where = zone or readings[own[0]].at.tzinfo
        found.append(
            LocalOccasion(
                occasion=Occasion(tuple(readings[place] for place in own)),
                places=own,
                local=group.started.astimezone(where).replace(tzinfo=None),
            )
        )
    return found


def _counted_days(found: Sequence[LocalOccasion], rule: Rule) -> tuple[int, date | None]:
    """The ordinal of the first date that counts, and the date left out as day 1."""
    days = sorted({occasion.day for occasion in found})
    if not days:
        return 0, None
    # By ordinals: near year 1 there may be no date a week before.
    begins = days[-1].toordinal() - rule.week_days + 1 if rule.week_days is not None else 0
    if not rule.leave_out_first_day:
        return begins, None
    return begins, next(day for day in days if day.toordinal() >= begins)


def _why_left_out(
    occasion: LocalOccasion, rule: Rule, week_begins: int, first_day: date | None
) -> Why | None:
    if occasion.day.toordinal() < week_begins:
        return Why.BEFORE_WEEK
    if occasion.day == first_day:
        return Why.FIRST_DAY
    if rule.by_halves and occasion.half is Half.AFTERNOON:
        return Why.AFTERNOON
    return None


def _means(used: Sequence[LocalOccasion], rule: Rule) -> tuple[Mean, Mean, Mean]:
    """Of all, of the mornings, of the evenings."""
    morning = _mean([o.occasion for o in used if o.half is Half.MORNING], rule)
    evening = _mean([o.occasion for o in used if o.half is Half.EVENING], rule)
    overall = _mean([o.occasion for o in used], rule)
    if rule.by_halves:
        higher = higher_band(rule.guideline, morning.band, evening.band)
        overall = replace(overall, band=higher)
    return overall, morning, evening


def _mean(used: Sequence[Occasion], rule: Rule) -> Mean:
    readings = [reading for occasion in used for reading in occasion.readings]
    weighed: Sequence[Occasion | Reading]
    match rule.mean_of:
        case MeanOf.READINGS:
            weighed = readings
        case MeanOf.OCCASIONS:
            weighed = used
    systolic = _exact_mean(one.systolic for one in weighed)
    diastolic = _exact_mean(one.diastolic for one in weighed)
    if systolic is None or diastolic is None:
        return Mean(0, 0, None, None, None, None)
    return Mean(
        occasions=len(used),
        readings=len(readings),
        systolic=systolic,
        diastolic=diastolic,
        pulse=_exact_mean(one.pulse for one in weighed if one.pulse is not None),
        band=band_of_means(rule.guideline, systolic, diastolic),
    )


def _exact_mean(values: Iterable[int | Fraction]) -> Fraction | None:
    every = list(values)
    return Fraction(sum(every), len(every)) if every else None


def _lacks(used: Sequence[LocalOccasion], rule: Rule, first_day: date | None) -> tuple[Lack, ...]:
    days = {occasion.day for occasion in used}
    if first_day is not None:
        days.add(first_day)
    wanted = (
        Lack(Least.CONSECUTIVE_DAYS, rule.least_days, _longest_run(days))
        if rule.consecutive
        else Lack(Least.DAYS, rule.least_days, len(days)),
        _kept(used, rule),
    )
    return tuple(lack for lack in wanted if lack.found < lack.needed)


def _longest_run(days: set[date]) -> int:
    """How many dates the longest unbroken run has."""
    longest = run = 0
    before = None
    for ordinal in sorted(day.toordinal() for day in days):
        run = run + 1 if before is not None and ordinal == before + 1 else 1
        longest = max(longest, run)
        before = ordinal
    return longest


def _kept(used: Sequence[LocalOccasion], rule: Rule) -> Lack:
    sizes = [len(occasion.places) for occasion in used]
    match rule.counted:
        case Counted.READINGS:
            return Lack(Least.READINGS, rule.least_kept, sum(sizes))
        case Counted.REPEATED_OCCASIONS:
            repeated = sum(size >= 2 for size in sizes)
            return Lack(Least.REPEATED_OCCASIONS, rule.least_kept, repeated)
        case Counted.MORNINGS_OR_EVENINGS:
            mornings = {o.day for o in used if o.half is Half.MORNING}
            evenings = {o.day for o in used if o.half is Half.EVENING}
            more = max(len(mornings), len(evenings))
            return Lack(Least.MORNINGS_OR_EVENINGS, rule.least_kept, more)
