"""Danger in a message of which nobody says whose it is."""

from __future__ import annotations

import pytest

from domain.conversation import respond
from domain.events import Action, Actor, Do, Event, Pressed, Situation, TimerFell
from domain.outcome import Outcome, OwnerAwaited, OwnerSettled
from domain.people import AlarmStage, ChatId, MessageRef, PersonId, Role
from domain.talk.unowned import FLAG_WAITS, NUMBER_WAITS
from tests.domain.conftest import CARER_CHAT, Stage
from tests.domain.test_lobby import BOTH, CHAT, HOLLIS, NOW, PRACTICE, TAMSIN, happens, said, tie

OF_ONE_CARER = (tie("Hollis", Role.CARER), tie("Tamsin", Role.CARER))


def awaited(outcome: Outcome) -> OwnerAwaited | None:
    return next((f for f in outcome.facts if isinstance(f, OwnerAwaited)), None)


@pytest.mark.parametrize("ties", [BOTH, OF_ONE_CARER])
def test_a_sign_or_a_severe_number_sets_a_timer_for_everybody_it_may_be_about(
    ties: tuple[object, ...],
) -> None:
    flagged = awaited(happens(said("chest pain"), *ties))  # type: ignore[arg-type]
    severe = awaited(happens(said("192/114"), *ties))  # type: ignore[arg-type]
    assert flagged is not None
    assert severe is not None
    assert flagged.persons == severe.persons == (HOLLIS, TAMSIN)
    assert flagged.due == NOW + FLAG_WAITS
    assert severe.due == NOW + NUMBER_WAITS


@pytest.mark.parametrize("text", ["142/91", "179/109", "a bit tired", "hello"])
def test_what_is_harmless_sets_none(text: str) -> None:
    assert awaited(happens(said(text), *BOTH)) is None


def test_a_practitioners_own_words_alarm_none_of_their_patients() -> None:
    assert awaited(happens(said("192/114, chest pain"), *PRACTICE)) is None


def test_without_an_answer_a_sign_counts_as_the_persons_and_others_are_called(
    stage: Stage,
) -> None:
    waiting = awaited(happens(said("chest pain"), *BOTH))
    assert waiting is not None
    stage.happens(TimerFell(key=waiting.key, due=stage.now), chat=None)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard()[0] == "owner.unanswered"
    assert "contact.emergency" in stage.heard(CARER_CHAT)
    assert stage.pairs() == []  # never filed by default


def test_without_an_answer_a_number_is_asked_about_and_the_contacts_are_told(stage: Stage) -> None:
    waiting = awaited(happens(said("192/114"), *BOTH))
    assert waiting is not None
    stage.happens(TimerFell(key=waiting.key, due=stage.now), chat=None)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.values("severe.ask")["shown"] == "192/114"
    assert "contact.severe.unanswered" in stage.heard(CARER_CHAT)
    assert stage.pairs() == []


def test_a_lone_severe_number_keeps_its_missing_half(stage: Stage) -> None:
    waiting = awaited(happens(said("192 over ?"), *BOTH))
    assert waiting is not None
    stage.happens(TimerFell(key=waiting.key, due=stage.now), chat=None)
    assert stage.values("severe.ask")["shown"] == "192/?"


def button(outcome: Outcome, do: Do) -> Action:
    buttons = [b for out in outcome.outgoing for row in out.buttons for b in row]
    return next(b.action for b in buttons if b.action.do is do)


def pressed(action: Action, chat: ChatId = CHAT) -> Event:
    return Pressed(action=action, pressed_at=NOW, message=MessageRef(chat=chat, message=1))


def test_whoever_says_that_it_is_nobodys_settles_it() -> None:
    asked = happens(said("192/114"), *BOTH)
    waiting = awaited(asked)
    assert waiting is not None
    outcome = happens(pressed(button(asked, Do.OWNER_NONE)), *BOTH)
    (settled,) = [f for f in outcome.facts if isinstance(f, OwnerSettled)]
    assert waiting.key.startswith(settled.prefix)


def test_whoever_names_the_owner_settles_it(stage: Stage) -> None:
    asked = happens(said("192/114"), *BOTH)
    waiting = awaited(asked)
    assert waiting is not None
    chosen = button(asked, Do.OWNER)
    situation = Situation(actor=Actor(chat=stage.patient.chat), patient=stage.patient)
    outcome = respond(situation, pressed(chosen), stage.now)
    (settled,) = [f for f in outcome.facts if isinstance(f, OwnerSettled)]
    assert waiting.key.startswith(settled.prefix)
    assert outcome.patient is not None
    assert outcome.patient.state.alarm is not None


@pytest.mark.parametrize("length", [1, 40])
def test_the_timers_key_fits_its_column(length: int) -> None:
    text = "192/114, " * length + "chest pain, face drooping, slurred speech, fainted"
    waiting = awaited(happens(said(text), *BOTH))
    assert waiting is not None
    assert len(waiting.key) <= 120
    assert PersonId("hollis") in waiting.persons
