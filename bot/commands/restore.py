"""`cuffbell restore`: a copy of `cuffbell backup` in the place of the database."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `restore` to the command line."""
    parser = subparsers.add_parser(
        "restore",
        help="put a copy back in the place of everything that the database holds",
        description=(
            "Put a copy that `cuffbell backup` made in the place of everything that the "
            "database holds now. The bot must be stopped. A SQLite database is copied "
            "beside itself before; on PostgreSQL this needs pg_restore, and making a copy "
            "before is up to you. What the bot sent since the copy was made, it does not know."
        ),
    )
    parser.add_argument("file", type=Path, help="the copy")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Put it back; the status."""
    from bot.commands.opened import load_settings, opened_database
    from storage.backup import restore

    settings = load_settings()
    with opened_database(settings) as database:
        before = restore(database, arguments.file)
    with opened_database(settings):
        pass  # a copy of an older release is brought up to date
    sys.stdout.write("restored\n" if before is None else f"restored; before: {before}\n")
    return 0
