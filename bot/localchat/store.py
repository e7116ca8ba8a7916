"""The one SQLite file in which the local chat keeps everything.

Only opening, schema, transactions and small settings are here; who uses which table:
`chats.py`, `files.py`, `updates.py`. Moments are whole Unix seconds of person time.
Every call commits before it is answered, so a killed process loses nothing that was said.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

_VERSION: Final = 2
_SCHEMA: Final = """
CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE chat (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    name TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL,
    zone TEXT NOT NULL,
    invitation TEXT,
    invitation_used INTEGER NOT NULL DEFAULT 0,
    started INTEGER NOT NULL DEFAULT 0,
    standing TEXT NOT NULL DEFAULT 'open',
    members TEXT NOT NULL DEFAULT '[]',
    reply_keyboard TEXT,
    language TEXT NOT NULL DEFAULT 'en'
);
CREATE TABLE message (
    id INTEGER PRIMARY KEY,
    chat INTEGER NOT NULL REFERENCES chat (id),
    sender INTEGER,
    date INTEGER NOT NULL,
    edited INTEGER,
    reply_to INTEGER,
    deleted INTEGER NOT NULL DEFAULT 0,
    content TEXT NOT NULL
);
CREATE INDEX message_of_chat ON message (chat, id);
CREATE TABLE file (
    id TEXT PRIMARY KEY,
    unique_id TEXT NOT NULL,
    path TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    mime TEXT NOT NULL,
    width INTEGER,
    height INTEGER,
    content BLOB NOT NULL
);
CREATE TABLE pending_update (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, content TEXT NOT NULL);
CREATE TABLE callback (id TEXT PRIMARY KEY, chat INTEGER NOT NULL, pressed_at REAL NOT NULL);
"""
#: What brings a folder of an older version up to date, by that version.
_UPGRADES: Final = {1: "ALTER TABLE chat ADD COLUMN language TEXT NOT NULL DEFAULT 'en';"}


class NewerFolderError(RuntimeError):
    """The folder was written by a newer version. Use that version, or begin anew."""

    def __init__(self) -> None:
        super().__init__(
            "The local chat's folder was written by a newer version of this program. "
            "Use that version, or start with --fresh."
        )


class FolderInUseError(RuntimeError):
    """Another running local chat has the folder open."""

    def __init__(self) -> None:
        super().__init__(
            "Another local chat is running on this folder. Stop it first, or use its page."
        )


class Store:
    """The open file. One connection, used from the event loop's thread only.

    Raises:
        FolderInUseError: another process, or another `Store` of this one, has it open.
        NewerFolderError: a newer version of the program wrote it.
    """

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._connection = sqlite3.connect(path, isolation_level=None, timeout=0.5)
        self._connection.row_factory = sqlite3.Row
        # Two servers on one folder would give the same ids twice; the lock ends with the process.
        self._connection.execute("PRAGMA locking_mode=EXCLUSIVE")
        try:
            self._connection.execute("PRAGMA journal_mode=WAL")
            self._connection.execute("BEGIN IMMEDIATE")
            self._connection.execute("COMMIT")
        except sqlite3.OperationalError as error:
            self._connection.close()
            raise FolderInUseError from error
        # NORMAL: a killed process loses nothing; only a power cut may lose the last moments.
        self._connection.execute("PRAGMA synchronous=NORMAL")
        self._connection.execute("PRAGMA foreign_keys=ON")
        self._depth = 0
        self._after_commit: list[Callable[[], None]] = []
        self._prepare()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything inside is written together; inner transactions join the outer one."""
        if self._depth == 0:
            self._connection.execute("BEGIN IMMEDIATE")
        self._depth += 1
        try:
            yield
        except BaseException:
            self._depth -= 1
            if self._depth == 0:
                self._after_commit.clear()
                self._connection.execute("ROLLBACK")
            raise
        self._depth -= 1
        if self._depth == 0:
            self._connection.execute("COMMIT")
            waiting, self._after_commit = self._after_commit, []
            for act in waiting:
                act()

    def after_commit(self, act: Callable[[], None]) -> None:
        """Do this when the running transaction is written; never when it is rolled back."""
        if self._depth == 0:
            act()
        else:
            self._after_commit.append(act)

    def execute(self, statement: str, values: tuple[Any, ...] = ()) -> int:
        """Run one statement; how many rows it changed."""
        with self.transaction():
            return self._connection.execute(statement, values).rowcount

    def insert(self, statement: str, values: tuple[Any, ...]) -> int:
        """Add one row; its integer key."""
        with self.transaction():
            return int(self._connection.execute(statement, values).lastrowid or 0)

    def rows(self, query: str, values: tuple[Any, ...] = ()) -> list[sqlite3.Row]:
        """All rows of a query."""
        return self._connection.execute(query, values).fetchall()

    def row(self, query: str, values: tuple[Any, ...] = ()) -> sqlite3.Row | None:
        """The first row of a query."""
        found = self._connection.execute(query, values).fetchone()
        return found if isinstance(found, sqlite3.Row) else None

    def setting(self, name: str, default: Any = None) -> Any:
        """A small value by name, as it was put."""
        found = self.row("SELECT value FROM setting WHERE name = ?", (name,))
        return default if found is None else json.loads(found["value"])

    def put_setting(self, name: str, value: Any) -> None:
        """Keep a small value that JSON can hold."""
        self.execute(
            "INSERT INTO setting VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = ?",
            (name, text := json.dumps(value), text),
        )

    def _prepare(self) -> None:
        version = int(self._connection.execute("PRAGMA user_version").fetchone()[0])
        if version > _VERSION:
            self.close()
            raise NewerFolderError
        changes = [_SCHEMA] if version == 0 else [_UPGRADES[v] for v in range(version, _VERSION)]
        if changes:
            self._connection.executescript(
                f"BEGIN IMMEDIATE; {' '.join(changes)} PRAGMA user_version={_VERSION}; COMMIT;"
            )
