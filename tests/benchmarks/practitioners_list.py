"""The practitioner's list for many patients with 90 days of readings each.

    python tests/benchmarks/practitioners_list.py [patients] [readings an occasion] [database URL]

Each patient has a morning and an evening of readings on 90 days: with the usual 10,000 and 2,
3.6 million readings, on SQLite. Prints how long the list takes from the open database to the
sorted entries, and for comparison how long it takes only to fetch the same readings as rows.
Target of the design: at most 2 s. All people are invented.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from time import perf_counter, process_time

from sqlalchemy import insert, select

from domain.averaging_rules import RULES
from domain.evidence.patients import WINDOW, practitioner_list
from domain.people import PersonId, Profile, State
from domain.plans import Plan, PlanKind
from storage import Database, open_database
from storage.codec import state_text
from storage.patients import followed, reading_columns
from storage.reading_weeks import PACKED, week_of
from storage.tables import persons, reading_weeks, readings

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
DAYS = 90
ROUNDS = 5
#: People whose rows are put into the database at once.
PORTION = 100
ZONES = ("Europe/Lisbon", "America/Halifax", "Asia/Kolkata", "Pacific/Auckland")


def main(patients: int, an_occasion: int, url: str) -> None:
    database = open_database(url, machine_clock=lambda: NOW)
    begun = perf_counter()
    count = _fill(database, patients, an_occasion)
    print(f"{patients:,} patients, {count:,} readings put in, {perf_counter() - begun:.0f} s")
    _steps(database)
    for _ in range(ROUNDS):
        begun, cpu = perf_counter(), process_time()
        with database.looking() as work:
            entries = work.practitioner_list(None, RULES["esh"])
        print(
            f"the list: {perf_counter() - begun:.2f} s, {process_time() - cpu:.2f} s of processor"
        )
    for reason, number in Counter(entry.reason for entry in entries).most_common():
        print(f"  {reason:15} {number:,}")
    begun = perf_counter()
    with database.reading() as connection:
        wanted = select(readings.c.person, readings.c.at, readings.c.systolic, readings.c.diastolic)
        rows = connection.execute(wanted.execution_options(yield_per=10_000))
        fetched = sum(len(portion) for portion in rows.partitions())
    print(f"for comparison, {fetched:,} rows fetched: {perf_counter() - begun:.2f} s")
    database.dispose()


def _steps(database: Database) -> None:
    """The first time, in its parts: imports are done, nothing is in any cache of ours."""
    moments = [perf_counter()]
    with database.reading() as connection:
        patients = followed(connection)
        moments.append(perf_counter())
        columns = reading_columns(connection, patients, NOW - WINDOW, NOW)
        moments.append(perf_counter())
    practitioner_list(patients, columns, now=NOW, rule=RULES["esh"])
    moments.append(perf_counter())
    people, fetch, made = (later - earlier for earlier, later in pairwise(moments))
    print(f"cold: patients {people:.2f} s, readings {fetch:.2f} s, list {made:.2f} s")


def _fill(database: Database, patients: int, an_occasion: int) -> int:
    chance = random.Random(10_000)
    number = 0
    for first in range(0, patients, PORTION):
        people, rows, weeks = [], [], []
        for place in range(first, min(first + PORTION, patients)):
            person = PersonId(f"person-{place:015}")
            people.append(_person(chance, person, place))
            own = list(_readings(chance, person, place, an_occasion, number))
            number += len(own)
            rows += own
            weeks += _weeks(person, own)
        with database.writing() as connection:
            connection.execute(insert(persons), people)
            connection.execute(insert(readings), rows)
            connection.execute(insert(reading_weeks), weeks)
    return number


def _person(chance: random.Random, person: PersonId, place: int) -> dict[str, object]:
    kind = chance.choice(list(PlanKind))
    began = date(2026, 5, 31) - timedelta(days=chance.randrange(25))
    zone = ZONES[place % len(ZONES)]
    state = State(
        profile=Profile(zone=zone),
        plan=Plan(kind=kind, first_day=began),
        joined_at=NOW - timedelta(days=100),
    )
    return {
        "id": person,
        "name": f"Person {place}",
        "role": "patient",
        "language": "en",
        "zone": zone,
        "state": state_text(state),
        "alarm_open": chance.random() < 0.01,
        "joined": True,
        "created_at": NOW - timedelta(days=120),
    }


def _readings(
    chance: random.Random, person: PersonId, place: int, an_occasion: int, number: int
) -> Iterator[dict[str, object]]:
    level = chance.gauss(131, 11)
    pause = timedelta(seconds=chance.choice((20, 65, 70, 90)))
    until = DAYS - (chance.randrange(30) if chance.random() < 0.1 else 0)
    for day in range(until):
        for hour in (7, 19):
            at = NOW - timedelta(days=DAYS - day) + timedelta(hours=hour - 12, minutes=place % 50)
            for _ in range(an_occasion):
                number += 1
                systolic = round(chance.gauss(level, 8))
                id = f"reading-{number:014}"
                yield {
                    "number": number,
                    "id": id,
                    "chain": id,
                    "person": person,
                    "state": "kept",
                    "systolic": systolic,
                    "diastolic": systolic - 48,
                    "at": at,
                    "zone": "UTC",
                    "came_as": "typed",
                    "chat": place,
                    "message": number,
                    "text": f"{systolic}/{systolic - 48}",
                    "written_at": at,
                }
                at += pause


def _weeks(person: PersonId, rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """As `storage.reading_weeks.pack_again` would have made them, one by one."""
    packed: dict[int, bytes] = {}
    for row in rows:
        at, systolic, diastolic = row["at"], row["systolic"], row["diastolic"]
        assert isinstance(at, datetime)
        assert isinstance(systolic, int)
        assert isinstance(diastolic, int)
        moment = (at - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
        value = PACKED.pack(moment, systolic, diastolic, 0)
        packed[week_of(at)] = packed.get(week_of(at), b"") + value
    return [{"week": week, "person": person, "packed": value} for week, value in packed.items()]


if __name__ == "__main__":
    how_many = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    together = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with tempfile.TemporaryDirectory() as folder:
        main(
            how_many,
            together,
            sys.argv[3] if len(sys.argv) > 3 else f"sqlite:///{folder}/benchmark.db",
        )
