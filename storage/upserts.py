"""Insert, or change the row that is already there: the same on both databases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite

Insert = postgresql.Insert | sqlite.Insert


def insert_into(dialect: str, table: Table) -> Insert:
    """The database's own insert, which knows `ON CONFLICT`."""
    return postgresql.insert(table) if dialect == "postgresql" else sqlite.insert(table)


def upsert(
    connection: Connection,
    table: Table,
    rows: Sequence[Mapping[str, Any]],
    *,
    changed: Sequence[str],
    key: Sequence[str] | None = None,
) -> None:
    """Insert the rows; where the key (default: the primary key) exists, set `changed`."""
    if rows:
        columns = tuple(key) if key is not None else tuple(c.name for c in table.primary_key)
        statement = _upsert(connection.dialect.name, table, tuple(changed), columns)
        connection.execute(statement, list(rows))


@cache
def _upsert(dialect: str, table: Table, changed: tuple[str, ...], key: tuple[str, ...]) -> Insert:
    # Putting a statement together takes longer than running it, so each is made once.
    statement = insert_into(dialect, table)
    return statement.on_conflict_do_update(
        index_elements=list(key),
        set_={name: statement.excluded[name] for name in changed},
    )
