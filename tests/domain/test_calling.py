"""People who are called in an emergency: until one answers, and held to their word after that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain import alarm_table
from domain.events import ChatClosed, ChatOpened, Do
from domain.people import AlarmStage, ChatId, NoteKind
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

FLAGGED = "192/114 and my chest hurts"


def calls(stage: Stage) -> int:
    return stage.heard(CARER_CHAT).count("contact.emergency")


def test_calling_goes_on_more_slowly_until_somebody_answers(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=3 * (alarm_table.QUICK_ROUNDS - 1))
    assert calls(stage) == alarm_table.QUICK_ROUNDS
    stage.passes(minutes=14.9)
    assert calls(stage) == alarm_table.QUICK_ROUNDS
    stage.passes(hours=5)
    assert calls(stage) >= alarm_table.QUICK_ROUNDS + 20
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.take_sent()
    stage.passes(minutes=14.9)
    assert calls(stage) == 0


def test_the_person_hears_after_each_call_that_nobody_has_answered(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=60)
    heard = stage.heard()
    said = heard.count("emergency.no_answer") + heard.count("emergency.alone_last")
    assert said == 19  # after 3, 6 … 57 minutes; then every quarter of an hour


def test_whoever_will_see_to_it_is_asked_and_without_an_answer_all_are_called(
    stage: Stage,
) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.take_sent()
    stage.passes(minutes=15)
    assert stage.heard(CARER_CHAT) == ["contact.chase"]
    assert stage.heard(DOCTOR_CHAT) == []
    stage.passes(minutes=5)
    assert "contact.emergency" in stage.heard(CARER_CHAT)
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)
    assert "emergency.no_answer" in stage.heard()


def test_whoever_is_still_on_it_is_asked_again_later(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.passes(minutes=16)
    stage.taps("button.still_on_it", chat=CARER_CHAT)
    stage.take_sent()
    stage.passes(minutes=14.9)
    assert "contact.chase" not in stage.heard(CARER_CHAT)
    stage.passes(minutes=0.1)
    assert "contact.chase" in stage.heard(CARER_CHAT)
    assert calls(stage) == 0


def test_whoever_cannot_help_is_named_and_the_others_are_called_on(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.taps("button.cannot", chat=CARER_CHAT)
    assert stage.values("said.cannot")["name"] == "Wren"
    assert stage.values("contact.other_cannot", DOCTOR_CHAT)["name"] == "Wren"
    stage.passes(minutes=3)
    assert calls(stage) == 0
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)


@pytest.mark.parametrize(
    ("chat", "label"),
    [(CARER_CHAT, "button.cannot"), (PATIENT_CHAT, "button.cannot_phone")],
)
def test_a_button_that_is_pressed_again_and_again_does_not_put_off_the_next_call(
    stage: Stage, chat: ChatId, label: str
) -> None:
    stage.says(FLAGGED)
    stage.taps(label, chat=chat)
    stage.take_sent()
    for _ in range(4):
        stage.passes(minutes=1)
        stage.taps(label, chat=chat)
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)


def test_when_everybody_says_that_they_cannot_everybody_is_called_again(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.CANNOT, chat=CARER_CHAT)
    stage.presses(Do.CANNOT, chat=DOCTOR_CHAT)
    stage.take_sent()
    stage.passes(minutes=3)
    assert calls(stage) == 1


def test_whoever_said_that_they_would_and_then_cannot_leaves_nobody_waiting(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.presses(Do.CANNOT, chat=CARER_CHAT)
    stage.take_sent()
    stage.passes(minutes=3)
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)


def test_when_nobody_can_be_reached_the_person_is_told_so(stage: Stage) -> None:
    contacts = tuple(replace(c, reachable=False) for c in stage.patient.contacts)
    stage.patient = replace(stage.patient, contacts=contacts)
    stage.says(FLAGGED)
    assert "emergency.nobody_reached" in stage.heard()
    assert "emergency.sent" not in stage.heard()
    assert calls(stage) == 1  # tried all the same: they may have let the bot in again


def test_who_blocked_and_let_in_again_counts_as_reachable(stage: Stage) -> None:
    stage.happens(ChatClosed(chat=CARER_CHAT), chat=CARER_CHAT)
    stage.happens(ChatOpened(chat=CARER_CHAT), chat=CARER_CHAT)
    stage.says(FLAGGED)
    assert "Wren" in str(stage.values("emergency.sent")["names"])


# --- typed instead of pressed


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("I'm on my way", "contact.thanks"),
        ("I will see to it", "contact.thanks"),
        ("I can't get there", "contact.cannot"),
        ("she does not answer the phone", "contact.cannot_reach"),
    ],
)
def test_a_contact_may_type_what_the_buttons_say(stage: Stage, text: str, key: str) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says(text, chat=CARER_CHAT)
    assert key in stage.heard(CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_contact_who_types_that_they_are_there_ends_it(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.says("I'm with her now", chat=CARER_CHAT)
    assert stage.alarm is None
    assert "contact.ended.there" in stage.heard(DOCTOR_CHAT)


def test_whoever_cannot_be_reached_by_phone_is_asked_also_without_an_alarm(stage: Stage) -> None:
    stage.says("she doesn't answer the phone", chat=CARER_CHAT)
    assert "said.cannot_reach" in stage.heard(PATIENT_CHAT)
    assert "contact.cannot_reach" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize(
    ("text", "key", "told"),
    [
        ("I do not want help", "said.refuses", "contact.said.refuses"),
        ("it was a joke", "said.is_over", "contact.said.is_over"),
        ("it has passed", "said.is_over", "contact.said.is_over"),
        ("I have called 112", "said.ambulance", "contact.said.ambulance"),
    ],
)
def test_what_the_person_types_in_an_emergency_is_noted_and_told_and_ends_nothing(
    stage: Stage, text: str, key: str, told: str
) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says(text)
    assert key in stage.heard()
    assert told in stage.heard(CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.noted(NoteKind.ALARM_SAID)


def test_who_types_that_the_paramedics_are_there_is_looked_after(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.says("the paramedics are here")
    assert stage.alarm is None
    assert "contact.ended.helped" in stage.heard(CARER_CHAT)


def test_whoever_is_there_and_was_told_of_nothing_is_thanked_all_the_same(stage: Stage) -> None:
    stage.says("192/114")  # the contacts are told later
    stage.presses(Do.I_AM_THERE, chat=CARER_CHAT)
    assert stage.alarm is None
    assert "contact.ended.there" in stage.heard(CARER_CHAT)
