"""Whole conversations over HTTP: the real client library, the local Bot API, a real database.

Everybody is invented. The clock is moved as the page moves it; nothing sleeps.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from bot.localchat import Visitor
from bot.trial import PEOPLE, Trial, running

Json = dict[str, Any]


@dataclass
class Person:
    """Somebody in front of their own chat; remembers what they have read."""

    visitor: Visitor
    read: int = 0
    seen: list[Json] = field(default_factory=list)

    async def says(self, text: str) -> int:
        return await self.visitor.say(text)

    async def presses(self, label: str) -> None:
        """Press the newest button of this label, as soon as there is one."""
        await self.visitor.wait_for(lambda m: _offers(m, label))
        await self.visitor.press(label)

    async def reads(self, part: str) -> Json:
        """The next message of the bot that holds this text, after those read before."""
        message = await self.visitor.wait_for(_holds(part), after=self.read)
        self.read = max(self.read, int(message["id"]))
        return message

    async def texts(self) -> list[str]:
        return [m["text"] for m in await self.visitor.messages() if m["from"] == "bot"]

    async def joins(self) -> None:
        invitation = (await self.visitor.chat())["invitation"]
        assert invitation is not None
        await self.says(invitation)


@dataclass
class Journey:
    """A running bot with the three people of the scenario."""

    trial: Trial
    patient: Person
    carer: Person
    doctor: Person

    async def somebody(self, name: str, stack: AsyncExitStack) -> Person:
        """One more person who knows the bot's name and has no invitation."""
        self.trial.chat.add_person(name, "other", "Asia/Kolkata", None)
        return Person(await stack.enter_async_context(Visitor(self.trial.base, name)))

    async def to_the_next_thing(self) -> None:
        await self.patient.visitor.move_clock("next")

    async def until(self, part: str, person: Person | None = None) -> Json:
        """Go from one due thing to the next until somebody reads this."""
        someone = person or self.patient
        for _ in range(120):
            found = [m for m in await someone.visitor.messages() if _holds(part)(m)]
            fresh = [m for m in found if m["id"] > someone.read]
            if fresh:
                return await someone.reads(part)
            await self.to_the_next_thing()
        raise AssertionError(f"nobody was told {part!r}: {(await someone.texts())[-3:]}")

    async def all_join(self) -> None:
        """Everybody opens their invitation; the patient answers and agrees to both."""
        await self.patient.joins()
        for label in (
            "None of these",
            "Yes, 112",
            "Yes, that is right",
            "On the upper arm",
            "27 to 34 cm",
            "Left arm",
            "Yes, Wren may",
            "Yes, Dr. Okafor-Lindqvist may",
        ):
            await self.patient.presses(label)
        await self.patient.reads("Dr. Okafor-Lindqvist will be told")
        await self.carer.joins()
        await self.carer.reads("Welcome")
        await self.doctor.joins()
        await self.doctor.reads("Welcome")

    async def doctor_takes_alarms(self) -> None:
        """The practitioner wants alarms at once, at any hour."""
        await self.doctor.says("/hours 0-24")
        await self.doctor.reads("Alarms reach you at once at any hour")


def _offers(message: Json, label: str) -> bool:
    return any(button["text"] == label for row in message["buttons"] for button in row)


def _holds(part: str) -> Callable[[Json], bool]:
    return lambda message: message["from"] == "bot" and part in message["text"]


@pytest.fixture
async def stack() -> AsyncIterator[AsyncExitStack]:
    async with AsyncExitStack() as stack:
        yield stack


@pytest.fixture
def start(tmp_path: Path, database_url: str, stack: AsyncExitStack) -> Callable[[], Any]:
    """Starts the bot on this test's folder and database; may be called again after `stop`."""

    async def begin(own: AsyncExitStack | None = None) -> Journey:
        holder = own or stack
        trial = await holder.enter_async_context(
            running(tmp_path / "try", database_url=database_url)
        )
        people = [
            Person(await holder.enter_async_context(Visitor(trial.base, person.name)))
            for person in PEOPLE
        ]
        return Journey(trial, *people)

    return begin


@pytest.fixture
async def journey(start: Callable[[], Any]) -> Journey:
    found: Journey = await start()
    return found
