"""A database that an older release filled, opened by this one: nothing of it is lost."""

from __future__ import annotations

import struct
from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import MetaData, create_engine, insert, select, text

import storage.migrations
from domain.conversation import respond
from domain.duty import Duty
from domain.events import Action, Actor, Do, Pressed, Situation
from domain.people import AlarmStage, ChatId, MessageRef, PersonId
from domain.readings import Setting
from storage import Database
from storage.engine import database_url as url_of
from storage.messages import Lane
from storage.migrations import HEAD
from storage.outbox import Outbox
from storage.schema import schema_version
from storage.tables import reading_weeks, timers
from tests.storage.test_older_states import STORED

AT = datetime(2026, 3, 10, 7, 0, tzinfo=UTC)
PERSONS: list[dict[str, Any]] = [
    {"id": "hollis", "name": "Hollis", "role": "patient", "chat": 5, "state": STORED},
    {"id": "wren", "name": "Wren", "role": "carer", "chat": 6, "state": None},
]


#: The steps between the releases, before the newest.
OLDER = tuple(f"{number:04}" for number in range(1, int(HEAD)))
SEEN_TO = '{"do":"see_to_it","about":"hollis","argument":""}'
HOURS = '{"looks_at":"07:00:00","live":["09:00:00","17:00:00"],"deputy":null}'


def moved(url: str, moment: datetime) -> datetime:
    """As the columns of that release hold a moment."""
    return moment if url.startswith("postgres") else moment.replace(tzinfo=None)


def filled_at(url: str, revision: str) -> None:
    """Rows as a revision had them: an open alarm, a reading, a timer, a message to send."""
    engine = create_engine(url_of(url))
    config = Config()
    config.set_main_option("script_location", str(Path(storage.migrations.__file__).parent))
    with engine.begin() as connection:
        if engine.name == "postgresql":  # the tests' databases begin with today's tables
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
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
        put("invitations", code_sha256="0" * 64, person="wren", role="carer", expires=at)
        put("buttons", token="t", chat=6, action=SEEN_TO, created_at=at)
        put("seen_updates", bot=7, update_id=900, at=at)
        if "duty" in tables.tables["persons"].columns:
            put(
                "persons", id="lind", name="Dr. Lind", role="practitioner", chat=8, language="en",
                zone="Europe/Lisbon", created_at=at, duty=HOURS,
            )  # fmt: skip
            put(
                "links", patient="hollis", contact="lind", role="practitioner", position=2,
                consent="proposed", reachable=True,
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
    filled_at(database_url, "0001")
    return opened()


@pytest.fixture(params=OLDER)
def older(
    request: pytest.FixtureRequest, database_url: str, opened: Callable[[], Database]
) -> Database:
    """Filled at each revision in turn."""
    filled_at(database_url, request.param)
    return opened()


def test_the_open_alarm_goes_on_with_its_readings_contacts_and_timer(older: Database) -> None:
    database = older
    with database.work() as work:
        patient = work.patient(PersonId("hollis"))
    assert patient is not None
    assert patient.state.alarm is not None
    assert patient.state.alarm.stage is AlarmStage.EMERGENCY
    assert [kept.reading.systolic for kept in patient.readings] == [192, 188]
    assert {kept.reading.setting for kept in patient.readings} == {Setting.HOME}
    assert [note.code for note in patient.notes] == ["chest_pain"]
    told = {contact.name: contact.may_be_told for contact in patient.contacts}
    assert told in ({"Wren": True}, {"Wren": True, "Dr. Lind": False})
    with database.reading() as connection:
        assert connection.scalars(select(timers.c.key)).all() == ["emergency.again"]


def test_its_buttons_invitations_and_seen_updates_still_count(older: Database) -> None:
    with older.work() as work:
        assert work.button("t", ChatId(6)) == Action(do=Do.SEE_TO_IT, about=PersonId("hollis"))
        assert work.seen(7, 900)
        assert not work.seen(7, 901)
        patient = work.patient(PersonId("hollis"))
        assert patient is not None
        hours = [c.duty for c in patient.contacts if c.name == "Dr. Lind"]
    assert hours in ([], [Duty(looks_at=time(7), live=(time(9), time(17)))])


def test_the_alarm_is_answered_and_ended_in_it(older: Database) -> None:
    """Not only read: what was stored then goes through today's conversation and back."""
    with older.work() as work:
        patient = work.patient(PersonId("hollis"))
        assert patient is not None
        pressed = Pressed(
            action=Action(do=Do.HELP_CAME, about=patient.id),
            pressed_at=AT,
            message=MessageRef(chat=ChatId(5), message=30),
        )
        situation = Situation(actor=Actor(chat=ChatId(5)), patient=patient)
        work.store(patient, respond(situation, pressed, AT))
    with older.work() as work:
        after = work.patient(PersonId("hollis"))
    assert after is not None
    assert after.state.alarm is None
    with older.reading() as connection:
        assert "emergency.again" not in connection.scalars(select(timers.c.key)).all()


def test_its_readings_are_packed_for_the_practitioners_list(database: Database) -> None:
    with database.reading() as connection:
        (packed,) = connection.scalars(select(reading_weeks.c.packed)).all()
    size = len(packed) // 2
    assert [struct.unpack_from("<q", packed, place)[0] for place in (0, size)] == [
        int((AT - timedelta(minutes=minutes)).timestamp() * 1_000_000) for minutes in (2, 1)
    ]


def test_the_alarm_that_waited_to_be_sent_is_sent(older: Database) -> None:
    outbox = Outbox(older)
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
