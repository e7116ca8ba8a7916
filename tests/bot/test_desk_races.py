"""Two desks with the real conversation on one PostgreSQL, in what can go wrong at once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select, text

from bot.desk import Desk
from bot.incoming import Incoming, PressedToken
from domain import alarm_table
from domain.conversation import respond
from domain.events import Action, Do, Event, Said, Situation
from domain.outcome import ContactChanged, Fact, Outcome, PersonJoined, Rank, SetTimer
from domain.people import AlarmStage, ChatId, Consent, MessageRef, Patient, PersonId, Role
from storage import Database, Invite, open_database
from storage.tables import lanes, outbox, persons, timers

pytestmark = [pytest.mark.slow, pytest.mark.postgres]

ROUNDS = 12
HELP = "192/114 and my chest hurts"


@dataclass
class House:
    """Invented patients, each with two carers who may be told everything."""

    database: Database
    url: str
    updates: int = 0
    tokens: int = 0

    def patient(self, number: int) -> tuple[PersonId, ChatId, tuple[ChatId, ChatId]]:
        """A patient who has joined, their chat and the chats of the carers."""
        chat = ChatId(1000 + 10 * number)
        cared = (ChatId(chat + 1), ChatId(chat + 2))
        with self.database.work() as work:
            name = f"Person {number}"
            code = work.invite(Invite(role=Role.PATIENT, name=name, zone="Europe/Lisbon"))
            invitation = work.invitation(code)
            assert invitation is not None
            found = [
                work.invite(Invite(role=Role.CARER, name="Wren", carer_of=code)) for _ in cared
            ]
            carers = [work.invitation(one) for one in found]
            patient = work.patient(invitation.person)
            assert patient is not None
            profile = replace(patient.state.profile, country="PT", emergency_number="112")
            state = replace(patient.state, joined_at=work.now(), profile=profile)
            joined = [
                PersonJoined(person=carer.person, chat=where, language="en")
                for carer, where in zip(carers, cared, strict=True)
                if carer is not None
            ]
            agreed = [
                ContactChanged(contact=replace(c, consent=Consent.AGREED, asked=True))
                for c in patient.contacts
            ]
            facts: tuple[Fact, ...] = (
                PersonJoined(person=patient.id, chat=chat, language="en"),
                *joined,
                *agreed,
            )
            work.store(patient, Outcome(patient=replace(patient, state=state), facts=facts))
            return patient.id, chat, cared

    def loaded(self, person: PersonId) -> Patient:
        with self.database.work() as work:
            patient = work.patient(person)
            assert patient is not None
            return patient

    def said(self, chat: ChatId, what: str) -> Incoming:
        message = MessageRef(chat=chat, message=self.updates)
        now = self.database.machine_clock()
        return self.incoming(chat, Said(text=what, message=message, written_at=now))

    def pressed(self, chat: ChatId, person: PersonId, do: Do, argument: str = "") -> Incoming:
        self.tokens += 1
        token = f"token-{self.tokens}"
        action = Action(do=do, about=person, argument=argument)
        with self.database.work() as work:
            work.store(None, Outcome(), actions={chat: {token: action}})
        message = MessageRef(chat=chat, message=1)
        now = self.database.machine_clock()
        return self.incoming(chat, PressedToken(token=token, message=message, pressed_at=now))

    def incoming(self, chat: ChatId, event: Event | PressedToken) -> Incoming:
        self.updates += 1
        return Incoming(bot_id=7, update_id=self.updates, chat=chat, event=event)

    def handles(self, incoming: Incoming) -> Callable[[Desk], object]:
        return lambda desk: desk.handle(incoming)

    def at_once(self, *steps: Callable[[Desk], object]) -> None:
        """Each step at a desk of its own, all begun together."""
        barrier = threading.Barrier(len(steps))
        problems: list[BaseException] = []

        def run(step: Callable[[Desk], object]) -> None:
            own = open_database(self.url)
            try:
                desk = Desk(own, respond, look_up=lambda name, language: ())
                barrier.wait(timeout=30)
                step(desk)
            except BaseException as problem:
                problems.append(problem)
            finally:
                own.dispose()

        threads = [threading.Thread(target=run, args=(step,)) for step in steps]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert problems == []

    def alarms_for(self, chat: ChatId) -> list[str]:
        """States of the alarms that were queued for a chat."""
        wanted = select(outbox.c.state).where(
            outbox.c.chat == chat, outbox.c.rank == int(Rank.ALARM)
        )
        with self.database.reading() as connection:
            return list(connection.scalars(wanted))

    def keys(self, person: PersonId) -> set[str]:
        with self.database.reading() as connection:
            wanted = select(timers.c.key).where(timers.c.person == person)
            return set(connection.scalars(wanted))


@pytest.fixture
def house(postgres_url: str) -> Iterator[House]:
    database = open_database(postgres_url)
    yield House(database, postgres_url)
    with database.reading() as connection:
        unhandled = list(connection.scalars(text("SELECT problem FROM unhandled")))
    database.dispose()
    assert unhandled == []


def test_no_alarm_waits_for_whoever_is_withdrawn_while_it_is_raised(house: House) -> None:
    for number in range(ROUNDS):
        person, chat, (gone, other) = house.patient(number)
        contact = next(c for c in house.loaded(person).contacts if c.chat == gone)
        end = house.pressed(chat, person, Do.CONSENT_WITHDRAW, contact.person)

        house.at_once(house.handles(end), house.handles(house.said(chat, HELP)))

        alarm = house.loaded(person).state.alarm
        assert alarm is not None
        assert alarm.stage is AlarmStage.EMERGENCY
        assert "waiting" not in house.alarms_for(gone)
        assert "waiting" in house.alarms_for(other)


def test_two_who_will_see_to_it_at_once_both_count(house: House) -> None:
    for number in range(ROUNDS):
        person, chat, cared = house.patient(number)
        Desk(house.database, respond, look_up=lambda name, language: ()).handle(
            house.said(chat, HELP)
        )

        house.at_once(
            *(house.handles(house.pressed(where, person, Do.SEE_TO_IT)) for where in cared)
        )

        patient = house.loaded(person)
        assert patient.state.alarm is not None
        assert set(patient.state.alarm.answered_by) == {c.person for c in patient.contacts}
        assert alarm_table.CHASE.key in house.keys(person)
        assert alarm_table.AGAIN.key not in house.keys(person)


def test_a_reading_taken_back_while_its_timers_fire_leaves_no_half_alarm(house: House) -> None:
    for number in range(ROUNDS):
        person, chat, _ = house.patient(number)
        desk = Desk(house.database, respond, look_up=lambda name, language: ())
        desk.handle(house.said(chat, "192/114"))
        with house.database.work() as work:
            due = work.now() - timedelta(seconds=1)
            moved = tuple(SetTimer(key=key, due=due) for key in house.keys(person))
            work.store(work.patient(person), Outcome(timers=moved))

        house.at_once(
            house.handles(house.said(chat, "/undo")),
            lambda desk: desk.fire_due(),
            lambda desk: desk.fire_due(),
        )

        patient = house.loaded(person)
        assert patient.readings == ()
        if patient.state.alarm is None:
            of_alarms = {alarm_table.ASK.key, alarm_table.TELL.key, alarm_table.AGAIN.key}
            assert not house.keys(person) & of_alarms


def test_an_event_that_the_database_ends_in_a_circle_of_waiting_is_handled_once(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    person, chat, _ = house.patient(0)
    Desk(house.database, respond, look_up=lambda name, language: ()).handle(
        house.said(chat, "hello")
    )
    holds, goes_on, done = threading.Event(), threading.Event(), threading.Event()

    def clock() -> datetime:
        # Asked at the beginning of each transaction: the second attempt meets nobody.
        if goes_on.is_set():
            assert done.wait(timeout=30)
        return house.database.machine_clock()

    def slowly(situation: Situation, event: Event, now: datetime) -> Outcome:
        holds.set()
        assert goes_on.wait(timeout=30)
        return respond(situation, event, now)

    def cross() -> None:
        """Locks the chat, then the patient: the other way round than every desk."""
        with house.database.writing() as connection:
            connection.execute(text("SET LOCAL deadlock_timeout = '30s'"))
            connection.execute(select(lanes.c.chat).where(lanes.c.chat == chat).with_for_update())
            assert holds.wait(timeout=30)
            goes_on.set()
            connection.execute(select(persons.c.id).where(persons.c.id == person).with_for_update())

        done.set()

    own = open_database(house.url, machine_clock=clock)
    other = threading.Thread(target=cross)
    other.start()
    desk = Desk(own, slowly, look_up=lambda name, language: ())
    assert desk.handle(house.said(chat, "131/82"))
    other.join()
    own.dispose()

    assert [r.getMessage() for r in caplog.records] == ["database asks to try again"]
    assert [k.reading.systolic for k in house.loaded(person).readings] == [131]
    with house.database.reading() as connection:
        told = list(connection.scalars(select(outbox.c.plain).where(outbox.c.chat == chat)))
        assert len([one for one in told if "131/82" in one]) == 1
