"""Timers: at most one of a key for each person, due in person time.

A timer is only touched by who holds the lock on its patient (`people.patient`), so two
workers can neither fire one twice nor wait for each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sqlalchemy import (
    BindParameter,
    Connection,
    String,
    and_,
    bindparam,
    delete,
    select,
    update,
)

from domain.outcome import CancelTimer, SetTimer, TimerChange
from domain.people import PersonId
from storage.tables import OWNER_AWAITED, timers
from storage.upserts import upsert

# Statements of every event and every look at the clock are made once: that takes longer
# than running them.
_NOW: Final[BindParameter[datetime]] = bindparam("now")
_DUE_PERSONS: Final = (
    select(timers.c.person)
    .where(timers.c.due <= _NOW)
    .order_by(timers.c.due)
    .limit(bindparam("most"))
)
_LONGEST_DUE: Final = (
    select(timers)
    .where(timers.c.person == bindparam("whose"), timers.c.due <= _NOW)
    .order_by(timers.c.due, timers.c.id)
    .limit(1)
)
_TAKE: Final = delete(timers).where(timers.c.id == bindparam("which"))
_NEXT_DUE: Final = select(timers.c.due).order_by(timers.c.due).limit(1)
_CANCEL: Final = delete(timers).where(
    timers.c.person == bindparam("whose"), timers.c.key.in_(bindparam("which", expanding=True))
)
# Comparisons by bytes, with the words of the index that they are to use.
_BY_BYTES: Final = {"postgresql": ("~>=~", "~<~"), "sqlite": (">=", "<")}
OWNER_SETTLED: Final = {
    dialect: delete(timers).where(
        OWNER_AWAITED[dialect],
        timers.c.key.bool_op(from_)(bindparam("first", type_=String)),
        timers.c.key.bool_op(below)(bindparam("end", type_=String)),
    )
    for dialect, (from_, below) in _BY_BYTES.items()
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Timer:
    """A timer that was set; `attempts` counts the times that its handling failed."""

    id: int
    person: PersonId
    key: str
    due: datetime
    attempts: int = 0


def change(connection: Connection, person: PersonId, changes: Iterable[TimerChange]) -> None:
    """Set, move and cancel; of several changes of one key the last one counts."""
    last = {wanted.key: wanted for wanted in changes}
    cancelled = [key for key, wanted in last.items() if isinstance(wanted, CancelTimer)]
    if cancelled:
        connection.execute(_CANCEL, {"whose": person, "which": cancelled})
    rows = [
        {"person": person, "key": wanted.key, "due": wanted.due, "attempts": 0}
        for wanted in last.values()
        if isinstance(wanted, SetTimer)
    ]
    upsert(connection, timers, rows, key=("person", "key"), changed=("due", "attempts"))


def settle_owner(connection: Connection, prefix: str) -> None:
    """Cancel everybody's timers of a text whose owner was awaited; their keys begin so."""
    end = prefix[:-1] + chr(ord(prefix[-1]) + 1)
    connection.execute(OWNER_SETTLED[connection.dialect.name], {"first": prefix, "end": end})


def due_persons(connection: Connection, now: datetime, limit: int) -> list[PersonId]:
    """Whose are the `limit` timers that are due longest: each person once. Takes no lock."""
    found = connection.scalars(_DUE_PERSONS, {"now": now, "most": limit})
    return [PersonId(person) for person in dict.fromkeys(found)]


def longest_due(connection: Connection, person: PersonId, now: datetime) -> Timer | None:
    """The person's longest due timer, left as it is. Takes no lock."""
    row = connection.execute(_LONGEST_DUE, {"whose": person, "now": now}).first()
    if row is None:
        return None
    return Timer(id=row.id, person=person, key=row.key, due=row.due, attempts=row.attempts)


def take_due(connection: Connection, person: PersonId, now: datetime) -> Timer | None:
    """The person's longest due timer, deleted. The caller holds the lock on the person."""
    timer = longest_due(connection, person, now)
    if timer is None:
        return None
    gone = connection.execute(_TAKE, {"which": timer.id}).rowcount
    # What concerns several people is settled for all at once, without their locks.
    return timer if gone else None


def postpone(connection: Connection, timer: Timer, due: datetime) -> None:
    """Try a timer again later, unless it has been moved or fired meanwhile."""
    connection.execute(
        update(timers)
        .where(
            and_(
                timers.c.person == timer.person,
                timers.c.key == timer.key,
                timers.c.due == timer.due,
            )
        )
        .values(due=due, attempts=timers.c.attempts + 1)
    )


def next_due(connection: Connection) -> datetime | None:
    """When the next timer of anybody falls due (person time), or None."""
    found: datetime | None = connection.scalar(_NEXT_DUE)
    return found


def timers_of(connection: Connection, person: PersonId) -> tuple[Timer, ...]:
    """A person's timers by due moment."""
    rows = connection.execute(
        select(timers).where(timers.c.person == person).order_by(timers.c.due, timers.c.id)
    )
    return tuple(
        Timer(id=row.id, person=person, key=row.key, due=row.due, attempts=row.attempts)
        for row in rows
    )
