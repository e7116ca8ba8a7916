"""A bot and the platform it runs on: the real client, the real server, a real database.

Test modules cannot import from here, so everything they need is a method of `World`.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import monotonic

import pytest

from bot.app import Office, Program
from bot.attachments import Attachments
from bot.delivery import Delivery
from bot.localchat import FloodLimits, LocalChat, Visitor
from bot.send_slots import SendSlots
from bot.settings import Address
from bot.telegram.client import Client, make_client
from bot.threads import Threads
from domain.events import DeliveryProblem
from domain.outcome import Outcome, PersonInvited, PersonJoined
from domain.people import ChatId, Consent, Monitor, PersonId, Profile, Role, State
from domain.readings import Arm
from storage.engine import open_database
from storage.messages import Claim, ReadyMessage, Waiting

TOKEN = "7000:invented-token-of-the-tests"


class RealTime:
    """Person time that is the machine's."""

    def now(self) -> datetime:
        return datetime.now(UTC)

    async def move(self, step: str) -> None:
        raise AssertionError("these tests do not move the clock")

    async def next_due(self) -> datetime | None:
        return None


@dataclass
class World:
    """The platform with one database. Nothing runs before a test starts it."""

    chat: LocalChat
    base: str
    database_url: str
    stack: AsyncExitStack
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    async def visitor(self, name: str, role: str = "patient") -> Visitor:
        self.chat.add_person(name, role, "Europe/Lisbon", None)
        return await self.stack.enter_async_context(Visitor(self.base, name))

    async def started_chat(self, name: str) -> ChatId:
        """A chat into which the bot may write; what was said there is fetched by nobody."""
        chat = self.chat.add_person(name, "patient", "Europe/Lisbon", None)
        self.chat.people.say(chat, "hello")
        return ChatId(chat)

    def office(self) -> Office:
        office = Office(open_database(self.database_url))
        self.stack.callback(office.close)
        return office

    def client(self, token: str = TOKEN) -> Client:
        return make_client(token, self.base)

    async def delivery(self, office: Office, *, rate: float = 500.0, pause: float = 0) -> Delivery:
        """Only the sender, running."""
        client = self.client()
        await self.stack.enter_async_context(client)
        renderers = Threads(1, "renderer")
        self.stack.callback(renderers.close)

        async def refuse(claim: Claim, row: Waiting, problem: DeliveryProblem) -> None:
            await office.threads.run(office.desk.delivery_failed, claim, row, problem)

        delivery = Delivery(
            office.database,
            office.threads,
            client,
            SendSlots(office.database, office.threads, rate),
            attachments=Attachments(office.database, office.threads, renderers, invented=True),
            refuse=refuse,
            chat_pause=timedelta(seconds=pause),
        )
        office.on_outgoing = delivery.wake
        task = asyncio.create_task(delivery.run())

        async def end() -> None:
            delivery.stop()
            await task

        self.stack.push_async_callback(end)
        return delivery

    async def program(
        self, office: Office, *, poll_seconds: float = 25, health: Address | None = None
    ) -> Program:
        """The whole bot, running in this process."""
        program = Program(
            office,
            self.client(),
            rate=500,
            chat_pause=timedelta(0),
            poll_seconds=poll_seconds,
            health=health,
        )
        task = asyncio.create_task(program.run())

        async def end() -> None:
            program.stop()
            await task

        self.stack.push_async_callback(end)
        return program

    def process(self, **settings: str) -> subprocess.Popen[bytes]:
        """The whole bot as a process of its own, as a host starts it."""
        names = {
            "CUFFBELL_TELEGRAM_TOKEN": TOKEN,
            "CUFFBELL_TELEGRAM_API": self.base,
            "CUFFBELL_DATABASE": self.database_url,
            "CUFFBELL_LOG": "warning",
        }
        started = subprocess.Popen(
            [sys.executable, "-m", "bot.cli", "run"],
            env=os.environ | names | settings,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        self.processes.append(started)
        return started

    def calls(self, method: str) -> int:
        return len(self.chat.calls.of(method))

    def unconfirmed(self) -> int:
        """How many updates the platform still keeps for the bot."""
        return self.chat._exchange.updates.pending_count()

    def add_update(self, kind: str, content: dict[str, object]) -> None:
        """An update as the platform may think it up one day."""
        self.chat._exchange.updates.add(kind, content)

    @staticmethod
    async def eventually(condition: Callable[[], bool], seconds: float = 15.0) -> None:
        """Wait until it holds, by looking often."""
        end = monotonic() + seconds
        while not condition():
            assert monotonic() < end, "it never came to hold"
            await asyncio.sleep(0.01)

    @staticmethod
    def queue(office: Office, *messages: ReadyMessage) -> None:
        """Put finished messages into the outbox, as an event's transaction does."""
        with office.database.work() as work:
            work.queue(messages)

    @staticmethod
    def add_patient(office: Office, chat: ChatId, name: str) -> PersonId:
        """A patient who has finished joining in this chat."""
        person = PersonId(name.lower())
        profile = Profile(
            zone="Europe/Lisbon",
            country="PT",
            emergency_number="112",
            medicine_times=(),
            monitor=Monitor.UPPER_ARM,
            arm_cm=30,
            arm=Arm.LEFT,
            adult=True,
        )
        invited = PersonInvited(
            person=person,
            name=name,
            role=Role.PATIENT,
            code=f"code-of-{name}",
            expires=datetime.now(UTC) + timedelta(days=7),
            state=State(profile=profile, joined_at=datetime.now(UTC)),
        )
        joined = PersonJoined(person=person, chat=chat, language="en")
        with office.database.work() as work:
            work.store(None, Outcome(facts=(invited, joined)))
            patient = work.patient(person)
            assert patient is not None
        return person

    @staticmethod
    def add_carer(office: Office, patient: PersonId, chat: ChatId, name: str) -> PersonId:
        """A carer to whom the patient has agreed, in this chat."""
        person = PersonId(name.lower())
        invited = PersonInvited(
            person=person,
            name=name,
            role=Role.CARER,
            code=f"code-of-{name}",
            expires=datetime.now(UTC) + timedelta(days=7),
            patient=patient,
            consent=Consent.AGREED,
        )
        joined = PersonJoined(person=person, chat=chat, language="en")
        with office.database.work() as work:
            work.store(None, Outcome(facts=(invited, joined)))
        return person

    def shown(self, chat: ChatId) -> list[str]:
        """The texts of the bot's messages in a chat, oldest first."""
        messages = self.chat._exchange.chats.history(chat, 10_000)
        return [message.text for message in messages if message.from_bot]


@pytest.fixture
def limits() -> FloodLimits | None:
    """The platform's flood limits; a test module may set its own."""
    return None


@pytest.fixture
async def stack() -> AsyncIterator[AsyncExitStack]:
    async with AsyncExitStack() as stack:
        yield stack


@pytest.fixture
def kept_in(tmp_path: Path) -> str:
    """URL of the world's database: SQLite unless a test says otherwise."""
    return f"sqlite:///{tmp_path / 'cuffbell.db'}"


@pytest.fixture
async def world(
    tmp_path: Path, stack: AsyncExitStack, limits: FloodLimits | None, kept_in: str
) -> AsyncIterator[World]:
    """A world in which nothing runs yet."""
    chat = LocalChat(tmp_path / "chat", RealTime(), TOKEN, limits=limits)
    base = await chat.start()
    world = World(chat, base, kept_in, stack)
    yield world
    await stack.aclose()
    for process in world.processes:
        if process.poll() is None:
            process.kill()
        process.communicate()
    await chat.stop()
