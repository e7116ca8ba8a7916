"""Targets of averages at home: those of guidelines by age, and the practitioner's own.

A target says "below" for both numbers, in mmHg. The practitioner's choice always overrides the
table, within bounds outside which it is more likely a slip than a choice. Where a guideline
names no number for home, the table of corresponding office and home values (`office.py`) gives
it where it has the row; where neither says anything there is no target but the
practitioner's. Bands: `bands.py`.

Left without a number on purpose: ESC 2024 from 85 (and for the frail) wants "as low as
reasonably achievable", which is none; ESH 2023 from 80 wants an office systolic of 140 to 150,
130 to 139 if tolerated (from memory), whose upper end has no row in the table, and names no
diastolic but not to fall below 70.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from domain.bands import Guideline
from domain.danger import STILL_HIGH
from domain.evidence.intervals import Interval
from domain.shown import Pair
from domain.sources import Status


class UnsafeTargetError(ValueError):
    """A target outside `BOUNDS`. The text says which limit, never which number."""


@dataclass(frozen=True, slots=True)
class Target:
    """Both numbers shall stay below."""

    pair: Pair  #: mmHg
    source: str
    status: Status


@dataclass(frozen=True, slots=True)
class AgeGroup:
    """What a guideline wants from an age on."""

    from_age: int  #: whole years
    target: Target | None  #: None: no number for home; the practitioner chooses


@dataclass(frozen=True, slots=True)
class Bounds:
    """The lowest and the highest target that may be chosen, both included."""

    lowest: Pair
    highest: Pair
    source: str
    status: Status


#: Lower: the range that ESC 2024 treats to begins at 120/70, and ESH 2023 keeps the diastolic
#: from falling below 70. Higher: from `danger.STILL_HIGH` on nothing is ever praised.
BOUNDS: Final = Bounds(
    Pair(120, 70),
    Pair(STILL_HIGH.systolic - 1, (STILL_HIGH.diastolic or 0) - 1),
    "lowest: ESC 2024 (secondary) and ESH 2023 (from memory); highest: " + STILL_HIGH.source,
    Status.OWN,
)


def _from(age: int, systolic: int, diastolic: int, source: str, status: Status) -> AgeGroup:
    return AgeGroup(age, Target(Pair(systolic, diastolic), source, status))


_AMERICAN: Final = "office below 130/80 (secondary); home the same by AHA/ACC 2025 table 7"

#: Adults. Youngest first; ages from 18.
TARGETS: Final[Mapping[Guideline, tuple[AgeGroup, ...]]] = MappingProxyType(
    {
        Guideline.NICE_NG136: (
            _from(18, 135, 85, "NICE NG136: clinic below 140/90", Status.SECONDARY),
            _from(
                80,
                145,
                85,
                "NICE NG136: clinic below 150/90 (confirmed); home from memory, one table has 140",
                Status.FROM_MEMORY,
            ),
        ),
        Guideline.ESC_2024: (
            _from(
                18,
                130,
                80,
                "ESC 2024: office 120-129/70-79 if tolerated (secondary); home value not found, "
                "the same by AHA/ACC 2025 table 7",
                Status.SECONDARY,
            ),
            AgeGroup(85, None),
        ),
        Guideline.ESH_2021: (
            _from(
                18,
                130,
                80,
                "ESH 2023: home well treated below 130/80; office targets by age from memory",
                Status.FROM_MEMORY,
            ),
            AgeGroup(80, None),
        ),
        Guideline.ACC_AHA_2017: (_from(18, 130, 80, _AMERICAN, Status.SECONDARY),),
        Guideline.AHA_ACC_2025: (_from(18, 130, 80, _AMERICAN, Status.SECONDARY),),
        Guideline.JSH_2019: (
            _from(18, 125, 75, "JSH 2019", Status.CONFIRMED),
            _from(75, 135, 85, "JSH 2019", Status.CONFIRMED),
        ),
        Guideline.ISH_2020: (
            _from(
                18,
                130,
                80,
                "ISH 2020: office below 130/80, home by AHA/ACC 2025 table 7",
                Status.FROM_MEMORY,
            ),
            _from(
                65,
                135,
                85,
                "ISH 2020: office below 140/90, home by AHA/ACC 2025 table 7",
                Status.FROM_MEMORY,
            ),
        ),
    }
)


def target(guideline: Guideline, age: int, chosen: Pair | None = None) -> Target | None:
    """The target that holds for somebody: the practitioner's, else the guideline's by age.

    Args:
        age: whole years, at least 18.
        chosen: the practitioner's own, if there is one.

    Returns:
        None where the guideline has no number for the age and nothing was chosen.

    Raises:
        UnsafeTargetError: the choice lies outside `BOUNDS`.
        ValueError: somebody under 18.
    """
    if chosen is not None:
        return chosen_target(chosen)
    groups = [group for group in TARGETS[guideline] if group.from_age <= age]
    if not groups:
        raise ValueError("there are no targets for people under 18. Ask the practitioner.")
    return groups[-1].target


def chosen_target(chosen: Pair) -> Target:
    """A practitioner's own target.

    Raises:
        UnsafeTargetError: it lies outside `BOUNDS`.
    """
    low, high = BOUNDS.lowest, BOUNDS.highest
    if not low.systolic <= chosen.systolic <= high.systolic:
        raise UnsafeTargetError(
            f"a systolic target must lie between {low.systolic} and {high.systolic} mmHg"
        )
    if not low.diastolic <= chosen.diastolic <= high.diastolic:
        raise UnsafeTargetError(
            f"a diastolic target must lie between {low.diastolic} and {high.diastolic} mmHg"
        )
    return Target(chosen, "the practitioner's choice", Status.CONFIRMED)


class Beside(StrEnum):
    """Where the level of a person's days lies, as far as the days tell."""

    BELOW = "below"  #: both intervals lie below the target
    NOT_BELOW = "not_below"  #: an interval lies at or above it
    NOT_CLEAR = "not_clear"


def beside(systolic: Interval, diastolic: Interval, limit: Pair) -> Beside:
    """How the intervals of the two means (mmHg) lie to a target; the higher number decides."""
    if systolic.low >= limit.systolic or diastolic.low >= limit.diastolic:
        return Beside.NOT_BELOW
    if systolic.high < limit.systolic and diastolic.high < limit.diastolic:
        return Beside.BELOW
    return Beside.NOT_CLEAR
