"""Numbers as people read them: whole mmHg, local moments, and how an average stands to a target.

Shared by the weekly picture and the report. Pressures in mmHg. What is compared are the
numbers that are shown, so that a picture, its text and its sentence never disagree. The
words for every code are in the message catalogues.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from domain.averaging import LocalOccasion, average, printed
from domain.averaging_rules import RULES
from domain.danger import LOW_SYSTOLIC, STILL_HIGH, is_severe
from domain.readings import Half, Reading, Setting, at_clinic, whole


@dataclass(frozen=True, slots=True, order=True)
class Pair:
    """Two whole numbers in mmHg, ordered by the systolic first."""

    systolic: int
    diastolic: int

    def __str__(self) -> str:
        return f"{self.systolic}/{self.diastolic}"


@dataclass(frozen=True, slots=True)
class ShownOccasion:
    """One occasion with the numbers that are printed for it."""

    at: datetime  #: local moment of its first reading
    half: Half
    value: Pair  #: mean of its readings
    readings: int
    severe: bool  #: some reading of it reached `danger.SEVERE`, whatever the mean


@dataclass(frozen=True, slots=True)
class ShownMean:
    """The mean over every reading of some occasions."""

    value: Pair
    occasions: int
    readings: int


class Against(StrEnum):
    """How an average stands to the target. Not a diagnosis; the wording has a line for each."""

    NONE = "none"  #: no readings
    TOO_FEW = "too_few"  #: fewer than `LEAST_DAYS` days, and nothing that must be said at once
    LOW = "low"  #: systolic below `danger.LOW_SYSTOLIC`
    WITHIN = "within"  #: both numbers below the target
    EDGE = "edge"  #: neither above, at least one equal to the target, which says "below"
    A_LITTLE_ABOVE = "a_little_above"  #: less than `A_LITTLE` above in both numbers
    ABOVE = "above"
    WELL_ABOVE = "well_above"  #: also at or above `danger.STILL_HIGH`
    FAR_ABOVE = "far_above"  #: the average itself is severe


#: No guideline read that names days is content with fewer than three (ESH 2021, AHA/AMA 2020).
LEAST_DAYS: Final = 3

#: Changes of a week's systolic mean below 10 mmHg lie within usual variation (Kato 2010 with
#: seven days: 9.0); half of that for the diastolic is common practice.
A_LITTLE: Final = Pair(10, 5)


def local_occasions(readings: Iterable[Reading], zone: ZoneInfo) -> tuple[LocalOccasion, ...]:
    """Every occasion at home as it was in `zone`, oldest first, repeats left out.

    As `averaging` sees them under its rule that keeps every reading.
    """
    return average(tuple(readings), RULES["all"], zone).used


def clinic_occasions(readings: Iterable[Reading], zone: ZoneInfo) -> tuple[LocalOccasion, ...]:
    """The same of what was taken at the clinic, which the rules leave out."""
    taken = (replace(reading, setting=Setting.HOME) for reading in at_clinic(readings))
    return local_occasions(taken, zone)


def show_occasion(found: LocalOccasion, zone: ZoneInfo) -> ShownOccasion:
    """The occasion as it is printed for somebody in `zone`."""
    occasion = found.occasion
    return ShownOccasion(
        at=occasion.started.astimezone(zone),
        half=found.half,
        value=Pair(whole(occasion.systolic), whole(occasion.diastolic)),
        readings=len(occasion.readings),
        severe=any(is_severe(r.systolic, r.diastolic) for r in occasion.readings),
    )


def shown_pair(systolic: Fraction, diastolic: Fraction) -> Pair:
    """Two means in whole mmHg, by way of one decimal, as `averaging.band_of_means` judges them."""
    return Pair(whole(printed(systolic)), whole(printed(diastolic)))


def mean_of(found: Sequence[LocalOccasion]) -> ShownMean | None:
    """Mean of every reading, each with the same weight; None without an occasion."""
    readings = [reading for one in found for reading in one.occasion.readings]
    if not readings:
        return None
    count = len(readings)
    value = shown_pair(
        Fraction(sum(r.systolic for r in readings), count),
        Fraction(sum(r.diastolic for r in readings), count),
    )
    return ShownMean(value, len(found), count)


def compare(mean: Pair | None, target: Pair, *, days: int) -> Against:
    """How a mean over `days` local days stands to a target that says "below".

    Averages that are high or low enough to need a person's eye are named however few
    the days are.
    """
    if mean is None:
        return Against.NONE
    if is_severe(mean.systolic, mean.diastolic):
        return Against.FAR_ABOVE
    if STILL_HIGH.reached_by(mean.systolic, mean.diastolic):
        return Against.WELL_ABOVE
    if mean.systolic < LOW_SYSTOLIC:
        return Against.LOW
    if days < LEAST_DAYS:
        return Against.TOO_FEW
    return _beside_target(mean, target)


def _beside_target(mean: Pair, target: Pair) -> Against:
    over = Pair(mean.systolic - target.systolic, mean.diastolic - target.diastolic)
    if over.systolic < 0 and over.diastolic < 0:
        return Against.WITHIN
    if over.systolic <= 0 and over.diastolic <= 0:
        return Against.EDGE
    if over.systolic < A_LITTLE.systolic and over.diastolic < A_LITTLE.diastolic:
        return Against.A_LITTLE_ABOVE
    return Against.ABOVE
