"""What the tests of the storage share: open databases with a clock that they move."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from domain.outcome import Fact, Outcome, PersonJoined, ReadingKept, TimerChange
from domain.people import ChatId, MessageRef, Patient, PersonId, ReadingId, Role
from domain.readings import Mmhg, Reading
from storage import Database, Invite, Work, open_database

#: A Tuesday morning; all invented.
START = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)


class Clock:
    """A machine clock that stands still until it is moved."""

    def __init__(self, at: datetime = START) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def forward(self, **span: float) -> datetime:
        self.at += timedelta(**span)
        return self.at


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def opened(database_url: str, clock: Clock) -> Iterator[Callable[[], Database]]:
    """Opens the same database again, as another process would."""
    databases: list[Database] = []

    def open_again() -> Database:
        databases.append(open_database(database_url, machine_clock=clock))
        return databases[-1]

    yield open_again
    for database in databases:
        database.dispose()


@pytest.fixture
def database(opened: Callable[[], Database]) -> Database:
    return opened()


HOLLIS_CHAT = ChatId(1001)
WREN_CHAT = ChatId(1002)
HOUSE = ChatId(1003)


class Town:
    """The invented people of the scenario, put into a database step by step."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def invite(self, role: Role, name: str, **wanted: Any) -> str:
        with self.database.work() as work:
            return work.invite(Invite(role=role, name=name, **wanted))

    def person(self, code: str) -> PersonId:
        with self.database.work() as work:
            invitation = work.invitation(code)
            assert invitation is not None
            return invitation.person

    def join(self, code: str, chat: ChatId) -> PersonId:
        """Use a code in a chat, as the conversation would."""
        with self.database.work() as work:
            invitation = work.invitation(code)
            assert invitation is not None
            about = invitation.person if invitation.role is Role.PATIENT else invitation.patient
            patient = work.patient(about) if about is not None else None
            after = None
            if patient is not None and invitation.role is Role.PATIENT:
                after = replace(patient, state=replace(patient.state, joined_at=work.now()))
            fact = PersonJoined(person=invitation.person, chat=chat, language="en")
            work.store(patient, Outcome(patient=after, facts=(fact,)))
            return invitation.person

    def hollis(self) -> PersonId:
        """Hollis has joined."""
        code = self.invite(Role.PATIENT, "Hollis", zone="Europe/Lisbon")
        return self.join(code, HOLLIS_CHAT)

    def store(self, person: PersonId, *facts: Fact, timers: tuple[TimerChange, ...] = ()) -> None:
        with self.database.work() as work:
            work.store(work.patient(person), Outcome(facts=facts, timers=timers))

    def patient(self, person: PersonId) -> Patient:
        with self.database.work() as work:
            patient = work.patient(person)
            assert patient is not None
            return patient


@pytest.fixture
def town(database: Database) -> Town:
    return Town(database)


def taken(
    systolic: int,
    diastolic: int,
    at: datetime = START,
    *,
    message: int = 1,
    replaces: ReadingId | None = None,
    chat: ChatId = HOLLIS_CHAT,
) -> ReadingKept:
    """A reading that was typed at the moment when it was measured."""
    return ReadingKept(
        reading=Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at),
        made_by=MessageRef(chat=chat, message=message),
        text=f"{systolic}/{diastolic}",
        written_at=at,
        replaces=replaces,
    )


class UndoneError(Exception):
    """Ends a transaction that is to leave nothing."""


@contextmanager
def undone(database: Database) -> Iterator[Work]:
    """A transaction that fails at its end."""
    try:
        with database.work() as work:
            yield work
            raise UndoneError
    except UndoneError:
        return
