"""Pressures at the office beside those at home.

What corresponds to what is a table, never a subtraction. The white-coat effect is the mean at
the office minus the mean at home, with its interval; the patterns are names of numbers (which
of the two means lies at or above its limit), no diagnosis. Without readings from the office
nothing is said. Pressures in mmHg.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final

import numpy as np

from domain.bands import Guideline
from domain.evidence.change import OHASAMA
from domain.evidence.days import Days, Floats, Pressure
from domain.evidence.intervals import CONFIDENCE, LEAST_DAYS, Interval, sample_of, t_bounds
from domain.evidence.levels import Means, means_of
from domain.shown import Pair, shown_pair
from domain.sources import Status


@dataclass(frozen=True, slots=True)
class Corresponding:
    """Values that stand for the same level, mmHg."""

    office: Pair
    home: Pair
    daytime: Pair  #: ambulatory, as the next two
    night: Pair
    whole_day: Pair


#: AHA/ACC 2025 table 7, modified from ACC/AHA 2017 (confirmed).
CORRESPONDENCE: Final = (
    Corresponding(Pair(120, 80), Pair(120, 80), Pair(120, 80), Pair(100, 65), Pair(115, 75)),
    Corresponding(Pair(130, 80), Pair(130, 80), Pair(130, 80), Pair(110, 65), Pair(125, 75)),
    Corresponding(Pair(140, 90), Pair(135, 85), Pair(135, 85), Pair(120, 70), Pair(130, 80)),
    Corresponding(Pair(160, 100), Pair(145, 90), Pair(145, 90), Pair(140, 85), Pair(145, 90)),
)

#: NICE NG136 (secondary) has another row for the highest.
NICE_CORRESPONDENCE: Final = (
    (Pair(140, 90), Pair(135, 85)),
    (Pair(160, 100), Pair(150, 95)),
)


def home_for(guideline: Guideline, office: Pair) -> Pair | None:
    """What corresponds at home to a limit at the office; None: the table has no such row.

    There is nothing between the rows: readings are not converted.
    """
    rows: Mapping[Pair, Pair] = {row.office: row.home for row in CORRESPONDENCE}
    if guideline is Guideline.NICE_NG136:
        rows = dict(NICE_CORRESPONDENCE)
    return rows.get(office)


@dataclass(frozen=True, slots=True)
class Limits:
    """At or above either number an average is high."""

    office: Pair
    home: Pair
    source: str
    status: Status


def _usual(status: Status) -> Limits:
    return Limits(Pair(140, 90), Pair(135, 85), "140/90 with 135/85: ESC, ESH, NICE, ISH", status)


_AMERICAN: Final = Limits(
    Pair(130, 80), Pair(130, 80), "130/80 with 130/80: AHA/ACC 2025 tables 7, 9", Status.CONFIRMED
)

LIMITS: Final[Mapping[Guideline, Limits]] = MappingProxyType(
    {
        Guideline.NICE_NG136: _usual(Status.CONFIRMED),
        Guideline.ESH_2021: _usual(Status.CONFIRMED),
        Guideline.ESC_2024: _usual(Status.SECONDARY),
        Guideline.ISH_2020: _usual(Status.FROM_MEMORY),
        Guideline.JSH_2019: _usual(Status.FROM_MEMORY),
        Guideline.ACC_AHA_2017: _AMERICAN,
        Guideline.AHA_ACC_2025: _AMERICAN,
    }
)

#: SD of one visit's mean about a person's own office level, mmHg. Systolic: the SD of the
#: change between two visits a year apart is 15.3 (attended, Asayama, J Hypertens 2022,
#: confirmed), and a change has twice the variance of a visit. Diastolic: in proportion to the
#: day-to-day SD at home, 5.8 to 8.6 (Kato, confirmed).
VISIT_SD: Final[Mapping[Pressure, float]] = MappingProxyType(
    {
        Pressure.SYSTOLIC: 15.3 / math.sqrt(2),
        Pressure.DIASTOLIC: 15.3 / math.sqrt(2) * 5.8 / OHASAMA.within_sd,
    }
)

#: Every guideline read takes the mean of at least two readings at a visit.
LEAST_OFFICE_READINGS: Final = 2

#: An effect of more is large. NICE NG136, at diagnosis (secondary).
LARGE_EFFECT: Final = Pair(20, 10)


class Pattern(StrEnum):
    """Which of the two means is at or above its limit."""

    NEITHER = "neither"
    OFFICE_ONLY = "office_only"  #: the white-coat pattern
    HOME_ONLY = "home_only"  #: the masked pattern
    BOTH = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Office and home of one person."""

    visits: int  #: local days with readings at the office
    office: Pair  #: means in whole mmHg, as they are compared
    home: Pair
    systolic: Interval  #: the white-coat effect: office minus home, mmHg
    diastolic: Interval
    pattern: Pattern
    limits: Limits

    @property
    def large(self) -> bool:
        """Whether either effect is above `LARGE_EFFECT`."""
        return (
            self.systolic.estimate > LARGE_EFFECT.systolic
            or self.diastolic.estimate > LARGE_EFFECT.diastolic
        )

    @property
    def clear(self) -> bool:
        """Whether the interval of either effect leaves out zero."""
        return any(one.low > 0 or one.high < 0 for one in (self.systolic, self.diastolic))


