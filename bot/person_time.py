"""The clock by which the bot's people live, where it may be moved: local chat and tests.

Person time is the machine's clock plus an offset that the database keeps. Moving it sets
the clock to each due moment in turn, handles what is due, delivers, then goes on; so a
week that is skipped holds the same messages as a week that is lived.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from bot.desk import Desk
from bot.threads import Threads
from domain.plans import local_moment
from storage.engine import Database
from storage.export import first_zone

#: Where "tomorrow morning" is: before anybody's prompt, in the first patient's zone.
MORNING: Final = time(6)

Deliver = Callable[[], Awaitable[None]]


class PersonTime:
    """Person time of one process that alone moves it. `deliver` waits until all is sent."""

    def __init__(self, database: Database, desk: Desk, threads: Threads, deliver: Deliver) -> None:
        self._database = database
        self._desk = desk
        self._threads = threads
        self._deliver = deliver
        self._ahead = desk.ahead()

    def now(self) -> datetime:
        """The present moment, aware, UTC."""
        return self._database.machine_clock() + self._ahead

    async def next_due(self) -> datetime | None:
        """When the next timer of anybody falls due, aware, UTC."""
        return await self._threads.run(self._desk.next_due)

    async def move(self, step: str) -> None:
        """Go forward: "minute", "hour", "next" (thing due) or "morning" (tomorrow's).

        Raises:
            ValueError: another step.
        """
        now = self.now()
        match step:
            case "minute":
                await self.move_to(now + timedelta(minutes=1))
            case "hour":
                await self.move_to(now + timedelta(hours=1))
            case "next":
                await self.move_to(await self.next_due() or now)
            case "morning":
                await self.move_to(await self._threads.run(self._tomorrow, now))
            case _:
                raise ValueError("A step is minute, hour, next or morning.")

    async def move_to(self, to: datetime) -> None:
        """Go forward to a moment, handling everything that falls due on the way."""
        while True:
            due = await self.next_due()
            if due is None or due > to:
                break
            await self._arrive(due)
        await self._arrive(to)

    async def _arrive(self, moment: datetime) -> None:
        if moment > self.now():
            await self._threads.run(self._desk.set_clock, moment)
            self._ahead = await self._threads.run(self._desk.ahead)
        while await self._threads.run(self._desk.fire_due):
            pass
        await self._deliver()

    def _tomorrow(self, now: datetime) -> datetime:
        with self._database.reading() as connection:
            zone = ZoneInfo(first_zone(connection) or "UTC")
        tomorrow = now.astimezone(zone).date() + timedelta(days=1)
        return local_moment(tomorrow, MORNING, zone)
