"""Averages of many patients under a published rule, all at once.

The same numbers as `averaging.average` gives patient by patient, exactly (a test compares
both); what a rule means is explained there. Everything is arrays: one row a patient, one
column a local day. Sums and counts are whole numbers, so nothing is rounded before the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from domain.averaging import Lack, Least
from domain.averaging_rules import Counted, MeanOf, Rule
from domain.evidence.columns import AFTERNOON, EVENING, MORNING, Bools, Ints, OccasionColumns

#: Up to here sums of scaled readings fit into 64 bits with room to spare.
_LARGEST_SCALE: Final = 10**6


@dataclass(frozen=True, slots=True, eq=False)
class Averages:
    """What a rule makes of each patient's readings up to some day; one element a patient."""

    rule: Rule
    last_day: Ints  #: ordinal of the last day with an occasion; 0 where there is none
    systolic: Ints  #: numerators of the exact means, mmHg
    diastolic: Ints
    weight: Ints  #: their denominators; 0 where nothing is kept
    readings: Ints
    days: Ints  #: with a used reading
    days_found: Ints  #: what is compared with the rule's least days
    kept_found: Ints  #: what is compared with the rule's least to keep

    @property
    def enough(self) -> Bools:
        days, kept = self.rule.least_days, self.rule.least_kept
        return (self.days_found >= days) & (self.kept_found >= kept)

    def tenths(self) -> tuple[Ints, Ints]:
        """Both means in tenths of mmHg as `averaging.printed` gives them; 0 without any."""
        return _tenths(self.systolic, self.weight), _tenths(self.diastolic, self.weight)

    def lacks(self) -> list[tuple[Lack, ...]]:
        """As `Average.lacks`, by patient."""
        rule = self.rule
        days = Least.CONSECUTIVE_DAYS if rule.consecutive else Least.DAYS
        kept = Least(rule.counted)

        def of(days_found: int, kept_found: int) -> tuple[Lack, ...]:
            wanted = (
                Lack(days, rule.least_days, days_found),
                Lack(kept, rule.least_kept, kept_found),
            )
            return tuple(lack for lack in wanted if lack.found < lack.needed)

        columns = self.enough.tolist(), self.days_found.tolist(), self.kept_found.tolist()
        return [() if enough else of(*found) for enough, *found in zip(*columns, strict=True)]

    def where(self, chosen: Bools, others: Averages) -> Averages:
        """These for the chosen patients, `others` (of the same rule) for the rest."""

        def either(get: Callable[[Averages], Ints]) -> Ints:
            return np.where(chosen, get(self), get(others))

        return Averages(
            rule=self.rule,
            last_day=either(lambda a: a.last_day),
            systolic=either(lambda a: a.systolic),
            diastolic=either(lambda a: a.diastolic),
            weight=either(lambda a: a.weight),
            readings=either(lambda a: a.readings),
            days=either(lambda a: a.days),
            days_found=either(lambda a: a.days_found),
            kept_found=either(lambda a: a.kept_found),
        )


def whole_of_tenths(tenths: Ints) -> Ints:
    """Tenths as people read them: whole, half up, as `readings.whole`."""
    return (tenths + 5) // 10


