"""Counts over one person's record: how the readings came about, whatever their level.

Repeats (same moment and numbers) count once. Only numbers stand here; which of them are
worth a word: `quality.py`. Pressures in mmHg, pauses in seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from domain.evidence.days import Series
from domain.evidence.digits import Endings, endings
from domain.evidence.levels import Level, level
from domain.evidence.taken import LEFT, NO_ARM, RIGHT, Bools, Taken, taken
from domain.readings import CameAs, Reading
from domain.record_quality import LEAST_MEASURING, LEAST_PAUSE, Quality

_DAY: Final = 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """All counts over one period."""

    quality: Quality
    readings: int
    short_seconds: float | None  #: mean of the short pauses; None where there is none
    #: Mean over the days of first minus second systolic of an occasion, where the pause
    #: between them was long enough or is not known; None, cannot tell, below three days.
    fall: Level | None
    same: int  #: readings with the numbers of the one before
    arm_known: int  #: occasions whose arm is known
    arm_less_used: int  #: of these, on the arm that is used less
    arm_changes: int  #: from one of these to the next
    endings: tuple[Endings, Endings]  #: of systolic and diastolic


def quality_of(readings: Sequence[Reading], *, asked: int | None) -> Quality:
    """The counts that the report names, over all the readings, which may come in any order."""
    return _quality(taken(readings), asked)


def record_of(readings: Sequence[Reading], *, asked: int | None) -> Record:
    """All counts over the readings, which may come in any order.

    Args:
        asked: occasions asked for in the period; None when nothing was.
    """
    return record_of_taken(taken(readings), asked=asked)


def record_of_taken(found: Taken, *, asked: int | None) -> Record:
    """As `record_of`, for readings that are arrays already."""
    within = ~found.opens[1:]
    short = within & _known(found) & _short(found)
    arms = found.arms[found.opens]
    arms = arms[arms != NO_ARM]
    return Record(
        quality=_quality(found, asked),
        readings=len(found),
        short_seconds=float(found.pauses[short].mean()) if short.any() else None,
        fall=_fall(found),
        same=int(_same(found).sum()),
        arm_known=len(arms),
        arm_less_used=min(int((arms == arm).sum()) for arm in (LEFT, RIGHT)),
        arm_changes=int((np.diff(arms) != 0).sum()),
        endings=endings(found.systolic, found.diastolic),
    )


def _quality(found: Taken, asked: int | None) -> Quality:
    opens = found.opens
    within, known = ~opens[1:], _known(found)
    confirmed, imported = found.came_as(CameAs.CONFIRMED, CameAs.IMPORTED)
    sizes = np.diff(np.flatnonzero(opens), append=len(found))
    return Quality(
        occasions=len(sizes),
        asked=asked,
        single=int((sizes == 1).sum()),
        gaps=int((within & known).sum()),
        short_gaps=int((within & known & _short(found)).sum()),
        together=int((within & ~known).sum()),
        confirmed=confirmed,
        imported=imported,
    )


def _known(found: Taken) -> Bools:
    """Whether the pause to the next reading is one between two measurements."""
    return found.pauses >= LEAST_MEASURING.total_seconds()


def _short(found: Taken) -> Bools:
    return found.pauses < LEAST_PAUSE.total_seconds()


def _fall(found: Taken) -> Level | None:
    """Means over days, because the pairs of one day are alike."""
    opens = found.opens
    # After too short a pause the second reading says nothing of what rest would have done.
    paired = opens[:-1] & ~opens[1:] & ~(_known(found) & _short(found))
    falls = (found.systolic[:-1] - found.systolic[1:])[paired]
    # Days of UTC will do: all that counts is which pairs lie close to each other.
    days, place = np.unique((found.utc[:-1][paired] // _DAY).astype(int), return_inverse=True)
    return level(Series(days, np.bincount(place, falls) / np.bincount(place)))


def _same(found: Taken) -> Bools:
    """Whether a reading has the numbers of the one before it; a pulse must not speak against."""
    pulse, before = found.pulse[1:], found.pulse[:-1]
    same: Bools = (np.diff(found.systolic) == 0) & (np.diff(found.diastolic) == 0)
    same &= (pulse == before) | (pulse == 0) | (before == 0)
    return same
