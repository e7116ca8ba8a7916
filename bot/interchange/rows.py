"""What the formats share: rows as they come in and go out, and how a moment is written.

Pressures in mmHg, pulse in beats per minute. A reason why a row is bad names no value of
it, because it may end in a log.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Final
from zoneinfo import ZoneInfo

from domain.readings import Bpm, CameAs, ImpossibleReadingError, Mmhg, Reading, Setting


class UnreadableInputError(Exception):
    """Nothing of the input can be read. The text says what it should have been."""


class BadRowError(Exception):
    """One row cannot be a reading. The text is the reason, in plain words, on one line."""


@dataclass(frozen=True, slots=True)
class GoodRow:
    """A reading and its moment as it stood in the input."""

    at: str
    reading: Reading


@dataclass(frozen=True, slots=True)
class BadRow:
    """Where it stands, as people count ("line 3", "entry 12"), and why it is no reading."""

    where: str
    reason: str


@dataclass(frozen=True, slots=True)
class Rows:
    """What came in, each part in the order of the input."""

    good: tuple[GoodRow, ...]
    bad: tuple[BadRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutgoingReading:
    """A kept reading on its way out.

    `person` and `reading` are stable ids of letters, digits, "-" and ".", at most 58 long,
    which is what FHIR allows less the ending of the pulse's own id. `at` is aware and in the
    offset that is to be written.
    """

    person: str
    reading: str
    at: datetime
    systolic: int
    diastolic: int
    pulse: int | None
    setting: Setting = Setting.HOME


_MOMENT: Final = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})[T ]([0-9]{2}):([0-9]{2})"
    r"(?::([0-9]{2})(?:\.(?P<fraction>[0-9]+))?)?"
    r"(?P<offset>Z|[+-][0-9]{2}:[0-9]{2})?"
)
#: The widest offset that XML Schema and FHIR allow; no place on Earth has a wider one.
_WIDEST_OFFSET: Final = timedelta(hours=14)


def read_moment(text: str, zone: ZoneInfo | None) -> datetime:
    """The aware moment that the text names: `2026-05-04T07:30:00+01:00` and its like.

    Args:
        text: date, `T` or a space, hours and minutes, seconds and their fraction if given,
            `Z` or `±HH:MM`. What is finer than a microsecond is cut off.
        zone: what a text without offset is local in. A time that exists twice is the first;
            one that does not exist is counted with the offset before the change.

    Returns:
        With `zone` in UTC, without it in the offset that is written.

    Raises:
        BadRowError: no such form, no such date or time, no offset and no zone.
    """
    match = _MOMENT.fullmatch(text)
    if match is None:
        raise BadRowError("the moment must look like 2026-05-04T07:30:00+01:00")
    if match["offset"] is None and zone is None:
        raise BadRowError("the moment has no offset from UTC: write one, or name a zone")
    microsecond = (match["fraction"] or "")[:6].ljust(6, "0")
    year, month, day, hour, minute, second = (int(part or 0) for part in match.groups()[:6])
    try:
        clock = datetime(year, month, day, hour, minute, second, int(microsecond))  # noqa: DTZ001
        moment = clock.replace(tzinfo=_offset(match["offset"]) if match["offset"] else zone)
        in_utc = moment.astimezone(UTC)
        if zone is not None:
            in_utc.astimezone(zone)  # whoever asks for its date there must get one
    except (ValueError, OverflowError):  # the latter at the ends of year 1 and year 9999
        raise BadRowError("the moment is no date and time that exists") from None
    return moment if zone is None else in_utc


def _offset(text: str) -> timezone:
    """Raises ValueError for what is no offset."""
    if text == "Z":
        return UTC
    hours, minutes = int(text[1:3]), int(text[4:6])
    size = timedelta(hours=hours, minutes=minutes)
    if minutes > 59 or size > _WIDEST_OFFSET:
        raise ValueError
    return timezone(-size if text[0] == "-" else size)


def imported_reading(
    at: datetime,
    systolic: int,
    diastolic: int,
    pulse: int | None,
    setting: Setting = Setting.HOME,
) -> Reading:
    """The reading, or BadRowError where it lies outside the limits of `domain.readings`."""
    try:
        return Reading(
            systolic=Mmhg(systolic),
            diastolic=Mmhg(diastolic),
            pulse=None if pulse is None else Bpm(pulse),
            at=at,
            came_as=CameAs.IMPORTED,
            setting=setting,
        )
    except ImpossibleReadingError as error:
        raise BadRowError(str(error)) from None


def written_moment(at: datetime) -> str:
    """The moment as both formats want it: seconds always, an offset of whole minutes."""
    offset = at.utcoffset()
    if offset is not None and offset % timedelta(minutes=1):
        at = at.astimezone(UTC)  # local mean time of long ago, which neither format can write
    return at.isoformat()
