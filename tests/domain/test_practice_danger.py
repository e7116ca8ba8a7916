"""What a practitioner may record about danger: only what is safe, and never behind the back."""

from __future__ import annotations

import pytest

from domain.danger import MAY_BE_KNOWN, RED_FLAGS
from domain.people import AlarmStage, NoteKind
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, Stage


def test_a_limit_is_set_told_to_the_patient_and_used(stage: Stage) -> None:
    stage.says("/limits 165/105", chat=DOCTOR_CHAT)
    assert stage.values("practice.limits.told")["shown"] == "165/105"
    assert stage.noted(NoteKind.LIMITS) == ["165/105"]
    stage.says("166/90")
    assert stage.alarm is AlarmStage.ASKED


@pytest.mark.parametrize("pair", ["185/105", "165/115", "159/105", "165/99", "120/80"])
def test_a_limit_out_of_bounds_changes_nothing(stage: Stage, pair: str) -> None:
    stage.says(f"/limits {pair}", chat=DOCTOR_CHAT)
    assert stage.heard(DOCTOR_CHAT) == ["practice.limits.unsafe"]
    assert stage.patient.state.profile.severe is None


@pytest.mark.parametrize("pair", ["160/100", "180/110"])
def test_the_bounds_themselves_may_be_chosen(stage: Stage, pair: str) -> None:
    stage.says(f"/limits {pair}", chat=DOCTOR_CHAT)
    assert stage.heard(DOCTOR_CHAT) == ["practice.limits.done"]


def test_the_usual_limit_comes_back(stage: Stage) -> None:
    stage.says("/limits 165/105", chat=DOCTOR_CHAT)
    stage.says("/limits usual", chat=DOCTOR_CHAT)
    assert stage.patient.state.profile.severe is None
    stage.says("166/90")
    assert stage.alarm is None


@pytest.mark.parametrize("text", ["/limits", "/limits high", "/known", "/known nonsense"])
def test_without_a_value_it_is_asked_with_buttons(stage: Stage, text: str) -> None:
    stage.says(text, chat=DOCTOR_CHAT)
    assert stage.sent[-1].buttons
    assert stage.patient.state.profile.severe is None
    assert stage.patient.state.profile.long_standing == ()


def test_a_known_sign_is_recorded_told_used_and_taken_back(stage: Stage) -> None:
    stage.says("/known chest_pain", chat=DOCTOR_CHAT)
    assert "practice.known.told" in stage.heard()
    stage.says("my chest hurts")
    assert stage.alarm is AlarmStage.LASTING
    stage.taps("button.as_usual")
    stage.says("/known chest_pain", chat=DOCTOR_CHAT)
    assert stage.patient.state.profile.long_standing == ()
    stage.passes(hours=25)
    stage.says("my chest hurts")
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize("code", ["confusion", "fainting", "x_overdose", "headache"])
def test_other_signs_cannot_be_recorded_as_known(stage: Stage, code: str) -> None:
    stage.says(f"/known {code}", chat=DOCTOR_CHAT)
    assert stage.patient.state.profile.long_standing == ()


def test_what_may_be_known_are_red_flags() -> None:
    assert MAY_BE_KNOWN < RED_FLAGS


@pytest.mark.parametrize("text", ["/limits 165/105", "/known chest_pain"])
def test_nobody_else_sets_it(stage: Stage, text: str) -> None:
    stage.says(text, chat=CARER_CHAT)
    stage.says(text)
    assert stage.patient.state.profile.severe is None
    assert stage.patient.state.profile.long_standing == ()
