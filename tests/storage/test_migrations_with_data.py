"""A database that the first release filled, opened by this one: nothing of it is lost."""

from __future__ import annotations

import struct
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import MetaData, create_engine, insert, select, text

import storage.migrations
from domain.people import AlarmStage, ChatId, PersonId
from domain.readings import Setting
from storage import Database
from storage.engine import database_url as url_of
from storage.messages import Lane
from storage.outbox import Outbox
from storage.schema import schema_version
from storage.tables import reading_weeks, timers
from tests.storage.test_older_states import STORED

AT = datetime(2026, 3, 10, 7, 0, tzinfo=UTC)
PERSONS: list[dict[str, Any]] = [
    {"id": "hollis", "name": "Hollis", "role": "patient", "chat": 5, "state": STORED},
    {"id": "wren", "name": "Wren", "role": "carer", "chat": 6, "state": None},
]


def moved(url: str, moment: datetime) -> datetime:
    """As the columns of that release hold a moment."""
    return moment if url.startswith("postgres") else moment.replace(tzinfo=None)


def filled_by_the_first_release(url: str) -> None:
    """Rows as revision 0001 had them: an open alarm, a reading, a timer, a message to send."""
    engine = create_engine(url_of(url))
    config = Config()
    config.set_main_option("script_location", str(Path(storage.migrations.__file__).parent))
    with engine.begin() as connection:
        if engine.name == "postgresql":  # the tests' databases begin with today's tables
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    with engine.begin() as connection:
        tables = MetaData()
        tables.reflect(connection)
        at = moved(url, AT)

        def put(table: str, **values: Any) -> None:
            connection.execute(insert(tables.tables[table]).values(**values))

        for person in PERSONS:
            alarm = person["state"] is not None
            put(
                "persons", **person, language="en", zone="Europe/Lisbon", created_at=at,
                alarm_open=alarm, joined=True,
            )  # fmt: skip
        put(
            "links", patient="hollis", contact="wren", role="carer", position=1,
            consent="agreed", reachable=True,
        )  # fmt: skip
        for number, systolic in enumerate((192, 188)):
            put(
                "readings", id=f"r{number}", chain=f"r{number}", person="hollis", state="kept",
                systolic=systolic, diastolic=114, at=at - timedelta(minutes=2 - number),
                zone="Europe/Lisbon", came_as="typed", chat=5, message=7 + number,
                text=f"{systolic}/114", written_at=at,
            )  # fmt: skip
        put("notes", person="hollis", kind="symptom", at=at, code="chest_pain", text="")
        put("timers", person="hollis", key="emergency.again", due=at + timedelta(minutes=3))
        put(
            "lanes", chat=6, lane="text", leased_until=at - timedelta(days=1), next_at=at,
            head_rank=0, head_due=at, head_ready=at,
        )  # fmt: skip
        put(
            "outbox", chat=6, lane="text", rank=0, state="waiting", queued_at=at, not_before=at,
            attempts=0, html="now", plain="now", language="en", about="hollis",
            to_person="wren", leave=False,
        )  # fmt: skip
    engine.dispose()


@pytest.fixture
def database(database_url: str, opened: Callable[[], Database]) -> Database:
    filled_by_the_first_release(database_url)
    return opened()


def test_the_open_alarm_goes_on_with_its_readings_contacts_and_timer(database: Database) -> None:
    with database.work() as work:
        patient = work.patient(PersonId("hollis"))
    assert patient is not None
    assert patient.state.alarm is not None
    assert patient.state.alarm.stage is AlarmStage.EMERGENCY
    assert [kept.reading.systolic for kept in patient.readings] == [192, 188]
    assert {kept.reading.setting for kept in patient.readings} == {Setting.HOME}
    assert [note.code for note in patient.notes] == ["chest_pain"]
    assert [contact.may_be_told for contact in patient.contacts] == [True]
    with database.reading() as connection:
        assert connection.scalars(select(timers.c.key)).all() == ["emergency.again"]


def test_its_readings_are_packed_for_the_practitioners_list(database: Database) -> None:
    with database.reading() as connection:
        (packed,) = connection.scalars(select(reading_weeks.c.packed)).all()
    size = len(packed) // 2
    assert [struct.unpack_from("<q", packed, place)[0] for place in (0, size)] == [
        int((AT - timedelta(minutes=minutes)).timestamp() * 1_000_000) for minutes in (2, 1)
    ]


def test_the_alarm_that_waited_to_be_sent_is_sent(database: Database) -> None:
    outbox = Outbox(database)
    (claim,) = outbox.claim("worker", Lane.TEXT, 5, AT, timedelta(seconds=25))
    row = outbox.begin(claim, AT)
    assert claim.chat == ChatId(6)
    assert row is not None
    assert row.message.plain == "now"


def test_opened_again_it_stays_as_it_is(database: Database, opened: Callable[[], Database]) -> None:
    with database.reading() as connection:
        before = schema_version(connection)
    with opened().work() as work:
        assert work.patient(PersonId("hollis")) is not None
    with database.reading() as connection:
        assert schema_version(connection) == before
