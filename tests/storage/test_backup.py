"""A copy of the database while it is written to, and back from it, on both databases."""

from __future__ import annotations

import shutil
import sqlite3
import stat
import threading
from pathlib import Path

import pytest
from sqlalchemy import text

from domain.people import ChatId
from storage import Database, ReadyMessage, open_database
from storage.backup import BEFORE, back_up, restore
from storage.errors import AlreadyRunningError, BackupError
from storage.sole import SoleRun


def write(database: Database, *texts: str) -> None:
    with database.work() as work:
        work.queue([ReadyMessage(chat=ChatId(5), html=one, plain=one) for one in texts])


def held(database: Database) -> list[str]:
    with database.reading() as connection:
        return list(connection.scalars(text("SELECT plain FROM outbox ORDER BY id")))


@pytest.fixture
def programs(database_url: str) -> None:
    if database_url.startswith("postgresql") and shutil.which("pg_dump") is None:
        pytest.skip("no pg_dump: install PostgreSQL's client")


@pytest.mark.usefixtures("programs")
def test_what_was_copied_is_there_again_and_what_came_later_is_not(
    database_url: str, tmp_path: Path
) -> None:
    database, copy = open_database(database_url), tmp_path / "copies" / "one"
    write(database, "first", "second")
    back_up(database, copy)
    write(database, "later")

    restore(database, copy)

    database = open_database(database_url)
    assert held(database) == ["first", "second"]
    write(database, "goes on")
    assert held(database) == ["first", "second", "goes on"]
    database.dispose()
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert [path.name for path in copy.parent.iterdir()] == ["one"]


@pytest.mark.usefixtures("programs")
def test_a_copy_made_while_others_write_is_whole(database_url: str, tmp_path: Path) -> None:
    database, copy = open_database(database_url), tmp_path / "copy"
    stop = threading.Event()
    written: list[int] = []

    def go_on() -> None:
        own = open_database(database_url)
        while not stop.is_set():
            write(own, f"{len(written)} a", f"{len(written)} b")  # one transaction
            written.append(1)
        own.dispose()

    writer = threading.Thread(target=go_on)
    writer.start()
    try:
        while len(written) < 20:
            assert writer.is_alive()
        back_up(database, copy)
        then = len(written)
    finally:
        stop.set()
        writer.join()
    restore(database, copy)

    database = open_database(database_url)
    found = held(database)
    database.dispose()
    assert 20 <= len(found) // 2 <= then + 1
    assert found == [f"{n // 2} {'ab'[n % 2]}" for n in range(len(found))]


def test_an_embedded_database_is_copied_before_it_is_replaced(tmp_path: Path) -> None:
    url, copy = f"sqlite:///{tmp_path / 'cuffbell.db'}", tmp_path / "copy"
    database = open_database(url)
    back_up(database, copy)
    write(database, "later")

    before = restore(database, copy)

    assert before == tmp_path / f"cuffbell.db{BEFORE}"
    kept = open_database(f"sqlite:///{before}")
    assert held(kept) == ["later"]
    kept.dispose()


def test_while_the_bot_runs_nothing_is_replaced(tmp_path: Path) -> None:
    database, copy = open_database(f"sqlite:///{tmp_path / 'cuffbell.db'}"), tmp_path / "copy"
    back_up(database, copy)
    write(database, "later")
    sole = SoleRun(database)

    with pytest.raises(AlreadyRunningError):
        restore(database, copy)

    assert held(database) == ["later"]
    sole.release()
    database.dispose()


@pytest.mark.postgres
def test_while_the_bot_runs_on_postgresql_nothing_is_replaced(
    postgres_url: str, tmp_path: Path
) -> None:
    database, bot = open_database(postgres_url), open_database(postgres_url)
    copy = tmp_path / "copy"
    copy.write_text("whatever")
    with bot.reading(), pytest.raises(BackupError, match="Stop it first"):
        restore(database, copy)
    bot.dispose()
    database.dispose()


@pytest.mark.parametrize("damage", ["missing", "no database", "another database", "cut off"])
def test_what_is_no_whole_copy_replaces_nothing(tmp_path: Path, damage: str) -> None:
    database, copy = open_database(f"sqlite:///{tmp_path / 'cuffbell.db'}"), tmp_path / "copy"
    write(database, *(f"message {n} " + "x" * 400 for n in range(200)))
    if damage == "no database":
        copy.write_text("Dear doctor, " * 999)
    elif damage == "another database":
        sqlite3.connect(copy).execute("CREATE TABLE letter (text)").connection.close()
    elif damage == "cut off":
        back_up(database, copy)
        copy.write_bytes(copy.read_bytes()[:-40_000])

    with pytest.raises(BackupError):
        restore(database, copy)

    assert len(held(database)) == 200
    database.dispose()


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    database = open_database(f"sqlite:///{tmp_path / 'cuffbell.db'}")
    (tmp_path / "file").write_text("not a folder")

    with pytest.raises(BackupError, match="could not be written"):
        back_up(database, tmp_path / "file" / "copy")

    database.dispose()
