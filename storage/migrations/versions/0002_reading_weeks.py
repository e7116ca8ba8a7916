"""Readings that count, packed by person and week: for lists of many patients."""

import struct
from datetime import UTC, datetime, timedelta
from itertools import groupby

import sqlalchemy as sa
from alembic import op

from storage.moments import UtcMoment

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

# As it was when this step was written: microseconds since 1970, systolic, diastolic, pulse.
PACKED = struct.Struct("<qhhh2x")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

READINGS = sa.table(
    "readings",
    sa.column("number", sa.BigInteger()),
    sa.column("person", sa.String()),
    sa.column("state", sa.String()),
    sa.column("systolic", sa.Integer()),
    sa.column("diastolic", sa.Integer()),
    sa.column("pulse", sa.Integer()),
    sa.column("at", UtcMoment()),
)


def upgrade() -> None:
    weeks = op.create_table(
        "reading_weeks",
        sa.Column("week", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("person", sa.String(length=64), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["persons.id"], name=op.f("fk_reading_weeks_person")),
        sa.PrimaryKeyConstraint("week", "person", name=op.f("pk_reading_weeks")),
        sqlite_with_rowid=False,
    )
    connection = op.get_bind()
    people = connection.scalars(sa.select(READINGS.c.person).distinct()).all()
    # One person at a time: years of many people do not fit into memory at once.
    for person in people:
        op.bulk_insert(weeks, _weeks_of(connection, person))


def _weeks_of(connection: sa.Connection, person: str) -> list[dict[str, object]]:
    numbers = READINGS.c.systolic, READINGS.c.diastolic, READINGS.c.pulse
    rows = connection.execute(
        sa.select(READINGS.c.at, *numbers)
        .where(READINGS.c.person == person, READINGS.c.state == "kept")
        .order_by(READINGS.c.at, READINGS.c.number)
    ).all()
    packed = [
        PACKED.pack((at - EPOCH) // timedelta(microseconds=1), systolic, diastolic, pulse or 0)
        for at, systolic, diastolic, pulse in rows
    ]
    by_week = groupby(
        zip(rows, packed, strict=True), lambda pair: (pair[0].at - EPOCH) // timedelta(days=7)
    )
    return [
        {"week": week, "person": person, "packed": b"".join(value for _, value in pairs)}
        for week, pairs in by_week
    ]
