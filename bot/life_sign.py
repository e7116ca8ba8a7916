"""Calls an address of the host's every minute, only while the bot is truly alive.

Whoever answers there notices when the calls stay away: a machine that is off, a network
that is gone, a program that hangs. What the bot itself could tell of is no help then. The
address may hold a secret, so no log line has it. Machine time.
"""

from __future__ import annotations

import asyncio
import logging
from typing import Final

import aiohttp

from bot.health import is_alive, troubles
from bot.threads import Threads
from bot.vitals import Vitals
from storage.engine import Database
from storage.health import Health, health

log = logging.getLogger(__name__)

_EVERY_SECONDS: Final = 60.0
_LONGEST_CALL_SECONDS: Final = 10.0


class LifeSign:
    """The life sign of one process. `run` goes on until it is cancelled."""

    def __init__(
        self,
        url: str,
        database: Database,
        threads: Threads,
        vitals: Vitals,
        *,
        every_seconds: float = _EVERY_SECONDS,
    ) -> None:
        self._url = url
        self._database = database
        self._threads = threads
        self._vitals = vitals
        self._every_seconds = every_seconds

    async def run(self) -> None:
        """Look and call again and again; what fails is logged, and nothing else."""
        timeout = aiohttp.ClientTimeout(total=_LONGEST_CALL_SECONDS)
        async with aiohttp.ClientSession(timeout=timeout) as session:
            while True:
                # First the wait: a program that ends and starts again and again is not alive.
                await asyncio.sleep(self._every_seconds)
                try:
                    if await self._is_alive():
                        await self._call(session)
                except Exception:
                    log.exception("life sign not given", extra={"action": "live"})

    async def _is_alive(self) -> bool:
        found = await self._threads.run(self._look)
        alive = is_alive(found, self._vitals.run(), self._database.machine_clock())
        if not alive:
            kind = ", ".join(troubles(found)) or "not polled or not rung yet"
            log.warning("no life sign: not alive", extra={"action": "live", "kind": kind})
        return alive

    def _look(self) -> Health:
        with self._database.reading() as connection:
            return health(connection, self._database.machine_clock())

    async def _call(self, session: aiohttp.ClientSession) -> None:
        try:
            async with session.get(self._url) as response:
                status = response.status
        except (aiohttp.ClientError, OSError, TimeoutError) as error:
            # An error's own text holds the address.
            kind = type(error).__name__
            log.warning("life sign not taken", extra={"action": "live", "kind": kind})
            return
        if status >= 400:
            log.warning("life sign refused", extra={"action": "live", "status": status})
