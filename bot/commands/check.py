"""`cuffbell check`: the health of the running bot's data, one line each, for a monitor.

Status 0 when all is well, 1 when an alarm waits too long to be sent or a timer to fire.
"""

from __future__ import annotations

import argparse
import sys
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from storage.engine import Database

_WELL, _UNWELL = 0, 1
#: A minute is many times what sending and firing take when nothing is wrong.
_LONGEST: Final = timedelta(minutes=1)


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `check` to the command line."""
    parser = subparsers.add_parser(
        "check",
        help="say whether the database is reachable and nothing waits too long",
        description=(
            "Print whether the database is reachable, its schema, and how long the oldest "
            "unsent alarm and the oldest due timer have waited. Status 1 when one of them "
            f"waited longer than {_LONGEST.seconds} seconds: then no bot is running, or it "
            "cannot reach the platform."
        ),
    )
    parser.set_defaults(run=run)


def run(_: argparse.Namespace) -> int:
    """Print the lines; the status."""
    from bot.commands.opened import opened_database
    from storage.schema import schema_version

    with opened_database() as database:
        with database.reading() as connection:
            version = schema_version(connection)
        waits = _waits(database)
    sys.stdout.write(f"database reachable\nschema {version}\n")
    for name, waited in waits.items():
        shown = "none" if waited is None else f"{waited.total_seconds():.0f} s"
        sys.stdout.write(f"{name} {shown}\n")
    late = [waited for waited in waits.values() if waited is not None and waited > _LONGEST]
    return _UNWELL if late else _WELL


def _waits(database: Database) -> dict[str, timedelta | None]:
    from storage.outbox import Outbox

    alarm = Outbox(database).oldest_waiting_alarm()
    with database.looking() as work:
        due, now, machine_now = work.next_due(), work.now(), work.machine_now
    return {
        "oldest unsent alarm:": _since(alarm, machine_now),
        "oldest due timer:": _since(due, now) if due is not None and due <= now else None,
    }


def _since(moment: datetime | None, now: datetime) -> timedelta | None:
    return None if moment is None else max(timedelta(0), now - moment)
