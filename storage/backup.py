"""A copy of the whole database into one file while the bot runs, and back from it.

SQLite: its own online copy, which is whole although others write meanwhile. PostgreSQL:
`pg_dump` and `pg_restore`, which must be installed and no older than the server. A file
holds everything that the database holds; whoever can read it can read all of it.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from sqlalchemy import text
from sqlalchemy.engine import URL

from storage.engine import Database
from storage.errors import BackupError
from storage.sole import SoleRun

_PART: Final = ".part"
#: Before a restore the embedded database is copied here, beside it.
BEFORE: Final = ".before-restore"


def back_up(database: Database, target: Path) -> None:
    """Write a copy to `target`, readable by its owner only. There is a whole file or none.

    Raises:
        BackupError: it cannot be written, or `pg_dump` refused.
    """
    part = target.with_name(target.name + _PART)
    try:
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        part.unlink(missing_ok=True)
        part.touch(mode=0o600)
        if database.is_postgres:
            options = ["--format=custom", "--no-owner", "--no-privileges", f"--file={part}"]
            _run("pg_dump", database.engine.url, *options)
        else:
            with closing(sqlite3.connect(_file(database))) as source:
                _copy(source, part)
        part.replace(target)
    except (OSError, sqlite3.Error) as error:
        raise BackupError(f"The copy {target} could not be written: {error}.") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def restore(database: Database, source: Path) -> Path | None:
    """Put the copy in the place of everything that the database holds now.

    Returns:
        Where the embedded database was copied to before; None on PostgreSQL.

    Raises:
        AlreadyRunningError: the bot runs on the SQLite file.
        BackupError: the bot runs on the PostgreSQL database, or the file is no whole copy.
    """
    if not source.is_file():
        raise BackupError(f"There is no file {source}.")
    if database.is_postgres:
        _refuse_while_running(database)
        url = database.engine.url
        database.dispose()
        options = ["--clean", "--if-exists", "--no-owner", "--single-transaction"]
        _run("pg_restore", url, *options, str(source))
        return None
    sole = SoleRun(database)
    try:
        return _restore_file(database, source)
    finally:
        sole.release()


def _restore_file(database: Database, source: Path) -> Path:
    path = _file(database)
    before = path.with_name(path.name + BEFORE)
    try:
        with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as copy:
            _check(copy, source)
            back_up(database, before)
            database.dispose()
            with closing(sqlite3.connect(path)) as live:
                copy.backup(live)
    except sqlite3.Error as error:
        raise BackupError(f"{source} could not be put back: {error}.") from error
    return before


def _copy(source: sqlite3.Connection, target: Path) -> None:
    with closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
        # One file without side files, wherever it is carried.
        copy.execute("PRAGMA journal_mode = DELETE")
        _check(copy, target)


def _check(copy: sqlite3.Connection, path: Path) -> None:
    try:
        found = copy.execute("PRAGMA integrity_check").fetchone()[0]
        copy.execute("SELECT version_num FROM alembic_version")
    except sqlite3.Error as error:
        raise BackupError(f"{path} is no whole copy of a database: {error}.") from error
    if found != "ok":
        raise BackupError(f"{path} is damaged. Take another copy.")


def _refuse_while_running(database: Database) -> None:
    others = text(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
        "AND application_name = 'cuffbell' AND pid <> pg_backend_pid()"
    )
    with database.reading() as connection:
        if connection.scalar(others):
            raise BackupError(
                "The bot is running on this database. Stop it first: `restore` puts the copy "
                "in the place of everything."
            )


def _file(database: Database) -> Path:
    assert database.engine.url.database is not None
    return Path(database.engine.url.database)


def _run(program: str, url: URL, *options: str) -> None:
    """Run PostgreSQL's own program. The password goes by the environment, where no list of
    processes shows it."""
    found = shutil.which(program)
    if found is None:
        raise BackupError(f"{program} is not installed. It comes with PostgreSQL's client.")
    address = url.set(drivername="postgresql", password=None).render_as_string()
    password = {"PGPASSWORD": str(url.password)} if url.password else {}
    done = subprocess.run(  # noqa: S603 - no shell, and the options are ours
        [found, f"--dbname={address}", *options],
        env=os.environ | password,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        lines = done.stderr.strip().splitlines() or ["no reason given"]
        raise BackupError(f"{program} refused: {lines[0]}")
