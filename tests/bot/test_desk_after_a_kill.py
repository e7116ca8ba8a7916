"""A kill at any moment, with the real desk and conversation: nothing lost, nothing doubled."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from datetime import timedelta

import pytest
from sqlalchemy import text

from domain.people import ChatId, Role
from storage import Invite, Lane, Outbox, ReadyMessage, open_database

# Stands for the update loop: it confirms an update only after the desk has returned.
_BOT = """
import sys
from bot.desk import Desk
from bot.incoming import Incoming
from domain.conversation import respond
from domain.events import Said
from domain.people import ChatId, MessageRef
from storage import open_database

database = open_database(sys.argv[1])
desk = Desk(database, respond, look_up=lambda text, language: ())
for update in range(int(sys.argv[3]), 10_000):
    said = Said(
        text="/start " + sys.argv[2] if update == 0 else f"{120 + update % 40}/80",
        message=MessageRef(chat=ChatId(1001), message=update),
        written_at=database.machine_clock(),
    )
    desk.handle(Incoming(bot_id=7, update_id=update, chat=ChatId(1001), event=said))
    print(update, flush=True)
"""


@pytest.mark.slow
def test_every_confirmed_reading_is_kept_once_and_answered(database_url: str) -> None:
    database = open_database(database_url)
    with database.work() as work:
        code = work.invite(Invite(role=Role.PATIENT, name="Hollis", zone="Europe/Lisbon"))
    moments, confirmed = random.Random(20260310), -1
    for _ in range(4):
        # The platform gives again what was not confirmed, here also what just was.
        bot = subprocess.Popen(
            [sys.executable, "-c", _BOT, database_url, code, str(max(0, confirmed))],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert bot.stdout is not None
        for _ in range(moments.randrange(3, 25)):
            confirmed = int(bot.stdout.readline())
        os.kill(bot.pid, signal.SIGKILL)
        rest, _ = bot.communicate()
        confirmed = max([confirmed, *(int(line) for line in rest.split("\n")[:-1] if line)])

    with database.reading() as connection:
        kept = list(connection.scalars(text("SELECT message FROM readings ORDER BY message")))
        seen = list(connection.scalars(text("SELECT update_id FROM seen_updates")))
        unhandled = connection.scalar(text("SELECT count(*) FROM unhandled"))
        answers = connection.scalar(text("SELECT count(*) FROM outbox"))
    waiting = Outbox(database).waiting()
    database.dispose()

    # Update 0 joins; at most the one that was being handled is beyond the last confirmed.
    assert kept == list(range(1, len(kept) + 1))
    assert confirmed <= len(kept) <= confirmed + 1
    assert sorted(seen) == list(range(len(kept) + 1))
    assert unhandled == 0
    assert waiting == answers >= len(kept)


def test_what_was_committed_is_claimed_after_a_restart(database_url: str) -> None:
    first = open_database(database_url)
    with first.work() as work:
        work.queue([ReadyMessage(chat=ChatId(1001), html="alarm")])
    first.dispose()

    second = open_database(database_url)
    claims = Outbox(second).claim(
        "worker", Lane.TEXT, 5, second.machine_clock(), timedelta(seconds=9)
    )
    second.dispose()

    assert [claim.chat for claim in claims] == [1001]
