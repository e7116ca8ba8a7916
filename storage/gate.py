"""Hands out the moments at which messages may be sent, to all replicas of the bot.

Machine time. The platform counts messages over all chats in a window of a second; slots
exactly 1/rate apart were measured to put one too many into it, hence `SPACING`.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, bindparam, select, update

from storage.engine import Database
from storage.moments import LONGEST_WAIT
from storage.tables import send_gate

#: Distance of two slots in units of 1/rate.
SPACING: Final = 1.05
#: More slots than all processes together ever have in hand.
_QUEUE: Final = 200

_NEXT_AT: Final = select(send_gate.c.next_at).with_for_update()
_MOVE: Final = update(send_gate).values(next_at=bindparam("until"))


def slots(database: Database, count: int, machine_now: datetime, rate: float) -> list[datetime]:
    """The next `count` moments at which one message each may be sent, in order.

    Args:
        count: take few at a time: what is not used is lost to everybody.
        machine_now: no slot lies before it.
        rate: messages a second that the platform allows the bot.
    """
    gap = timedelta(seconds=SPACING / rate)
    with database.writing() as connection:
        first = max(_next_at(connection), machine_now)
        if first > machine_now + LONGEST_WAIT + _QUEUE * gap:
            first = machine_now  # the machine's clock has been put back
        connection.execute(_MOVE, {"until": first + count * gap})
    return [first + number * gap for number in range(count)]


def hold(database: Database, until: datetime) -> None:
    """No slot before `until`, at most `LONGEST_WAIT` ahead: the whole bot is asked to wait."""
    with database.writing() as connection:
        held = _next_at(connection)
        if held < until or held > until + LONGEST_WAIT:
            connection.execute(_MOVE, {"until": until})


def _next_at(connection: Connection) -> datetime:
    # The first migration put the row in.
    found: datetime | None = connection.scalar(_NEXT_AT)
    assert found is not None
    return found