class DayGrid:
    """Occasions counted by patient and day, for any rule and any last day."""

    def __init__(self, occasions: OccasionColumns, patients: int) -> None:
        self._occasions = occasions
        self._rows = np.arange(patients)
        self._first = int(occasions.day.min()) if len(occasions) else 1
        self._width = int(occasions.day.max()) - self._first + 1 if len(occasions) else 1
        self._cell = occasions.patient * self._width + occasions.day - self._first
        self._kept: dict[tuple[str, bool, bool], tuple[Ints, Ints]] = {}
        measured = self._summed(np.ones(len(occasions), dtype=bool)) > 0
        self._measured = _running(measured)
        column = np.arange(self._width)
        self._last = np.maximum.accumulate(np.where(measured, column, -1), axis=1)
        later = np.where(measured, column, self._width)[:, ::-1]
        self._next = np.minimum.accumulate(later, axis=1)[:, ::-1]

    def measured_between(self, first: Ints, last: Ints) -> Bools:
        """Whether a patient measured from one day to another, both included (ordinals)."""
        begin = np.clip(first - self._first, 0, self._width)
        end = np.clip(last - self._first + 1, begin, self._width)
        found: Bools = self._measured[self._rows, end] > self._measured[self._rows, begin]
        return found

    def averages(self, rule: Rule, up_to: Ints) -> Averages:
        """The rule applied to the occasions up to a day of each patient (ordinals)."""
        rows = self._rows
        end = np.clip(up_to - self._first, -1, self._width - 1)
        last = np.where(end < 0, -1, self._last[rows, end])
        week = self._width if rule.week_days is None else rule.week_days
        begin = np.maximum(last - week + 1, 0)
        first = np.minimum(self._next[rows, begin], self._width - 1)
        left_out = (last >= 0) & rule.leave_out_first_day

        def counted(name: str) -> Ints:
            layer, sums = self._layer(name, rule)
            found: Ints = sums[rows, last + 1] - sums[rows, begin]
            return found - np.where(left_out, layer[rows, first], 0)

        days = counted("days")
        days_found = days + left_out
        if rule.consecutive:
            used = self._layer("days", rule)[0].astype(bool)
            extra = np.where(left_out, first, -1)
            days_found = _longest_run(used, rows, begin, last, extra, week)
        readings = counted("readings")
        by_readings = rule.mean_of is MeanOf.READINGS
        return Averages(
            rule=rule,
            last_day=np.where(last < 0, 0, last + self._first),
            systolic=counted("systolic"),
            diastolic=counted("diastolic"),
            weight=readings if by_readings else counted("weight"),
            readings=readings,
            days=days,
            days_found=days_found,
            kept_found=_kept(rule, readings, counted),
        )

    def _layer(self, name: str, rule: Rule) -> tuple[Ints, Ints]:
        """A layer and its running sums; each is made once, and only for a rule that needs it."""
        scaled = rule.mean_of is MeanOf.OCCASIONS and name in _SCALED
        key = (name, rule.by_halves, scaled)
        if key not in self._kept:
            values = self._values(name, scaled)
            if rule.by_halves:
                values = np.where(self._occasions.half != AFTERNOON, values, 0)
            layer = self._summed(values)
            if name in _DAYS_WITH:
                layer = (layer > 0).astype(np.int64)
            self._kept[key] = layer, _running(layer)
        return self._kept[key]

    def _values(self, name: str, scaled: bool) -> Ints | Bools:
        """What is summed in a layer, by occasion."""
        occasions = self._occasions
        values: dict[str, Ints | Bools] = {
            "systolic": occasions.systolic,
            "diastolic": occasions.diastolic,
            "weight": occasions.readings,
            "readings": occasions.readings,
            "repeated": occasions.readings >= 2,
            "days": np.ones(len(occasions), dtype=bool),
            "mornings": occasions.half == MORNING,
            "evenings": occasions.half == EVENING,
        }
        return values[name] * _scale(occasions.readings) if scaled else values[name]

    def _summed(self, values: Ints | Bools) -> Ints:
        """Sums by patient and day."""
        shape = len(self._rows), self._width
        if values.dtype == object:
            # An occasion of very many readings: whole numbers without a limit.
            large = np.zeros(shape[0] * shape[1], dtype=object)
            np.add.at(large, self._cell, values)
            return large.reshape(shape)
        found = np.bincount(self._cell, values, shape[0] * shape[1])
        return found.astype(np.int64).reshape(shape)


#: Layers in which an occasion weighs the same however many readings it has, if the rule says so.
_SCALED: Final = frozenset({"systolic", "diastolic", "weight"})
#: Layers that say only whether there was any on a day.
_DAYS_WITH: Final = frozenset({"days", "mornings", "evenings"})


def _scale(sizes: Ints) -> Ints:
    """What each occasion's sum is taken times, so that all occasions weigh the same."""
    multiple = math.lcm(*(int(size) for size in np.unique(sizes)))
    whole = np.int64 if multiple <= _LARGEST_SCALE else object
    found: Ints = np.array(multiple, dtype=whole) // sizes.astype(whole)
    return found


def _kept(rule: Rule, readings: Ints, counted: Callable[[str], Ints]) -> Ints:
    match rule.counted:
        case Counted.READINGS:
            return readings
        case Counted.REPEATED_OCCASIONS:
            return counted("repeated")
        case Counted.MORNINGS_OR_EVENINGS:
            found: Ints = np.maximum(counted("mornings"), counted("evenings"))
            return found


def _running(layer: Ints | Bools) -> Ints:
    """Sums of the columns before each one, with one column more than the layer."""
    kind = object if layer.dtype == object else np.int64
    sums = np.zeros((layer.shape[0], layer.shape[1] + 1), dtype=kind)
    np.cumsum(layer, axis=1, out=sums[:, 1:])
    return sums


def _longest_run(
    in_days: Bools, rows: Ints, begin: Ints, last: Ints, first: Ints, week: int
) -> Ints:
    """The longest unbroken run of used days within each week; `first` counts as one of them."""
    run = np.zeros_like(rows)
    longest = np.zeros_like(rows)
    for step in range(week):
        column = begin + step
        has = in_days[rows, np.minimum(column, in_days.shape[1] - 1)] | (column == first)
        run = np.where(has & (column <= last), run + 1, 0)
        longest = np.maximum(longest, run)
    return longest


def _tenths(numerator: Ints, weight: Ints) -> Ints:
    """Ten times the mean, half to even."""
    divisor = np.maximum(weight, 1)
    whole, rest = numerator * 10 // divisor, numerator * 10 % divisor
    up = (2 * rest > divisor) | ((2 * rest == divisor) & (whole % 2 == 1))
    found: Ints = (whole + up).astype(np.int64)
    return found
