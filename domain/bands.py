"""Bands of home averages by guideline, as data, and the band of two numbers.

Pressures in mmHg. Bands are for averages at home, never for one reading (common practice);
what one reading calls for is in `danger.py`. Averages come from `averaging.py`, which also
says how a mean becomes the whole number that is judged here.

JSH 2019 also names the isolated systolic kind: at least 135 with a diastolic below 85 (from
memory). It lies across the grades (155/80 is of grade 2 as well), so it is no band and no row
here; nothing that is said at home asks for it. No other table read names it for home values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from domain.readings import Mmhg
from domain.sources import Status


class Guideline(StrEnum):
    """Guidelines that have bands for home averages, by the name people know them by."""

    NICE_NG136 = "NICE NG136"
    ESH_2021 = "ESH 2021"
    ESC_2024 = "ESC 2024"
    ACC_AHA_2017 = "ACC/AHA 2017"
    AHA_ACC_2025 = "AHA/ACC 2025"
    JSH_2019 = "JSH 2019"
    ISH_2020 = "ISH 2020"


@dataclass(frozen=True, slots=True)
class Band:
    """A band and where it begins, mmHg. None: that number alone never reaches it."""

    name: str
    least_systolic: Mmhg | None
    least_diastolic: Mmhg | None
    status: Status

    def holds(self, systolic: int, diastolic: int) -> bool:
        """Whether either number, mmHg, is at or above where the band begins."""
        return (self.least_systolic is not None and systolic >= self.least_systolic) or (
            self.least_diastolic is not None and diastolic >= self.least_diastolic
        )


@dataclass(frozen=True, slots=True)
class BandTable:
    """The bands of one guideline, low to high. The first one is for whatever reaches no other."""

    guideline: Guideline
    source: str
    bands: tuple[Band, ...]


def _band(name: str, systolic: int | None, diastolic: int | None, status: Status) -> Band:
    return Band(
        name,
        None if systolic is None else Mmhg(systolic),
        None if diastolic is None else Mmhg(diastolic),
        status,
    )


def _american(guideline: Guideline) -> BandTable:
    derived = Status.DERIVED
    return BandTable(
        guideline,
        "AHA/ACC 2025 table 7, modified from ACC/AHA 2017: office 120/80, 130/80 and 140/90 "
        "correspond to home 120/80, 130/80 and 135/85; bands derived from it",
        (
            _band("normal", None, None, derived),
            _band("elevated", 120, None, derived),
            _band("stage_1", 130, 80, derived),
            _band("stage_2", 135, 85, derived),
        ),
    )


_NICE: Final = BandTable(
    Guideline.NICE_NG136,
    "NICE NG136; the stages hold together with clinic 140/90 and 160/100",
    (
        _band("not_confirmed", None, None, Status.CONFIRMED),
        _band("stage_1", 135, 85, Status.SECONDARY),
        _band("stage_2", 150, 95, Status.SECONDARY),
    ),
)

_ESH: Final = BandTable(
    Guideline.ESH_2021,
    "Stergiou 2018, taken over by ESH 2021 and 2023; no grades at home",
    (
        _band("normal", None, None, Status.CONFIRMED),
        _band("borderline", 130, 80, Status.CONFIRMED),
        _band("hypertension", 135, 85, Status.CONFIRMED),
    ),
)

_ESC: Final = BandTable(
    Guideline.ESC_2024,
    "ESC 2024, home values as quoted in summaries",
    (
        _band("non_elevated", None, None, Status.SECONDARY),
        _band("elevated", 120, 70, Status.SECONDARY),
        _band("hypertension", 135, 85, Status.SECONDARY),
    ),
)

_JSH: Final = BandTable(
    Guideline.JSH_2019,
    "JSH 2019, home bands",
    (
        _band("normal", None, None, Status.FROM_MEMORY),
        _band("high_normal", 115, None, Status.FROM_MEMORY),
        _band("elevated", 125, 75, Status.FROM_MEMORY),
        _band("grade_1", 135, 85, Status.FROM_MEMORY),
        _band("grade_2", 145, 90, Status.FROM_MEMORY),
        _band("grade_3", 160, 100, Status.FROM_MEMORY),
    ),
)

_ISH: Final = BandTable(
    Guideline.ISH_2020,
    "ISH 2020; no grades at home; the limit agrees with all the other tables",
    (
        _band("not_hypertension", None, None, Status.FROM_MEMORY),
        _band("hypertension", 135, 85, Status.FROM_MEMORY),
    ),
)

BAND_TABLES: Final[Mapping[Guideline, BandTable]] = MappingProxyType(
    {
        table.guideline: table
        for table in (
            _NICE,
            _ESH,
            _ESC,
            _american(Guideline.ACC_AHA_2017),
            _american(Guideline.AHA_ACC_2025),
            _JSH,
            _ISH,
        )
    }
)


def band(guideline: Guideline, systolic: int, diastolic: int) -> Band:
    """The band of a home average: the higher one of its two numbers' bands.

    Args:
        guideline: whose bands.
        systolic: whole mmHg, as people read it (`readings.whole`).
        diastolic: whole mmHg, likewise.

    Source: the guideline's row of `BAND_TABLES`; that the higher of the two decides is
    ISH 2020 (secondary) and AHA/ACC 2025 (secondary).
    """
    lowest, *others = BAND_TABLES[guideline].bands
    return next((b for b in reversed(others) if b.holds(systolic, diastolic)), lowest)


def higher_band(guideline: Guideline, one: Band | None, other: Band | None) -> Band | None:
    """The higher of two bands of one guideline; None stands for no average, below all."""
    if one is None or other is None:
        return one or other
    order = BAND_TABLES[guideline].bands
    return max(one, other, key=order.index)
