"""Hears, on PostgreSQL, that another process has queued messages: `LISTEN` in a thread.

Only a wake-up: delivery polls every second anyway, so a notice that is lost loses nothing.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Final

import psycopg

from storage.engine import Database
from storage.work import OUTBOX_CHANNEL

log = logging.getLogger(__name__)

#: How long a stop may go unnoticed.
_LOOK_SECONDS: Final = 0.5
_AFTER_ERROR_SECONDS: Final = 5.0


class Notices:
    """Calls `heard` in its own thread at every notice, between `start` and `stop`."""

    def __init__(self, database: Database, heard: Callable[[], None]) -> None:
        self._database = database
        self._heard = heard
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="notices", daemon=True)

    def start(self) -> None:
        """Begin to listen. Does nothing on SQLite, where one process does everything."""
        if self._database.is_postgres:
            self._thread.start()

    def stop(self) -> None:
        """Listen no more."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join()

    def _listen(self) -> None:
        address = self._database.engine.url.set(drivername="postgresql")
        while not self._stopping.is_set():
            try:
                with psycopg.connect(
                    address.render_as_string(hide_password=False), autocommit=True
                ) as connection:
                    connection.execute(f"LISTEN {OUTBOX_CHANNEL}".encode())
                    self._hear(connection)
            except psycopg.Error:
                log.warning("notices not heard", extra={"action": "listen"})
                self._stopping.wait(_AFTER_ERROR_SECONDS)

    def _hear(self, connection: psycopg.Connection) -> None:
        while not self._stopping.is_set():
            for _ in connection.notifies(timeout=_LOOK_SECONDS, stop_after=1):
                self._heard()
