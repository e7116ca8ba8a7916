"""The patient is told when nobody who would be called can be reached, once each time."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from domain.duty import Duty
from domain.events import ChatClosed, ChatOpened, DeliveryFailed, DeliveryProblem, Do
from domain.people import ChatId, Consent, Contact, PersonId, Role
from tests.domain.conftest import CARER, CARER_CHAT, DOCTOR, Stage, contact
from tests.domain.test_joining import joins

NOBODY = "family.nobody_reached"
WREN = contact(CARER, "Wren", Role.CARER, CARER_CHAT)


def only(stage: Stage, *contacts: Contact) -> Stage:
    stage.patient = replace(stage.patient, contacts=contacts)
    return stage


def told(stage: Stage) -> int:
    return stage.heard().count(NOBODY)


def test_who_joins_with_nobody_is_told_so_at_the_end(newcomer: Stage) -> None:
    joins(newcomer)
    assert newcomer.heard()[-1] == NOBODY
    newcomer.says("142/91")
    newcomer.passes(hours=48)
    assert told(newcomer) == 1


def test_who_joins_with_somebody_to_call_is_not(newcomer: Stage) -> None:
    joins(only(newcomer, WREN))
    assert told(newcomer) == 0


def test_a_proposal_is_asked_about_first(newcomer: Stage) -> None:
    proposed = replace(WREN, consent=Consent.PROPOSED, asked=False)
    joins(only(newcomer, proposed))
    assert told(newcomer) == 0
    newcomer.passes(minutes=1)
    newcomer.taps("button.consent_no")
    assert newcomer.heard()[-1] == NOBODY


def test_a_doctor_who_looks_once_a_day_is_nobody_to_call(newcomer: Stage) -> None:
    doctor = contact(DOCTOR, "Dr. Okafor-Lindqvist", Role.PRACTITIONER, ChatId(300))
    joins(only(newcomer, replace(doctor, duty=None)))
    assert told(newcomer) == 1


def test_a_doctor_who_is_called_at_some_hours_is_somebody(newcomer: Stage) -> None:
    doctor = contact(DOCTOR, "Dr. Okafor-Lindqvist", Role.PRACTITIONER, ChatId(300))
    joins(only(newcomer, replace(doctor, duty=Duty(live=(time(9), time(17))))))
    assert told(newcomer) == 0


def blocks(stage: Stage) -> None:
    stage.happens(ChatClosed(chat=CARER_CHAT), chat=CARER_CHAT)


def fails(stage: Stage) -> None:
    stage.fails_to_deliver(
        DeliveryFailed(chat=CARER_CHAT, to=CARER, problem=DeliveryProblem.BLOCKED, was_alarm=False)
    )


def withdraws(stage: Stage) -> None:
    stage.presses(Do.CONSENT_WITHDRAW, CARER)


@pytest.mark.parametrize("goes", [blocks, fails, withdraws])
def test_the_last_one_who_goes_is_told(stage: Stage, goes: object) -> None:
    assert callable(goes)
    only(stage, WREN)
    goes(stage)
    assert told(stage) == 1
    stage.says("hello")
    goes(stage)
    assert told(stage) == 1


def test_one_of_two_who_goes_is_not(stage: Stage) -> None:
    robin = contact(PersonId("robin"), "Robin", Role.CARER, ChatId(400))
    only(stage, WREN, robin)
    blocks(stage)
    assert told(stage) == 0


def test_it_is_told_again_only_after_somebody_could_be_reached(stage: Stage) -> None:
    only(stage, WREN)
    blocks(stage)
    stage.happens(ChatOpened(chat=CARER_CHAT), chat=CARER_CHAT)
    blocks(stage)
    assert told(stage) == 2


def test_in_an_alarm_its_own_words_say_so_and_afterwards_this_does(stage: Stage) -> None:
    only(stage, WREN)
    stage.says("my chest hurts")
    blocks(stage)
    assert told(stage) == 0
    stage.presses(Do.HELP_CAME)
    stage.passes(hours=30)
    assert told(stage) == 1
