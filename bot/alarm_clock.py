"""Wakes the desk when a timer falls due: at the next due moment, and every second anyway.

Runs on machine time and only wakes; what is due is decided by person time, in the desk.
The scheduler is in memory, one in each process: the timers themselves are rows.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import Final

from apscheduler.executors.asyncio import AsyncIOExecutor
from apscheduler.schedulers.asyncio import AsyncIOScheduler
from apscheduler.triggers.date import DateTrigger
from apscheduler.triggers.interval import IntervalTrigger

from bot.desk import Desk
from bot.threads import Threads

log = logging.getLogger(__name__)

_SWEEP_SECONDS: Final = 1
_NEXT: Final = "next due"


class AlarmClock:
    """The alarm clock of one process, between `start` and `stop`."""

    def __init__(self, desk: Desk, threads: Threads, on_rung: Callable[[], None]) -> None:
        """
        Args:
            on_rung: called whenever what was due, or some of very much, has been handled.
        """
        self._desk = desk
        self._on_rung = on_rung
        self._threads = threads
        self._ringing = asyncio.Lock()
        self._scheduler = AsyncIOScheduler(
            executors={"default": AsyncIOExecutor()},
            # A late wake is as good as one on time: what is due is asked for anew.
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
            timezone="UTC",
        )

    def start(self) -> None:
        """Begin to wake the desk. Call it in the event loop."""
        self._scheduler.start()
        self._scheduler.add_job(self.ring, IntervalTrigger(seconds=_SWEEP_SECONDS, timezone="UTC"))

    async def stop(self) -> None:
        """Wake no more; what is being handled is finished."""
        if self._scheduler.running:
            self._scheduler.pause()
            # The scheduler's own end would cancel what it has begun.
            async with self._ringing:
                self._scheduler.shutdown(wait=False)

    async def ring(self) -> None:
        """Handle everything that is due. An error is logged; the next sweep tries again."""
        if self._ringing.locked():
            return
        async with self._ringing:
            try:
                while await self._threads.run(self._desk.fire_due):
                    self._on_rung()
                self._on_rung()
            except Exception:
                log.exception("timers not handled", extra={"action": "ring"})

    async def set_next(self) -> None:
        """Learn the next due moment, after a commit that changed timers."""
        with suppress(Exception):  # the sweep comes in any case
            moment = await self._threads.run(self._next_on_this_machine)
            if moment is not None and self._scheduler.running:
                self._scheduler.add_job(
                    self.ring, DateTrigger(moment), id=_NEXT, replace_existing=True
                )

    def _next_on_this_machine(self) -> datetime | None:
        due = self._desk.next_due()
        return None if due is None else due - self._desk.ahead()
