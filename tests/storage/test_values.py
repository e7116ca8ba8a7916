"""What goes into the database comes out of it, exactly."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Column, MetaData, Table, select
from sqlalchemy.exc import StatementError

from domain.events import Action
from domain.outcome import ReportFile, WeekPicture
from domain.people import PersonId, State
from storage import Database, ShownButton, ShownKeyboard, codec
from storage.moments import UtcMoment

# Fixed offsets: Python calls no two moments equal where a zone has an hour twice.
_ZONES: Any = st.sampled_from([UTC, timezone(timedelta(hours=5, minutes=30))])
_YEARS = {"min_value": datetime(1970, 1, 2), "max_value": datetime(2100, 1, 1)}  # noqa: DTZ001
_MOMENTS = st.datetimes(**_YEARS, timezones=_ZONES)

# The domain knows aware moments, local clock times and finite numbers only.
for _type, _strategy in {
    datetime: _MOMENTS,
    time: st.times(),
    date: st.dates(),
    float: st.floats(0, 100),
}.items():
    st.register_type_strategy(_type, _strategy)


@given(st.from_type(State))
@settings(max_examples=200, deadline=None)
def test_a_patients_state_comes_back_as_it_was(state: State) -> None:
    assert codec.state(codec.state_text(state)) == state


@given(st.from_type(Action))
def test_a_buttons_meaning_comes_back_as_it_was(action: Action) -> None:
    assert codec.action(codec.action_text(action)) == action


@pytest.mark.parametrize(
    "attachment",
    [
        WeekPicture(patient=PersonId("hollis"), first_day=date(2026, 3, 9)),
        ReportFile(patient=PersonId("hollis"), last_day=date(2026, 3, 15)),
        None,
    ],
)
def test_an_attachment_comes_back_as_its_own_kind(
    attachment: WeekPicture | ReportFile | None,
) -> None:
    assert codec.attachment(codec.attachment_text(attachment)) == attachment


def test_buttons_and_keyboards_come_back_as_they_were() -> None:
    rows = ((ShownButton("Yes", "a"), ShownButton("No", "b")), (ShownButton("Später", "c"),))
    keyboard = ShownKeyboard(keys=("07:30", "08:00"), locate="I am here", remove=False)

    assert codec.buttons(codec.buttons_text(rows)) == rows
    assert codec.buttons(codec.buttons_text(())) == ()
    assert codec.keyboard(codec.keyboard_text(keyboard)) == keyboard
    assert codec.keyboard(codec.keyboard_text(None)) is None


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 3, 10, 7, 42, 0, 1, tzinfo=UTC),
        datetime(2026, 3, 10, 7, 42, tzinfo=ZoneInfo("Asia/Kolkata")),
        datetime(2026, 10, 25, 1, 30, fold=1, tzinfo=ZoneInfo("Europe/Lisbon")),
        datetime(2026, 3, 10, 7, 42, tzinfo=timezone(timedelta(hours=-3, minutes=-30))),
    ],
)
def test_a_moment_comes_back_aware_in_utc(database: Database, moment: datetime) -> None:
    table = Table("moments", MetaData(), Column("at", UtcMoment))

    with database.writing() as connection:
        table.create(connection)
        connection.execute(table.insert().values(at=moment))
        found: Any = connection.scalar(select(table.c.at).where(table.c.at == moment))

    # In UTC: two aware moments of an hour that exists twice are never equal in Python.
    assert found == moment.astimezone(UTC)
    assert found.utcoffset() == timedelta(0)


def test_a_moment_without_a_zone_is_never_stored(database: Database) -> None:
    table = Table("moments", MetaData(), Column("at", UtcMoment))

    with database.writing() as connection:
        table.create(connection)
        with pytest.raises(StatementError, match="without a time zone"):
            connection.execute(table.insert().values(at=datetime(2026, 3, 10)))  # noqa: DTZ001
