"""Every version of every reading, oldest first, for `cuffbell export` and backups of sense.

Pressures in mmHg, pulse in beats per minute; moments in the zone that the person had.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Row, select

from domain.people import Kept, PersonId, ReadingId
from storage.records import VersionState, kept_version
from storage.tables import persons, readings


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """A version of a reading and what became of it."""

    person: PersonId
    number: int  #: grows with every version that appears, over all persons
    chain: ReadingId  #: id of the first version
    state: VersionState
    zone: ZoneInfo
    kept: Kept  #: `kept.reading.at` is in UTC

    @property
    def local_at(self) -> datetime:
        """When it was measured, with the offset of the person's zone at that moment."""
        return self.kept.reading.at.astimezone(self.zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPatient:
    """A patient as the host sees them in a list."""

    person: PersonId
    name: str
    joined: bool


def versions(connection: Connection, person: PersonId | None = None) -> Iterator[Version]:
    """All versions, kept or not, by moment and then by appearance; of one person or of all."""
    wanted = select(readings).order_by(readings.c.at, readings.c.number)
    if person is not None:
        wanted = wanted.where(readings.c.person == person)
    # Read in portions: years of many people do not fit into memory at once.
    for row in connection.execution_options(yield_per=1000).execute(wanted):
        yield _version(row)


def listed_patients(connection: Connection) -> list[ListedPatient]:
    """All patients, in the order in which they were invited."""
    rows = connection.execute(
        select(persons.c.id, persons.c.name, persons.c.joined)
        .where(persons.c.state.is_not(None))
        .order_by(persons.c.created_at, persons.c.id)
    )
    return [
        ListedPatient(person=PersonId(row.id), name=row.name, joined=row.joined) for row in rows
    ]


def first_zone(connection: Connection) -> str | None:
    """IANA zone of the patient who was invited first, None when there is nobody."""
    found: str | None = connection.scalar(
        select(persons.c.zone)
        .where(persons.c.state.is_not(None))
        .order_by(persons.c.created_at, persons.c.id)
        .limit(1)
    )
    return found


def _version(row: Row[Any]) -> Version:
    return Version(
        person=PersonId(row.person),
        number=row.number,
        chain=ReadingId(row.chain),
        state=VersionState(row.state),
        zone=ZoneInfo(row.zone),
        kept=kept_version(row),
    )
