"""Opens the database: SQLite (embedded) or PostgreSQL, by URL, with its schema up to date.

Two clocks: *machine time* is what `machine_clock` gives; *person time* is machine time
plus the offset kept in the database (see `clock.py`). Everything here is synchronous.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Any, Final, Literal

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from storage.errors import BadDatabaseUrlError, DatabaseUnreachableError
from storage.schema import bring_up_to_date

if TYPE_CHECKING:
    from storage.work import Work

#: How long a writer waits for another process that writes to the same SQLite file.
BUSY_MILLISECONDS: Final = 5000
#: Connections to PostgreSQL that one process keeps, and those it may add for a moment.
POOL_SIZE: Final = 5
POOL_EXTRA: Final = 5

Mode = Literal["IMMEDIATE", "DEFERRED"]


def machine_time() -> datetime:
    """The machine's clock, aware, UTC."""
    return datetime.now(UTC)


class Database:
    """An open database. Safe to use from several threads; close it with `dispose`."""

    def __init__(self, engine: Engine, machine_clock: Callable[[], datetime]) -> None:
        self.engine = engine
        self.machine_clock = machine_clock

    @property
    def is_postgres(self) -> bool:
        return self.engine.dialect.name == "postgresql"

    @contextmanager
    def work(self) -> Iterator[Work]:
        """One transaction that may write, as a unit of work; an exception undoes it all."""
        from storage.work import Work

        with self.writing() as connection:
            work = Work(connection, self.machine_clock())
            yield work
            work.finish()

    @contextmanager
    def looking(self) -> Iterator[Work]:
        """The same for who only looks: it waits for nobody and nobody waits for it."""
        from storage.work import Work

        with self.reading() as connection:
            yield Work(connection, self.machine_clock())

    def writing(self) -> AbstractContextManager[Connection]:
        """One transaction that may write. On SQLite it begins IMMEDIATE."""
        return transaction(self.engine)

    def reading(self) -> AbstractContextManager[Connection]:
        """One transaction that only reads."""
        return transaction(self.engine, "DEFERRED")

    def dispose(self) -> None:
        """Close all connections."""
        self.engine.dispose()


@contextmanager
def transaction(engine: Engine, mode: Mode = "IMMEDIATE") -> Iterator[Connection]:
    """A transaction that ends with the block: committed, or undone by an exception.

    Args:
        mode: SQLite only. A transaction that reads first and writes later fails at once with
            "database is locked" when another one wrote in between; so whatever may write
            says so first.
    """
    with engine.connect() as connection, connection.begin():
        if connection.dialect.name == "sqlite":
            # Said here and not by a listener of the engine: that would slow every statement.
            connection.exec_driver_sql(f"BEGIN {mode}")
        yield connection


def open_database(url: str, *, machine_clock: Callable[[], datetime] = machine_time) -> Database:
    """The database at `url`, made if it is a SQLite file that does not exist yet.

    Args:
        url: `sqlite:///path`, `postgresql+psycopg://…` or `postgresql://…`.
        machine_clock: gives aware moments; tests pass their own.

    Raises:
        BadDatabaseUrlError: neither SQLite nor PostgreSQL.
        DatabaseUnreachableError: it could not be opened.
        NewerSchemaError: a newer release made its schema.
    """
    target = database_url(url)
    engine: Engine | None = None
    try:
        engine = _sqlite(target) if target.drivername == "sqlite" else _postgres(target)
        with transaction(engine) as connection:
            bring_up_to_date(connection)
    except BaseException as problem:
        if engine is not None:
            engine.dispose()
        if not isinstance(problem, DBAPIError | OSError):
            raise
        shown = target.render_as_string(hide_password=True)
        cause = getattr(problem, "orig", None) or problem
        first_line = (str(cause).strip().splitlines() or [type(cause).__name__])[0]
        raise DatabaseUnreachableError(shown, first_line) from problem
    return Database(engine, machine_clock)


def database_url(url: str) -> URL:
    """The URL with the driver that we use.

    Raises:
        BadDatabaseUrlError: neither SQLite nor PostgreSQL, or no URL at all.
    """
    try:
        target = make_url(url)
    except (ArgumentError, ValueError) as problem:
        raise BadDatabaseUrlError from problem
    match target.drivername:
        case "sqlite" | "sqlite+pysqlite" if target.database not in (None, "", ":memory:"):
            return target.set(drivername="sqlite")
        case "postgresql" | "postgres" | "postgresql+psycopg":
            return target.set(drivername="postgresql+psycopg")
        case _:
            raise BadDatabaseUrlError


def _sqlite(url: URL) -> Engine:
    assert url.database is not None
    path = Path(url.database).expanduser()
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # Readings are nobody else's business; SQLite's side files get the same rights.
    path.touch(mode=0o600)
    url = url.set(database=str(path))
    return prepared(create_engine(url, pool_size=POOL_SIZE, max_overflow=POOL_EXTRA))


def prepared(engine: Engine) -> Engine:
    """The SQLite engine with our way of connecting."""

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: Any) -> None:
        # The driver must not begin transactions by itself: `transaction` says which kind.
        connection.isolation_level = None
        connection.execute(f"PRAGMA busy_timeout = {BUSY_MILLISECONDS}")
        _write_ahead(connection)
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")

    return engine


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Turn the write-ahead log on, which stays on with the file.

    Two that do so to a new file at once do not wait for each other as SQLite otherwise
    does: one is told "database is locked" at once, so it asks again.
    """
    give_up = monotonic() + BUSY_MILLISECONDS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError:
            if monotonic() > give_up:
                raise
            sleep(0.01)
        else:
            return


def _postgres(url: URL) -> Engine:
    return create_engine(
        url,
        pool_size=POOL_SIZE,
        max_overflow=POOL_EXTRA,
        pool_pre_ping=True,
        isolation_level="READ COMMITTED",
        connect_args={"connect_timeout": 10, "application_name": "cuffbell"},
    )
