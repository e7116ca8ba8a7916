"""What waits and what went wrong, as figures; which processes live; one run on one file."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, text

from domain.events import DeliveryProblem
from domain.outcome import Outcome, Rank, SetTimer
from domain.people import ChatId
from storage import Database, Lane, Outbox, ReadyMessage, open_database, runs
from storage.errors import AlreadyRunningError
from storage.health import health
from storage.runs import OUTAGE_FROM, Run
from storage.sole import SoleRun
from storage.tables import outbox
from tests.storage.conftest import HOLLIS_CHAT, START, Clock, Town

KEYS = {"key": "outage", "keys_of_open": ("occasion.missed",)}


def seconds(span: timedelta | None) -> float | None:
    return None if span is None else span.total_seconds()


def alarm(chat: ChatId = HOLLIS_CHAT) -> ReadyMessage:
    return ReadyMessage(chat=chat, html="alarm", plain="alarm", rank=Rank.ALARM)


def failed(database: Database, machine_now: Clock) -> None:
    """Give up what heads the lane."""
    (claim,) = Outbox(database).claim("worker", Lane.TEXT, 1, machine_now(), timedelta(seconds=9))
    row = Outbox(database).begin(claim, machine_now())
    assert row is not None
    with database.work() as work:
        assert work.fail(claim, row, DeliveryProblem.BLOCKED)


def test_of_an_idle_database_there_is_nothing_to_say(database: Database) -> None:
    with database.reading() as connection:
        found = health(connection, START)

    assert (found.oldest_alarm, found.oldest_timer, found.last_poll) == (None, None, None)
    counts = found.failing_timers, found.failed_alarms, found.unhandled, found.unreachable
    assert counts == (0, 0, 0, 0)


def test_the_alarm_that_waits_longest_is_shown_until_it_is_given_up(
    database: Database, clock: Clock
) -> None:
    with database.work() as work:
        prompt = ReadyMessage(chat=HOLLIS_CHAT, html="a", plain="a", rank=Rank.PROMPT)
        work.queue([prompt])
    clock.forward(seconds=10)
    with database.work() as work:
        work.queue([alarm()])
    clock.forward(seconds=30)
    with database.work() as work:
        work.queue([alarm(), alarm(ChatId(9))])
    clock.forward(seconds=5)
    with database.reading() as connection:
        assert seconds(health(connection, clock()).oldest_alarm) == 35

    failed(database, clock)
    with database.reading() as connection:
        found = health(connection, clock())
    assert seconds(found.oldest_alarm) == 5
    assert found.failed_alarms == 1


def test_undeliverable_alarms_and_unhandled_events_are_counted_for_a_day(
    database: Database, clock: Clock
) -> None:
    with database.work() as work:
        work.queue([alarm()])
        work.keep_unhandled(bot=7, update_id=1, chat=HOLLIS_CHAT, event="{}", problem="X in y:1")
    failed(database, clock)
    for forward, lately in ((timedelta(hours=23), 1), (timedelta(hours=2), 0)):
        clock.at += forward
        with database.reading() as connection:
            found = health(connection, clock())
        assert (found.failed_alarms, found.unhandled_lately, found.unhandled) == (lately, lately, 1)


def test_a_timer_counts_from_when_it_is_due_by_the_clock_of_the_people(
    database: Database, town: Town, clock: Clock
) -> None:
    patient = town.patient(town.hollis())
    with database.work() as work:
        due = SetTimer(key="prompt", due=START + timedelta(hours=1))
        work.store(patient, Outcome(timers=(due,)))
    with database.reading() as connection:
        assert health(connection, clock()).oldest_timer is None

    with database.work() as work:
        work.move_clock(START + timedelta(hours=1, seconds=40))
    with database.reading() as connection:
        assert seconds(health(connection, clock()).oldest_timer) == 40


def test_a_timer_that_is_put_off_after_a_failure_is_counted(
    database: Database, town: Town, clock: Clock
) -> None:
    patient = town.patient(town.hollis())
    with database.work() as work:
        work.store(patient, Outcome(timers=(SetTimer(key="prompt", due=START),)))
        timer = work.longest_due(patient.id)
        assert timer is not None
        work.postpone(timer, START + timedelta(hours=1))

    with database.reading() as connection:
        found = health(connection, clock())
    assert (found.failing_timers, found.oldest_timer) == (1, None)


def test_what_an_alarm_said_is_forgotten_and_its_times_are_not(
    database: Database, clock: Clock
) -> None:
    with database.work() as work:
        work.queue([alarm(), ReadyMessage(chat=HOLLIS_CHAT, html="reply", plain="reply")])
    failed(database, clock)
    clock.forward(days=31)

    for _ in range(2):
        with database.work() as work:
            work.prune()

    columns = outbox.c.html, outbox.c.plain, outbox.c.rank, outbox.c.queued_at, outbox.c.sent_at
    with database.reading() as connection:
        rows = [tuple(row) for row in connection.execute(select(*columns).order_by(outbox.c.id))]
    assert rows == [("", "", 0, START, START), ("reply", "reply", 1, START, None)]


# --- which processes live


def a_run(name: str, polled: float | None) -> Run:
    """A process whose last poll was so many seconds after the start."""
    at = None if polled is None else START + timedelta(seconds=polled)
    return Run(id=name, started_at=START, seen_at=START, polled_at=at)


def test_the_last_poll_of_any_process_counts(database: Database, clock: Clock) -> None:
    with database.work() as work:
        for run in (a_run("one", 5), a_run("two", None), a_run("one", 20), a_run("three", 10)):
            runs.beat(work.connection, run)

    clock.forward(seconds=30)
    with database.reading() as connection:
        assert seconds(health(connection, clock()).last_poll) == 10


@pytest.mark.parametrize(
    ("silence", "told"),
    [(OUTAGE_FROM - timedelta(seconds=1), 0), (OUTAGE_FROM, 1), (timedelta(hours=3), 1)],
)
def test_whoever_has_something_open_is_told_of_an_outage_once(
    database: Database, town: Town, silence: timedelta, told: int
) -> None:
    patient = town.patient(town.hollis())
    ahead = timedelta(hours=2)  # the people's clock
    with database.work() as work:
        work.move_clock(START + ahead)
        missed = SetTimer(key="occasion.missed", due=START + timedelta(days=9))
        work.store(patient, Outcome(timers=(missed,)))
        runs.beat(work.connection, a_run("killed", 0))

    counts = []
    for name in ("next", "one more replica"):
        with database.work() as work:
            run = a_run(name, silence.total_seconds())
            counts.append(runs.tell_of_outage(work.connection, run, ahead, **KEYS))
            runs.beat(work.connection, run)

    assert counts == [told, 0]
    with database.reading() as connection:
        due = connection.execute(text("SELECT person FROM timers WHERE key = 'outage'")).all()
    assert due == [(patient.id,)] * told
    with database.work() as work:
        first = work.longest_due(patient.id)
    assert (first.due if first else None) == (START + ahead if told else None)


@pytest.mark.parametrize(
    ("key", "due", "told"),
    [("prompt", timedelta(hours=1), 1), ("prompt", timedelta(hours=4), 0), ("week", None, 0)],
)
def test_who_was_to_be_prompted_in_the_outage_is_told_and_others_are_not(
    database: Database, town: Town, key: str, due: timedelta | None, told: int
) -> None:
    patient = town.patient(town.hollis())
    with database.work() as work:
        if due is not None:
            work.store(patient, Outcome(timers=(SetTimer(key=key, due=START + due),)))
        runs.beat(work.connection, a_run("killed", 0))
        run = a_run("next", timedelta(hours=3).total_seconds())
        assert runs.tell_of_outage(work.connection, run, timedelta(0), **KEYS) == told


def test_at_the_very_first_start_there_was_no_outage(database: Database, town: Town) -> None:
    town.hollis()
    with database.work() as work:
        run = a_run("first", 0)
        assert runs.tell_of_outage(work.connection, run, timedelta(0), **KEYS) == 0


# --- one run on one file


def test_a_second_run_on_a_file_is_refused_until_the_first_ends(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'cuffbell.db'}"
    (tmp_path / "link.db").symlink_to(tmp_path / "cuffbell.db")
    first = open_database(url)
    second = open_database(f"sqlite:///{tmp_path / 'link.db'}")
    sole = SoleRun(first)

    with pytest.raises(AlreadyRunningError, match=r"stop the other one first"):
        SoleRun(second)
    sole.release()
    SoleRun(second).release()

    first.dispose()
    second.dispose()


_HOLDER = """
import sys, time
from storage.engine import open_database
from storage.sole import SoleRun
sole = SoleRun(open_database(sys.argv[1]))
print("held", flush=True)
time.sleep(600)
"""


def test_a_process_that_is_killed_leaves_no_lock_behind(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'cuffbell.db'}"
    holder = subprocess.Popen([sys.executable, "-c", _HOLDER, url], stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    database = open_database(url)
    with pytest.raises(AlreadyRunningError):
        SoleRun(database)

    holder.kill()
    holder.communicate()
    SoleRun(database).release()

    database.dispose()


@pytest.mark.postgres
def test_on_postgresql_several_share_the_work(postgres_url: str) -> None:
    database = open_database(postgres_url)

    held = [SoleRun(database), SoleRun(database)]

    for sole in held:
        sole.release()
    database.dispose()
