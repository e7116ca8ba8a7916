"""Writes down that this process lives, and notices when nobody had lived for a while.

Every few seconds the process's row is written (`storage/runs.py`). The first poll after an
outage sets a timer for everybody with something open, so that they are told. Machine time.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from bot.threads import Threads
from bot.vitals import Vitals
from domain.talk import coaching, outage
from storage import runs
from storage.engine import Database
from storage.runs import Run

log = logging.getLogger(__name__)

_EVERY_SECONDS: Final = 10.0


class Heartbeat:
    """The heartbeat of one process. `run` goes on until it is cancelled."""

    def __init__(
        self,
        database: Database,
        threads: Threads,
        vitals: Vitals,
        *,
        on_timers: Callable[[], None],
        every_seconds: float = _EVERY_SECONDS,
    ) -> None:
        """
        Args:
            on_timers: called in the event loop when timers have been set.
        """
        self._database = database
        self._threads = threads
        self._vitals = vitals
        self._on_timers = on_timers
        self._every_seconds = every_seconds

    async def run(self) -> None:
        """Write again and again. An error is logged; the next time comes."""
        while True:
            with suppress(Exception):
                await self.beat()
            await asyncio.sleep(self._every_seconds)

    async def beat(self) -> None:
        """Write now. Errors of the database are logged and come through."""
        try:
            told = await self._threads.run(self._write, self._vitals.run())
        except Exception:
            log.exception("heartbeat not written", extra={"action": "beat"})
            raise
        if told:
            log.warning("back after an outage", extra={"action": "beat", "count": told})
            self._on_timers()

    def _write(self, run: Run) -> int:
        with self._database.work() as work:
            told = runs.tell_of_outage(
                work.connection,
                run,
                work.now() - work.machine_now,
                key=outage.OUTAGE,
                keys_of_open=coaching.TIMERS,
            )
            runs.beat(work.connection, run)
        return told
