"""Several desks on one database at once: everything once, nobody waits in a circle."""

from __future__ import annotations

import random
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text

from bot.desk import Desk
from bot.incoming import Incoming
from domain.conversation import respond
from domain.events import ChatClosed, Event, Said, Situation, TimerFell
from domain.messages import line
from domain.outcome import ContactChanged, Outcome, Outgoing, PersonJoined, SetTimer
from domain.people import ChatId, Consent, MessageRef, PersonId, Role
from storage import Database, Invite, open_database

DESKS = 3


def _together(work: Callable[[Database], None], url: str) -> list[BaseException]:
    """Do the same in several threads, each with a database of its own; what went wrong."""
    problems: list[BaseException] = []

    def run() -> None:
        database = open_database(url)
        try:
            work(database)
        except BaseException as problem:
            problems.append(problem)
        finally:
            database.dispose()

    threads = [threading.Thread(target=run, name=f"desk {n}") for n in range(DESKS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return problems


def _joined(database: Database, chat: ChatId, carer_chat: ChatId) -> PersonId:
    """An invented patient who has joined, with a carer who may be told everything."""
    with database.work() as work:
        code = work.invite(Invite(role=Role.PATIENT, name=f"Person {chat}", zone="Europe/Lisbon"))
        carers = work.invite(Invite(role=Role.CARER, name="Carer", carer_of=code))
        invitation, carer = work.invitation(code), work.invitation(carers)
        assert invitation is not None
        assert carer is not None
        patient = work.patient(invitation.person)
        assert patient is not None
        (contact,) = patient.contacts
        profile = replace(patient.state.profile, country="PT", emergency_number="112")
        state = replace(patient.state, joined_at=work.now(), profile=profile)
        facts = (
            PersonJoined(person=patient.id, chat=chat, language="en"),
            PersonJoined(person=carer.person, chat=carer_chat, language="en"),
            ContactChanged(contact=replace(contact, consent=Consent.AGREED, asked=True)),
        )
        work.store(patient, Outcome(patient=replace(patient, state=state), facts=facts))
        return patient.id


@pytest.mark.slow
def test_the_same_updates_at_several_desks_are_handled_once(database_url: str) -> None:
    database = open_database(database_url)
    # Each patient's carer is the next one's chat, so that alarms cross.
    chats = [ChatId(1000 + number) for number in range(4)]
    for number, chat in enumerate(chats):
        _joined(database, chat, chats[(number + 1) % len(chats)])
    now = database.machine_clock()
    updates = [
        Incoming(
            bot_id=7,
            update_id=number,
            chat=chats[number % len(chats)],
            event=Said(
                text=f"{185 + number % 10}/{112 + number % 5}",
                message=MessageRef(chat=chats[number % len(chats)], message=number),
                written_at=now + timedelta(seconds=number),
            ),
        )
        for number in range(48)
    ]

    def handle(own: Database) -> None:
        desk = Desk(own, respond, look_up=lambda name, language: ())
        for update in random.Random(threading.current_thread().name).sample(updates, len(updates)):
            desk.handle(update)

    problems = _together(handle, database_url)

    with database.reading() as connection:
        messages = list(connection.scalars(text("SELECT message FROM readings ORDER BY 1")))
        unhandled = list(connection.scalars(text("SELECT problem FROM unhandled")))
    database.dispose()
    assert problems == []
    assert unhandled == []
    assert messages == list(range(48))


@pytest.mark.slow
def test_timers_at_several_desks_fire_once_and_in_order(database_url: str) -> None:
    database = open_database(database_url)
    chats = [ChatId(2000 + number) for number in range(6)]
    now = database.machine_clock()
    for number, chat in enumerate(chats):
        person = _joined(database, chat, chats[(number + 1) % len(chats)])
        with database.work() as work:
            timers = tuple(
                SetTimer(key=f"{key}", due=now - timedelta(minutes=9 - key)) for key in range(8)
            )
            work.store(work.patient(person), Outcome(timers=timers))

    def tell_everybody(situation: Situation, event: Event, now: object) -> Outcome:
        assert isinstance(event, TimerFell)
        assert situation.patient is not None
        words = (line("half.morning"),)
        own = situation.patient.chat
        assert own is not None
        # In an order that differs by person: the rows must still be locked in one order.
        others = sorted(chats, key=lambda chat: (chat * 7 + own) % 11)
        return Outcome(outgoing=tuple(Outgoing(chat=chat, lines=words) for chat in others))

    def fire(own: Database) -> None:
        desk = Desk(own, tell_everybody, look_up=lambda name, language: ())
        while desk.next_due() is not None:
            desk.fire_due()

    problems = _together(fire, database_url)

    with database.reading() as connection:
        told = connection.scalar(text("SELECT count(*) FROM outbox"))
        left = connection.scalar(text("SELECT count(*) FROM timers"))
    database.dispose()
    assert problems == []
    assert left == 0
    assert told == len(chats) * 8 * len(chats)


@pytest.mark.slow
@pytest.mark.postgres
def test_events_about_several_patients_with_crossing_contacts_never_wait_in_a_circle(
    postgres_url: str, caplog: pytest.LogCaptureFixture
) -> None:
    database = open_database(postgres_url)
    # Two houses, each of two patients in one chat; whom they tell is crossed.
    tells: dict[PersonId, ChatId] = {}
    for house, told in ((ChatId(11), (31, 32)), (ChatId(12), (32, 31))):
        persons = sorted(_joined(database, house, ChatId(chat)) for chat in (21, 22))
        tells |= {person: ChatId(chat) for person, chat in zip(persons, told, strict=True)}
    barrier = threading.Barrier(DESKS)

    def tell(situation: Situation, event: Event, now: object) -> Outcome:
        assert situation.patient is not None
        chat = tells[situation.patient.id]
        if isinstance(event, ChatClosed):
            return Outcome(outgoing=(Outgoing(chat=chat, lines=(line("half.morning"),)),))
        return Outcome()

    def handle(own: Database) -> None:
        desk = Desk(own, tell, look_up=lambda name, language: ())
        number = int(threading.current_thread().name.split()[-1])
        for round_ in range(60):
            barrier.wait()
            chat = ChatId(11 + (number + round_) % 2)
            update = number * 1000 + round_
            event = ChatClosed(chat=chat)
            desk.handle(Incoming(bot_id=7, update_id=update, chat=chat, event=event))

    problems = _together(handle, postgres_url)

    with database.reading() as connection:
        told = connection.scalar(text("SELECT count(*) FROM outbox"))
    database.dispose()
    assert problems == []
    assert told == DESKS * 60 * 2
    assert [r.getMessage() for r in caplog.records if "try again" in r.getMessage()] == []
