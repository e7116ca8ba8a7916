"""A small HTTP server for a monitor on the same machine: `/health` and `/metrics`.

`/health` is JSON: status 200 while nothing waits too long, else 503, with the names of what
does. `/metrics` is the Prometheus text format. Neither holds a name, a reading or a text.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import Final

from aiohttp import web

from bot.counters import CONTENT_TYPE, Counters
from bot.errors import HealthAddressError
from bot.health import FIGURES, troubles
from bot.settings import Address
from bot.threads import Threads
from storage.engine import Database
from storage.health import Health, health

_LONGEST_LOOK_SECONDS: Final = 5.0
_STOP_WITHIN_SECONDS: Final = 1.0
_UNWELL: Final = 503


class HealthServer:
    """The server of one process, between `start` and `stop`."""

    def __init__(self, database: Database, threads: Threads, counters: Counters) -> None:
        self._database = database
        self._threads = threads
        self._counters = counters
        self._runner: web.AppRunner | None = None
        self.port: int | None = None  #: where it listens, which port 0 leaves to the system

    async def start(self, address: Address) -> None:
        """Listen.

        Raises:
            HealthAddressError: nobody can listen there.
        """
        app = web.Application()
        app.add_routes([web.get("/health", self._health), web.get("/metrics", self._metrics)])
        self._runner = web.AppRunner(
            app, access_log=None, handle_signals=False, shutdown_timeout=_STOP_WITHIN_SECONDS
        )
        await self._runner.setup()
        try:
            await web.TCPSite(self._runner, address.host, address.port).start()
        except OSError as error:
            await self.stop()
            raise HealthAddressError(address.port) from error
        self.port = self._runner.addresses[0][1]

    async def stop(self) -> None:
        """Listen no more."""
        if self._runner is not None:
            await self._runner.cleanup()
            self._runner = self.port = None

    async def _health(self, _: web.Request) -> web.Response:
        found = await self._looked()
        if found is None:
            body: dict[str, object] = {"well": False, "too_late": ["database"]}
            return web.json_response(body, status=_UNWELL)
        late = troubles(found)
        body = {"well": not late, "too_late": list(late)}
        body |= {name: figure(found) for name, figure in FIGURES.items()}
        return web.json_response(body, status=_UNWELL if late else 200)

    async def _metrics(self, _: web.Request) -> web.Response:
        found = await self._looked()
        if found is None:
            return web.Response(status=_UNWELL, text="the database does not answer\n")
        return web.Response(
            body=self._counters.shown(found), headers={"Content-Type": CONTENT_TYPE}
        )

    async def _looked(self) -> Health | None:
        """The figures; None when the database gives none in time."""
        with suppress(Exception):
            async with asyncio.timeout(_LONGEST_LOOK_SECONDS):
                return await self._threads.run(self._look)
        return None

    def _look(self) -> Health:
        with self._database.reading() as connection:
            return health(connection, self._database.machine_clock())
