"""How moments are stored: UTC, on both databases, never without a zone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

from sqlalchemy import BindParameter, ColumnElement, DateTime, or_
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

#: A moment, or the place in a statement where it is filled in.
Moment = datetime | BindParameter[datetime]

#: Before every moment that is ever compared: "free now" for leases and next moments.
LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)


#: No pause and no back-off is longer. A moment further ahead was written before the
#: machine's clock was put back, and holds nobody: else an alarm would wait until then.
LONGEST_WAIT: Final = timedelta(minutes=2)


def waits(until: datetime, machine_now: datetime) -> bool:
    """Whether something that is held until a moment is still held."""
    return machine_now < until <= machine_now + LONGEST_WAIT


def is_free(
    until: ColumnElement[datetime], machine_now: Moment, latest: Moment
) -> ColumnElement[bool]:
    """The same for a column: true when it is held no more. `latest` is `LONGEST_WAIT` after."""
    return or_(until <= machine_now, until > latest)


class UtcMoment(TypeDecorator[datetime]):
    """An aware moment. SQLite keeps it as text in UTC, which sorts by time."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError("A moment without a time zone cannot be stored.")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
