"""How much the days differ, and in what pattern: spread, halves of the day, target, weekdays.

Variability goes with risk, but nothing is treated by it: numbers for the practitioner, to be
shown neutrally. Intervals know of the correlation between days (`intervals.py`). Pressures
in mmHg; a pulse pressure is systolic minus diastolic.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from domain.evidence.days import Bools, Days, Floats, Ints, Pressure, Series
from domain.evidence.intervals import (
    CONFIDENCE,
    LEAST_DAYS,
    Fit,
    Interval,
    Sample,
    day_correlations,
    fit,
    inflation,
    pairs_apart,
    sample_of,
)
from domain.evidence.levels import Level, level
from domain.evidence.trend import WINDOW_DAYS

#: Each weekday must occur so often, or a pattern would be that of single days. Own choice.
LEAST_WEEKS: Final = 4

#: A pattern is told below this. Own choice, by simulation: with it a pattern is found in at
#: most 5 % of people who have none, up to a correlation of 0.4.
PATTERN_BELOW: Final = 0.03

_WEEK: Final = 7

#: Terms of the series for the correlation of two shares (`_alike_at_target`).
_TERMS: Final = 6


@dataclass(frozen=True, slots=True)
class Variability:
    """Spread of one person's daily values."""

    days: int
    sd: Interval  #: n - 1, mmHg
    cv: float  #: 100 SD / mean, percent
    #: Average real variability, mmHg: mean step between consecutive days, breaking at gaps;
    #: None when there are fewer than two steps. Mena, J Hypertens 2005;23:505.
    arv: float | None


@dataclass(frozen=True, slots=True)
class AtTarget:
    """On how many days the mean was below both limits."""

    days: int
    below: int
    share: Interval  #: 0 to 1; Wilson, JASA 1927, over effective days
    effective_days: float


@dataclass(frozen=True, slots=True)
class WeekPattern:
    """The weekdays differ, more than days do anyway."""

    means: tuple[float, ...]  #: mmHg, Monday first
    p: float


def variability(series: Series) -> Variability | None:
    """Spread of the days; None, cannot tell, below three (Finn-Home, Am J Hypertens 2018)."""
    found = level(series)
    if found is None:
        return None
    steps = np.abs(np.diff(series.values))[np.diff(series.days) == 1]
    return Variability(
        days=found.days,
        sd=found.sd,
        cv=100 * found.sd.estimate / found.mean.estimate,
        arv=float(steps.mean()) if len(steps) >= LEAST_DAYS - 1 else None,
    )


def morning_minus_evening(days: Days, pressure: Pressure) -> Level | None:
    """Mean difference over the days that have both; None below `LEAST_DAYS` of them."""
    both = (days.morning.readings > 0) & (days.evening.readings > 0)
    differences = (days.morning.of(pressure) - days.evening.of(pressure))[both]
    return level(Series(days.days[both], differences))


def pulse_pressure(days: Days) -> Level | None:
    """Mean of the days' pulse pressures; None below `LEAST_DAYS` days."""
    return level(days.series(Pressure.PULSE_PRESSURE))


def time_at_target(days: Days, target: tuple[float, float]) -> AtTarget | None:
    """Share of the days whose mean is below both limits.

    Args:
        target: systolic and diastolic, mmHg; both to stay below. Day means are compared
            as they are, not rounded.

    Returns:
        None, cannot tell, below `LEAST_DAYS` days.
    """
    if len(days) < LEAST_DAYS:
        return None
    parts = [days.series(Pressure.SYSTOLIC), days.series(Pressure.DIASTOLIC)]
    below = (parts[0].values < target[0]) & (parts[1].values < target[1])
    effective = np.minimum(*(effective_shares(sample_of([s]), below[None]) for s in parts))
    share = below.mean(keepdims=True)
    low, high = wilson(share, effective)
    return AtTarget(
        days=len(days),
        below=int(below.sum()),
        share=Interval(float(share[0]), float(low[0]), float(high[0])),
        effective_days=float(effective[0]),
    )


def effective_shares(sample: Sample, hits: Bools) -> Floats:
    """As many independent days would tell as much of the share of `hits`, by person.

    Args:
        sample: the daily values that are compared with a limit.
        hits: people by days, whether the day is below it; absent days are False.
    """
    pairs = pairs_apart(sample)
    weights = fit(sample).weights
    counts = sample.counts
    # A share of 0 or 1 says nothing of where the limit lies: two days more on either side
    # (Agresti and Coull, Am Stat 1998;52:119, from memory).
    likely = (hits.sum(axis=1) + 2) / (counts + 4)
    alike = _alike_at_target(day_correlations(), likely[:, None])
    found: Floats = counts / (weights * inflation(pairs, alike)).sum(axis=0)
    return found


def _alike_at_target(correlations: Floats, share: Floats) -> Floats:
    """Correlation of being below a limit on two days whose values are correlated.

    The limit is such that `share` of the days are below it. Tetrachoric series (Pearson,
    Phil Trans 1900, from memory); always less than the correlation of the values.
    """
    limit = special.ndtri(share)
    density = np.exp(-(limit**2) / 2) / np.sqrt(2 * np.pi)
    before, hermite = np.zeros_like(limit), np.ones_like(limit)
    found = np.zeros(np.broadcast_shapes(correlations.shape, share.shape))
    for term in range(1, _TERMS + 1):
        found += correlations**term * (hermite * density) ** 2 / special.gamma(term + 1)
        before, hermite = hermite, limit * hermite - (term - 1) * before
    return found / (share * (1 - share))


def wilson(share: Floats, days: Floats, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
    """Both ends of Wilson's interval of a share (0 to 1) of some days, whole or not."""
    square = float(special.ndtri((1 + confidence) / 2)) ** 2
    middle = (share + square / (2 * days)) / (1 + square / days)
    half = np.sqrt(square * share * (1 - share) / days + (square / (2 * days)) ** 2)
    half = half / (1 + square / days)
    return np.maximum(middle - half, 0.0), np.minimum(middle + half, 1.0)


def week_pattern(series: Series) -> WeekPattern | None:
    """The weekdays' means, only if they differ more than by chance; None otherwise.

    Over the last `WINDOW_DAYS`; every weekday must be there `LEAST_WEEKS` times.
    """
    if len(series) == 0:
        return None
    window = series.since(int(series.days[-1]) - WINDOW_DAYS + 1)
    weekday = weekdays(window.days)
    counts = np.bincount(weekday, minlength=_WEEK)
    if counts.min() < LEAST_WEEKS:
        return None
    p = float(pattern_chances(sample_of([window]))[0])
    if p >= PATTERN_BELOW:
        return None
    means = np.bincount(weekday, window.values, _WEEK) / counts
    return WeekPattern(tuple(means.tolist()), p)


def weekdays(days: Ints) -> Ints:
    """Weekdays of ordinals of dates, 0 for Monday, as `date.weekday`."""
    return (days + 6) % _WEEK


def pattern_chances(sample: Sample) -> Floats:
    """How likely weekdays without a pattern would differ as much, by person (F test).

    Every weekday must be there in everybody's days.
    """
    weekday = weekdays(sample.days)
    columns = [((weekday == day) & sample.present).astype(float) for day in range(1, _WEEK)]
    level_only, with_days = fit(sample), fit(sample, *columns)
    return _f_test(level_only, with_days, _WEEK - 1)


def _f_test(less: Fit, more: Fit, added: int) -> Floats:
    ratio = (less.squares - more.squares) / added / more.variances
    chances = special.fdtrc(added, more.freedom, np.maximum(ratio, 0.0))
    found: Floats = (more.weights * chances).sum(axis=0)
    return found
