"""One person's readings as arrays: what daily values and the counts of a record start from.

One element a reading, oldest first; repeats (same moment and numbers) are left out, and
readings of one moment keep the order in which they came, because the first and the second of a
pair are not the same. Pressures in mmHg, pulse in beats per minute, moments in seconds since
1970 (UTC). An occasion is that of `readings.occasions`. For many people: `columns.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from domain.evidence.clock_times import Seconds, utc_seconds
from domain.readings import OCCASION_GAP, Arm, CameAs, Reading

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

#: How an arm is written in an array.
NO_ARM: Final = 0
LEFT: Final = 1
RIGHT: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """The readings of one person."""

    utc: Seconds
    systolic: Floats
    diastolic: Floats
    pulse: Floats  #: 0 when none was given
    places: Ints  #: among the readings as they were passed in, from 0
    readings: Sequence[Reading]  #: as they were passed in

    def __len__(self) -> int:
        return len(self.utc)

    @property
    def pauses(self) -> Seconds:
        """Seconds from each reading to the next, exact to the microsecond; one fewer."""
        return np.diff(self.utc).round(6)

    @property
    def opens(self) -> Bools:
        """Whether a reading is the first one of its occasion."""
        found = np.ones(len(self.utc), dtype=bool)
        found[1:] = self.pauses > OCCASION_GAP.total_seconds()
        return found

    @property
    def arms(self) -> Ints:
        """`NO_ARM`, `LEFT` or `RIGHT`."""
        members = _identities([reading.arm for reading in self.readings])
        codes = np.where(members == id(Arm.RIGHT), RIGHT, NO_ARM)
        return np.where(members == id(Arm.LEFT), LEFT, codes)[self.places]

    def came_as(self, *ways: CameAs) -> list[int]:
        """How many of the readings came in in each of these ways."""
        members = _identities([reading.came_as for reading in self.readings])[self.places]
        return [int((members == id(way)).sum()) for way in ways]


def taken(readings: Sequence[Reading]) -> Taken:
    """The readings, which may come in any order, without repeats."""
    utc = utc_seconds([reading.at for reading in readings])
    systolic = np.array([reading.systolic for reading in readings], dtype=float)
    diastolic = np.array([reading.diastolic for reading in readings], dtype=float)
    pulse = np.array([reading.pulse or 0 for reading in readings], dtype=float)
    order = np.argsort(utc, kind="stable")
    if (np.diff(utc[order]) == 0).any():
        order = order[~_repeats(utc, systolic, diastolic, pulse)[order]]
    return Taken(utc[order], systolic[order], diastolic[order], pulse[order], order, readings)


def _repeats(*columns: Floats) -> Bools:
    """Which readings were passed in before with the same values."""
    # The sort is stable: of equal readings the one that was passed in first stands first.
    order = np.lexsort(columns)
    rows = np.column_stack(columns)[order]
    found = np.zeros(len(order), dtype=bool)
    found[order[1:]] = (np.diff(rows, axis=0) == 0).all(axis=1)
    return found


def _identities(members: Sequence[object]) -> Ints:
    """Which member of an enumeration each one is; a tenth of the time that comparing takes."""
    return np.fromiter(map(id, members), np.int64, len(members))
