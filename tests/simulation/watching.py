"""A database in memory that tells of every row that a committed transaction has changed.

Triggers of the connection's own (they are no part of the schema) call back into Python, so
that nothing has to be searched after each step. Moments come as SQLite keeps them: texts in
UTC that sort by time.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from typing import Any, Final

from sqlalchemy import Engine, create_engine
from sqlalchemy.pool import StaticPool

from storage.engine import Database, prepared, transaction
from storage.schema import bring_up_to_date

#: Table and what happens to a row -> the columns that are told, in this order.
WATCHED: Final = {
    ("outbox", "insert"): "id chat lane rank about to_person plain html buttons attachment",
    ("outbox", "update of state"): "id state problem",
    ("outbox", "update of first_tried_at"): "id",
    ("readings", "insert"): "number person chat message at systolic diastolic written_at",
    ("readings", "update of state"): "number state",
    ("notes", "insert"): "person kind at code chat message",
    ("timers", "insert"): "person key due",
    ("timers", "update"): "person key due",
    ("timers", "delete"): "person key",
    ("persons", "insert"): "id name chat alarm_open state",
    ("persons", "update"): "id name chat alarm_open state",
    ("links", "insert"): "patient contact role consent reachable",
    ("links", "update"): "patient contact role consent reachable",
    ("seen_updates", "insert"): "bot update_id at",
    ("unhandled", "insert"): "event problem",
    ("buttons", "insert"): "token chat action",
}
#: Table, what happened ("insert", "update", "update of state" …), and the values.
Change = tuple[str, str, tuple[Any, ...]]


def text_of(moment: datetime) -> str:
    """A moment as SQLite keeps it."""
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat(" ", "microseconds")


class _Kept(sqlite3.Connection):
    """Tells of its statements and of the ends of its transactions.

    Here and not by listeners of the engine: those would slow every statement down. Who is
    killed inside a transaction loses the connection, but the database stays.
    """

    heard: WatchedDatabase

    def cursor(self, *args: Any, **how: Any) -> Any:
        self.heard.stated()
        return super().cursor(*args, **how)

    def commit(self) -> None:
        self.heard.committed()
        super().commit()

    def rollback(self) -> None:
        super().rollback()
        self.heard.undone()

    def close(self) -> None:
        self.rollback()

    def really_close(self) -> None:
        super().close()


class WatchedDatabase:
    """The database with the changes of the transaction that runs and what hears of them."""

    def __init__(self, machine_clock: Callable[[], datetime]) -> None:
        self.connection = sqlite3.connect(":memory:", factory=_Kept)
        self.connection.heard = self
        _template()[0].backup(self.connection)
        self.engine = prepared(_engine(self.connection))
        self.database = Database(self.engine, machine_clock)
        self.on_commit: Callable[[list[Change]], None] = lambda changes: None
        self._changes: list[Change] = []
        #: How many statements until one fails, and with what.
        self._fails: tuple[int, BaseException] | None = None
        self._watch()

    def close(self) -> None:
        self.engine.dispose()
        self.connection.really_close()

    def rows(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        """What the database holds, asked for beside everything else."""
        return self.connection.execute(statement, values).fetchall()

    @contextmanager
    def failing_at(self, statement: int, problem: BaseException) -> Iterator[None]:
        """The transaction inside gets as far as its so many-th statement, then it fails."""
        self._fails = (statement, problem)
        try:
            yield
        finally:
            self._fails = None

    # --- what the connection tells

    def stated(self) -> None:
        """A statement begins."""
        if self._fails is not None:
            left, problem = self._fails
            self._fails = (left - 1, problem)
            if left <= 1:
                raise problem

    def committed(self) -> None:
        """A transaction ends and counts."""
        changes, self._changes = self._changes, []
        self.on_commit(changes)

    def undone(self) -> None:
        """A transaction has ended and does not count."""
        self._changes = []

    def _watch(self) -> None:
        with self.engine.connect():
            pass  # the first use prepares the connection
        for number, ((table, what), columns) in enumerate(WATCHED.items()):
            values = columns.split()

            def saw(*told: Any, table: str = table, what: str = what) -> None:
                self._changes.append((table, what, told))

            self.connection.create_function(f"saw_{number}", len(values), saw)
            row = "OLD" if what == "delete" else "NEW"
            told = ", ".join(f"{row}.{column}" for column in values)
            self.connection.execute(
                f"CREATE TEMP TRIGGER watch_{number} AFTER {what.upper()} ON main.{table} "
                f"BEGIN SELECT saw_{number}({told}); END"
            )


def _engine(connection: sqlite3.Connection) -> Engine:
    return create_engine("sqlite://", creator=lambda: connection, poolclass=StaticPool)


@cache
def _template() -> tuple[sqlite3.Connection, Engine]:
    """An empty database with the whole schema: migrating takes longer than a simulated week."""
    connection = sqlite3.connect(":memory:")
    engine = prepared(_engine(connection))
    with transaction(engine) as template:
        bring_up_to_date(template)
    return connection, engine  # both, because the engine would close what it has
