"""Contacts in an alarm: consent, delivery, and what they report themselves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain.events import ChatClosed, ChatOpened, DeliveryFailed, DeliveryProblem, Do
from domain.people import AlarmStage, Consent
from tests.domain.conftest import CARER, CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

FLAGGED = "192/114 and my chest hurts"


def without_consent(stage: Stage, consent: Consent) -> None:
    """Wren has not agreed to, or no longer is."""
    first, *rest = stage.patient.contacts
    stage.patient = replace(stage.patient, contacts=(replace(first, consent=consent), *rest))


# --- consent and delivery


@pytest.mark.parametrize("consent", [Consent.PROPOSED, Consent.REFUSED, Consent.WITHDRAWN])
@pytest.mark.parametrize("text", [FLAGGED, "192/114"])
def test_contacts_without_consent_are_never_told(stage: Stage, consent: Consent, text: str) -> None:
    without_consent(stage, consent)
    stage.says(text)
    stage.passes(minutes=40)
    stage.presses(Do.AMBULANCE)
    stage.presses(Do.HELP_CAME)
    assert stage.heard(CARER_CHAT) == []
    assert stage.heard(DOCTOR_CHAT)


def test_consent_withdrawn_in_an_emergency_ends_the_telling(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.CONSENT_WITHDRAW, CARER)
    stage.take_sent()
    stage.presses(Do.AMBULANCE)
    stage.passes(minutes=10)
    stage.presses(Do.HELP_CAME)
    assert stage.heard(CARER_CHAT) == []


def test_consent_given_in_an_emergency_calls_at_once(stage: Stage) -> None:
    without_consent(stage, Consent.PROPOSED)
    stage.says(FLAGGED)
    stage.presses(Do.CONSENT_YES, CARER)
    assert "contact.emergency" in stage.heard(CARER_CHAT)


def test_an_alarm_that_cannot_be_delivered_is_told_to_the_patient(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    failed = DeliveryFailed(
        chat=CARER_CHAT, to=CARER, problem=DeliveryProblem.BLOCKED, was_alarm=True
    )
    stage.fails_to_deliver(failed)
    assert stage.values("emergency.unreachable")["name"] == "Wren"
    stage.take_sent()
    stage.fails_to_deliver(failed)
    assert stage.sent == []  # said once


def test_an_unreachable_patient_is_told_to_the_contacts(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.fails_to_deliver(
        DeliveryFailed(chat=PATIENT_CHAT, to=None, problem=DeliveryProblem.BLOCKED, was_alarm=True)
    )
    assert stage.heard(CARER_CHAT) == ["contact.patient_unreachable"]


def test_a_contact_who_blocks_the_bot_is_named_to_the_patient_and_welcome_back(
    stage: Stage,
) -> None:
    stage.happens(ChatClosed(chat=CARER_CHAT), chat=CARER_CHAT)
    assert stage.values("contact.unreachable")["name"] == "Wren"
    assert not stage.patient.contacts[-1].reachable or not stage.patient.contacts[0].reachable
    stage.happens(ChatOpened(chat=CARER_CHAT), chat=CARER_CHAT)
    assert all(contact.reachable for contact in stage.patient.contacts)


# --- a contact reports


def test_a_contact_who_is_back_before_the_end_learns_the_end(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.happens(ChatClosed(chat=CARER_CHAT), chat=CARER_CHAT)
    stage.happens(ChatOpened(chat=CARER_CHAT), chat=CARER_CHAT)
    stage.take_sent()
    stage.presses(Do.HELP_CAME)
    assert "contact.ended.helped" in stage.heard(CARER_CHAT)


def test_who_says_they_will_see_to_it_learns_the_end_though_nobody_called_them(
    stage: Stage,
) -> None:
    stage.says("192/114")
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)  # below an earlier alarm
    stage.take_sent()
    stage.presses(Do.I_AM_THERE, chat=DOCTOR_CHAT)
    assert "contact.ended.there" in stage.heard(CARER_CHAT)


def test_a_red_flag_in_a_carers_chat_is_taken_as_the_patients(stage: Stage) -> None:
    stage.says("she has chest pain", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard(CARER_CHAT)[0] == "contact.danger"
    assert "seen.reported" in stage.heard()
    assert "contact.seen.reported" in stage.heard(DOCTOR_CHAT)


@pytest.mark.parametrize(("text", "advice"), [("192/114", True), ("142/91", False)])
def test_a_severe_reading_in_a_carers_chat_is_advised_on_before_it_is_theirs(
    stage: Stage, text: str, advice: bool
) -> None:
    stage.says(text, chat=CARER_CHAT)
    assert ("contact.severe.do" in stage.heard(CARER_CHAT)) is advice
    assert stage.heard(CARER_CHAT)[-1] == "owner.ask_one"
    stage.taps("button.owner", chat=CARER_CHAT)
    assert (stage.alarm is AlarmStage.ASKED) is advice


def test_a_reading_beside_a_red_flag_is_asked_about_too(stage: Stage) -> None:
    stage.says("192/114 and she has chest pain", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard(CARER_CHAT)[-1] == "owner.ask_one"


def test_not_about_her_ends_it_and_leaves_no_sign_in_force(stage: Stage) -> None:
    stage.says("she has chest pain", chat=CARER_CHAT)
    stage.taps("button.not_about", chat=CARER_CHAT)
    assert stage.alarm is None
    stage.passes(hours=1)
    stage.says("192/114")
    assert stage.alarm is AlarmStage.ASKED


def test_only_who_reported_can_say_that_it_was_not_about_her(stage: Stage) -> None:
    stage.says("she has chest pain", chat=CARER_CHAT)
    stage.presses(Do.NOT_ABOUT, chat=DOCTOR_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_contact_who_may_not_be_told_gets_the_advice_and_nothing_of_the_patient(
    stage: Stage,
) -> None:
    without_consent(stage, Consent.PROPOSED)
    stage.says("she collapsed", chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["other.emergency", "contact.wait"]
    assert stage.values("other.emergency", CARER_CHAT)["number"] != "112"


def test_a_carers_word_of_a_headache_counts_with_a_severe_reading_later(stage: Stage) -> None:
    stage.says("she has a headache", chat=CARER_CHAT)
    assert "contact.noted" in stage.heard(CARER_CHAT)
    assert stage.patient.state.alarm is None

    stage.says("185/100")

    assert stage.patient.state.alarm is not None
    assert stage.patient.state.alarm.stage is AlarmStage.EMERGENCY


def test_who_is_said_to_be_confused_does_not_close_the_alarm_alone(stage: Stage) -> None:
    stage.says("she is confused and does not know the day", chat=CARER_CHAT)
    assert stage.patient.state.alarm is not None
    stage.passes(minutes=1)
    stage.says("128/78")
    stage.passes(minutes=1)
    stage.says("126/77")

    stage.taps("button.no_signs")

    assert stage.patient.state.alarm is not None
    assert "contact.calm" in stage.heard(CARER_CHAT)

    stage.taps("button.it_is_over", chat=CARER_CHAT)

    assert stage.patient.state.alarm is None
    assert "ended.made_sure" in stage.heard()


# --- numbers that a contact sends


@pytest.mark.parametrize("text", ["mum has 192/114", "her pressure is 192/114", "192/114"])
def test_a_severe_number_from_a_carer_opens_the_alarm_at_once_and_is_not_filed(
    stage: Stage, text: str
) -> None:
    stage.says(text, chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.values("severe.reported")["by"] == "Wren"
    assert stage.pairs() == []
    stage.taps("button.owner", chat=CARER_CHAT)
    assert stage.pairs() == [(192, 114)]
    assert stage.alarm is AlarmStage.ASKED


def test_a_severe_number_from_a_carer_that_was_nobodys_ends_it(stage: Stage) -> None:
    stage.says("mum has 192/114", chat=CARER_CHAT)
    stage.taps("button.owner_none", chat=CARER_CHAT)
    assert stage.alarm is None
    assert stage.pairs() == []


def test_a_severe_number_and_a_sign_from_a_carer_are_an_emergency(stage: Stage) -> None:
    stage.says("mum has 192/114 and a headache", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_harmless_number_from_a_carer_is_asked_about_and_alarms_nobody(stage: Stage) -> None:
    stage.says("mum has 132/84", chat=CARER_CHAT)
    assert stage.alarm is None
    assert stage.heard() == []
    stage.taps("button.owner", chat=CARER_CHAT)
    assert stage.pairs() == [(132, 84)]


def test_the_number_that_a_carer_sent_is_no_second_reading_once_it_is_filed(stage: Stage) -> None:
    stage.says("mum has 192/114", chat=CARER_CHAT)
    stage.presses(Do.SYMPTOMS_NONE)
    stage.take_sent()
    stage.taps("button.owner", chat=CARER_CHAT)
    assert "severe.one_of_two" not in stage.heard()
    assert stage.alarm is AlarmStage.REPEATING


def test_a_blocked_patient_is_told_of_once_in_an_alarm_and_never_to_who_is_not_live(
    stage: Stage,
) -> None:
    contacts = tuple(
        replace(c, duty=None) if c.chat == DOCTOR_CHAT else c for c in stage.patient.contacts
    )
    stage.patient = replace(stage.patient, contacts=contacts)
    stage.says(FLAGGED)
    stage.take_sent()
    lost = DeliveryFailed(
        chat=PATIENT_CHAT, to=None, problem=DeliveryProblem.BLOCKED, was_alarm=True
    )
    stage.fails_to_deliver(lost)
    stage.fails_to_deliver(lost)
    assert stage.heard(CARER_CHAT) == ["contact.patient_unreachable"]
    assert stage.heard(DOCTOR_CHAT) == []


def test_after_a_calm_pair_a_typed_no_answers_whether_signs_are_left(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=10)
    stage.says("132/84")
    stage.passes(minutes=1)
    stage.says("130/82")
    assert stage.alarm is AlarmStage.EMERGENCY
    stage.says("no")
    assert stage.alarm is None


def test_a_command_in_an_emergency_is_answered_below_the_number_to_call(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says("/stop")
    assert stage.heard()[0] == "emergency.call"


def test_dizziness_with_a_severe_reading_is_an_emergency(stage: Stage) -> None:
    """AHA patient page and ESC name dizziness beside a severe reading (clinical facts, 4.2)."""
    stage.says("192/114 and dizzy")
    assert stage.alarm is AlarmStage.EMERGENCY


# --- being there


@pytest.mark.parametrize(
    "text",
    [
        "I'm at the hospital with my sister",
        "looking after my husband",
        "I live with him",
        "with dad now",
        "I'm in hospital myself",
        "I am here with dad",
    ],
)
def test_who_is_with_somebody_perhaps_else_is_asked_and_ends_no_alarm(
    stage: Stage, text: str
) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says(text, chat=CARER_CHAT)
    assert stage.patient.state.alarm is not None
    assert "contact.with_whom" in stage.heard(CARER_CHAT)
    stage.presses(Do.I_AM_THERE, chat=CARER_CHAT)
    assert stage.patient.state.alarm is None


def test_who_cannot_come_for_being_with_somebody_else_cannot(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says("can't today, I'm at the hospital with my sister", chat=CARER_CHAT)
    assert stage.patient.state.alarm is not None
    assert stage.patient.state.alarm.unable == (CARER,)


def test_who_told_of_the_signs_learns_the_end_though_nobody_called_them(stage: Stage) -> None:
    stage.says("she has chest pain", chat=DOCTOR_CHAT)
    stage.take_sent()
    stage.presses(Do.I_AM_THERE, chat=CARER_CHAT)
    assert "contact.ended.there" in stage.heard(DOCTOR_CHAT)


@pytest.mark.parametrize("text", ["I'm with my mum", "what is going on?", "I can't get there"])
def test_who_writes_of_an_alarm_unasked_learns_its_end(stage: Stage, text: str) -> None:
    stage.says("192/114")
    stage.says(text, chat=CARER_CHAT)
    stage.says("none of these signs")
    stage.passes(minutes=6)
    stage.says("142/84")
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("138/82")
    assert stage.alarm is None
    assert "contact.ended.below" in stage.heard(CARER_CHAT)


def test_who_asks_what_goes_on_reads_what_was_sent_and_which_signs_count(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("what's going on?", chat=CARER_CHAT)
    heard = stage.heard(CARER_CHAT)
    assert heard[0].startswith("contact.seen")
    assert "contact.severe.do" in heard


def test_in_a_severe_alarm_that_is_no_emergency_cannot_bids_nobody_call(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("I can't get there", chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["contact.cannot.today"]
