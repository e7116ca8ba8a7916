"""What probably makes many patients' data poor: simple shares over the last four weeks.

For the list only; the tests of one patient's record stand in `record_quality.py` and beside
it. Limits are coarse on purpose: a line that sends somebody to the telephone must be worth
the call. It doubts the data, never the person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from domain.evidence.columns import (
    SECOND,
    Bools,
    Ints,
    OccasionColumns,
    ReadingColumns,
    microseconds,
)
from domain.readings import OCCASION_GAP
from domain.record_quality import LEAST_MEASURING, LEAST_PAUSE, Cause

#: Days before today that are looked at, today included.
DAYS: Final = 28
#: A habit is what happens in at least half of at least so many cases. Own choice.
LEAST_CASES: Final = 6
#: Numbers (systolic and diastolic) that are looked at for their last digit.
LEAST_NUMBERS: Final = 40
#: Share of them that ends in 0. By chance one in ten, on monitors that show even values only
#: two in ten; clinic records had six (de Lusignan 2004). The limit is our own choice.
ROUNDED: Final = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class PoorData:
    """Which causes there are, by patient."""

    short_gaps: Bools
    single_readings: Bools
    rounded_digits: Bools
    pauses: Ints  #: mean length of the gaps that are too short, seconds; 0 where none is

    @property
    def any(self) -> Bools:
        return self.short_gaps | self.single_readings | self.rounded_digits

    def causes(self) -> list[tuple[Cause, ...]]:
        """Which there are, by patient."""
        found = (
            (Cause.NO_FULL_MINUTE, self.short_gaps),
            (Cause.SECOND_LEFT_OUT, self.single_readings),
            (Cause.NUMBERS_ROUNDED, self.rounded_digits),
        )
        by_patient: list[tuple[Cause, ...]] = [()] * len(self.any)
        for patient in np.flatnonzero(self.any).tolist():
            by_patient[patient] = tuple(cause for cause, holds in found if holds[patient])
        return by_patient

    def usual_pauses(self) -> list[int | None]:
        """Seconds between readings, by patient; None unless gaps are usually too short."""
        columns = self.pauses.tolist(), self.short_gaps.tolist()
        return [pause if short else None for pause, short in zip(*columns, strict=True)]


def poor_data(readings: ReadingColumns, occasions: OccasionColumns, today: Ints) -> PoorData:
    """The causes; `today` is each patient's local date as an ordinal."""
    size = len(today)
    lately = today[occasions.patient] - occasions.day < DAYS
    cases = np.bincount(occasions.patient[lately], minlength=size)
    single = np.bincount(occasions.patient[lately & (occasions.readings == 1)], minlength=size)
    recent = readings.among(np.repeat(lately, occasions.readings))
    gaps, short, seconds = _gaps(recent, size)
    in_noughts = (recent.systolic % 10 == 0) + (recent.diastolic % 10 == 0).astype(np.int64)
    rounded = np.bincount(recent.patient, in_noughts, size)
    numbers = 2 * np.bincount(recent.patient, minlength=size)
    return PoorData(
        short_gaps=(gaps >= LEAST_CASES) & (2 * short >= gaps),
        single_readings=(cases >= LEAST_CASES) & (2 * single >= cases),
        rounded_digits=(numbers >= LEAST_NUMBERS) & (rounded >= ROUNDED * numbers),
        pauses=seconds,
    )


def _gaps(readings: ReadingColumns, size: int) -> tuple[Ints, Ints, Ints]:
    """Pauses within occasions of known length, those too short, the mean of these in seconds."""
    pause = np.diff(readings.at)
    known = (pause >= microseconds(LEAST_MEASURING)) & (pause <= microseconds(OCCASION_GAP))
    known &= np.diff(readings.patient) == 0
    short = known & (pause < microseconds(LEAST_PAUSE))
    patient = readings.patient[1:]
    number = np.bincount(patient[short], minlength=size)
    time = np.bincount(patient[short], pause[short], size).astype(np.int64)
    gaps = np.bincount(patient[known], minlength=size)
    return gaps, number, time // np.maximum(number, 1) // SECOND
