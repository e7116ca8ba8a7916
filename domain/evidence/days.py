"""Readings as daily values: the one place that turns readings into series.

A day is a local date. Occasions and halves are those of `readings.py`: a whole occasion
belongs to the date and the half of its first reading. Means are over readings, as in the
weekly picture, in mmHg; repeats (same moment and numbers) count once. Everything is arrays,
one element a day, oldest first; days without a reading have no element.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from domain.evidence.clock_times import Seconds, wall_seconds
from domain.evidence.taken import Taken, taken
from domain.readings import (
    AFTERNOON_FROM,
    EVENING_FROM,
    MORNING_FROM,
    Half,
    Reading,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


class Pressure(StrEnum):
    """Which number of a day, mmHg."""

    SYSTOLIC = "systolic"
    DIASTOLIC = "diastolic"
    PULSE_PRESSURE = "pulse_pressure"  #: systolic minus diastolic


class Part(StrEnum):
    """Which part of the day a daily value is the mean of."""

    WHOLE = "whole"  #: every reading of the day, whatever there is
    BOTH = "both"  #: every reading, only of days with a morning and an evening
    MORNING = "morning"
    EVENING = "evening"


#: A series of one kind is used where at least this share of the days has it, so that a
#: habit that moves from mornings to evenings does not look like a fall. Own choice.
MOST_DAYS: Final = 0.8
HALF_THE_DAYS: Final = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Means:
    """Means over the readings of one part of each day; NaN where there is no reading."""

    systolic: Floats  #: mmHg
    diastolic: Floats  #: mmHg
    readings: Ints
    occasions: Ints

    def of(self, pressure: Pressure) -> Floats:
        if pressure is Pressure.SYSTOLIC:
            return self.systolic
        if pressure is Pressure.DIASTOLIC:
            return self.diastolic
        return self.systolic - self.diastolic

    def among(self, chosen: Bools) -> Means:
        return Means(
            self.systolic[chosen],
            self.diastolic[chosen],
            self.readings[chosen],
            self.occasions[chosen],
        )

    def joined(self, later: Means) -> Means:
        return Means(
            np.concatenate((self.systolic, later.systolic)),
            np.concatenate((self.diastolic, later.diastolic)),
            np.concatenate((self.readings, later.readings)),
            np.concatenate((self.occasions, later.occasions)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One finite value a day. `days` are ordinals of dates, rising, each once."""

    days: Ints
    values: Floats  #: mmHg

    def __len__(self) -> int:
        return len(self.days)

    def since(self, first: int) -> Series:
        """From the day with this ordinal on."""
        chosen = self.days >= first
        return Series(self.days[chosen], self.values[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """Daily values of one person. `days` are ordinals (`date.toordinal`) with a reading."""

    days: Ints
    whole: Means
    morning: Means
    evening: Means

    def __len__(self) -> int:
        return len(self.days)

    def between(self, first: date | None = None, last: date | None = None) -> Days:
        """Only the days from `first` to `last`, both included; None: no limit."""
        chosen = np.ones(len(self.days), dtype=bool)
        if first is not None:
            chosen &= self.days >= first.toordinal()
        if last is not None:
            chosen &= self.days <= last.toordinal()
        return Days(
            self.days[chosen],
            self.whole.among(chosen),
            self.morning.among(chosen),
            self.evening.among(chosen),
        )

    def joined(self, later: Days) -> Days:
        """These days and others, all of which lie later."""
        return Days(
            np.concatenate((self.days, later.days)),
            self.whole.joined(later.whole),
            self.morning.joined(later.morning),
            self.evening.joined(later.evening),
        )

    def series(self, pressure: Pressure, part: Part = Part.WHOLE) -> Series:
        """The daily values of one part; days that lack it are not in the series."""
        chosen, means = self._with(part)
        return Series(self.days[chosen], means.of(pressure)[chosen])

    def comparable_part(self) -> Part:
        """The part to compare days by, so that mornings stand beside mornings.

        Days with both halves if most are such; else the half that more days have, if half of
        them have it; else whatever there is.
        """
        total = max(len(self.days), 1)
        if self._with(Part.BOTH)[0].sum() >= MOST_DAYS * total:
            return Part.BOTH
        half = max((Part.MORNING, Part.EVENING), key=lambda part: int(self._with(part)[0].sum()))
        return half if self._with(half)[0].sum() >= HALF_THE_DAYS * total else Part.WHOLE

    def _with(self, part: Part) -> tuple[Bools, Means]:
        morning, evening = self.morning.readings > 0, self.evening.readings > 0
        if part is Part.MORNING:
            return morning, self.morning
        if part is Part.EVENING:
            return evening, self.evening
        if part is Part.BOTH:
            return morning & evening, self.whole
        return np.ones(len(self.days), dtype=bool), self.whole


def daily_values(readings: Sequence[Reading], zone: ZoneInfo) -> Days:
    """The readings as daily values, days beginning at midnight in `zone`.

    Args:
        readings: in any order, with repeats if there are any. None gives no days.
        zone: where the days begin; a reading's own zone only says when it was.
    """
    return days_of(taken(readings), zone)


def days_of(found: Taken, zone: ZoneInfo) -> Days:
    """One person's readings, already as arrays, as daily values; as `daily_values`."""
    opens = found.opens
    occasion = np.cumsum(opens) - 1
    wall = wall_seconds(found.utc[opens], zone)
    day_of = np.floor(wall / 86_400).astype(np.int64) + date(1970, 1, 1).toordinal()
    days, place = np.unique(day_of, return_inverse=True)
    halves = _halves(wall % 86_400)

    def means(chosen: Bools) -> Means:
        kept = chosen[occasion]
        where, size = place[occasion][kept], len(days)
        count = np.bincount(where, minlength=size)
        with np.errstate(invalid="ignore"):
            return Means(
                np.bincount(where, found.systolic[kept], size) / count,
                np.bincount(where, found.diastolic[kept], size) / count,
                count,
                np.bincount(place[chosen], minlength=size),
            )

    return Days(
        days,
        means(np.ones(len(wall), dtype=bool)),
        means(halves == _CODES[Half.MORNING]),
        means(halves == _CODES[Half.EVENING]),
    )


_CODES: Final = {half: code for code, half in enumerate(Half)}


def _halves(clock: Seconds) -> Ints:
    """Codes of the halves of the day at these seconds since local midnight."""
    begins = [t.hour * 3600 + t.minute * 60 for t in (MORNING_FROM, AFTERNOON_FROM, EVENING_FROM)]
    names = (Half.EVENING, Half.MORNING, Half.AFTERNOON, Half.EVENING)
    codes = np.array([_CODES[half] for half in names])
    found: Ints = codes[np.searchsorted(begins, clock, side="right")]
    return found
