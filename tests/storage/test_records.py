"""Versions of readings, notes, and the export of all of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from domain.outcome import Noted, Outcome, ReadingDeleted
from domain.people import RECENT_DAYS, MessageRef, Note, NoteKind, PersonId, ReadingId, Role
from domain.readings import Arm, Bpm, CameAs, Mmhg, Reading, Setting
from storage import Database, OutcomeWithoutPatientError, Version, VersionState, versions
from tests.storage.conftest import HOLLIS_CHAT, START, Clock, Town, taken


def _all(database: Database, person: PersonId | None = None) -> list[Version]:
    with database.reading() as connection:
        return list(versions(connection, person))


def test_a_reading_comes_back_as_it_was(town: Town) -> None:
    hollis = town.hollis()
    fact = replace(
        taken(142, 91),
        reading=Reading(
            systolic=Mmhg(142),
            diastolic=Mmhg(91),
            pulse=Bpm(72),
            at=START - timedelta(hours=2),
            arm=Arm.LEFT,
            came_as=CameAs.CONFIRMED,
            setting=Setting.CLINIC,
        ),
        text="142 over 91, puls 72 ✓",
    )

    town.store(hollis, fact)

    (kept,) = town.patient(hollis).readings
    assert kept.reading == fact.reading
    assert (kept.made_by, kept.text, kept.written_at) == (fact.made_by, fact.text, START)
    assert kept.replaces is None


def test_a_correction_replaces_and_keeps_what_it_replaced(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91))
    (first,) = town.patient(hollis).readings

    town.store(hollis, taken(124, 91, message=2, replaces=first.id))

    (kept,) = town.patient(hollis).readings
    assert (kept.reading.systolic, kept.replaces) == (124, first.id)
    history = [(v.kept.reading.systolic, v.state, v.chain) for v in _all(town.database)]
    assert history == [
        (142, VersionState.REPLACED, first.id),
        (124, VersionState.KEPT, first.id),
    ]


def test_a_chain_keeps_the_id_of_its_first_version(town: Town) -> None:
    hollis = town.hollis()
    replaces: ReadingId | None = None
    for number, systolic in enumerate((142, 143, 144)):
        town.store(hollis, taken(systolic, 91, message=number, replaces=replaces))
        replaces = town.patient(hollis).readings[0].id

    chains = {version.chain for version in _all(town.database)}

    assert len(chains) == 1
    assert [version.state for version in _all(town.database)] == [
        VersionState.REPLACED,
        VersionState.REPLACED,
        VersionState.KEPT,
    ]


def test_what_is_taken_back_counts_no_longer_and_is_still_there(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91))
    (kept,) = town.patient(hollis).readings

    town.store(hollis, ReadingDeleted(id=kept.id))

    assert town.patient(hollis).readings == ()
    assert [version.state for version in _all(town.database)] == [VersionState.DELETED]


def test_nobody_takes_back_somebody_elses_reading(town: Town) -> None:
    hollis = town.hollis()
    other = town.person(town.invite(Role.PATIENT, "Tamsin"))
    town.store(hollis, taken(142, 91))
    (kept,) = town.patient(hollis).readings

    town.store(other, ReadingDeleted(id=kept.id))

    assert town.patient(hollis).readings == (kept,)


def test_a_message_is_spent_when_none_of_its_readings_counts(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91, message=1), taken(138, 88, message=2))
    first = town.patient(hollis).readings[0]
    town.store(hollis, taken(124, 91, message=3, replaces=first.id))

    spent = town.patient(hollis).spent

    assert spent == {MessageRef(chat=HOLLIS_CHAT, message=1)}


@pytest.mark.parametrize(
    ("age_days", "loaded"),
    [(RECENT_DAYS, True), (RECENT_DAYS + 1, False)],
)
def test_a_patient_is_loaded_with_the_recent_days_only(
    town: Town, age_days: int, loaded: bool
) -> None:
    hollis = town.hollis()
    at = START - timedelta(days=age_days)
    town.store(
        hollis, taken(142, 91, at), Noted(note=Note(kind=NoteKind.SYMPTOM, at=at, code="dizzy"))
    )

    patient = town.patient(hollis)

    assert (len(patient.readings), len(patient.notes)) == (int(loaded), int(loaded))
    with town.database.work() as work:
        readings, notes = work.history(hollis)
    assert (len(readings), len(notes)) == (1, 1)


def test_readings_come_by_moment_however_they_were_told(town: Town) -> None:
    hollis = town.hollis()
    later, earlier = START, START - timedelta(hours=1)
    town.store(hollis, taken(142, 91, later), taken(138, 88, earlier), taken(140, 90, later))

    systolics = [kept.reading.systolic for kept in town.patient(hollis).readings]

    assert systolics == [138, 142, 140]


@pytest.mark.parametrize("message", [None, MessageRef(chat=HOLLIS_CHAT, message=5)])
def test_a_note_comes_back_as_it_was(town: Town, message: MessageRef | None) -> None:
    hollis = town.hollis()
    note = Note(kind=NoteKind.IN_DOUBT, at=START, code="swapped", text="86/142", made_by=message)

    town.store(hollis, Noted(note=note))

    assert town.patient(hollis).notes == (note,)


def test_a_message_belongs_to_whom_it_was_about(town: Town) -> None:
    hollis = town.hollis()
    marlow = town.join(town.invite(Role.PATIENT, "Marlow"), HOLLIS_CHAT)
    doubt = Note(
        kind=NoteKind.IN_DOUBT,
        at=START,
        text="86/142",
        made_by=MessageRef(chat=HOLLIS_CHAT, message=8),
    )
    town.store(hollis, taken(142, 91, message=7))
    town.store(marlow, Noted(note=doubt))

    with town.database.work() as work:
        owners = [
            work.message_owner(MessageRef(chat=HOLLIS_CHAT, message=number)) for number in (7, 8, 9)
        ]

    assert owners == [hollis, marlow, None]


def test_the_export_has_every_version_oldest_first_with_the_persons_offset(
    town: Town, clock: Clock
) -> None:
    hollis = town.hollis()
    tamsin = town.join(town.invite(Role.PATIENT, "Tamsin", zone="Asia/Kolkata"), HOLLIS_CHAT)
    town.store(hollis, taken(142, 91, START))
    town.store(tamsin, taken(118, 76, START - timedelta(minutes=5)))
    town.store(hollis, taken(138, 88, START + timedelta(days=30)))  # in summer time

    exported = [
        (version.person, version.local_at.isoformat(), version.kept.reading.systolic)
        for version in _all(town.database)
    ]

    assert exported == [
        (tamsin, "2026-03-10T13:07:00+05:30", 118),
        (hollis, "2026-03-10T07:42:00+00:00", 142),
        (hollis, "2026-04-09T08:42:00+01:00", 138),
    ]
    assert [version.person for version in _all(town.database, tamsin)] == [tamsin]


def test_the_zone_of_a_reading_stays_when_the_person_moves(town: Town) -> None:
    hollis = town.hollis()
    town.store(hollis, taken(142, 91))
    before = town.patient(hollis)
    profile = replace(before.state.profile, zone="Asia/Kolkata")
    with town.database.work() as work:
        moved = replace(before, state=replace(before.state, profile=profile))
        work.store(before, Outcome(patient=moved))
    town.store(hollis, taken(138, 88, START + timedelta(hours=1)))

    assert [str(version.zone) for version in _all(town.database)] == [
        "Europe/Lisbon",
        "Asia/Kolkata",
    ]


def test_a_reading_of_nobody_is_refused(town: Town) -> None:
    with pytest.raises(OutcomeWithoutPatientError), town.database.work() as work:
        work.store(None, Outcome(facts=(taken(142, 91),)))


def test_an_outcome_is_stored_whole_or_not_at_all(town: Town) -> None:
    hollis = town.hollis()
    before = town.patient(hollis)
    naive = Note(kind=NoteKind.SYMPTOM, at=datetime(2026, 3, 10))  # noqa: DTZ001
    changed = replace(before, state=replace(before.state, paused=True))

    with pytest.raises(Exception, match="time zone"), town.database.work() as work:
        work.store(before, Outcome(patient=changed, facts=(taken(142, 91), Noted(note=naive))))

    assert town.patient(hollis) == before
    assert _all(town.database) == []
