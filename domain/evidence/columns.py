"""Readings of many patients as columns, and the occasions that they make.

One element a reading, all patients behind one another. Repeats and occasions are those of
`averaging.py` and `readings.py`, found for everybody at once. Pressures in mmHg; moments in
microseconds since 1970, UTC, because gaps are exact; local days as ordinals of dates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from domain.evidence.clock_times import wall_seconds
from domain.readings import (
    AFTERNOON_FROM,
    EVENING_FROM,
    MORNING_FROM,
    OCCASION_GAP,
    Half,
)

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

SECOND: Final = 1_000_000
DAY: Final = 86_400 * SECOND
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
EPOCH_DAY: Final = date(1970, 1, 1).toordinal()
#: What `OccasionColumns.half` holds.
HALVES: Final = (Half.MORNING, Half.AFTERNOON, Half.EVENING)
MORNING, AFTERNOON, EVENING = range(len(HALVES))


def microseconds(span: timedelta) -> int:
    return span // timedelta(microseconds=1)


def moment_of(at: datetime) -> int:
    """Microseconds since 1970 of an aware moment."""
    return microseconds(at - _EPOCH)


@dataclass(frozen=True, slots=True, eq=False)
class ReadingColumns:
    """Readings by patient, and each patient's by moment; equal moments in the order kept."""

    patient: Ints  #: place among the patients, from 0, rising
    at: Ints
    systolic: Ints
    diastolic: Ints
    pulse: Ints  #: 0 where there is none

    def __len__(self) -> int:
        return len(self.at)

    def among(self, chosen: Bools) -> ReadingColumns:
        return ReadingColumns(
            self.patient[chosen],
            self.at[chosen],
            self.systolic[chosen],
            self.diastolic[chosen],
            self.pulse[chosen],
        )

    def of(self, patients: Ints) -> ReadingColumns:
        """Only the readings of these patients (places, rising), who are counted anew from 0."""
        mine = self.among(np.isin(self.patient, patients))
        return replace(mine, patient=np.searchsorted(patients, mine.patient))

    def between(self, first: int, last: int) -> ReadingColumns:
        """Only the readings from one moment to another, both included."""
        inside = (self.at >= first) & (self.at <= last)
        return self if inside.all() else self.among(inside)

    def without_repeats(self) -> ReadingColumns:
        """Each reading once: the same patient, moment and numbers are the same reading."""
        tied = np.zeros(len(self), dtype=bool)
        same = (np.diff(self.at) == 0) & (np.diff(self.patient) == 0)
        tied[1:] |= same
        tied[:-1] |= same
        if not tied.any():
            return self
        places = np.flatnonzero(tied)
        columns = (self.pulse, self.diastolic, self.systolic, self.at, self.patient)
        order = np.lexsort([column[places] for column in columns])
        rows = np.column_stack([column[places][order] for column in columns])
        repeated = (np.diff(rows, axis=0) == 0).all(axis=1)
        kept = np.ones(len(self), dtype=bool)
        kept[places[order[1:]][repeated]] = False
        return self.among(kept)


@dataclass(frozen=True, slots=True, eq=False)
class OccasionColumns:
    """One element an occasion, by patient and moment. Day and half are of its first reading."""

    first: Ints  #: place of its first reading among the readings
    patient: Ints
    day: Ints  #: ordinal of the local date
    half: Ints  #: place in `HALVES`
    readings: Ints
    systolic: Ints  #: sum over its readings
    diastolic: Ints

    def __len__(self) -> int:
        return len(self.first)

    def of_reading(self, reading: Ints) -> Ints:
        """The place of the occasion of each of these readings."""
        found: Ints = np.searchsorted(self.first, reading, side="right") - 1
        return found


def occasion_columns(columns: ReadingColumns, zones: Sequence[ZoneInfo]) -> OccasionColumns:
    """The occasions of readings without repeats.

    Args:
        columns: see `ReadingColumns`.
        zones: where each patient's days begin, by the patient's place.
    """
    opens = np.ones(len(columns), dtype=bool)
    opens[1:] = np.diff(columns.at) > microseconds(OCCASION_GAP)
    opens[1:] |= np.diff(columns.patient) != 0
    first = np.flatnonzero(opens)
    patient = columns.patient[first]
    wall = _wall(columns.at[first], patient, zones)

    def summed(values: Ints) -> Ints:
        return np.add.reduceat(values, first) if len(first) else first

    return OccasionColumns(
        first=first,
        patient=patient,
        day=wall // DAY + EPOCH_DAY,
        half=_half(wall % DAY),
        readings=np.diff(first, append=len(columns)),
        systolic=summed(columns.systolic),
        diastolic=summed(columns.diastolic),
    )


def _wall(at: Ints, patient: Ints, zones: Sequence[ZoneInfo]) -> Ints:
    """What a clock on each patient's wall shows, microseconds."""
    different = list(dict.fromkeys(zones))
    code = {zone: number for number, zone in enumerate(different)}
    of_patient = np.array([code[zone] for zone in zones], dtype=np.int64)
    zone_of = of_patient[patient] if len(zones) else patient
    wall = np.empty_like(at)
    for zone, number in code.items():
        here = zone_of == number
        whole = at[here] // SECOND
        # Zones differ by whole seconds; what is less than a second stays exact this way.
        local = wall_seconds(whole.astype(float), zone).astype(np.int64)
        wall[here] = local * SECOND + at[here] % SECOND
    return wall


def _half(clock: Ints) -> Ints:
    """Codes of the halves of the day at these microseconds since local midnight."""
    begins = [
        (t.hour * 3600 + t.minute * 60) * SECOND
        for t in (MORNING_FROM, AFTERNOON_FROM, EVENING_FROM)
    ]
    codes = np.array((EVENING, MORNING, AFTERNOON, EVENING))
    found: Ints = codes[np.searchsorted(begins, clock, side="right")]
    return found
