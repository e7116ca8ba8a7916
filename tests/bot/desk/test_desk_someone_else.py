"""Somebody measures here and looks after a parent too: what they write about either of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from domain.events import Edited, Said
from domain.outcome import ContactChanged, Outcome
from domain.people import AlarmStage, ChatId, Consent, PersonId, Role
from tests.bot.desk.conftest import HOLLIS, START, WREN, Office

BOTH = (WREN, HOLLIS)


def joined(office: Office, person: PersonId) -> None:
    """The patient has answered all questions of joining, and agreed to all contacts."""
    with office.database.work() as work:
        before = work.patient(person)
        assert before is not None
        profile = replace(before.state.profile, country="PT", adult=True)
        state = replace(before.state, joining=None, joined_at=START, occasion=None, profile=profile)
        agreed = tuple(
            ContactChanged(contact=replace(one, consent=Consent.AGREED)) for one in before.contacts
        )
        work.store(before, Outcome(patient=replace(before, state=state), facts=agreed))


@pytest.fixture
def family(with_hollis: Office) -> Office:
    """Wren is Hollis's daughter and measures her own pressure in the same chat."""
    office = with_hollis
    hollis = office.patient().id
    code = office.invite(Role.CARER, "Wren", carer_of=hollis)
    office.say(WREN, f"/start {code}")
    joined(office, hollis)
    own = office.invite(Role.PATIENT, "Wren", zone="America/Halifax")
    office.say(WREN, f"/start {own}")
    joined(office, office.patient(WREN).id)
    return office


def alarm(office: Office, chat: ChatId) -> AlarmStage | None:
    state = office.patient(chat).state
    return state.alarm.stage if state.alarm else None


def test_danger_of_the_parent_reaches_the_parent_and_can_be_denied(family: Office) -> None:
    told = len(family.told(HOLLIS))
    family.say(WREN, "dad has chest pain")
    assert "If Hollis has this now" in family.told(WREN)[-1]

    assert family.desk.fire_due() == 1

    assert (alarm(family, HOLLIS), alarm(family, WREN)) == (AlarmStage.EMERGENCY, None)
    assert "Call 112 now" in family.told(HOLLIS)[told]
    assert "Wren wrote about you" in family.told(HOLLIS)[told]

    family.desk.handle(family.pressed(WREN, family.token(WREN, "This is not about Hollis")))

    assert alarm(family, HOLLIS) is None


def test_the_writers_own_danger_is_the_writers(family: Office) -> None:
    family.say(WREN, "I have chest pain")
    assert family.desk.fire_due() == 0
    assert (alarm(family, HOLLIS), alarm(family, WREN)) == (None, AlarmStage.EMERGENCY)


def test_the_parents_reading_is_kept_for_the_parent_when_they_are_named(family: Office) -> None:
    family.say(WREN, "dad has 142/91")
    assert not family.patient(HOLLIS).readings
    family.desk.handle(family.pressed(WREN, family.token(WREN, "Hollis")))
    (kept,) = family.patient(HOLLIS).readings
    assert (kept.reading.systolic, kept.reading.diastolic) == (142, 91)
    assert not family.patient(WREN).readings


def test_of_both_numbers_in_one_message_each_is_kept_for_its_own(family: Office) -> None:
    family.say(WREN, "142/91 for me, dad has 131/82")
    family.desk.handle(family.pressed(WREN, family.token(WREN, "Hollis")))
    kept = {chat: [k.reading.systolic for k in family.patient(chat).readings] for chat in BOTH}
    assert kept == {WREN: [142], HOLLIS: [131]}

    family.desk.handle(family.pressed(WREN, family.token(WREN, "Hollis")))

    assert len(family.patient(HOLLIS).readings) == 1  # a second press keeps nothing more


def test_a_number_that_is_edited_before_anybody_says_whose_it_is_alarms_nobody(
    family: Office,
) -> None:
    incoming = family.say(WREN, "dad has 192/114")
    assert isinstance(incoming.event, Said)
    edited = Edited(
        text="dad has 129/84",
        message=incoming.event.message,
        written_at=family.clock(),
        edited_at=family.clock(),
    )
    family.desk.handle(family.incoming(WREN, edited))
    family.clock.at += timedelta(minutes=9)
    while family.desk.fire_due():
        pass
    assert alarm(family, HOLLIS) is None
