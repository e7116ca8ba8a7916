"""`cuffbell backup`: the whole database in one file, while the bot runs."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from argparse import _SubParsersAction

FOLDER: Final = "backups"
_NAME: Final = "cuffbell-"


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `backup` to the command line."""
    parser = subparsers.add_parser(
        "backup",
        help="copy the whole database into one file while the bot runs",
        description=(
            "Copy the whole database into one file and print its path. The bot may go on "
            "running. On PostgreSQL this needs pg_dump. The file holds all that the database "
            "holds: keep it as safe. `cuffbell restore` puts it back."
        ),
    )
    add = parser.add_argument
    add("file", nargs="?", type=Path, help="the copy (default: by date, in the data folder)")
    add(
        "--keep",
        type=_number,
        metavar="COUNT",
        help="of the copies in the data folder keep so many of the newest, at least 1",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Make the copy; the status."""
    from bot.commands.opened import load_settings, opened_database
    from storage.backup import back_up

    settings = load_settings()
    folder = settings.data / FOLDER
    with opened_database(settings) as database:
        ending = "dump" if database.is_postgres else "sqlite3"
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
        target = arguments.file or folder / f"{_NAME}{stamp}.{ending}"
        back_up(database, target)
    sys.stdout.write(f"{target}\n")
    if arguments.keep is not None:
        for old in sorted(folder.glob(f"{_NAME}*.{ending}"))[: -arguments.keep]:
            old.unlink()
    return 0


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) > 0):
        raise argparse.ArgumentTypeError("should be a whole number from 1 on")
    return int(text)
