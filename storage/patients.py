"""Many patients at once: who they are, and their readings as columns.

For the practitioner's list. Two queries whatever the number of patients; NumPy is loaded
here and nowhere else in the storage, so import this only where it is used. Pressures in
mmHg, moments in microseconds since 1970 (UTC).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import Connection, Select, bindparam, or_, select

from domain.averaging_rules import rule_named
from domain.evidence.columns import ReadingColumns, moment_of
from domain.people import Consent, NoteKind, PersonId, Role
from domain.practice_list import LATELY_DAYS, Followed, Lately
from storage import codec
from storage.reading_weeks import PACKED, week_of
from storage.tables import links, notes, persons, reading_weeks

#: `reading_weeks.PACKED` as NumPy calls it.
_PACKED: Final = np.dtype(
    {
        "names": ["at", "systolic", "diastolic", "pulse"],
        "formats": ["<i8", "<i2", "<i2", "<i2"],
        "itemsize": PACKED.size,
    }
)

#: Few rows of many: there is an index of kind and moment for it.
NOTED: Final = (
    select(notes.c.person, notes.c.kind, notes.c.at, notes.c.code, notes.c.text)
    .where(
        notes.c.kind.in_((NoteKind.ALARM_ENDED, NoteKind.FINDING)),
        notes.c.at >= bindparam("since"),
    )
    .order_by(notes.c.at, notes.c.number)
)

#: Rows fetched at once.
_PORTION: Final = 10_000


def followed(
    connection: Connection,
    practitioners: Collection[PersonId] | None = None,
    now: datetime | None = None,
) -> list[Followed]:
    """The patients who agreed to one of these practitioners, or all; as they were invited.

    With `now` (aware) also what was noted of alarms and findings in the days before.
    """
    wanted = select(
        persons.c.id, persons.c.name, persons.c.state, persons.c.alarm_open, persons.c.joined
    ).where(persons.c.state.is_not(None))
    seeing: set[str] | None = None
    if practitioners is not None:
        agreed = _agreed(practitioners)
        wanted = wanted.where(persons.c.id.in_(agreed))
        seeing = set(connection.scalars(agreed.where(links.c.told_week)))
    rows = connection.execute(wanted.order_by(persons.c.created_at, persons.c.id))
    found = [_followed(*row, seeing) for row in rows]
    return found if now is None else _with_notes(connection, found, now)


def _with_notes(connection: Connection, patients: list[Followed], now: datetime) -> list[Followed]:
    """The patients with what was noted of alarms and findings in the last days."""
    since = now - timedelta(days=LATELY_DAYS)
    noted: dict[str, list[Any]] = {}
    for row in connection.execute(NOTED, {"since": since}):
        noted.setdefault(row.person, []).append(row)
    return [
        replace(one, lately=tuple(_lately(row, one.zone) for row in noted[one.person]))
        if one.person in noted
        else one
        for one in patients
    ]


def _lately(row: Any, zone: ZoneInfo) -> Lately:
    return Lately(
        day=row.at.astimezone(zone).date(),
        code=row.code,
        number=row.text,
        is_alarm=row.kind == NoteKind.ALARM_ENDED,
    )


def practitioners_named(connection: Connection, name: str) -> list[PersonId]:
    """Whoever practises under this name."""
    wanted = select(persons.c.id).where(persons.c.name == name)
    linked = select(links.c.contact).where(links.c.role == Role.PRACTITIONER)
    practising = or_(persons.c.role == Role.PRACTITIONER, persons.c.id.in_(linked))
    return [PersonId(found) for found in connection.scalars(wanted.where(practising))]


def _agreed(practitioners: Collection[PersonId]) -> Select[Any]:
    return select(links.c.patient).where(
        links.c.contact.in_(practitioners),
        links.c.role == Role.PRACTITIONER,
        links.c.consent == Consent.AGREED,
    )


def _followed(
    person: str,
    name: str,
    state_text: str,
    alarm_open: bool,
    joined: bool,
    seeing: Collection[str] | None,
) -> Followed:
    """`seeing` are the patients who agreed to more than alarms; None where it is not asked."""
    state = codec.state(state_text)
    return Followed(
        person=PersonId(person),
        name=name,
        zone=ZoneInfo(state.profile.zone or "UTC"),
        target=state.profile.target,
        plan=state.plan,
        alarm_open=alarm_open,
        joined=joined,
        asked=not (state.paused or state.declined),
        rule=rule_named(state.rule),
        seen=state.seen,
        alarms_only=seeing is not None and person not in seeing,
    )


def reading_columns(
    connection: Connection, patients: Sequence[Followed], first: datetime, last: datetime
) -> ReadingColumns:
    """The readings that count from one moment to another (both aware, both included).

    By the place of their patient in `patients`, and then by moment.
    """
    place = {patient.person: number for number, patient in enumerate(patients)}
    weeks = range(week_of(first), week_of(last) + 1)
    wanted = select(reading_weeks.c.person, reading_weeks.c.packed).where(
        reading_weeks.c.week.in_(weeks)
    )
    if len(patients) <= _FEW:
        wanted = wanted.where(reading_weeks.c.person.in_(place))
    places: list[int] = []
    values: list[bytes] = []
    # An option of the statement: one of the connection would hold for all that follows.
    ordered = wanted.order_by(reading_weeks.c.week).execution_options(yield_per=_PORTION)
    for portion in connection.execute(ordered).partitions():
        for person, packed in portion:
            if person in place:
                places.append(place[person])
                values.append(packed)
    return _unpacked(places, values, moment_of(first), moment_of(last))


#: Up to here the patients are named in the query one by one; else all people's weeks are
#: read, which lie together in the table.
_FEW: Final = 500


def _unpacked(
    places: Sequence[int], values: Sequence[bytes], first: int, last: int
) -> ReadingColumns:
    """Weeks in the order of their number, with the patient of each, as columns."""
    patient = np.array(places, dtype=np.int64)
    order = np.argsort(patient, kind="stable")
    whole = b"".join([values[number] for number in order.tolist()])
    sizes = [len(packed) // PACKED.size for packed in values]
    readings = np.frombuffer(whole, dtype=_PACKED)
    at = readings["at"].astype(np.int64)
    inside = (at >= first) & (at <= last)
    readings = readings[inside]
    return ReadingColumns(
        patient=np.repeat(patient[order], np.array(sizes, dtype=np.int64)[order])[inside],
        at=at[inside],
        systolic=readings["systolic"].astype(np.int64),
        diastolic=readings["diastolic"].astype(np.int64),
        pulse=readings["pulse"].astype(np.int64),
    )
