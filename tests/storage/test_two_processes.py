"""Several processes on one database: writers wait for each other, nothing is lost or doubled."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from domain.outcome import Rank
from domain.people import ChatId, Role
from storage import Database, Invite, Lane, Outbox, ReadyMessage, open_database
from storage.health import health

_WRITER = """
import sys
from domain.people import Role
from storage import Invite, open_database

database = open_database(sys.argv[1])
for number in range(int(sys.argv[2])):
    with database.work() as work:
        work.bot_name()  # reads first, writes later: the order that fails when deferred
        work.invite(Invite(role=Role.PATIENT, name=f"Person {number}"))
"""

_HANDLER = """
import sys
from domain.outcome import Noted, Outcome
from domain.people import ChatId, Note, NoteKind, PersonId
from storage import ReadyMessage, open_database

database = open_database(sys.argv[1])
person, first = PersonId(sys.argv[2]), int(sys.argv[3])
for update in range(first, first + 100_000):
    with database.work() as work:
        if work.seen(1, update):
            continue
        patient = work.patient(person)
        note = Note(kind=NoteKind.SYMPTOM, at=work.now(), code=str(update))
        message = ReadyMessage(chat=ChatId(update % 5), html=str(update))
        work.store(patient, Outcome(facts=(Noted(note=note),)), [message])
    print(update, flush=True)
"""


def _start(script: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments], text=True, stdout=subprocess.PIPE
    )


def test_a_command_and_a_running_bot_write_side_by_side(database_url: str) -> None:
    database = open_database(database_url)
    command = _start(_WRITER, database_url, "60")

    written = 0
    while command.poll() is None:
        with database.work() as work:
            work.bot_name()
            work.invite(Invite(role=Role.CARER, name=f"Carer {written}"))
        written += 1

    with database.reading() as connection:
        found = connection.scalar(text("SELECT count(*) FROM persons"))
    database.dispose()
    command.communicate()
    assert command.returncode == 0
    assert written > 0
    assert found == 60 + written


@pytest.mark.slow
def test_a_kill_at_any_moment_loses_nothing_and_doubles_nothing(database_url: str) -> None:
    database = open_database(database_url)
    with database.work() as work:
        code = work.invite(Invite(role=Role.PATIENT, name="Hollis"))
        invitation = work.invitation(code)
        assert invitation is not None
    confirmed = -1
    moments = random.Random(20260310)
    for _ in range(5):
        # The platform gives again what was not confirmed, and a little of what was.
        again = max(0, confirmed - 3)
        handler = _start(_HANDLER, database_url, invitation.person, str(again))
        assert handler.stdout is not None
        for wanted in range(moments.randrange(5, 40)):
            line = handler.stdout.readline()
            confirmed = max(confirmed, int(line))
            assert wanted < 40
        os.kill(handler.pid, signal.SIGKILL)
        rest, _ = handler.communicate()
        confirmed = max([confirmed, *(int(line) for line in rest.split("\n")[:-1] if line)])

    with database.reading() as connection:
        noted = [int(c) for c in connection.scalars(text("SELECT code FROM notes"))]
        queued = [int(h) for h in connection.scalars(text("SELECT html FROM outbox"))]
        seen = list(connection.scalars(text("SELECT update_id FROM seen_updates")))
    database.dispose()
    assert set(range(confirmed + 1)) <= set(noted)
    assert sorted(noted) == sorted(set(noted)) == sorted(queued) == sorted(seen)


@pytest.mark.slow
def test_many_workers_send_everything_once_and_in_order(database_url: str, tmp_path: Path) -> None:
    chats, each = 12, 8
    setup = open_database(database_url)
    sent: list[tuple[int, int]] = []
    guard = threading.Lock()
    started = setup.machine_clock()

    def write(offset: int) -> None:
        database = open_database(database_url)
        for number in range(offset, each, 2):
            order = random.Random(number).sample(range(chats), chats)
            with database.work() as work:
                work.queue([ReadyMessage(chat=ChatId(c), html=str(number)) for c in order])
        database.dispose()

    def send(worker: str) -> None:
        database = open_database(database_url)
        outbox = Outbox(database)
        now = started
        while outbox.waiting() or writing():
            # The chat's pause is machine time; this test lets hours pass in a moment.
            now += timedelta(seconds=2)
            for claim in outbox.claim(worker, Lane.TEXT, 3, now, timedelta(days=99)):
                row = outbox.begin(claim, now)
                if row is None:
                    continue
                with guard:
                    sent.append((int(claim.chat), row.id))
                outbox.sent(claim, row, 1, now)
        database.dispose()

    writers = [threading.Thread(target=write, args=(offset,)) for offset in range(2)]

    def writing() -> bool:
        return any(writer.is_alive() for writer in writers)

    senders = [threading.Thread(target=send, args=(f"worker {n}",)) for n in range(3)]
    for thread in [*writers, *senders]:
        thread.start()
    for thread in [*writers, *senders]:
        thread.join()
    setup.dispose()

    assert len(sent) == len(set(sent)) == chats * each
    for chat in range(chats):
        rows = [row for where, row in sent if where == chat]
        assert rows == sorted(rows)


def test_a_reader_does_not_wait_for_a_writer(opened: Callable[[], Database]) -> None:
    writer, reader = opened(), opened()

    with writer.work() as work:
        work.set_bot(7, "cuffbell_demo_bot")
        begun = time.monotonic()
        assert Outbox(reader).waiting() == 0
        waited = time.monotonic() - begun

    assert waited < 2.0


def oldest_alarm(database: Database) -> timedelta | None:
    with database.reading() as connection:
        return health(connection, database.machine_clock()).oldest_alarm


def test_an_alarm_queued_by_another_process_is_seen_at_once(
    opened: Callable[[], Database],
) -> None:
    first, second = opened(), opened()
    assert oldest_alarm(second) is None

    with first.work() as work:
        work.queue([ReadyMessage(chat=ChatId(1), html="alarm", rank=Rank.ALARM)])

    assert oldest_alarm(second) is not None


def test_who_only_looks_does_not_wait_for_a_writer(opened: Callable[[], Database]) -> None:
    writer, other = opened(), opened()

    with writer.work() as work:
        work.set_bot(7, "cuffbell_demo_bot")
        begun = time.monotonic()
        with other.looking() as looking:
            assert looking.next_due() is None
            assert looking.bot_name() is None
        waited = time.monotonic() - begun

    assert waited < 2.0
