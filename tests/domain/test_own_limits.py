"""Limits of one person: pregnancy, and what a practitioner has set."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from domain.danger import ADULT, PREGNANT, limits
from domain.people import AlarmStage
from tests.domain.conftest import CARER_CHAT, PATIENT_CHAT, Stage


def with_profile(stage: Stage, **values: Any) -> Stage:
    profile = replace(stage.patient.state.profile, **values)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=profile))
    return stage


@pytest.fixture
def pregnant(stage: Stage) -> Stage:
    return with_profile(stage, pregnant=True)


@pytest.mark.parametrize("text", ["160/95", "150/110", "165/112"])
def test_severe_in_pregnancy_needs_no_sign_and_no_second_pair(pregnant: Stage, text: str) -> None:
    """NICE NG133 (from CG107): severe from 160 or 110 on; same-day admission (secondary)."""
    pregnant.says(text)
    assert pregnant.alarm is AlarmStage.EMERGENCY
    assert "emergency.pregnant" in pregnant.heard()
    assert "contact.emergency" in pregnant.heard(CARER_CHAT)


@pytest.mark.parametrize("text", ["140/85", "135/90", "159/109"])
def test_high_in_pregnancy_is_for_the_maternity_unit_today(pregnant: Stage, text: str) -> None:
    """NICE CG107 / NG133: hypertension from 140 or 90 on; the timing is common practice."""
    pregnant.says(text)
    assert pregnant.alarm is AlarmStage.TODAY
    assert pregnant.heard()[0] == "severe.today.pregnant"
    assert "contact.severe.same_day" in pregnant.heard(CARER_CHAT)


def test_below_both_limits_nothing_is_raised(pregnant: Stage) -> None:
    pregnant.says("139/89")
    assert pregnant.alarm is None


@pytest.mark.parametrize(
    "text",
    ["I have a headache", "blurred vision", "I vomited this morning", "my hands are swollen"],
)
def test_signs_of_pre_eclampsia_need_no_reading(pregnant: Stage, text: str) -> None:
    """NICE NG133 1.1.1: see a professional immediately, whatever the reading."""
    pregnant.says(text)
    assert pregnant.alarm is AlarmStage.EMERGENCY


def test_the_same_day_alarm_ends_with_a_pair_below_the_limits_of_pregnancy(
    pregnant: Stage,
) -> None:
    pregnant.says("142/88")
    pregnant.passes(hours=3)
    pregnant.says("150/92")
    pregnant.passes(minutes=1)
    pregnant.says("128/80")
    assert pregnant.alarm is AlarmStage.TODAY
    pregnant.passes(minutes=1)
    pregnant.says("126/79")
    assert pregnant.alarm is None


def test_what_is_harmless_in_others_stays_so(stage: Stage) -> None:
    stage.says("I have a headache")
    assert stage.alarm is None
    stage.says("150/95")
    assert stage.alarm is None


@pytest.mark.parametrize(
    ("wanted", "systolic", "diastolic"),
    [
        ((170, 105), 170, 105),
        ((150, 90), 160, 100),  # not below grade 2
        ((200, 120), 180, 110),  # never less careful than everybody's
    ],
)
def test_a_practitioners_limit_stays_within_bounds(
    wanted: tuple[int, int], systolic: int, diastolic: int
) -> None:
    own = limits(severe=wanted)
    assert own.is_severe(systolic, 70)
    assert not own.is_severe(systolic - 1, 70)
    assert own.is_severe(120, diastolic)
    assert not own.is_severe(120, diastolic - 1)
    assert own.red_flags == ADULT.red_flags


def test_in_pregnancy_a_practitioners_limit_makes_nothing_less_careful() -> None:
    assert limits(pregnant=True, severe=(180, 110)) == PREGNANT


def test_a_practitioners_limit_is_what_is_weighed(stage: Stage) -> None:
    with_profile(stage, severe=(165, 105))
    stage.says("165/90")
    assert stage.alarm is AlarmStage.ASKED
    assert stage.heard(PATIENT_CHAT)[0] == "severe.ask"
