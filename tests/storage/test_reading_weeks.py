"""The packed weeks hold exactly the readings that count, whatever happens to them."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text

from domain.averaging_rules import RULES
from domain.evidence.columns import ReadingColumns, moment_of
from domain.outcome import ContactChanged, Outcome, ReadingDeleted
from domain.people import Alarm, AlarmStage, Consent, PersonId, ReadingId, Role
from domain.practice_list import Reason
from domain.practice_marks import Finding, Seen
from domain.readings import Setting
from storage import Database
from storage.migrations import HEAD
from storage.patients import followed, reading_columns
from storage.people import link
from storage.records import kept
from storage.schema import schema_version
from storage.tables import reading_weeks
from tests.storage.conftest import HOUSE, START, Clock, Town, taken

LONG = timedelta(days=400)

#: Takes away what the steps after the first have added.
BACK_TO_THE_FIRST_SCHEMA = (
    "DROP INDEX ix_timers_owner",
    "DROP INDEX ix_notes_kind_at",
    "ALTER TABLE persons DROP COLUMN duty",
    "ALTER TABLE readings DROP COLUMN setting",
    "DROP TABLE runs",
    "ALTER TABLE persons DROP COLUMN unreachable",
    "ALTER TABLE outbox DROP COLUMN first_tried_at",
    "DROP TABLE reading_weeks",
    "UPDATE alembic_version SET version_num = '0001'",
)


def columns(database: Database) -> ReadingColumns:
    with database.reading() as connection:
        return reading_columns(connection, followed(connection), START - LONG, START + LONG)


def rows(found: ReadingColumns) -> list[tuple[int, ...]]:
    every = found.patient, found.at, found.systolic, found.diastolic, found.pulse
    return [tuple(int(value) for value in row) for row in zip(*every, strict=True)]


def counting(database: Database, *people: PersonId) -> list[tuple[int, ...]]:
    """The same from the table of versions, person by person."""
    with database.reading() as connection:
        return [
            (place, moment_of(one.at), one.systolic, one.diastolic, one.pulse or 0)
            for place, person in enumerate(people)
            for one in (version.reading for version in kept(connection, person))
        ]


def ids(database: Database, person: PersonId) -> list[ReadingId]:
    with database.reading() as connection:
        return [version.id for version in kept(connection, person)]


def test_a_reading_is_in_its_week_at_once(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91), taken(138, 88, START + timedelta(minutes=1, microseconds=7)))

    assert rows(columns(town.database)) == [
        (0, moment_of(START), 142, 91, 0),
        (0, moment_of(START) + 60_000_007, 138, 88, 0),
    ]


def test_a_reading_taken_at_the_clinic_is_in_no_week(town: Town) -> None:
    hollis = town.hollis()
    at_clinic = replace(taken(171, 99).reading, setting=Setting.CLINIC)
    town.store(hollis, taken(142, 91), replace(taken(171, 99, message=2), reading=at_clinic))

    assert [row[2] for row in rows(columns(town.database))] == [142]


@pytest.mark.parametrize("before", Setting)
@pytest.mark.parametrize("after", Setting)
def test_a_reading_marked_otherwise_enters_or_leaves_its_week(
    town: Town, before: Setting, after: Setting
) -> None:
    hollis = town.hollis()
    fact = taken(142, 91)
    town.store(hollis, replace(fact, reading=replace(fact.reading, setting=before)))
    (first,) = ids(town.database, hollis)

    marked = replace(fact.reading, setting=after)
    town.store(hollis, replace(fact, reading=marked, replaces=first))

    found = [row[2] for row in rows(columns(town.database))]
    assert found == ([142] if after is Setting.HOME else [])


def test_a_corrected_reading_counts_in_the_week_of_its_new_moment(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91))
    (first,) = ids(town.database, hollis)

    town.store(hollis, taken(124, 81, START - timedelta(days=30), replaces=first))

    assert [row[2] for row in rows(columns(town.database))] == [124]
    with town.database.reading() as connection:
        assert len(connection.execute(reading_weeks.select()).all()) == 1


def test_a_reading_that_was_taken_back_counts_no_longer(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91), taken(150, 95, START + timedelta(minutes=1)))
    first, _ = ids(town.database, hollis)

    town.store(hollis, ReadingDeleted(id=first))

    assert [row[2] for row in rows(columns(town.database))] == [150]


def test_nobody_changes_anybody_elses_weeks(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91))
    (first,) = ids(town.database, hollis)
    tamsin = town.join(town.invite(Role.PATIENT, "Tamsin"), HOUSE)

    town.store(tamsin, ReadingDeleted(id=first), taken(120, 80, replaces=first))

    assert sorted(row[2] for row in rows(columns(town.database))) == [120, 142]


@pytest.mark.parametrize("seed", range(3))
def test_whatever_is_kept_corrected_and_taken_back_both_say_the_same(
    town: Town, clock: Clock, seed: int
) -> None:
    chance = random.Random(seed)
    hollis = town.hollis()
    clock.forward(minutes=1)
    people = hollis, town.join(town.invite(Role.PATIENT, "Tamsin"), HOUSE)
    for step in range(40):
        person = chance.choice(people)
        there = ids(town.database, person)
        at = START + timedelta(minutes=chance.randrange(-40_000, 40_000))
        match chance.choice(("keep", "keep", "correct", "delete")):
            case "correct" if there:
                change = taken(100 + step, 70, at, replaces=chance.choice(there))
                town.store(person, change)
            case "delete" if there:
                town.store(person, ReadingDeleted(id=chance.choice(there)))
            case _:
                town.store(person, taken(100 + step, 70, at))

    assert rows(columns(town.database)) == counting(town.database, *people)
    with town.database.reading() as connection:
        packed = connection.scalars(text("SELECT packed FROM reading_weeks")).all()
    assert all(packed)


def test_an_older_database_gets_the_weeks_of_all_that_it_holds(
    town: Town, opened: Callable[[], Database]
) -> None:
    people = town.hollis(), town.join(town.invite(Role.PATIENT, "Tamsin"), HOUSE)
    for day in range(20):
        for person in people:
            town.store(person, taken(120 + day, 80, START - timedelta(days=day)))
    (first, *_) = ids(town.database, people[0])
    town.store(people[0], ReadingDeleted(id=first))
    before = rows(columns(town.database))
    with town.database.writing() as connection:
        for statement in BACK_TO_THE_FIRST_SCHEMA:
            connection.execute(text(statement))

    later = opened()

    assert rows(columns(later)) == before
    assert len(before) == 39
    with later.reading() as connection:
        assert schema_version(connection) == HEAD


# --- who is in the list


def doctor_of(town: Town, *people: PersonId) -> PersonId:
    """A practitioner to whom these have agreed."""
    code = town.invite(Role.PRACTITIONER, "Dr. Okafor-Lindqvist", practitioner_of=people[0])
    doctor = town.join(code, HOUSE)
    for person in people[1:]:
        with town.database.work() as work:
            link(work.connection, person, doctor, Role.PRACTITIONER)
    for person in people:
        consent(town, person, Consent.AGREED)
    return doctor


def consent(town: Town, person: PersonId, said: Consent, *, everything: bool = True) -> None:
    (contact,) = town.patient(person).contacts
    told_week = everything and said is Consent.AGREED
    town.store(person, ContactChanged(contact=replace(contact, consent=said, told_week=told_week)))


def listed(town: Town, doctor: PersonId | None) -> list[tuple[str, Reason]]:
    with town.database.looking() as work:
        practitioners = None if doctor is None else [doctor]
        entries = work.practitioner_list(practitioners, RULES["esh"])
    return [(entry.name, entry.reason) for entry in entries]


@pytest.mark.parametrize("said", [Consent.PROPOSED, Consent.REFUSED, Consent.WITHDRAWN])
def test_only_who_agreed_is_in_a_practitioners_list(
    town: Town, clock: Clock, said: Consent
) -> None:
    hollis = town.hollis()
    clock.forward(minutes=1)
    tamsin = town.person(town.invite(Role.PATIENT, "Tamsin"))
    doctor = doctor_of(town, hollis, tamsin)
    assert [name for name, _ in listed(town, doctor)] == ["Tamsin", "Hollis"]

    consent(town, tamsin, said)

    assert [name for name, _ in listed(town, doctor)] == ["Hollis"]
    assert [name for name, _ in listed(town, None)] == ["Tamsin", "Hollis"]
    assert listed(town, hollis) == []


def test_of_who_agreed_to_alarms_only_a_practitioner_reads_of_alarms_alone(town: Town) -> None:
    hollis = town.hollis()
    doctor = doctor_of(town, hollis)
    town.store(hollis, taken(190, 80))
    assert listed(town, doctor) == [("Hollis", Reason.SEVERE_LATELY)]

    consent(town, hollis, Consent.AGREED, everything=False)

    assert listed(town, doctor) == []
    assert listed(town, None) == [("Hollis", Reason.SEVERE_LATELY)]  # the host's own list
    before = town.patient(hollis)
    with town.database.work() as work:
        alarm = Alarm(stage=AlarmStage.ASKED, opened=START)
        after = replace(before, state=replace(before.state, alarm=alarm))
        work.store(before, Outcome(patient=after))
    assert listed(town, doctor) == [("Hollis", Reason.ALARM_OPEN)]


def test_a_carer_has_no_list(town: Town) -> None:
    hollis = town.hollis()
    wren = town.join(town.invite(Role.CARER, "Wren", carer_of=hollis), HOUSE)
    consent(town, hollis, Consent.AGREED)

    assert listed(town, wren) == []


def test_an_open_alarm_stands_in_the_list(town: Town) -> None:
    hollis = town.hollis()
    before = town.patient(hollis)
    alarm = Alarm(stage=AlarmStage.ASKED, opened=START)
    with town.database.work() as work:
        after = replace(before, state=replace(before.state, alarm=alarm))
        work.store(before, Outcome(patient=after))

    assert listed(town, None) == [("Hollis", Reason.ALARM_OPEN)]


def test_the_list_of_an_empty_database_is_empty(database: Database) -> None:
    with database.looking() as work:
        assert work.practitioner_list(None, RULES["esh"]) == ()


def test_many_patients_are_found_without_naming_each(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    people = [town.hollis(), town.join(town.invite(Role.PATIENT, "Tamsin"), HOUSE)]
    for person in people:
        town.store(person, taken(190, 80))
    named = rows(columns(town.database))
    monkeypatch.setattr("storage.patients._FEW", 1)

    assert rows(columns(town.database)) == named
    assert len(named) == 2


def test_the_list_goes_by_what_was_chosen_for_each_patient(town: Town) -> None:
    hollis = town.hollis()
    for day in range(1, 8):
        for hour in (0, 12):
            for minute in (0, 2):
                at = START - timedelta(days=day, hours=hour) + timedelta(minutes=minute)
                town.store(hollis, taken(143, 88, at))
    assert listed(town, None) == [("Hollis", Reason.ABOVE_TARGET)]
    seen = Seen(
        by="Dr. Okafor-Lindqvist",
        at=START,
        until=START.date() + timedelta(days=28),
        finding=Finding(Reason.ABOVE_TARGET),
        value=(143, 88),
    )
    before = town.patient(hollis)
    with town.database.work() as work:
        state = replace(before.state, rule="aha-ama", seen=seen)
        work.store(before, Outcome(patient=replace(before, state=state)))

    with town.database.looking() as work:
        (entry,) = work.practitioner_list(None)

    assert (entry.reason, entry.until) == (Reason.SEEN, seen.until)
    assert entry.average is not None
    assert entry.average.rule == "aha-ama"
    assert town.patient(hollis).state.seen == seen
