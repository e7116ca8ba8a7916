"""The mean of some days with its interval, and the spread of one day about it.

The mean is the plain one, as a person works it out by hand; only its interval knows of the
correlation between days (`intervals.py`). For one person, and for many at once. mmHg.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from domain.evidence.days import Floats, Series
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
    spread_bounds,
    t_bounds,
)


@dataclass(frozen=True, slots=True, eq=False)
class Means:
    """Means of many people's days, each with at least `LEAST_DAYS` of them."""

    means: Floats  #: mmHg, by person
    found: Fit
    pairs: Floats  #: of `intervals.pairs_apart`
    inflations: Floats  #: of the variance of the mean, by correlation and person

    @property
    def scales(self) -> Floats:
        """Standard errors of the means, by correlation and person."""
        found: Floats = np.sqrt(self.found.variances * self.inflations / self.pairs[:, 0])
        return found

    @property
    def effective_days(self) -> Floats:
        """As many independent days would tell as much of the mean, by person."""
        found: Floats = self.pairs[:, 0] / (self.found.weights * self.inflations).sum(axis=0)
        return found

    def bounds(self, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
        """Both ends of the interval of the mean, by person."""
        return t_bounds(self.found.weights, self.means, self.scales, self.found.freedom, confidence)


@dataclass(frozen=True, slots=True)
class Level:
    """The mean of one person's days."""

    days: int
    mean: Interval  #: mmHg
    sd: Interval  #: SD of one day's value, n - 1, mmHg
    effective_days: float
    correlation: float  #: from one day to the next, as far as the days tell


def means_of(sample: Sample) -> Means:
    """The means of many people.

    Raises:
        ValueError: somebody has a single day.
    """
    pairs = pairs_apart(sample)
    means: Floats = sample.values.sum(axis=1, where=sample.present) / sample.counts
    return Means(means, fit(sample), pairs, inflation(pairs, day_correlations()))


def level(series: Series) -> Level | None:
    """The mean of the days with its interval; None, cannot tell, below `LEAST_DAYS` days."""
    if len(series) < LEAST_DAYS:
        return None
    found = means_of(sample_of([series]))
    low, high = (float(end[0]) for end in found.bounds())
    least, most = (float(end[0]) for end in spread_bounds(found.found))
    # Equal days, or days that rise all the time, are no such days as the interval thinks of.
    # It must not leave out the very figure that it stands beside.
    sd = float(np.std(series.values, ddof=1))
    return Level(
        days=len(series),
        mean=Interval(float(found.means[0]), low, high),
        sd=Interval(sd, min(least, sd), max(most, sd)),
        effective_days=float(found.effective_days[0]),
        correlation=float(found.found.correlation[0]),
    )
