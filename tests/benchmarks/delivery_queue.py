"""The outbox on PostgreSQL, claimed by four processes at once.

    python tests/benchmarks/delivery_queue.py postgresql://…/an_empty_database

20,000 messages to as many chats are queued and claimed in batches; none twice, none lost.
Target of the design: 12,000 claims a second on two cores.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from datetime import timedelta

from sqlalchemy import text

from domain.outcome import Rank
from domain.people import ChatId
from storage import Lane, Outbox, ReadyMessage, open_database

CHATS = 20_000
PROCESSES = 4
BATCH = 200


def main(url: str) -> None:
    database = open_database(url)
    begun = time.perf_counter()
    for start in range(0, CHATS, 1000):
        with database.work() as work:
            work.queue(
                [
                    ReadyMessage(chat=ChatId(chat), html="text", plain="text", rank=Rank(chat % 3))
                    for chat in range(start, start + 1000)
                ]
            )
    queued = time.perf_counter() - begun
    with multiprocessing.get_context("spawn").Pool(PROCESSES) as pool:
        pool.map(_warm, [url] * PROCESSES)
        begun = time.perf_counter()
        claimed = pool.map(_claim_all, [url] * PROCESSES)
        seconds = time.perf_counter() - begun
    with database.reading() as connection:
        leased = connection.scalar(text("SELECT count(*) FROM lanes WHERE lease = 1"))
    database.dispose()
    total = sum(claimed)
    print(f"queued {CHATS} in {queued:.2f} s: {CHATS / queued:.0f}/s")
    print(f"claimed {total} by {PROCESSES} processes {claimed}: {total / seconds:.0f}/s")
    print(f"each once: {total == CHATS == leased}")


def _warm(url: str) -> None:
    open_database(url).dispose()


def _claim_all(url: str) -> int:
    database = open_database(url)
    outbox, count = Outbox(database), 0
    while claims := outbox.claim(
        "worker", Lane.TEXT, BATCH, database.machine_clock(), timedelta(minutes=9)
    ):
        count += len(claims)
    database.dispose()
    return count


if __name__ == "__main__":
    main(sys.argv[1])
