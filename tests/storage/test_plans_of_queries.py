"""How the databases look things up among very many rows: by an index, not one by one."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, text

from domain.outcome import OwnerAwaited, OwnerSettled
from domain.people import ChatId, MessageRef, NoteKind, PersonId
from domain.talk import unowned
from storage import patients, timers
from storage.tables import OWNER_AWAITED, notes
from storage.tables import timers as timers_table
from tests.storage.conftest import START, Town

MANY = 100_000


def plan_of(connection: Connection, statement: Any, **values: object) -> str:
    compiled = statement.compile(connection)
    expanded = compiled.construct_expanded_state(values)  # an IN has its values one by one
    how = "EXPLAIN" if connection.dialect.name == "postgresql" else "EXPLAIN QUERY PLAN"
    # With values beside the statement, as they come at runtime: the index must fit any.
    given = expanded.positional_parameters if compiled.positional else expanded.parameters
    rows = connection.exec_driver_sql(f"{how} {expanded.statement}", given)
    return "\n".join(str(row[-1]) for row in rows)


@pytest.fixture
def crowded(town: Town) -> PersonId:
    """Hollis, with very many timers and notes."""
    hollis = town.hollis()
    with town.database.writing() as connection:
        connection.execute(
            timers_table.insert(),
            [
                {"person": hollis, "key": f"prompt {n}", "due": START + timedelta(seconds=n)}
                for n in range(MANY)
            ],
        )
        connection.execute(
            notes.insert(),
            [
                {"person": hollis, "kind": NoteKind.PROMPTED, "code": "", "text": "", "at": at}
                for at in (START - timedelta(minutes=n) for n in range(MANY // 5))
            ],
        )
        connection.execute(text("ANALYZE"))
    return hollis


@pytest.mark.slow
def test_a_text_whose_owner_is_settled_and_late_notes_are_looked_up_by_an_index(
    town: Town, crowded: PersonId
) -> None:
    with town.database.reading() as connection:
        settled = timers.OWNER_SETTLED[connection.dialect.name]
        by_prefix = plan_of(connection, settled, first="owner:-5:7|", end="owner:-5:7}")
        lately = plan_of(connection, patients.NOTED, since=str(START - timedelta(days=3)))

    assert "ix_timers_owner" in by_prefix
    assert "ix_notes_kind_at" in lately


@pytest.mark.parametrize("prefix", ["owner:-5:7|", "owner:1001:70|"])
def test_only_the_timers_of_that_text_are_cancelled(town: Town, prefix: str) -> None:
    hollis = town.hollis()
    keys = [
        "owner:-5:7|192/114|", "owner:-5:7||chest_pain", "owner:-5:71|192/114|",
        "owner:-5:6|192/114|", "owner:1001:70|é|", "owner:1001:7|192/114|", "owner", "ownership",
        "look", "Owner:-5:7|192/114|",
    ]  # fmt: skip
    for key in keys:
        town.store(hollis, OwnerAwaited(persons=(hollis,), key=key, due=START))

    town.store(hollis, OwnerSettled(prefix=prefix))

    with town.database.reading() as connection:
        left = {timer.key for timer in timers.timers_of(connection, hollis)}
    assert left == {key for key in keys if not key.startswith(prefix)}


@pytest.mark.parametrize("dialect", ["postgresql", "sqlite"])
def test_the_index_is_over_the_keys_that_the_conversation_gives(dialect: str) -> None:
    """Else nothing would be settled, and nobody would see it."""
    first, end = re.findall(r"'([^']*)'", str(OWNER_AWAITED[dialect]))
    key = unowned.settled_prefix(MessageRef(chat=ChatId(-5), message=7))
    assert first == unowned.PREFIX
    assert first <= key < end
