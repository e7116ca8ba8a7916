"""Which processes of the bot live, and since when nobody has: one row for each process.

Machine time, except where a moment is said to be person time. A process writes its row
again and again; after a kill or a power cut the row tells until when it lived.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, func, or_, select, text, union

from storage.tables import persons, runs, timers
from storage.upserts import upsert

#: A shorter silence is a restart and nobody is told. Five minutes: from when on the
#: project also says that an answer is late.
OUTAGE_FROM: Final = timedelta(minutes=5)
# PostgreSQL: any number that no other lock of ours uses.
_LOCK: Final = 0x43554647


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a process says of itself. `polled_at` and `rang_at` are None before the first time."""

    id: str
    started_at: datetime
    seen_at: datetime
    polled_at: datetime | None = None  #: the platform answered the question for updates
    rang_at: datetime | None = None  #: the alarm clock handled all that was due


def beat(connection: Connection, run: Run) -> None:
    """Write the process's row."""
    row = {
        "id": run.id,
        "started_at": run.started_at,
        "seen_at": run.seen_at,
        "polled_at": run.polled_at,
        "rang_at": run.rang_at,
    }
    upsert(connection, runs, [row], changed=("seen_at", "polled_at", "rang_at"))


def last_poll(connection: Connection) -> datetime | None:
    """When the platform last answered any process, None before the first time."""
    found: datetime | None = connection.scalar(select(func.max(runs.c.polled_at)))
    return found


def tell_of_outage(
    connection: Connection,
    run: Run,
    ahead: timedelta,
    *,
    key: str,
    keys_of_open: Collection[str],
) -> int:
    """Set a timer for each person with something open, when nobody had polled for too long.

    Its due moment is when the outage began, so it falls before all that was due meanwhile.
    Call it in the transaction that then writes `run`, so that of several replicas one does
    it: whoever comes later finds that poll.

    Args:
        run: the process with its first successful poll.
        ahead: by how much person time is ahead of machine time.
        key: of the timer that tells a person.
        keys_of_open: whoever has a timer of these, a timer that is due, or an open alarm, is
            told.

    Returns:
        How many persons will be told.
    """
    if run.polled_at is None or not _was_out(connection, run.polled_at):
        return 0
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _LOCK})
    since = last_poll(connection)
    if since is None or not _was_out(connection, run.polled_at):
        return 0
    waiting = select(timers.c.person).where(
        or_(timers.c.key.in_(keys_of_open), timers.c.due <= run.polled_at + ahead)
    )
    alarmed = select(persons.c.id).where(persons.c.alarm_open)
    rows = [
        {"person": person, "key": key, "due": since + ahead, "attempts": 0}
        for person in connection.scalars(union(waiting, alarmed))
    ]
    upsert(connection, timers, rows, key=("person", "key"), changed=("due", "attempts"))
    return len(rows)


def _was_out(connection: Connection, now: datetime) -> bool:
    since = last_poll(connection)
    return since is not None and now - since >= OUTAGE_FROM
