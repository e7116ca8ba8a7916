"""A reading, the limits of what one can be, and the occasion it belongs to.

Pressures in mmHg, pulse in beats per minute, moments aware. These are the only limits and
the only definition of an occasion in the program: understanding, averaging, the guided
steps and the report all use what stands here. What a number *means* is elsewhere:
`bands.py`, `danger.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from fractions import Fraction
from typing import Final, NewType
from zoneinfo import ZoneInfo

Mmhg = NewType("Mmhg", int)
Bpm = NewType("Bpm", int)


class ImpossibleReadingError(ValueError):
    """A reading outside `LIMITS`. The text says which limit, never which number."""


class NaiveMomentError(ValueError):
    """A moment without a time zone. Pass an aware datetime."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a cuff at home can show, both ends included."""

    systolic: tuple[int, int]
    diastolic: tuple[int, int]
    pulse: tuple[int, int]
    least_pulse_pressure: int
    source: str

    def pressure_problem(self, systolic: int, diastolic: int) -> str | None:
        """Why the two numbers (mmHg) cannot be a blood pressure, in plain words, or None."""
        low, high = self.systolic
        if not low <= systolic <= high:
            return f"systolic must lie between {low} and {high} mmHg"
        low, high = self.diastolic
        if not low <= diastolic <= high:
            return f"diastolic must lie between {low} and {high} mmHg"
        if systolic - diastolic < self.least_pulse_pressure:
            return f"systolic must be at least {self.least_pulse_pressure} mmHg above diastolic"
        return None

    def pulse_problem(self, pulse: int) -> str | None:
        """Why the number (beats per minute) cannot be a pulse at rest, or None."""
        low, high = self.pulse
        if not low <= pulse <= high:
            return f"pulse must lie between {low} and {high} beats per minute"
        return None


#: Common practice around what cuffs can show (they inflate to at most 300 mmHg).
LIMITS: Final = Limits(
    systolic=(50, 300),
    diastolic=(20, 200),
    pulse=(20, 250),
    least_pulse_pressure=10,
    source="common practice; cuffs inflate to at most 300 mmHg",
)

#: Readings with at most this between one and the next belong to one occasion.
#: The project's own choice: the guidelines read do not say.
OCCASION_GAP: Final = timedelta(minutes=10)


class Arm(StrEnum):
    LEFT = "left"
    RIGHT = "right"


class CameAs(StrEnum):
    """How a reading came in."""

    TYPED = "typed"
    CONFIRMED = "confirmed"  #: typed, in doubt, and settled by the person's answer
    IMPORTED = "imported"


class Setting(StrEnum):
    """Where a reading was taken."""

    HOME = "home"
    CLINIC = "clinic"  #: at a doctor's, a clinic or a pharmacy, or by a professional


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measurement. A value: two equal readings are the same reading.

    Raises:
        ImpossibleReadingError: a number outside `LIMITS`.
        NaiveMomentError: `at` has no zone.
    """

    systolic: Mmhg
    diastolic: Mmhg
    pulse: Bpm | None = None  #: None when the person gave none, never 0
    at: datetime  #: when it was measured, aware; the message may be hours younger
    arm: Arm | None = None
    came_as: CameAs = CameAs.TYPED
    setting: Setting = Setting.HOME

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise NaiveMomentError("Reading.at has no time zone. Pass an aware datetime.")
        problem = LIMITS.pressure_problem(self.systolic, self.diastolic)
        if problem is None and self.pulse is not None:
            problem = LIMITS.pulse_problem(self.pulse)
        if problem is not None:
            raise ImpossibleReadingError(problem)


@dataclass(frozen=True, slots=True)
class Occasion:
    """Readings taken together, oldest first. Never empty. Its value is the mean of all."""

    readings: tuple[Reading, ...]

    @property
    def started(self) -> datetime:
        return self.readings[0].at

    @property
    def systolic(self) -> Fraction:
        """Mean of all, mmHg, exact."""
        return Fraction(sum(r.systolic for r in self.readings), len(self.readings))

    @property
    def diastolic(self) -> Fraction:
        """Mean of all, mmHg, exact."""
        return Fraction(sum(r.diastolic for r in self.readings), len(self.readings))

    @property
    def pulse(self) -> Fraction | None:
        """Mean of those that have one, beats per minute, exact; None when none has."""
        pulses = [r.pulse for r in self.readings if r.pulse is not None]
        return Fraction(sum(pulses), len(pulses)) if pulses else None


def at_home(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Those taken at home: what every average at home is of. In the order passed."""
    return tuple(reading for reading in readings if reading.setting is Setting.HOME)


def at_clinic(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Those taken at the clinic, in the order passed."""
    return tuple(reading for reading in readings if reading.setting is Setting.CLINIC)


class Half(StrEnum):
    """Morning is 04:00 up to 12:00, evening 17:00 up to 04:00, local; afternoon is neither."""

    MORNING = "morning"
    AFTERNOON = "afternoon"
    EVENING = "evening"


MORNING_FROM: Final = time(4)
AFTERNOON_FROM: Final = time(12)
EVENING_FROM: Final = time(17)


def occasions(readings: Iterable[Reading]) -> list[Occasion]:
    """The readings grouped into occasions, oldest first.

    A reading belongs to the occasion of the one before it when at most `OCCASION_GAP`
    (exactly ten minutes included) lies between the two, so a chain may last longer.
    Readings of one moment keep the order in which they were passed.
    """
    found: list[list[Reading]] = []
    for reading in sorted(readings, key=lambda r: r.at):
        if found and reading.at - found[-1][-1].at <= OCCASION_GAP:
            found[-1].append(reading)
        else:
            found.append([reading])
    return [Occasion(tuple(group)) for group in found]


def half_of(local: datetime) -> Half:
    """Which half of the day a local moment lies in."""
    clock = local.time()
    if MORNING_FROM <= clock < AFTERNOON_FROM:
        return Half.MORNING
    if AFTERNOON_FROM <= clock < EVENING_FROM:
        return Half.AFTERNOON
    return Half.EVENING


def local_day(moment: datetime, zone: ZoneInfo) -> date:
    """The calendar date on which the moment lies for someone in `zone`."""
    return moment.astimezone(zone).date()


def whole(value: Fraction | float | int) -> int:
    """The value as people read it: rounded half up to a whole number.

    Half up, so that 134.5 reads as 135 and errs on the careful side (common practice).
    """
    exact = Fraction(value)
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


def spread_over_seconds(readings: Sequence[Reading], moment: datetime) -> list[Reading]:
    """Readings of one message without times of their own, one second apart, the last at `moment`.

    So that the order in which they were written survives sorting.
    """
    last = len(readings) - 1
    return [
        replace(reading, at=moment - timedelta(seconds=last - place))
        for place, reading in enumerate(readings)
    ]
