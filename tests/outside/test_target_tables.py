"""Targets and the table of office and home values against the guidelines, apart from the code.

AHA/ACC 2025 table 7 (confirmed); NICE NG136 (below 80 secondary; from 80 home value from
memory); JSH 2019 (confirmed); ESC 2024, ESH 2023, ISH 2020 as in the clinical facts (secondary
and from memory).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from domain.bands import Guideline, band
from domain.evidence.days import Pressure
from domain.evidence.levels import means_of
from domain.evidence.office import CORRESPONDENCE, LIMITS, VISIT_SD, effects, home_for
from domain.evidence.targets import target
from domain.shown import Pair
from tests.domain.evidence.simulated_days import people

#: Age, and what stands in the table; None where there is no number for home.
_PRINTED: dict[Guideline, dict[int, str | None]] = {
    Guideline.NICE_NG136: {18: "135/85", 79: "135/85", 80: "145/85", 100: "145/85"},
    Guideline.ESC_2024: {18: "130/80", 84: "130/80", 85: None, 100: None},
    Guideline.ESH_2021: {18: "130/80", 64: "130/80", 65: "130/80", 79: "130/80", 80: None},
    Guideline.ACC_AHA_2017: {18: "130/80", 100: "130/80"},
    Guideline.AHA_ACC_2025: {18: "130/80", 100: "130/80"},
    Guideline.JSH_2019: {18: "125/75", 74: "125/75", 75: "135/85", 100: "135/85"},
    Guideline.ISH_2020: {18: "130/80", 64: "130/80", 65: "135/85", 100: "135/85"},
}


@pytest.mark.parametrize(
    ("guideline", "age"), [(one, age) for one in Guideline for age in _PRINTED[one]]
)
def test_the_target_is_the_printed_one_on_both_sides_of_each_age(
    guideline: Guideline, age: int
) -> None:
    found = target(guideline, age)

    assert (None if found is None else str(found.pair)) == _PRINTED[guideline][age]


_TABLE_7 = """
    120/80 120/80 120/80 100/65 115/75
    130/80 130/80 130/80 110/65 125/75
    140/90 135/85 135/85 120/70 130/80
    160/100 145/90 145/90 140/85 145/90"""


def test_the_table_of_correspondence_is_the_printed_one() -> None:
    rows = [
        " ".join(map(str, (row.office, row.home, row.daytime, row.night, row.whole_day)))
        for row in CORRESPONDENCE
    ]

    assert rows == [line.strip() for line in _TABLE_7.split("\n")[1:]]


@pytest.mark.parametrize(
    ("guideline", "office", "home"),
    [
        (Guideline.AHA_ACC_2025, Pair(160, 100), Pair(145, 90)),
        (Guideline.ISH_2020, Pair(140, 90), Pair(135, 85)),
        (Guideline.NICE_NG136, Pair(140, 90), Pair(135, 85)),
        (Guideline.NICE_NG136, Pair(160, 100), Pair(150, 95)),
        (Guideline.AHA_ACC_2025, Pair(150, 95), None),  # nothing between the rows
    ],
)
def test_only_the_rows_of_the_table_correspond(
    guideline: Guideline, office: Pair, home: Pair | None
) -> None:
    assert home_for(guideline, office) == home


@pytest.mark.parametrize("guideline", Guideline)
def test_the_limits_of_office_and_home_stand_in_one_row_of_the_table(guideline: Guideline) -> None:
    limits = LIMITS[guideline]

    assert home_for(guideline, limits.office) == limits.home


@pytest.mark.parametrize("guideline", Guideline)
def test_at_the_limit_of_the_pattern_the_band_changes_too(guideline: Guideline) -> None:
    home = LIMITS[guideline].home
    for systolic, diastolic in itertools.product((home.systolic, 0), (home.diastolic, 0)):
        if systolic or diastolic:
            below = band(guideline, home.systolic - 1, home.diastolic - 1)
            assert band(guideline, systolic or 100, diastolic or 60) != below


@pytest.mark.slow
@pytest.mark.parametrize("correlation", [0.0, 0.2, 0.4])
@pytest.mark.parametrize(("length", "visits"), [(7, 1), (7, 3), (28, 1), (28, 3)])
def test_the_interval_of_the_white_coat_effect_holds_the_truth(
    correlation: float, length: int, visits: int
) -> None:
    """2,000 invented people; visits about the office level as in Asayama 2022 (confirmed)."""
    chance = np.random.default_rng(1000 * visits + length)
    home = people(2000, length, correlation, chance).with_days(3)
    truth = chance.normal(8, 10, len(home.levels))
    spread = VISIT_SD[Pressure.SYSTOLIC] / np.sqrt(visits)
    office = home.levels + truth + chance.normal(0, spread, len(home.levels))

    low, high = effects(office, visits, means_of(home.sample()), Pressure.SYSTOLIC)

    assert 0.93 <= ((low <= truth) & (truth <= high)).mean() <= 0.97
