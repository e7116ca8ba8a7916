"""A desk with the real conversation on both databases, and conversations that only listen."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy import text

from bot.desk import Desk, Respond
from bot.incoming import Incoming, PressedToken
from domain.conversation import respond
from domain.events import (
    Event,
    Said,
    Situation,
)
from domain.outcome import (
    Outcome,
)
from domain.people import (
    ChatId,
    MessageRef,
    Patient,
    Place,
    Role,
)
from storage import Database, Invite, ShownButton, codec, open_database

START = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
HOLLIS, WREN = ChatId(1001), ChatId(1002)
LISBON = Place(name="Lisbon", zone="Europe/Lisbon", country="PT")


@dataclass
class Clock:
    at: datetime = START

    def __call__(self) -> datetime:
        return self.at


@dataclass
class Office:
    """A desk with its database; counts what it announces."""

    database: Database
    clock: Clock
    respond: Respond = respond
    announced: list[str] = field(default_factory=list)
    looked_up: list[str] = field(default_factory=list)
    updates: int = 500
    messages: int = 10

    @property
    def desk(self) -> Desk:
        return Desk(
            self.database,
            self.respond,
            look_up=self._look_up,
            on_outgoing=lambda lanes: self.announced.extend(sorted(lanes)),
            on_timer=lambda: self.announced.append("timers"),
        )

    def _look_up(self, name: str, language: str) -> Sequence[Place]:
        self.looked_up.append(name)
        return (LISBON,)

    def invite(self, role: Role, name: str, **wanted: Any) -> str:
        with self.database.work() as work:
            return work.invite(Invite(role=role, name=name, **wanted))

    def incoming(self, chat: ChatId, event: Event | PressedToken) -> Incoming:
        self.updates += 1
        return Incoming(bot_id=7, update_id=self.updates, chat=chat, event=event)

    def said(self, chat: ChatId, what: str) -> Incoming:
        self.messages += 1
        message = MessageRef(chat=chat, message=self.messages)
        said = Said(text=what, message=message, written_at=self.clock())
        return self.incoming(chat, said)

    def say(self, chat: ChatId, what: str) -> Incoming:
        incoming = self.said(chat, what)
        assert self.desk.handle(incoming)
        return incoming

    def pressed(self, chat: ChatId, token: str) -> Incoming:
        message = MessageRef(chat=chat, message=1)
        return self.incoming(
            chat, PressedToken(token=token, message=message, pressed_at=self.clock())
        )

    def token(self, chat: ChatId, label: str) -> str:
        """The token of the newest button with this label in a chat."""
        found = (button for buttons in self._buttons(chat) for button in buttons)
        return next(button.token for button in found if button.label == label)

    def labels(self, chat: ChatId) -> list[str]:
        """What the buttons below the newest message of a chat read."""
        return [button.label for button in self._buttons(chat)[0]]

    def _buttons(self, chat: ChatId) -> list[list[ShownButton]]:
        """The buttons of each message of a chat, the newest message first."""
        with self.database.reading() as connection:
            wanted = text("SELECT buttons FROM outbox WHERE chat = :chat ORDER BY id DESC")
            rows = list(connection.scalars(wanted, {"chat": chat}))
        return [[button for line in codec.buttons(row) for button in line] for row in rows]

    def patient(self, chat: ChatId = HOLLIS) -> Patient:
        with self.database.work() as work:
            tie = next(tie for tie in work.ties(chat) if tie.role is Role.PATIENT)
            patient = work.patient(tie.patient)
            assert patient is not None
            return patient

    def rows(self, column: str, table: str) -> list[object]:
        with self.database.reading() as connection:
            return list(connection.scalars(text(f"SELECT {column} FROM {table} ORDER BY 1")))

    def told(self, chat: ChatId) -> list[str]:
        """The texts that wait for a chat, in order."""
        with self.database.reading() as connection:
            return list(
                connection.scalars(
                    text("SELECT plain FROM outbox WHERE chat = :chat ORDER BY id"),
                    {"chat": chat},
                )
            )


@pytest.fixture
def office(database_url: str) -> Iterator[Office]:
    clock = Clock()
    database = open_database(database_url, machine_clock=clock)
    yield Office(database, clock)
    database.dispose()


@pytest.fixture
def with_hollis(office: Office) -> Office:
    """Hollis has begun to join."""
    office.say(HOLLIS, f"/start {office.invite(Role.PATIENT, 'Hollis', zone='Europe/Lisbon')}")
    return office


def answers(answer: Callable[[Situation, Event], Outcome]) -> Respond:
    """A conversation that says one thing."""

    def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
        return answer(situation, event)

    return respond


def recorded(seen: list[tuple[Situation, Event]]) -> Respond:
    """A conversation that only listens."""

    def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
        seen.append((situation, event))
        return Outcome()

    return respond
