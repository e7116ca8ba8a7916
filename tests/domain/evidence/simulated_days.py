"""Invented people whose days are alike, for tests of intervals by simulation.

SD of one person's days as in the Ohasama study (Kato, Am J Hypertens 2010: 8.6 with an SD of
3.1 between people, systolic), level 15.1 mmHg apart between people (same), each day
correlated with the one before it (first-order autoregression), up to 40 % of days missing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from domain.evidence.days import Bools, Floats, Series
from domain.evidence.intervals import Sample

FIRST_DAY = 739_000  # some day in 2024


@dataclass(frozen=True, slots=True, eq=False)
class People:
    """Their days, and the truth that no reading shows. Arrays: people by days."""

    levels: Floats
    sds: Floats
    values: Floats
    present: Bools

    def those(self, chosen: Bools) -> People:
        return People(
            self.levels[chosen], self.sds[chosen], self.values[chosen], self.present[chosen]
        )

    def with_days(self, least: int) -> People:
        """Only people with so many days. Of the others nothing can be told."""
        return self.those(self.present.sum(axis=1) >= least)

    def sample(self, first: int = 0, last: int | None = None) -> Sample:
        """Their days from the `first` to before the `last`."""
        inside = np.zeros_like(self.present)
        inside[:, first:last] = True
        return packed(self.values, self.present & inside)


def people(
    count: int,
    length: int,
    correlation: float | None,
    chance: np.random.Generator,
    *,
    most_missing: float = 0.4,
) -> People:
    """Invented people with `length` days.

    Args:
        correlation: from one day to the next; None: anything from 0 to 0.4, evenly.
        most_missing: each person's own share of missing days is anything up to this.
    """
    sds = np.clip(chance.normal(8.6, 3.1, count), 3.0, None)
    levels = chance.normal(138, 15.1, count)
    alike = chance.uniform(0, 0.4, count) if correlation is None else np.full(count, correlation)
    days = chance.standard_normal((count, length))
    for day in range(1, length):
        days[:, day] = alike * days[:, day - 1] + np.sqrt(1 - alike**2) * days[:, day]
    missing = chance.uniform(0, most_missing, count)
    present = chance.random((count, length)) >= missing[:, None]
    # The mean of two whole numbers has no more than halves.
    values = np.round(2 * (levels[:, None] + sds[:, None] * days)) / 2
    return People(levels, sds, values, present)


def packed(values: Floats, present: Bools) -> Sample:
    """Present days moved to the front, as `Sample` wants them."""
    order = np.argsort(~present, axis=1, kind="stable")
    here = np.take_along_axis(present, order, axis=1)
    moved = np.take_along_axis(values, order, axis=1)
    return Sample(np.where(here, order + FIRST_DAY, 0), np.where(here, moved, 0.0), here)


def series(*values: float, days: list[int] | None = None) -> Series:
    """Values on consecutive days, or on those `days` counted from a first one."""
    places = np.arange(len(values)) if days is None else np.array(days)
    return Series(FIRST_DAY + places, np.array(values, dtype=float))
