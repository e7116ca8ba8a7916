"""PostgreSQL tells every process at once that messages were queued."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from domain.people import ChatId
from storage import Database, ReadyMessage, open_database
from storage.notices import OutboxListener
from tests.storage.conftest import undone

pytestmark = pytest.mark.postgres


@dataclass
class Ear:
    database: Database
    heard: queue.Queue[None]


@pytest.fixture
def ear(postgres_url: str) -> Iterator[Ear]:
    database = open_database(postgres_url)
    heard: queue.Queue[None] = queue.Queue()
    listener = OutboxListener(database, lambda: heard.put(None))
    listener.start()
    assert listener.listening.wait(10)
    heard.get(timeout=10)  # the first call, for what was queued before
    yield Ear(database, heard)
    listener.stop()
    assert not listener.is_alive()
    database.dispose()


def test_a_commit_that_queued_messages_is_heard(ear: Ear) -> None:
    with ear.database.work() as work:
        work.queue([ReadyMessage(chat=ChatId(1), html="alarm")])

    ear.heard.get(timeout=10)


def test_what_was_not_committed_or_queued_nothing_is_not_heard(ear: Ear) -> None:
    with undone(ear.database) as work:
        work.queue([ReadyMessage(chat=ChatId(1), html="never")])
    with ear.database.work() as work:
        work.queue([])
    with ear.database.work() as work:
        work.queue([ReadyMessage(chat=ChatId(1), html="alarm")])

    ear.heard.get(timeout=10)
    assert ear.heard.empty()


def test_a_lost_connection_is_made_again(ear: Ear) -> None:
    with ear.database.writing() as connection:
        connection.exec_driver_sql(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE starts_with(query, 'LISTEN') AND datname = current_database()"
        )

    ear.heard.get(timeout=10)  # it listens anew, and says so in case it missed something
