"""Before and after a change of medicine: the difference of means, and how far to trust it.

What is compared are whole periods, never the value that led to the change. The difference is
no proof that the medicine did it. Interval: Welch's (Biometrika 1947;34:28, from memory)
with the correlation between days of `intervals.py`, which also links the last days before
with the first ones after. Pressures in mmHg, after minus before.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

import numpy as np
from scipy import special

from domain.evidence.days import Days, Floats, Ints, Part, Pressure, Series
from domain.evidence.intervals import (
    CLEAR_TAIL,
    CONFIDENCE,
    Interval,
    Sample,
    day_correlations,
    fit,
    pairs_apart,
    sample_of,
    t_below,
    t_bounds,
)
from domain.evidence.levels import Level, Means, level, means_of
from domain.sources import Status

#: Days from the change to the first one that counts as after it. AHA/AMA (confirmed):
#: measure from two weeks after a change.
SETTLING_DAYS: Final = 14

#: At most so many days before the change, and as many after the settling. Own choice: four
#: whole weeks.
PERIOD_DAYS: Final = 28

#: Fewer days in either period cannot tell: a week without its first day (NICE NG136, ESH
#: 2021). With three or four days beside four weeks the interval would also hold in less than
#: 93 % at a correlation of 0.4.
LEAST_DAYS_EACH: Final = 6

#: With fewer days than the week that ESH 2021 and NICE NG136 want, chance alone moves the mean
#: before the change much.
WHOLE_WEEK: Final = 7

#: mmHg, what a change should be told from. Own choice: the step of five in the tables of
#: office and home pressures (AHA/ACC 2025 table 7).
WORTH_SEEING: Final = 5.0

#: Nobody measures longer for one comparison; own choice.
MOST_DAYS_NEEDED: Final = 180


class Shift(StrEnum):
    LOWER = "lower"
    HIGHER = "higher"
    NOT_CLEAR = "not_clear"  #: an interval of `intervals.CLEAR_CONFIDENCE` holds zero
    CANNOT_TELL = "cannot_tell"  #: too few days before or after


class Caution(StrEnum):
    """Why a fall may come about without any effect: regression to the mean."""

    CHOSEN_FOR_BEING_HIGH = "chosen_for_being_high"
    SHORT_BEFORE = "short_before"  #: fewer than `WHOLE_WEEK` days before the change


@dataclass(frozen=True, slots=True)
class Change:
    """One person's pressure before and after. Without an interval it cannot be told."""

    shift: Shift
    part: Part  #: which part of the days is compared
    before: Level | None  #: None below `intervals.LEAST_DAYS` days
    after: Level | None
    difference: Interval | None  #: mmHg
    cautions: frozenset[Caution]
    #: In each period, to see `WORTH_SEEING`; None: nothing known yet, or more than
    #: `MOST_DAYS_NEEDED`.
    days_needed: int | None
    days_before: int  #: that count, without the first one
    days_after: int


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """Differences of many people's means, after minus before (axes: correlation, person)."""

    differences: Floats  #: by person
    weights: Floats
    scales: Floats
    freedom: Floats

    def bounds(self, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
        """Both ends of the interval of the difference, by person."""
        return t_bounds(self.weights, self.differences, self.scales, self.freedom, confidence)

    def below(self, value: float) -> Floats:
        """Chance that the true difference is below `value`, by person."""
        return t_below(self.weights, self.differences, self.scales, self.freedom, value)


def before_and_after(
    days: Days, changed: date, pressure: Pressure, *, chosen_for_being_high: bool
) -> Change:
    """The days around a change of medicine.

    Before: the `PERIOD_DAYS` up to the day before the change. After: as many, from
    `SETTLING_DAYS` after it on. The first day with a value is left out in both, as the
    protocols do (NICE NG136, ESH 2021).

    Args:
        changed: local date on which the new medicine or dose was first taken.
        chosen_for_being_high: the days before led to the change because they were high.
    """
    settled = changed + timedelta(days=SETTLING_DAYS)
    before = days.between(changed - timedelta(days=PERIOD_DAYS), changed - timedelta(days=1))
    after = days.between(settled, settled + timedelta(days=PERIOD_DAYS - 1))
    part = before.joined(after).comparable_part()
    earlier, later = (_but_first(one.series(pressure, part)) for one in (before, after))
    cautions = set()
    if chosen_for_being_high:
        cautions.add(Caution.CHOSEN_FOR_BEING_HIGH)
    if len(earlier) < WHOLE_WEEK:
        cautions.add(Caution.SHORT_BEFORE)
    return _compared(earlier, later, part, frozenset(cautions))


def _but_first(series: Series) -> Series:
    return Series(series.days[1:], series.values[1:])


def _compared(earlier: Series, later: Series, part: Part, cautions: frozenset[Caution]) -> Change:
    before, after = level(earlier), level(later)
    known = max((one for one in (before, after) if one), key=lambda one: one.days, default=None)
    needed = days_needed(known.sd.estimate, known.correlation) if known else None
    if min(len(earlier), len(later)) < LEAST_DAYS_EACH:
        counts = len(earlier), len(later)
        return Change(Shift.CANNOT_TELL, part, before, after, None, cautions, needed, *counts)
    found = differences_of(sample_of([earlier]), sample_of([later]))
    low, high = (float(end[0]) for end in found.bounds())
    return Change(
        shift=shifts(found)[0],
        part=part,
        before=before,
        after=after,
        difference=Interval(float(found.differences[0]), low, high),
        cautions=cautions,
        days_needed=needed,
        days_before=len(earlier),
        days_after=len(later),
    )


def differences_of(before: Sample, after: Sample) -> Differences:
    """Differences of the means of many people, each with `LEAST_DAYS_EACH` in both periods.

    Every day of a person's `after` lies later than every one of their `before`.

    Raises:
        ValueError: somebody has fewer days.
    """
    if (np.minimum(before.counts, after.counts) < LEAST_DAYS_EACH).any():
        raise ValueError(f"a difference needs {LEAST_DAYS_EACH} days in both periods")
    one, other = means_of(before), means_of(after)
    both = _both(before, after)
    first, second = one.scales**2, other.scales**2
    spreads = np.sqrt(one.found.variances * other.found.variances)
    shared = spreads * _links(both, one, other)
    freedom = (first + second) ** 2 / (
        first**2 / one.found.freedom + second**2 / other.found.freedom
    )
    return Differences(
        other.means - one.means,
        _weights(both, after),
        np.sqrt(first + second - 2 * shared),
        freedom,
    )


def _both(before: Sample, after: Sample) -> Sample:
    found = Sample(
        np.concatenate((before.days, after.days), axis=1),
        np.concatenate((before.values, after.values), axis=1),
        np.concatenate((before.present, after.present), axis=1),
    )
    return found.only(found.present)  # present days first again


def _weights(both: Sample, after: Sample) -> Floats:
    """Of the correlations: what all the days tell of them, the means being free to differ."""
    later = both.present & (both.days >= after.days[:, :1])
    return fit(both, later.astype(float)).weights


def _links(both: Sample, one: Means, other: Means) -> Floats:
    """Covariance of the two means where one day's SD is 1 in both periods."""
    across = pairs_apart(both) - one.pairs - other.pairs
    found: Floats = (day_correlations() * across).sum(axis=-1)
    return found / (one.pairs[:, 0] * other.pairs[:, 0])


def shifts(found: Differences) -> list[Shift]:
    """What may be said of each person's difference."""
    lower = found.below(0.0)
    return [
        Shift.LOWER if p > 1 - CLEAR_TAIL else Shift.HIGHER if p < CLEAR_TAIL else Shift.NOT_CLEAR
        for p in lower
    ]


def detectable_change(sd: float, days: Ints | int, correlation: float = 0.0) -> Floats:
    """The least change of a mean that 95 % of unchanged people do not show, mmHg.

    Args:
        sd: of one day's value about the person's mean, mmHg.
        days: consecutive days in each of the two periods.
        correlation: from one day to the next.

    Source: 1.96 times root 2 times the standard error of the mean (Bland and Altman, BMJ
    1996, from memory); the standard error for correlated days is that of a first-order
    autoregression.
    """
    k = np.asarray(days, dtype=float)
    r = correlation
    inflation = (1 + r) / (1 - r) - 2 * r * (1 - r**k) / (k * (1 - r) ** 2)
    z = float(special.ndtri((1 + CONFIDENCE) / 2))
    found: Floats = z * np.sqrt(2 * inflation / k) * sd
    return found


def days_needed(sd: float, correlation: float, change: float = WORTH_SEEING) -> int | None:
    """Consecutive days in each period after which `change` mmHg can be seen.

    None when more than `MOST_DAYS_NEEDED` would be needed. Arguments: `detectable_change`.
    """
    days = np.arange(1, MOST_DAYS_NEEDED + 1)
    enough = np.flatnonzero(detectable_change(sd, days, correlation) <= change)
    return int(days[enough[0]]) if enough.size else None


@dataclass(frozen=True, slots=True)
class Population:
    """Systolic pressure at home among many people, mmHg."""

    mean: float
    between_sd: float  #: of people's own levels
    within_sd: float  #: of one person's days
    source: str
    status: Status


#: An example population. Others differ, above all in their mean.
OHASAMA: Final = Population(
    123.4, 15.1, 8.6, "Kato, Ohasama, Am J Hypertens 2010", Status.CONFIRMED
)


def expected_fall(observed: float, days: int, population: Population = OHASAMA) -> float:
    """How far a systolic mean (mmHg) over some days is expected to fall with no effect at all.

    Negative where it is expected to rise. Source: Barnett, Int J Epidemiol 2005;34:215 (from
    memory).
    """
    between, within = population.between_sd**2, population.within_sd**2
    kept = between / (between + within / days)
    return (1 - kept) * (observed - population.mean)
