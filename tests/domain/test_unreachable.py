"""A patient who has blocked the bot, and what is said after an outage."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from domain.events import (
    ChatClosed,
    ChatOpened,
    DeliveryFailed,
    DeliveryProblem,
    Do,
    Event,
    TimerFell,
)
from domain.outcome import Rank
from domain.people import ChatId, Consent, NoteKind, PersonId, Step
from domain.talk import coaching
from domain.talk.outage import OUTAGE
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

MORNING = "prompt.morning.before_medicine"


def undelivered(*, alarm: bool = False, to: PersonId | None = None) -> DeliveryFailed:
    chat = PATIENT_CHAT if to is None else CARER_CHAT
    return DeliveryFailed(chat=chat, to=to, problem=DeliveryProblem.BLOCKED, was_alarm=alarm)


def begins_to_measure(stage: Stage) -> None:
    """The plan runs and the morning's prompt is open."""
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=40)
    assert stage.step is Step.PROMPTED
    stage.take_sent()


BLOCKED: list[tuple[Event, ChatId | None]] = [
    (ChatClosed(chat=PATIENT_CHAT), PATIENT_CHAT),
    (undelivered(), None),
]


@pytest.mark.parametrize(("event", "chat"), BLOCKED)
def test_whoever_blocks_is_prompted_no_more_and_both_contacts_are_told_once(
    stage: Stage, event: Event, chat: ChatId | None
) -> None:
    begins_to_measure(stage)

    stage.happens(event, chat=chat)
    stage.happens(undelivered(), chat=None)

    assert stage.heard(CARER_CHAT) == stage.heard(DOCTOR_CHAT) == ["contact.patient_lost"]
    stage.take_sent()
    stage.passes(hours=24 * 20)
    assert stage.sent == []
    assert stage.patient.state.unreachable
    assert stage.noted(NoteKind.UNREACHABLE) == ["lost"]
    assert stage.noted(NoteKind.MISSED) == []


def test_who_has_not_agreed_is_not_told_of_a_blocked_chat(stage: Stage) -> None:
    begins_to_measure(stage)
    stage.presses(Do.CONSENT_WITHDRAW, "wren")
    stage.take_sent()
    stage.happens(undelivered(), chat=None)
    assert stage.heard(CARER_CHAT) == []
    assert stage.patient.contact(PersonId("wren")).consent is Consent.WITHDRAWN  # type: ignore[union-attr]


def test_a_message_that_is_refused_for_another_reason_closes_no_chat(stage: Stage) -> None:
    begins_to_measure(stage)
    refused = DeliveryFailed(
        chat=PATIENT_CHAT, to=None, problem=DeliveryProblem.REFUSED, was_alarm=False
    )
    stage.happens(refused, chat=None)
    assert not stage.patient.state.unreachable


def test_a_blocked_contact_is_no_blocked_patient(stage: Stage) -> None:
    begins_to_measure(stage)
    stage.happens(undelivered(to=PersonId("wren")), chat=None)
    assert not stage.patient.state.unreachable


def test_a_new_plan_does_not_prompt_a_blocked_chat(stage: Stage) -> None:
    begins_to_measure(stage)
    stage.happens(undelivered(), chat=None)
    stage.presses(Do.PATIENT_PLAN, "regular-days", chat=DOCTOR_CHAT)
    stage.take_sent()
    stage.passes(hours=48)
    assert MORNING not in stage.heard()


@pytest.mark.parametrize("how", ["opened", "writes"])
def test_whoever_comes_back_is_prompted_again_and_the_contacts_know(stage: Stage, how: str) -> None:
    begins_to_measure(stage)
    stage.happens(undelivered(), chat=None)
    stage.passes(hours=26)
    stage.take_sent()

    if how == "opened":
        stage.happens(ChatOpened(chat=PATIENT_CHAT))
    else:
        stage.says("142/91")

    assert "patient_back" in stage.heard()
    assert stage.heard(CARER_CHAT) == ["contact.patient_back"]
    assert not stage.patient.state.unreachable
    stage.take_sent()
    stage.passes(hours=24)
    assert MORNING in stage.heard()


def test_a_contact_who_writes_brings_no_patient_back(stage: Stage) -> None:
    begins_to_measure(stage)
    stage.happens(undelivered(), chat=None)
    stage.says("how is it going?", chat=CARER_CHAT)
    assert stage.patient.state.unreachable


@pytest.mark.parametrize(
    ("event", "chat"),
    [(ChatClosed(chat=PATIENT_CHAT), PATIENT_CHAT), (undelivered(alarm=True), None)],
)
def test_in_an_alarm_the_contacts_hear_at_once_that_it_does_not_arrive(
    stage: Stage, event: Event, chat: ChatId | None
) -> None:
    stage.says("192/114 and my chest hurts")
    stage.take_sent()
    stage.happens(event, chat=chat)
    first = next(out for out in stage.sent if out.chat == CARER_CHAT)
    assert first.rank is Rank.ALARM
    assert stage.heard(CARER_CHAT) == ["contact.patient_unreachable"]
    assert stage.patient.state.unreachable


# --- after an outage


def back_after(stage: Stage, *, minutes: float) -> datetime:
    """Nothing ran from now on for so long; the timer of the outage falls before the rest."""
    since = stage.now
    stage.now += timedelta(minutes=minutes)
    stage.happens(TimerFell(key=OUTAGE, due=since), chat=None)
    return since


def test_with_an_alarm_open_patient_and_told_contacts_learn_of_the_gap(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")
    stage.take_sent()
    since = back_after(stage, minutes=30)

    heard = stage.heard()
    assert heard[0] == "outage.alarm"
    assert len(heard) > 1, "what to do is said again"
    assert stage.values("outage.alarm")["since"] == since
    assert stage.heard(CARER_CHAT)[0] == "outage.contact"
    assert {out.rank for out in stage.sent if out.lines[0].key.startswith("outage")} == {Rank.ALARM}
    local: Any = stage.values("outage.contact", CARER_CHAT)["since"]
    assert str(local.tzinfo) == "America/Halifax"


def test_an_open_prompt_is_said_again_and_is_not_missed_by_the_outage(stage: Stage) -> None:
    begins_to_measure(stage)
    back_after(stage, minutes=60 * 3)

    assert stage.heard() == ["outage.occasion", "step.prompted"]
    assert stage.heard(CARER_CHAT) == []
    stage.take_sent()
    stage.passes(minutes=coaching.MISSED_AFTER.total_seconds() / 60 - 1)
    assert stage.noted(NoteKind.MISSED) == []
    stage.says("142/91 138/88")
    assert stage.noted(NoteKind.MISSED) == []


@pytest.mark.parametrize(("minutes", "told"), [(20, False), (60, True), (60 * 5, True)])
def test_who_was_to_be_prompted_in_the_gap_is_told_and_nobody_else_hears_of_a_miss(
    stage: Stage, minutes: float, told: bool
) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=5)
    stage.take_sent()
    back_after(stage, minutes=minutes)
    stage.passes()

    assert ("outage.prompt" in stage.heard()) is told
    assert (MORNING in stage.heard()) is (minutes == 60)
    assert stage.heard(CARER_CHAT) == []


def test_who_has_nothing_open_hears_nothing_of_an_outage(stage: Stage) -> None:
    begins_to_measure(stage)
    stage.says("142/91 138/88")
    stage.take_sent()
    back_after(stage, minutes=60)
    assert stage.sent == []