def compared(
    office: Days, home: Days, guideline: Guideline, average: Pair | None = None
) -> Compared | None:
    """Office and home of one person over the same period.

    Args:
        office: daily values of the readings taken at the office; one day is one visit.
        home: daily values of the readings taken at home.
        average: the average at home that stands beside this, so that the pattern does not
            contradict it; None: the mean of the days.

    Returns:
        None, cannot tell, with fewer than `LEAST_OFFICE_READINGS` readings at the office or
        `LEAST_DAYS` days at home.
    """
    if office.whole.readings.sum() < LEAST_OFFICE_READINGS or len(home) < LEAST_DAYS:
        return None
    limits = LIMITS[guideline]
    visits = {pressure: office.whole.of(pressure) for pressure in VISIT_SD}
    levels = {pressure: means_of(sample_of([home.series(pressure)])) for pressure in VISIT_SD}
    at_office = _pair({pressure: float(one.mean()) for pressure, one in visits.items()})
    at_home = average or _pair({p: float(one.means[0]) for p, one in levels.items()})
    found = {p: _effect(visits[p], levels[p], p) for p in VISIT_SD}
    return Compared(
        visits=len(office),
        office=at_office,
        home=at_home,
        systolic=found[Pressure.SYSTOLIC],
        diastolic=found[Pressure.DIASTOLIC],
        pattern=pattern(at_office, at_home, limits),
        limits=limits,
    )


def effects(
    office: Floats, visits: Floats | int, home: Means, pressure: Pressure
) -> tuple[Floats, Floats]:
    """Both ends of the 95 % interval of office minus home, mmHg, of many people.

    Visits are too few to show their own spread, so it is `VISIT_SD`. Degrees of freedom: Welch
    (Biometrika 1947;34:28, from memory), the spread of the visits being known.

    Args:
        office: means over the visits, mmHg, by person.
        visits: how many each.
        home: means of the days at home.
    """
    at_home, at_office = home.scales**2, VISIT_SD[pressure] ** 2 / visits
    both = at_home + at_office
    freedom = home.found.freedom * (both / at_home) ** 2
    differences = office - home.means
    return t_bounds(home.found.weights, differences, np.sqrt(both), freedom, CONFIDENCE)


def pattern(office: Pair, home: Pair, limits: Limits) -> Pattern:
    """Which of two means (whole mmHg) reaches its limit; of a pair the higher number decides."""
    at_office, at_home = _reaches(office, limits.office), _reaches(home, limits.home)
    if at_office and at_home:
        return Pattern.BOTH
    if at_office:
        return Pattern.OFFICE_ONLY
    return Pattern.HOME_ONLY if at_home else Pattern.NEITHER


def _reaches(mean: Pair, limit: Pair) -> bool:
    return mean.systolic >= limit.systolic or mean.diastolic >= limit.diastolic


def _effect(visits: Floats, home: Means, pressure: Pressure) -> Interval:
    mean = visits.mean(keepdims=True)
    low, high = effects(mean, len(visits), home, pressure)
    return Interval(float((mean - home.means)[0]), float(low[0]), float(high[0]))


def _pair(means: Mapping[Pressure, float]) -> Pair:
    return shown_pair(Fraction(means[Pressure.SYSTOLIC]), Fraction(means[Pressure.DIASTOLIC]))
