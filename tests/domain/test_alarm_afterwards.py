"""What an alarm leaves open: help that may not have come, consent that waits, late batches."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from domain import alarm_table
from domain.events import Said
from domain.people import AlarmStage, Consent, MessageRef
from tests.domain.conftest import CARER, CARER_CHAT, PATIENT_CHAT, Stage


def propose_carer(stage: Stage) -> None:
    contacts = tuple(
        replace(c, consent=Consent.PROPOSED) if c.person == CARER else c
        for c in stage.patient.contacts
    )
    stage.patient = replace(stage.patient, contacts=contacts)


def test_whether_help_has_come_is_asked_until_there_is_an_answer(stage: Stage) -> None:
    stage.says("crushing chest pain")

    stage.passes(hours=2)
    asked = stage.heard().count("emergency.check")
    stage.taps("button.help_came")
    stage.take_sent()
    stage.passes(hours=2)

    assert asked == 4
    assert "emergency.check" not in stage.heard()


def test_help_is_not_asked_for_without_end(stage: Stage) -> None:
    stage.says("crushing chest pain")

    stage.passes(hours=23)

    assert stage.heard().count("emergency.check") == alarm_table.MOST_CHECKS


def test_somebody_who_waits_for_consent_can_be_told_at_once(stage: Stage) -> None:
    propose_carer(stage)
    stage.says("crushing chest pain")
    assert "contact.emergency" not in stage.heard(CARER_CHAT)

    stage.taps("button.tell_now")

    assert "contact.emergency" in stage.heard(CARER_CHAT)
    assert stage.patient.state.alarm is not None
    assert CARER in stage.patient.state.alarm.told


def test_whoever_was_told_late_is_told_the_end_too(stage: Stage) -> None:
    propose_carer(stage)
    stage.says("crushing chest pain")
    stage.taps("button.tell_now")

    stage.passes(minutes=30)
    stage.taps("button.help_came")

    assert "contact.ended.helped" in stage.heard(CARER_CHAT)


def test_readings_of_a_batch_that_is_handled_late_are_the_second_pair(stage: Stage) -> None:
    written = stage.now

    def wrote(number: int, text: str, minutes: int) -> None:
        stage.happens(
            Said(
                text=text,
                message=MessageRef(chat=PATIENT_CHAT, message=number),
                written_at=written + timedelta(minutes=minutes),
            )
        )

    stage.now = written + timedelta(minutes=45)
    wrote(501, "185/100, no symptoms", 0)
    assert stage.patient.state.alarm is not None
    wrote(502, "150/92", 7)
    wrote(503, "148/90", 8)

    assert stage.patient.state.alarm is None
    assert "severe.lower" in stage.heard()


def test_after_a_corrected_alarm_the_usual_reply_follows(stage: Stage) -> None:
    message = stage.says("192/114")
    assert stage.patient.state.alarm is not None
    assert stage.patient.state.alarm.stage is AlarmStage.ASKED

    stage.edits(message, "132/84")

    assert stage.patient.state.alarm is None
    assert "ended.corrected" in stage.heard()
    assert "correct.done" in stage.heard()
