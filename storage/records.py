"""What is kept of a patient's days: versions of readings, and notes.

A reading is a chain of versions. A version is `kept` until a later one replaces it or the
person takes it back; nothing is ever overwritten or removed. Pressures are in mmHg.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Row, or_, select, union_all, update
from sqlalchemy.sql.expression import literal

from domain.outcome import ReadingKept
from domain.people import ChatId, Kept, MessageRef, Note, NoteKind, PersonId, ReadingId
from domain.readings import Arm, Bpm, CameAs, Mmhg, Reading
from storage.tables import notes, readings


class VersionState(StrEnum):
    """What became of a version of a reading."""

    KEPT = "kept"
    REPLACED = "replaced"
    DELETED = "deleted"


def keep(
    connection: Connection, person: PersonId, fact: ReadingKept, *, id: ReadingId, zone: str
) -> None:
    """Store a new version; the one that it replaces counts no longer."""
    chain = id
    if fact.replaces is not None:
        chain = ReadingId(
            connection.scalar(
                select(readings.c.chain).where(
                    readings.c.id == fact.replaces, readings.c.person == person
                )
            )
            or id
        )
        _mark(connection, person, fact.replaces, VersionState.REPLACED)
    connection.execute(
        readings.insert().values(
            id=id,
            chain=chain,
            replaces=fact.replaces,
            person=person,
            state=VersionState.KEPT,
            systolic=fact.reading.systolic,
            diastolic=fact.reading.diastolic,
            pulse=fact.reading.pulse,
            at=fact.reading.at,
            zone=zone,
            arm=fact.reading.arm,
            came_as=fact.reading.came_as,
            chat=fact.made_by.chat,
            message=fact.made_by.message,
            text=fact.text,
            written_at=fact.written_at,
        )
    )


def delete(connection: Connection, person: PersonId, id: ReadingId) -> None:
    """The person took this version back. It stays in the table and in the export."""
    _mark(connection, person, id, VersionState.DELETED)


def note(connection: Connection, person: PersonId, kept_note: Note) -> None:
    made_by = kept_note.made_by
    connection.execute(
        notes.insert().values(
            person=person,
            kind=kept_note.kind,
            at=kept_note.at,
            code=kept_note.code,
            text=kept_note.text,
            chat=None if made_by is None else made_by.chat,
            message=None if made_by is None else made_by.message,
        )
    )


def kept(
    connection: Connection, person: PersonId, *, since: datetime | None = None
) -> tuple[Kept, ...]:
    """The readings that count, by moment; all of them, or from `since` on."""
    wanted = select(readings).where(
        readings.c.person == person, readings.c.state == VersionState.KEPT
    )
    if since is not None:
        wanted = wanted.where(readings.c.at >= since)
    rows = connection.execute(wanted.order_by(readings.c.at, readings.c.number))
    return tuple(kept_version(row) for row in rows)


def notes_of(
    connection: Connection, person: PersonId, *, since: datetime | None = None
) -> tuple[Note, ...]:
    """The notes by moment; all of them, or from `since` on."""
    wanted = select(notes).where(notes.c.person == person)
    if since is not None:
        wanted = wanted.where(notes.c.at >= since)
    rows = connection.execute(wanted.order_by(notes.c.at, notes.c.number))
    return tuple(_note(row) for row in rows)


def spent(connection: Connection, person: PersonId, *, since: datetime) -> frozenset[MessageRef]:
    """Messages whose readings a later message has corrected, and of which none counts.

    What its own edit or an undo took out is not among them: an edit may bring it back.
    """
    later, still = readings.alias("later"), readings.alias("still")
    counts = select(still.c.id).where(
        still.c.person == person,
        still.c.chat == readings.c.chat,
        still.c.message == readings.c.message,
        still.c.state == VersionState.KEPT,
    )
    rows = connection.execute(
        select(readings.c.chat, readings.c.message)
        .join(later, later.c.replaces == readings.c.id)
        .where(
            readings.c.person == person,
            readings.c.at >= since,
            or_(later.c.message != readings.c.message, later.c.chat != readings.c.chat),
            ~counts.exists(),
        )
        .distinct()
    )
    return frozenset(MessageRef(chat=ChatId(row.chat), message=row.message) for row in rows)


def message_owner(connection: Connection, ref: MessageRef) -> PersonId | None:
    """Whose reading, or text in doubt, a message made: so that its edit goes to the same."""
    made = [
        select(table.c.person, literal(weight).label("weight"), table.c.number).where(
            table.c.chat == ref.chat, table.c.message == ref.message
        )
        for weight, table in enumerate((readings, notes))
    ]
    both = union_all(*made).subquery()
    found = connection.scalar(
        select(both.c.person).order_by(both.c.weight, both.c.number.desc()).limit(1)
    )
    return None if found is None else PersonId(found)


def kept_version(row: Row[Any]) -> Kept:
    """A row of `readings` as the domain's value, whatever became of the version."""
    return Kept(
        id=ReadingId(row.id),
        reading=Reading(
            systolic=Mmhg(row.systolic),
            diastolic=Mmhg(row.diastolic),
            pulse=None if row.pulse is None else Bpm(row.pulse),
            at=row.at,
            arm=None if row.arm is None else Arm(row.arm),
            came_as=CameAs(row.came_as),
        ),
        made_by=MessageRef(chat=ChatId(row.chat), message=row.message),
        text=row.text,
        written_at=row.written_at,
        replaces=None if row.replaces is None else ReadingId(row.replaces),
    )


def _mark(connection: Connection, person: PersonId, id: ReadingId, state: VersionState) -> None:
    connection.execute(
        update(readings)
        .where(
            readings.c.id == id,
            readings.c.person == person,
            readings.c.state == VersionState.KEPT,
        )
        .values(state=state)
    )


def _note(row: Row[Any]) -> Note:
    made_by = (
        None if row.message is None else MessageRef(chat=ChatId(row.chat), message=row.message)
    )
    return Note(kind=NoteKind(row.kind), at=row.at, code=row.code, text=row.text, made_by=made_by)
