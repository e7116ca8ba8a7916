"""Readings at home that count, packed by person and week, for whoever looks at many people.

Fetching millions of rows takes longer than everything that is made of them; a week of one
person in one value does not. `readings` stays the only truth: a week is packed anew from it
in every transaction that changes a reading of that week, and nothing else writes here.
Readings taken at the clinic are in no average of home and so not in here.
Weeks are of UTC, numbered from 1970; pressures in mmHg, pulse in beats per minute.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Final

from sqlalchemy import Connection, bindparam, delete, select

from domain.people import PersonId
from domain.readings import Setting
from storage.tables import reading_weeks, readings
from storage.upserts import upsert

#: One reading: microseconds since 1970 (UTC), systolic, diastolic, pulse (0: none), all
#: little-endian, and two bytes that are not used.
PACKED: Final = struct.Struct("<qhhh2x")

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
_WEEK: Final = timedelta(days=7)

_OF_WEEK: Final = (
    select(readings.c.at, readings.c.systolic, readings.c.diastolic, readings.c.pulse)
    .where(
        readings.c.person == bindparam("whose"),
        readings.c.at >= bindparam("first"),
        readings.c.at < bindparam("after"),
        readings.c.state == "kept",
        readings.c.setting == Setting.HOME,
    )
    .order_by(readings.c.at, readings.c.number)
)
_DROP: Final = delete(reading_weeks).where(
    reading_weeks.c.person == bindparam("whose"), reading_weeks.c.week == bindparam("which")
)


def week_of(at: datetime) -> int:
    """The number of the week in which an aware moment lies."""
    return (at - _EPOCH) // _WEEK


def pack_again(connection: Connection, person: PersonId, moments: Iterable[datetime]) -> None:
    """Pack the weeks of these moments (aware) anew: a reading of that moment has changed."""
    for week in sorted({week_of(at) for at in moments}):
        first = _EPOCH + week * _WEEK
        span = {"whose": person, "first": first, "after": first + _WEEK}
        rows = connection.execute(_OF_WEEK, span).all()
        if not rows:
            connection.execute(_DROP, {"whose": person, "which": week})
            continue
        packed = b"".join(
            PACKED.pack((at - _EPOCH) // _MICROSECOND, systolic, diastolic, pulse or 0)
            for at, systolic, diastolic, pulse in rows
        )
        week_row = {"person": person, "week": week, "packed": packed}
        upsert(connection, reading_weeks, [week_row], changed=("packed",))
