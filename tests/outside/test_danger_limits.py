"""The limits and lists of danger against what is published, with the source beside each row.

Guidelines give a band of limits (180/110 to 180/120, at or above); the program takes the
most cautious. Whatever is an emergency for any of them is one here.
"""

from __future__ import annotations

import pytest

from domain.danger import (
    PREGNANCY_SEVERE,
    RED_FLAGS,
    SEVERE,
    SEVERE_SYMPTOMS,
    STILL_HIGH,
    Level,
    is_severe,
    message_level,
)

#: source, systolic limit, diastolic limit, whether the limit itself counts
_SEVERE = [
    ("ESC/ESH 2018 (Eur Heart J 2018;39:3021), grade 3: >=180 or >=110", 180, 110, True),
    ("ESC 2024 (Eur Heart J 2024;45:3912), >=180/110", 180, 110, True),
    ("ESH 2023 (J Hypertens 2023;41:1874), >=180/110", 180, 110, True),
    ("NICE NG136 1.5, clinic 180/120", 180, 120, True),
    ("AHA patient page on hypertensive crisis, 180/120", 180, 120, True),
    ("NHLBI patient page, 180/120", 180, 120, True),
    ("AHA/ACC 2025 (Hypertension 2025;82:e212), above 180/120", 180, 120, False),
    ("common practice: above 180 or above 110", 180, 110, False),
]


@pytest.mark.parametrize(("source", "systolic", "diastolic", "at"), _SEVERE)
def test_what_any_source_calls_severe_is_severe(
    source: str, systolic: int, diastolic: int, at: bool
) -> None:
    least = 0 if at else 1
    assert is_severe(systolic + least, 80), source
    assert is_severe(130, diastolic + least), source


def test_below_every_published_limit_nothing_is_severe() -> None:
    """ESC/ESH 2018 grade 2 ends at 179/109."""
    assert not is_severe(179, 109)
    assert (SEVERE.systolic, SEVERE.diastolic) == (
        min(row[1] for row in _SEVERE),
        min(row[2] for row in _SEVERE),
    )


_WITH_SEVERE = [
    ("blurred_vision", "AHA patient page: change in vision"),
    ("headache", "NHLBI patient page; ESC"),
    ("weakness", "AHA and NHLBI patient pages"),
    ("numbness", "AHA patient page"),
    ("nausea", "common practice: nausea or vomiting"),
    ("vomiting", "AHA patient page"),
]


@pytest.mark.parametrize(("symptom", "source"), _WITH_SEVERE)
def test_a_severe_reading_with_a_published_symptom_is_an_emergency(
    symptom: str, source: str
) -> None:
    assert message_level([(180, 100)], [symptom]) is Level.EMERGENCY, source
    assert symptom in SEVERE_SYMPTOMS


_FLAGS = [
    ("face_droop", "FAST; NICE NG128 stroke 2019 (from memory)"),
    ("one_sided_weakness", "FAST; NICE NG128 (from memory)"),
    ("speech_trouble", "FAST; AHA patient page: difficulty speaking"),
    ("loss_of_balance", "NICE NG128 (from memory)"),
    ("worst_headache", "NHLBI patient page: sudden, severe headache"),
    ("chest_pain", "NICE CG95 (from memory); AHA patient page"),
    ("tearing_back_pain", "ESC, aortic dissection (from memory); AHA patient page: back pain"),
    ("breathlessness", "AHA and NHLBI patient pages; whatever the reading: common practice"),
    ("seizure", "common practice: any new fit"),
    ("fainting", "AHA: consequence of a crisis"),
    ("sudden_vision_loss", "NHLBI patient page: sudden change in vision"),
    ("confusion", "NICE NG136 (from memory); AHA patient page"),
]


@pytest.mark.parametrize(("flag", "source"), _FLAGS)
def test_a_published_red_flag_needs_no_reading(flag: str, source: str) -> None:
    assert message_level([], [flag]) is Level.EMERGENCY, source


def test_the_lists_hold_nothing_without_a_source() -> None:
    assert {flag for flag, _ in _FLAGS} == RED_FLAGS
    assert {symptom for symptom, _ in _WITH_SEVERE} == SEVERE_SYMPTOMS


@pytest.mark.parametrize(
    ("pair", "severe"), [((160, 90), True), ((150, 110), True), ((159, 109), False)]
)
def test_severe_in_pregnancy_is_as_nice_defines_it(pair: tuple[int, int], severe: bool) -> None:
    """NICE NG133 (from CG107): severe hypertension in pregnancy, >=160 or >=110."""
    assert PREGNANCY_SEVERE.reached_by(*pair) is severe


def test_still_high_is_grade_two() -> None:
    """ESC/ESH 2018 and ISH 2020, grade 2 in the office: from 160/100 on."""
    assert (STILL_HIGH.systolic, STILL_HIGH.diastolic) == (160, 100)


@pytest.mark.parametrize(
    ("systolic", "symptoms", "level", "source"),
    [
        (89, [], Level.LOW, "NEWS2: <=90 scores 3 (from memory); practice: below 90"),
        (90, [], Level.NONE, "practice: below 90"),
        (91, ["dizziness"], Level.LOW, "NEWS2: 91-100 scores 2 (from memory); with dizziness"),
        (99, ["dizziness"], Level.LOW, "NEWS2: 91-100 scores 2 (from memory); with dizziness"),
        (107, [], Level.NONE, "FHIR R4 example Observation/blood-pressure, 107/60: no alarm"),
    ],
)
def test_low_pressure_is_named_from_the_scores_of_acute_care(
    systolic: int, symptoms: list[str], level: Level, source: str
) -> None:
    assert message_level([(systolic, 60)], symptoms) is level, source
