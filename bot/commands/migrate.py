"""`cuffbell migrate`: bring the database's schema up to date and say which one it is."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `migrate` to the command line."""
    parser = subparsers.add_parser(
        "migrate",
        help="bring the database's schema up to date",
        description=(
            "Bring the database in CUFFBELL_DATABASE up to date. Every command does that when "
            "it opens the database; this one does nothing else. Make a backup before."
        ),
    )
    parser.set_defaults(run=run)


def run(_: argparse.Namespace) -> int:
    """Open the database, which migrates it; print its schema."""
    from bot.commands.opened import opened_database
    from storage.schema import schema_version

    with opened_database() as database, database.reading() as connection:
        version = schema_version(connection)
    sys.stdout.write(f"schema {version}\n")
    return 0
