"""Person time: the machine's clock plus an offset that is kept in the database.

The offset is nought except where time is moved: in the local chat and in tests.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, select

from storage.tables import clock
from storage.upserts import upsert

_OFFSET: Final = select(clock.c.offset_microseconds)


def offset(connection: Connection) -> timedelta:
    """By how much person time is ahead of machine time."""
    return timedelta(microseconds=connection.scalar(_OFFSET) or 0)


def set_clock(connection: Connection, person_now: datetime, machine_now: datetime) -> None:
    """Person time is `person_now` at this moment and runs on from there."""
    ahead = person_now - machine_now
    upsert(
        connection,
        clock,
        [{"id": 1, "offset_microseconds": ahead // timedelta(microseconds=1)}],
        changed=("offset_microseconds",),
    )
