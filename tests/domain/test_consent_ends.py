"""Consent that has ended or is for alarms only: nothing more is seen, told or changed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain import alarm_table
from domain.events import Do, OtherKind, SentOther
from domain.messages import Words
from domain.outcome import NextLook
from domain.people import AlarmStage, ChatId, Consent, MessageRef, PersonId
from tests.domain.conftest import CARER, CARER_CHAT, DOCTOR, DOCTOR_CHAT, PATIENT_CHAT, Stage

#: Every button that a contact can ever have been given, with an argument of its kind.
OLD_BUTTONS = [
    (Do.SEE_TO_IT, ""),
    (Do.CANNOT, ""),
    (Do.I_AM_THERE, ""),
    (Do.IT_IS_OVER, ""),
    (Do.NOT_ABOUT, ""),
    (Do.REHEARSAL_SEEN, ""),
    (Do.PATIENT_WEEK, ""),
    (Do.PATIENT_REPORT, ""),
    (Do.PATIENT_PLAN, ""),
    (Do.PATIENT_PLAN, "regular-days"),
    (Do.PRACTICE, "target:130/80"),
    (Do.PRACTICE, "seen:4@above_target@148/92"),
    (Do.PRACTICE, "limits:"),
    (Do.PRACTICE, "known:"),
    (Do.PRACTICE, "changed:0"),
    (Do.PRACTICE, "guideline:esh-2023"),
    (Do.OWNER, "300|9|2026-03-10T07:00:00+00:00|192/114"),
    (Do.CONSENT_YES, "okafor"),
    (Do.SYMPTOMS_YES, ""),
    (Do.HELP_CAME, ""),
]
TYPED = ["/week", "/report", "/plan", "/target 130/80", "/seen 4", "/limits 170/100", "/help"]


def withdrawn(stage: Stage, person: PersonId) -> None:
    stage.presses(Do.CONSENT_WITHDRAW, person)
    stage.take_sent()


@pytest.mark.parametrize(("person", "chat"), [(CARER, CARER_CHAT), (DOCTOR, DOCTOR_CHAT)])
@pytest.mark.parametrize(("do", "argument"), OLD_BUTTONS)
def test_an_old_button_of_a_withdrawn_contact_shows_and_changes_nothing(
    stage: Stage, person: PersonId, chat: ChatId, do: Do, argument: str
) -> None:
    stage.says("192/114 and my chest hurts")
    withdrawn(stage, person)
    before = stage.patient

    stage.presses(do, argument, chat=chat)

    assert stage.patient == before
    assert stage.heard(chat) == ["contact.wait"]
    assert [out.attachment for out in stage.take_sent()] == [None]


@pytest.mark.parametrize("text", TYPED)
def test_a_command_of_a_withdrawn_practitioner_shows_and_changes_nothing(
    stage: Stage, text: str
) -> None:
    withdrawn(stage, DOCTOR)
    before = stage.patient

    stage.says(text, chat=DOCTOR_CHAT)

    assert stage.patient == before
    assert stage.heard(DOCTOR_CHAT) == ["contact.wait"]


def test_timers_of_an_alarm_tell_a_withdrawn_contact_nothing(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")
    withdrawn(stage, CARER)

    stage.passes(hours=3)
    stage.presses(Do.HELP_CAME)
    stage.passes(hours=24 * 8)

    assert stage.heard(CARER_CHAT) == []


@pytest.mark.parametrize("consent", [Consent.PROPOSED, Consent.REFUSED, Consent.WITHDRAWN])
def test_the_cautions_give_the_patients_number_to_nobody_without_consent(
    stage: Stage, consent: Consent
) -> None:
    contacts = tuple(replace(c, consent=consent) for c in stage.patient.contacts)
    stage.patient = replace(stage.patient, contacts=contacts)

    stage.says("/cautions", chat=CARER_CHAT)

    assert stage.values("cautions.whole", CARER_CHAT)["number"] == Words(("number.unknown",))


def test_a_sticker_does_not_tell_a_withdrawn_contact_that_an_alarm_is_open(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")
    withdrawn(stage, CARER)
    message = MessageRef(chat=CARER_CHAT, message=77)

    stage.happens(
        SentOther(kind=OtherKind.STICKER, message=message, written_at=stage.now), chat=CARER_CHAT
    )

    assert stage.heard(CARER_CHAT) == []


def test_when_whoever_sees_to_it_is_withdrawn_the_others_are_called_again(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)

    withdrawn(stage, CARER)
    stage.passes(minutes=alarm_table.AGAIN.after.total_seconds() / 60)

    assert stage.alarm is AlarmStage.EMERGENCY
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)
    assert "contact.chase" not in stage.heard(CARER_CHAT)


def test_when_another_sees_to_it_a_withdrawal_calls_nobody_again(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.presses(Do.SEE_TO_IT, chat=DOCTOR_CHAT)

    withdrawn(stage, CARER)

    assert stage.patient.state.alarm is not None
    assert stage.patient.state.alarm.answered_by == (DOCTOR,)
    assert alarm_table.AGAIN.key not in stage.timers


def test_whoever_is_invited_again_after_a_withdrawal_is_heard(stage: Stage) -> None:
    withdrawn(stage, CARER)
    wren = stage.patient.contact(CARER)
    assert wren is not None
    again = replace(wren, person=PersonId("wren-2"), consent=Consent.AGREED)
    stage.patient = replace(stage.patient, contacts=(*stage.patient.contacts, again))
    stage.says("192/114 and my chest hurts")

    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)

    assert stage.patient.state.alarm is not None
    assert stage.patient.state.alarm.answered_by == (PersonId("wren-2"),)


# --- alarms only


def alarms_only(stage: Stage, person: PersonId) -> None:
    stage.presses(Do.CONSENT_ALARMS, person)
    stage.take_sent()


@pytest.mark.parametrize(("person", "chat"), [(CARER, CARER_CHAT), (DOCTOR, DOCTOR_CHAT)])
@pytest.mark.parametrize("command", ["/week", "/report"])
def test_who_is_told_of_alarms_only_gets_no_picture_and_no_report(
    stage: Stage, person: PersonId, chat: ChatId, command: str
) -> None:
    alarms_only(stage, person)

    stage.says(command, chat=chat)
    stage.presses(Do.PATIENT_WEEK, chat=chat)
    stage.presses(Do.PATIENT_REPORT, chat=chat)

    assert [out.attachment for out in stage.sent if out.chat == chat] == [None] * 3
    assert stage.heard(chat) == ["contact.alarms_only"] * 3


@pytest.mark.parametrize(("person", "chat"), [(CARER, CARER_CHAT), (DOCTOR, DOCTOR_CHAT)])
def test_who_is_told_of_alarms_only_is_told_of_alarms(
    stage: Stage, person: PersonId, chat: ChatId
) -> None:
    alarms_only(stage, person)

    stage.says("192/114 and my chest hurts")

    assert "contact.emergency" in stage.heard(chat)


def test_a_practitioner_for_alarms_only_still_gets_the_daily_list_with_the_alarms(
    stage: Stage,
) -> None:
    stage.presses(Do.CONSENT_ALARMS, DOCTOR)

    assert [f.person for f in stage.facts if isinstance(f, NextLook)] == [DOCTOR]


@pytest.mark.parametrize(
    ("do", "argument"),
    [(Do.PRACTICE, "target:130/80"), (Do.PATIENT_PLAN, "regular-days"), (Do.PATIENT_PLAN, "")],
)
def test_a_practitioner_for_alarms_only_changes_nothing(
    stage: Stage, do: Do, argument: str
) -> None:
    alarms_only(stage, DOCTOR)
    before = stage.patient

    stage.presses(do, argument, chat=DOCTOR_CHAT)

    assert stage.patient == before


def test_the_patient_still_hears_all_of_an_alarm_when_nobody_may_be_told(stage: Stage) -> None:
    withdrawn(stage, CARER)
    withdrawn(stage, DOCTOR)

    stage.says("192/114 and my chest hurts")
    stage.passes(hours=3)

    assert {out.chat for out in stage.sent} == {PATIENT_CHAT}
    assert stage.alarm is AlarmStage.EMERGENCY
