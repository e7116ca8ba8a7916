"""`cuffbell check`: the health of the running bot's data, one line each, for a monitor.

Status 0 when all is well, 1 when an alarm waits too long to be sent, a timer to fire, or
the platform has not been asked for updates, or an event of the last day could not be handled.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_WELL, _UNWELL = 0, 1
_DESCRIPTION: Final = (
    "Print whether the database is reachable, its schema, and what waits or went wrong: the "
    "oldest unsent alarm, the oldest due timer, the last poll of updates, timers that fail, "
    "alarms that nobody could be given, events that could not be handled, patients whose "
    "chat takes no messages. No line holds a name or a reading. Status 1 when something "
    "waits too long (an alarm more than 60 s, a timer or a poll more than 120 s: then no bot "
    "is running, or it cannot reach the platform) or an event of the last day could not be "
    "handled; those lines end with an exclamation mark."
)


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `check` to the command line."""
    parser = subparsers.add_parser(
        "check",
        help="say whether the database is reachable and nothing waits too long",
        description=_DESCRIPTION,
    )
    parser.set_defaults(run=run)


def run(_: argparse.Namespace) -> int:
    """Print the lines; the status."""
    from bot.commands.opened import opened_database
    from bot.health import shown, wrong
    from storage.health import health
    from storage.schema import schema_version

    with opened_database() as database, database.reading() as connection:
        version = schema_version(connection)
        found = health(connection, database.machine_clock())
    sys.stdout.write(f"database reachable\nschema {version}\n")
    bad = wrong(found)
    for name, figure in shown(found).items():
        sys.stdout.write(f"{name}: {figure}{' !' if name in bad else ''}\n")
    return _UNWELL if bad else _WELL
