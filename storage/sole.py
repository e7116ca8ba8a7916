"""One `run` on one SQLite file: the second is refused, because it would send everything twice.

The lock is SQLite's own, held on a small file beside the database. The system lets go of it
when the process ends, however it ends, on every system that SQLite runs on; so there is no
stale lock to remove by hand. PostgreSQL needs none: there several processes share the work.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from sqlalchemy.engine import make_url

from storage.engine import Database
from storage.errors import AlreadyRunningError

_ENDING: Final = ".running"


class SoleRun:
    """The lock of the one process that works on an embedded database, until `release`.

    Raises:
        AlreadyRunningError: another process (or another `SoleRun` of this one) holds it.
    """

    def __init__(self, database: Database) -> None:
        self._held: sqlite3.Connection | None = None
        file = make_url(database.engine.url).database
        if database.is_postgres or file is None:
            return
        # Whatever link leads there, it is one file.
        path = Path(file).resolve()
        lock = path.with_name(path.name + _ENDING)
        lock.touch(mode=0o600)
        connection = sqlite3.connect(lock, isolation_level=None, timeout=0)
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            connection.close()
            raise AlreadyRunningError(str(path)) from error
        self._held = connection

    def release(self) -> None:
        """Let another process work on the database."""
        if self._held is not None:
            self._held.close()
            self._held = None
