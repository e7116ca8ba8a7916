"""What waits and what went wrong, as figures: for `cuffbell check`, the monitor, the counters.

Ages are by machine time, except that a timer's lateness is by person time. No name, no
number that a person wrote, no text.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection, Select, func, select

from domain.outcome import Rank
from storage import clock, runs
from storage.tables import lanes, outbox, persons, timers, unhandled

#: How far back undeliverable alarms and unhandled events are counted.
LATELY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """The figures at one moment. A span is None where there is nothing of its kind."""

    oldest_alarm: timedelta | None  #: since the alarm was queued that waits longest to be sent
    oldest_timer: timedelta | None  #: by which the timer is late that is due longest
    last_poll: timedelta | None  #: since the platform last answered any process of the bot
    failing_timers: int  #: that could not be handled and are tried again
    failed_alarms: int  #: that could not be delivered for good, lately
    unhandled: int  #: events that could not be handled, all that are kept
    unhandled_lately: int
    unreachable: int  #: patients whose chat takes no messages


def health(connection: Connection, machine_now: datetime) -> Health:
    """The figures now. It only reads."""
    ahead = clock.offset(connection)
    since = machine_now - LATELY
    # The head of a lane is its oldest alarm, and lanes are fewer than rows.
    alarm = connection.scalar(
        select(func.min(lanes.c.head_due)).where(lanes.c.head_rank == int(Rank.ALARM))
    )
    due = connection.scalar(select(func.min(timers.c.due)))
    late = None if due is None else machine_now + ahead - due
    return Health(
        oldest_alarm=_since(alarm, machine_now),
        oldest_timer=late if late is not None and late >= timedelta(0) else None,
        last_poll=_since(runs.last_poll(connection), machine_now),
        failing_timers=_count(connection, select(timers.c.id).where(timers.c.attempts > 0)),
        failed_alarms=_count(
            connection,
            select(outbox.c.id).where(
                outbox.c.sent_at >= since,
                outbox.c.rank == int(Rank.ALARM),
                outbox.c.state == "failed",
            ),
        ),
        unhandled=_count(connection, select(unhandled.c.number)),
        unhandled_lately=_count(
            connection, select(unhandled.c.number).where(unhandled.c.at >= since)
        ),
        unreachable=_count(connection, select(persons.c.id).where(persons.c.unreachable)),
    )


def _since(moment: datetime | None, now: datetime) -> timedelta | None:
    return None if moment is None else max(timedelta(0), now - moment)


def _count(connection: Connection, rows: Select[Any]) -> int:
    return connection.scalar(select(func.count()).select_from(rows.subquery())) or 0
