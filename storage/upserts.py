"""Insert, or change the row that is already there: the same on both databases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite


def insert_for(connection: Connection, table: Table) -> postgresql.Insert | sqlite.Insert:
    """The database's own insert, which knows `ON CONFLICT`."""
    if connection.dialect.name == "postgresql":
        return postgresql.insert(table)
    return sqlite.insert(table)


def upsert(
    connection: Connection,
    table: Table,
    rows: Sequence[Mapping[str, Any]],
    *,
    changed: Sequence[str],
    key: Sequence[str] | None = None,
) -> None:
    """Insert the rows; where the key (default: the primary key) exists, set `changed`."""
    if not rows:
        return
    statement = insert_for(connection, table)
    columns = list(key) if key is not None else [column.name for column in table.primary_key]
    statement = statement.on_conflict_do_update(
        index_elements=columns,
        set_={name: statement.excluded[name] for name in changed},
    )
    connection.execute(statement, list(rows))
