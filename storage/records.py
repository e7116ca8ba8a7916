"""What is kept of a patient's days: versions of readings, and notes.

A reading is a chain of versions. A version is `kept` until a later one replaces it or the
person takes it back; nothing is ever overwritten or removed. Pressures are in mmHg.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from sqlalchemy import Connection, Row, bindparam, select, union_all, update
from sqlalchemy.sql.expression import literal

from domain.outcome import ReadingKept
from domain.people import ChatId, Kept, MessageRef, Note, NoteKind, PersonId, ReadingId
from domain.readings import Arm, Bpm, CameAs, Mmhg, Reading, Setting
from storage.moments import LONG_AGO
from storage.reading_weeks import pack_again
from storage.tables import notes, readings

# Statements of every event are made once: that takes longer than running them.
_READINGS_SINCE: Final = (
    select(readings)
    .where(readings.c.person == bindparam("whose"), readings.c.at >= bindparam("since"))
    .order_by(readings.c.at, readings.c.number)
)
_NOTES_SINCE: Final = (
    select(notes)
    .where(notes.c.person == bindparam("whose"), notes.c.at >= bindparam("since"))
    .order_by(notes.c.at, notes.c.number)
)
_INSERT_READING: Final = readings.insert()
_INSERT_NOTE: Final = notes.insert()


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
    changed = [fact.reading.at]
    if fact.replaces is not None:
        before = _version(connection, person, fact.replaces)
        if before is not None:
            chain, moment = before
            changed.append(moment)
            _mark(connection, person, fact.replaces, VersionState.REPLACED)
    connection.execute(
        _INSERT_READING,
        {
            "id": id,
            "chain": chain,
            "replaces": fact.replaces,
            "person": person,
            "state": VersionState.KEPT,
            "systolic": fact.reading.systolic,
            "diastolic": fact.reading.diastolic,
            "pulse": fact.reading.pulse,
            "at": fact.reading.at,
            "zone": zone,
            "arm": fact.reading.arm,
            "came_as": fact.reading.came_as,
            "setting": fact.reading.setting,
            "chat": fact.made_by.chat,
            "message": fact.made_by.message,
            "text": fact.text,
            "written_at": fact.written_at,
        },
    )
    pack_again(connection, person, changed)


def delete(connection: Connection, person: PersonId, id: ReadingId) -> None:
    """The person took this version back. It stays in the table and in the export."""
    version = _version(connection, person, id)
    if version is not None:
        _mark(connection, person, id, VersionState.DELETED)
        pack_again(connection, person, [version[1]])


def note(connection: Connection, person: PersonId, kept_note: Note) -> None:
    made_by = kept_note.made_by
    connection.execute(
        _INSERT_NOTE,
        {
            "person": person,
            "kind": kept_note.kind,
            "at": kept_note.at,
            "code": kept_note.code,
            "text": kept_note.text,
            "chat": None if made_by is None else made_by.chat,
            "message": None if made_by is None else made_by.message,
        },
    )


def recent(
    connection: Connection, person: PersonId, since: datetime
) -> tuple[tuple[Kept, ...], frozenset[MessageRef]]:
    """The readings from `since` on that count, by moment, and the spent messages.

    A message is spent when it made readings of which none counts any more.
    """
    rows = connection.execute(_READINGS_SINCE, {"whose": person, "since": since}).all()
    counting = tuple(kept_version(row) for row in rows if row.state == VersionState.KEPT)
    if len(counting) == len(rows):
        return counting, frozenset()
    messages = {MessageRef(chat=ChatId(row.chat), message=row.message) for row in rows}
    return counting, frozenset(messages - {kept.made_by for kept in counting})


def kept(connection: Connection, person: PersonId) -> tuple[Kept, ...]:
    """All readings of a person that count, by moment."""
    rows = connection.execute(_READINGS_SINCE, {"whose": person, "since": LONG_AGO})
    return tuple(kept_version(row) for row in rows if row.state == VersionState.KEPT)


def notes_of(
    connection: Connection, person: PersonId, since: datetime = LONG_AGO
) -> tuple[Note, ...]:
    """The notes by moment; all of them, or from `since` on."""
    rows = connection.execute(_NOTES_SINCE, {"whose": person, "since": since})
    return tuple(_note(row) for row in rows)


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


def owners_of(connection: Connection, ref: MessageRef, text: str) -> frozenset[PersonId]:
    """Whose readings this text of a message made, whatever became of them."""
    found = connection.scalars(
        select(readings.c.person).where(
            readings.c.chat == ref.chat,
            readings.c.message == ref.message,
            readings.c.text == text,
        )
    )
    return frozenset(PersonId(person) for person in found)


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
            setting=Setting(row.setting),
        ),
        made_by=MessageRef(chat=ChatId(row.chat), message=row.message),
        text=row.text,
        written_at=row.written_at,
        replaces=None if row.replaces is None else ReadingId(row.replaces),
    )


def _version(
    connection: Connection, person: PersonId, id: ReadingId
) -> tuple[ReadingId, datetime] | None:
    """Chain and moment of a version of the person's."""
    row = connection.execute(
        select(readings.c.chain, readings.c.at).where(
            readings.c.id == id, readings.c.person == person
        )
    ).first()
    return None if row is None else (ReadingId(row.chain), row.at)


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
