"""Moving person time: every due moment in turn, as if it had been lived."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.desk import Desk
from bot.person_time import PersonTime
from bot.threads import Threads, database_threads
from domain.events import Event, Situation, TimerFell
from domain.outcome import Outcome, SetTimer
from domain.people import Role
from storage import Database, Invite, open_database

START = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)


@dataclass
class Life:
    """Hollis, invented, with a timer that sets the next one."""

    database: Database
    threads: Threads
    desk: Desk
    time: PersonTime
    happened: list[tuple[str, datetime]]


@pytest.fixture
async def life(tmp_path: Path) -> AsyncIterator[Life]:
    database = open_database(f"sqlite:///{tmp_path / 'cuffbell.db'}", machine_clock=lambda: START)
    happened: list[tuple[str, datetime]] = []

    def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
        assert isinstance(event, TimerFell)
        happened.append((event.key, now))
        next_hour = SetTimer(key="hourly", due=event.due + timedelta(hours=1))
        return Outcome(timers=(next_hour,) if event.key == "hourly" else ())

    async def deliver() -> None:
        happened.append(("delivered", START))

    with database.work() as work:
        code = work.invite(Invite(role=Role.PATIENT, name="Hollis", zone="Asia/Kolkata"))
        invitation = work.invitation(code)
        assert invitation is not None
        patient = work.patient(invitation.person)
        work.store(
            patient,
            Outcome(timers=(SetTimer(key="hourly", due=START + timedelta(minutes=30)),)),
        )
    threads = database_threads(is_postgres=False)
    desk = Desk(database, respond, look_up=lambda text, language: ())
    yield Life(database, threads, desk, PersonTime(database, desk, threads, deliver), happened)
    threads.close()
    database.dispose()


def _fell(life: Life) -> list[datetime]:
    return [now for key, now in life.happened if key == "hourly"]


async def test_an_hour_that_is_skipped_holds_what_falls_due_in_it(life: Life) -> None:
    await life.time.move("hour")

    assert _fell(life) == [START + timedelta(minutes=30)]
    assert life.time.now() == START + timedelta(hours=1)


async def test_each_due_moment_is_lived_at_its_own_time_and_delivered(life: Life) -> None:
    await life.time.move_to(START + timedelta(hours=4))

    assert _fell(life) == [START + timedelta(minutes=30 + 60 * n) for n in range(4)]
    keys = [key for key, _ in life.happened]
    assert keys == ["hourly", "delivered"] * 4 + ["delivered"]


async def test_the_next_thing_due_is_where_next_goes(life: Life) -> None:
    await life.time.move("next")

    assert life.time.now() == START + timedelta(minutes=30)
    assert await life.time.next_due() == START + timedelta(minutes=90)


async def test_morning_is_tomorrows_in_the_patients_zone(life: Life) -> None:
    await life.time.move("morning")

    # 06:00 in Kolkata, half past midnight in UTC.
    assert life.time.now() == datetime(2026, 3, 11, 0, 30, tzinfo=UTC)


async def test_the_moved_clock_stays_after_a_restart(life: Life) -> None:
    await life.time.move("hour")

    async def deliver() -> None:
        return

    again = PersonTime(life.database, life.desk, life.threads, deliver)
    assert again.now() == START + timedelta(hours=1)


async def test_time_never_goes_back(life: Life) -> None:
    await life.time.move("hour")

    await life.time.move_to(START)

    assert life.time.now() == START + timedelta(hours=1)


async def test_another_step_is_refused(life: Life) -> None:
    with pytest.raises(ValueError, match="minute, hour, next or morning"):
        await life.time.move("year")
