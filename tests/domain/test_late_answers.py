"""A message that is answered long after it was written says so, and nothing grows old by it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from domain.events import Said
from domain.people import AlarmStage, MessageRef
from tests.domain.conftest import CARER_CHAT, PATIENT_CHAT, Stage


def writes_earlier(stage: Stage, text: str, minutes: float) -> None:
    """A message that waited so long before it was handled."""
    message = MessageRef(chat=PATIENT_CHAT, message=999)
    written = stage.now - timedelta(minutes=minutes)
    stage.happens(Said(text=text, message=message, written_at=written))


@pytest.mark.parametrize(("minutes", "said"), [(5, False), (5.1, True), (600, True)])
def test_the_delay_is_said(stage: Stage, minutes: float, said: bool) -> None:
    writes_earlier(stage, "142/91", minutes)
    assert ("late" in stage.heard()) is said


def test_the_number_to_call_stays_first(stage: Stage) -> None:
    writes_earlier(stage, "192/114 and my chest hurts", 40)
    assert stage.heard()[:2] == ["emergency.call", "late"]


def test_contacts_see_when_it_was_written(stage: Stage) -> None:
    writes_earlier(stage, "192/114 and my chest hurts", 40)
    at = stage.values("contact.when", CARER_CHAT)["at"]
    assert at == stage.now - timedelta(minutes=40)


def test_an_outage_makes_no_sign_old(stage: Stage) -> None:
    writes_earlier(stage, "my chest hurts", 30 * 60)
    assert stage.alarm is AlarmStage.EMERGENCY


def test_an_outage_makes_no_severe_reading_old(stage: Stage) -> None:
    writes_earlier(stage, "192/114", 30 * 60)
    assert stage.alarm is AlarmStage.ASKED
