"""Signs of danger that have passed, and those that are long-standing."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from domain import danger
from domain.events import Do
from domain.people import AlarmStage, NoteKind
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

# --- passed


@pytest.mark.parametrize(
    ("code", "hours", "seen"),
    [
        ("face_droop", 7 * 24, True),
        ("face_droop", 7 * 24 + 1, False),
        ("speech_trouble", 100, True),
        ("chest_pain", 72, True),
        ("chest_pain", 73, False),
        ("fainting", 72, True),
        ("fainting", 73, False),
    ],
)
def test_how_long_ago_still_has_to_be_seen(code: str, hours: int, seen: bool) -> None:
    """A stroke sign within 7 days, chest pain or collapse within 72 hours: from memory of
    national guidance on transient attacks, chest pain and collapse."""
    assert danger.to_be_seen(code, timedelta(hours=hours)) is seen


def test_a_sign_of_an_earlier_day_is_to_be_seen_today_and_the_contacts_learn_it(
    stage: Stage,
) -> None:
    stage.says("my face drooped two days ago but it is gone")
    assert stage.alarm is AlarmStage.PASSED
    assert stage.heard()[0] == "severe.today"
    assert "passed.back" in stage.heard()
    told = stage.values("contact.passed", CARER_CHAT)
    assert told["symptoms"].keys == ("symptom.face_droop",)
    assert (stage.now.date() - told["at"].date()).days == 2


def test_long_ago_calls_nobody(stage: Stage) -> None:
    stage.says("I had chest pain three weeks ago")
    assert stage.alarm is None
    assert stage.heard(CARER_CHAT) == []


def test_it_ends_when_a_doctor_has_heard_of_it_and_is_asked_for_until_then(stage: Stage) -> None:
    stage.says("I fainted two days ago")
    stage.take_sent()
    stage.passes(hours=4)
    assert stage.heard() == ["doctor.asked", "severe.if_starts"]
    stage.taps("button.seen")
    assert stage.alarm is None
    assert "contact.ended.seen" in stage.heard(CARER_CHAT)
    assert stage.noted(NoteKind.ALARM_SEEN)


def test_if_it_comes_back_it_is_an_emergency(stage: Stage) -> None:
    stage.says("I fainted two days ago")
    stage.says("I have chest pain now")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_calm_readings_do_not_end_it(stage: Stage) -> None:
    stage.says("I fainted two days ago")
    stage.passes(minutes=2)
    stage.says("128/78")
    stage.passes(minutes=1)
    stage.says("126/77")
    assert stage.alarm is AlarmStage.PASSED
    assert stage.pairs() == [(128, 78), (126, 77)]


def test_a_carer_may_tell_of_it_and_may_take_it_back(stage: Stage) -> None:
    stage.says("mum fainted two days ago", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.PASSED
    assert "severe.today" in stage.heard(PATIENT_CHAT)
    stage.taps("button.not_about", chat=CARER_CHAT)
    assert stage.alarm is None


# --- long-standing


@pytest.fixture
def angina(stage: Stage) -> Stage:
    """The practitioner has recorded that chest pain is known."""
    profile = replace(stage.patient.state.profile, long_standing=("chest_pain",))
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=profile))
    return stage


def test_a_known_sign_gets_the_number_at_once_and_one_question(angina: Stage) -> None:
    angina.says("my chest hurts")
    assert angina.alarm is AlarmStage.LASTING
    assert angina.heard()[0] == "lasting.call"
    assert angina.values("lasting.call")["number"] == "112"
    assert angina.heard(CARER_CHAT) == []


@pytest.mark.parametrize("answer", ["button.worse", "button.not_sure", "yes", "worse", "not sure"])
def test_worse_or_not_sure_calls_everybody(angina: Stage, answer: str) -> None:
    angina.says("my chest hurts")
    (angina.taps if answer.startswith("button") else angina.says)(answer)
    assert angina.alarm is AlarmStage.EMERGENCY
    assert "contact.emergency" in angina.heard(CARER_CHAT)


def test_no_answer_in_three_minutes_calls_everybody(angina: Stage) -> None:
    angina.says("my chest hurts")
    angina.passes(minutes=2.9)
    assert angina.heard(CARER_CHAT) == []
    angina.passes(minutes=0.1)
    assert angina.alarm is AlarmStage.EMERGENCY
    assert "contact.emergency" in angina.heard(CARER_CHAT)


@pytest.mark.parametrize("how", ["button", "no", "as usual"])
def test_as_usual_ends_it_and_calls_nobody(angina: Stage, how: str) -> None:
    angina.says("my chest hurts")
    if how == "button":
        angina.presses(Do.AS_USUAL)
    else:
        angina.says(how)
    assert angina.alarm is None
    angina.passes(hours=1)
    assert angina.heard(CARER_CHAT) == []
    assert angina.heard(DOCTOR_CHAT) == []


def test_another_red_flag_beside_it_is_an_emergency_at_once(angina: Stage) -> None:
    angina.says("my chest hurts and my face is drooping")
    assert angina.alarm is AlarmStage.EMERGENCY


def test_with_a_severe_reading_it_is_an_emergency_at_once(angina: Stage) -> None:
    angina.says("192/114, my chest hurts")
    assert angina.alarm is AlarmStage.EMERGENCY


def test_a_severe_reading_while_it_is_asked_is_an_emergency(angina: Stage) -> None:
    angina.says("my chest hurts")
    angina.says("192/114")
    assert angina.alarm is AlarmStage.EMERGENCY
