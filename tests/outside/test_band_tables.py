"""Bands of home averages against the tables of the guidelines, at and around every limit.

Sources, written down here as the tables print them, apart from the code:
NICE NG136 (135/85 confirmed, stages secondary), Stergiou 2018 for ESH 2021 (confirmed), ESC 2024
(secondary), AHA/ACC 2025 table 7 for ACC/AHA 2017 and AHA/ACC 2025 (bands derived from it), JSH
2019 and ISH 2020 (from memory).
"""

from __future__ import annotations

import itertools

import pytest

from domain.bands import BAND_TABLES, Guideline, band

# One line a band, as printed: name, systolic from-to, "and" or "or", diastolic from-to.
_PRINTED = {
    Guideline.NICE_NG136: """
        not_confirmed  0 134 and 0 84
        stage_1      135 149 or 85 94
        stage_2      150 999 or 95 999""",
    Guideline.ESH_2021: """
        normal         0 129 and 0 79
        borderline   130 134 or 80 84
        hypertension 135 999 or 85 999""",
    Guideline.ESC_2024: """
        non_elevated   0 119 and 0 69
        elevated     120 134 or 70 84
        hypertension 135 999 or 85 999""",
    Guideline.ACC_AHA_2017: """
        normal         0 119 and 0 79
        elevated     120 129 and 0 79
        stage_1      130 134 or 80 84
        stage_2      135 999 or 85 999""",
    Guideline.AHA_ACC_2025: """
        normal         0 119 and 0 79
        elevated     120 129 and 0 79
        stage_1      130 134 or 80 84
        stage_2      135 999 or 85 999""",
    Guideline.JSH_2019: """
        normal         0 114 and 0 74
        high_normal  115 124 and 0 74
        elevated     125 134 or 75 84
        grade_1      135 144 or 85 89
        grade_2      145 159 or 90 99
        grade_3      160 999 or 100 999""",
    Guideline.ISH_2020: """
        not_hypertension 0 134 and 0 84
        hypertension   135 999 or 85 999""",
}

_Row = tuple[str, range, str, range]


def _rows(guideline: Guideline) -> list[_Row]:
    found = []
    for line in _PRINTED[guideline].split("\n")[1:]:
        name, low, high, joint, least, most = line.split()
        found.append(
            (name, range(int(low), int(high) + 1), joint, range(int(least), int(most) + 1))
        )
    return found


def _by_the_table(guideline: Guideline, systolic: int, diastolic: int) -> str:
    """The highest row that holds, read as the table is read by hand."""
    holding = [
        name
        for name, systolics, joint, diastolics in _rows(guideline)
        if (
            (systolic in systolics and diastolic in diastolics)
            if joint == "and"
            else (systolic in systolics or diastolic in diastolics)
        )
    ]
    return holding[-1]


def test_every_guideline_has_its_printed_table() -> None:
    assert set(_PRINTED) == set(Guideline) == set(BAND_TABLES)


@pytest.mark.parametrize("guideline", Guideline)
def test_the_band_is_the_printed_one_at_and_around_every_limit(guideline: Guideline) -> None:
    systolics, diastolics = {100, 250}, {55, 150}
    for _, systolic, _, diastolic in _rows(guideline):
        systolics |= {systolic.start - 1, systolic.start, systolic.start + 1}
        diastolics |= {diastolic.start - 1, diastolic.start, diastolic.start + 1}
    for pair in itertools.product(systolics, diastolics):
        if min(pair) > 0:
            assert band(guideline, *pair).name == _by_the_table(guideline, *pair), pair


@pytest.mark.parametrize(
    ("guideline", "lowest"),
    [
        (Guideline.NICE_NG136, "not_confirmed"),
        (Guideline.ESH_2021, "normal"),
        (Guideline.ESC_2024, "non_elevated"),
        (Guideline.ACC_AHA_2017, "normal"),
        (Guideline.AHA_ACC_2025, "normal"),
        (Guideline.JSH_2019, "normal"),
        (Guideline.ISH_2020, "not_hypertension"),
    ],
)
def test_the_published_fhir_example_of_107_over_60_is_in_the_lowest_band(
    guideline: Guideline, lowest: str
) -> None:
    """Source: HL7 FHIR R4, example Observation/blood-pressure (values confirmed)."""
    assert band(guideline, 107, 60).name == lowest
