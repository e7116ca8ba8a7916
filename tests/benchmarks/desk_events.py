"""Events a second through the real desk, one after another, on a SQLite file.

    python tests/benchmarks/desk_events.py [number of events] [database URL]

Every event is a reading that a joined patient types: real understanding, real conversation,
real wording, one committed transaction with `synchronous=FULL`. All people are invented.
Target of the design: at least 500 a second on two cores.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from datetime import time as clock_time

from bot.desk import Desk
from bot.incoming import Incoming
from domain.conversation import respond
from domain.events import Said
from domain.outcome import Outcome, PersonJoined
from domain.people import ChatId, MessageRef, Role
from storage import Database, Invite, open_database

PATIENTS = 50


def main(events: int, url: str) -> None:
    database = open_database(url)
    with database.work() as work:
        work.set_bot(1, "cuffbell_demo_bot")
    desk = Desk(database, respond, look_up=lambda text, language: ())
    for number in range(PATIENTS):
        _join(database, ChatId(number + 1))
    updates = [_incoming(database, number) for number in range(events)]
    desk.handle(
        _incoming(database, events)
    )  # loads the lexicon, the wording and the first statements
    taken: list[float] = []
    begun, cpu = time.perf_counter(), time.process_time()
    for update in updates:
        start = time.perf_counter()
        desk.handle(update)
        taken.append(time.perf_counter() - start)
    seconds, cpu = time.perf_counter() - begun, time.process_time() - cpu
    taken.sort()
    with database.reading() as connection:
        kept = connection.exec_driver_sql("SELECT count(*) FROM readings").scalar_one()
        lost = connection.exec_driver_sql("SELECT count(*) FROM unhandled").scalar_one()
    print(
        f"{events} events in {seconds:.2f} s: {events / seconds:.0f}/s, "
        f"{1000 * cpu / events:.2f} ms of processor each, "
        f"median {1000 * taken[len(taken) // 2]:.2f} ms, "
        f"p95 {1000 * taken[int(len(taken) * 0.95)]:.2f} ms; {kept} readings, {lost} not handled"
    )
    database.dispose()


def _join(database: Database, chat: ChatId) -> None:
    with database.work() as work:
        wanted = Invite(
            role=Role.PATIENT,
            name=f"Person {chat}",
            zone="Europe/Lisbon",
            medicine_times=(clock_time(8),),
        )
        invitation = work.invitation(work.invite(wanted))
        assert invitation is not None
        patient = work.patient(invitation.person)
        assert patient is not None
        joined = replace(patient, state=replace(patient.state, joined_at=work.now()))
        fact = PersonJoined(person=patient.id, chat=chat, language="en")
        work.store(patient, Outcome(patient=joined, facts=(fact,)))


def _incoming(database: Database, number: int) -> Incoming:
    chat = ChatId(number % PATIENTS + 1)
    text = f"{125 + number % 20}/{78 + number % 9} pulse {60 + number % 25}"
    message = MessageRef(chat=chat, message=number)
    said = Said(text=text, message=message, written_at=database.machine_clock())
    return Incoming(bot_id=1, update_id=number, chat=chat, event=said)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    with tempfile.TemporaryDirectory() as folder:
        main(count, sys.argv[2] if len(sys.argv) > 2 else f"sqlite:///{folder}/benchmark.db")
