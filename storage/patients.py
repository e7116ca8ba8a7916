"""Many patients at once: who they are, and their readings as columns.

For the practitioner's list. Two queries whatever the number of patients; NumPy is loaded
here and nowhere else in the storage, so import this only where it is used. Pressures in
mmHg, moments in microseconds since 1970 (UTC).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import Connection, Select, select

from domain.evidence.columns import ReadingColumns
from domain.people import Consent, PersonId, Role
from domain.practice_list import Followed
from storage import codec
from storage.reading_weeks import PACKED, week_of
from storage.tables import links, persons, reading_weeks

#: `reading_weeks.PACKED` as NumPy calls it.
_PACKED: Final = np.dtype(
    {
        "names": ["at", "systolic", "diastolic", "pulse"],
        "formats": ["<i8", "<i2", "<i2", "<i2"],
        "itemsize": PACKED.size,
    }
)

#: Rows fetched at once.
_PORTION: Final = 10_000


def followed(
    connection: Connection, practitioners: Collection[PersonId] | None = None
) -> list[Followed]:
    """The patients who agreed to one of these practitioners, or all; as they were invited."""
    wanted = select(
        persons.c.id, persons.c.name, persons.c.state, persons.c.alarm_open, persons.c.joined
    ).where(persons.c.state.is_not(None))
    if practitioners is not None:
        wanted = wanted.where(persons.c.id.in_(_agreed(practitioners)))
    rows = connection.execute(wanted.order_by(persons.c.created_at, persons.c.id))
    return [_followed(*row) for row in rows]


def _agreed(practitioners: Collection[PersonId]) -> Select[Any]:
    return select(links.c.patient).where(
        links.c.contact.in_(practitioners),
        links.c.role == Role.PRACTITIONER,
        links.c.consent == Consent.AGREED,
    )


def _followed(person: str, name: str, state_text: str, alarm_open: bool, joined: bool) -> Followed:
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
    )


def reading_columns(
    connection: Connection, patients: Sequence[Followed], first: datetime, last: datetime
) -> ReadingColumns:
    """The readings that count of the weeks from one moment to another (both aware).

    By the place of their patient in `patients`, and then by moment. Whole weeks come, so
    there are some before `first` and after `last`.
    """
    place = {patient.person: number for number, patient in enumerate(patients)}
    found: list[tuple[int, int, bytes]] = []
    weeks = range(week_of(first), week_of(last) + 1)
    # Week by week lies together in the table; somebody's few patients are looked up instead.
    wanted = select(reading_weeks).where(reading_weeks.c.week.in_(weeks))
    if len(patients) <= _FEW:
        wanted = wanted.where(reading_weeks.c.person.in_(place))
    rows = connection.execution_options(yield_per=_PORTION).execute(wanted)
    for portion in rows.partitions():
        found += [
            (place[PersonId(row.person)], row.week, row.packed)
            for row in portion
            if row.person in place
        ]
    found.sort(key=lambda week: week[:2])
    return _unpacked(found)


#: Up to here the patients are named one by one in the query.
_FEW: Final = 500


def _unpacked(weeks: Sequence[tuple[int, int, bytes]]) -> ReadingColumns:
    readings = np.frombuffer(b"".join(packed for _, _, packed in weeks), dtype=_PACKED)
    sizes = [len(packed) // PACKED.size for _, _, packed in weeks]
    places = np.array([place for place, _, _ in weeks], dtype=np.int64)
    return ReadingColumns(
        patient=np.repeat(places, sizes),
        at=readings["at"].astype(np.int64),
        systolic=readings["systolic"].astype(np.int64),
        diastolic=readings["diastolic"].astype(np.int64),
        pulse=readings["pulse"].astype(np.int64),
    )
