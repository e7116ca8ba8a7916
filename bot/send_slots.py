"""When this process may send its next message, so that all processes keep the bot's rate.

Machine time. Slots come from the database a few at a time; one that came too late to be
safe is dropped, because late sends crowd into the next ones' second.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from datetime import datetime, timedelta
from typing import Final

from bot.threads import Threads
from domain.people import ChatId
from storage import gate
from storage.engine import Database

log = logging.getLogger(__name__)

#: Slots are 1.05/rate apart, so a second holds rate/1.05 of them: up to a twentieth of a
#: second late, one second still never holds more than the rate.
_LATEST: Final = timedelta(seconds=0.05)
#: How far ahead slots are taken: what is taken cannot go to a more urgent message.
_AHEAD_SECONDS: Final = 0.25
_MOST_AT_ONCE: Final = 8
#: A machine too busy to be on time sends anyway after so many dropped slots.
_DROPS: Final = 3
#: From this many chats refused at a time on, it is the bot that is too fast, not a chat.
_CHATS_IN_FLOOD: Final = 3


class SendSlots:
    """The slots of one process. `few` is how many messages to claim at a time."""

    def __init__(self, database: Database, threads: Threads, rate: float) -> None:
        self._database = database
        self._threads = threads
        self._rate = rate
        self._slots: deque[datetime] = deque()
        self._taking = asyncio.Lock()
        self._flooded: dict[ChatId, datetime] = {}
        self.few = max(1, min(_MOST_AT_ONCE, int(rate * _AHEAD_SECONDS)))

    async def wait(self) -> datetime:
        """Wait for the next slot, and give its moment."""
        for _ in range(_DROPS):
            slot = await self._until_next()
            if not self._too_late(slot):
                return slot
        return await self._until_next()

    async def in_time(self, slot: datetime) -> None:
        """Return at once when the slot is still good, else wait for another one."""
        if self._too_late(slot):
            await self.wait()

    async def flooded(self, chat: ChatId, until: datetime) -> None:
        """The platform refused a message to `chat` as too fast, and asks to wait.

        One chat waits alone. Several at a time mean that the whole bot is too fast.
        """
        now = self._now()
        self._flooded = {c: end for c, end in self._flooded.items() if end > now} | {chat: until}
        if len(self._flooded) >= _CHATS_IN_FLOOD:
            log.warning("the whole bot is held back", extra={"action": "hold"})
            await self._threads.run(gate.hold, self._database, until)
            self._slots.clear()
            self._flooded.clear()

    async def _until_next(self) -> datetime:
        slot = await self._next()
        await asyncio.sleep(max(0.0, (slot - self._now()).total_seconds()))
        return slot

    async def _next(self) -> datetime:
        async with self._taking:
            while self._slots:
                slot = self._slots.popleft()
                if not self._too_late(slot):
                    return slot
            taken = await self._threads.run(
                gate.slots, self._database, self.few, self._now(), self._rate
            )
            self._slots.extend(taken[1:])
            return taken[0]

    def _too_late(self, slot: datetime) -> bool:
        return self._now() - slot > _LATEST

    def _now(self) -> datetime:
        return self._database.machine_clock()
