"""Hears at once, on PostgreSQL, when any process has queued messages.

Nothing depends on it: delivery also asks every second. On SQLite there is nothing to
listen to, and whoever queues in the same process says so by the desk's own hook.
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

#: How long `stop` may have to wait for the thread.
_LISTEN_SECONDS: Final = 0.5
_AFTER_ERROR_SECONDS: Final = 2.0


class OutboxListener(threading.Thread):
    """Calls `heard`, in its own thread, after each commit that queued messages.

    Several commits within a moment may be heard once. A lost connection is made again.
    """

    def __init__(self, database: Database, heard: Callable[[], None]) -> None:
        super().__init__(name="outbox-listener", daemon=True)
        # The same address without SQLAlchemy's name of the driver.
        url = database.engine.url.set(drivername="postgresql")
        self._address = url.render_as_string(hide_password=False)
        self._heard = heard
        self._stopped = threading.Event()
        self.listening = threading.Event()

    def run(self) -> None:
        """Listen until `stop`."""
        while not self._stopped.is_set():
            try:
                self._listen()
            except psycopg.OperationalError:
                self.listening.clear()
                log.warning("listening ended, trying again", extra={"action": "listen"})
                self._stopped.wait(_AFTER_ERROR_SECONDS)

    def stop(self) -> None:
        """End the thread, within half a second."""
        self._stopped.set()
        if self.is_alive():
            self.join()

    def _listen(self) -> None:
        with psycopg.connect(self._address, autocommit=True) as connection:
            connection.execute(f"LISTEN {OUTBOX_CHANNEL}".encode())
            self.listening.set()
            # What was queued before we listened.
            self._heard()
            while not self._stopped.is_set():
                for _ in connection.notifies(timeout=_LISTEN_SECONDS, stop_after=1):
                    self._heard()
