"""Many moments at once: seconds in UTC, and what the wall clock of a zone shows.

Converting 29,000 moments one by one takes longer than all the figures together. So the
changes of a zone's offset are found once, and arrays do the rest. Seconds since 1970
throughout; "wall" seconds are those of a clock that knows no zone.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from domain.readings import NaiveMomentError

Seconds = npt.NDArray[np.float64]

_EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001 a wall clock's
_DAY: Final = 86_400

#: Years whose offsets are asked for. Outside them the nearest of these years answers:
#: a reading of such a year can only be a slip.
_YEARS: Final = (1950, 2100)


def utc_seconds(moments: Sequence[datetime]) -> Seconds:
    """Seconds since 1970 in UTC of moments, in the order in which they came.

    Raises:
        NaiveMomentError: a moment has no zone.
    """
    zones = {moment.tzinfo for moment in moments}
    if len(zones) == 1:
        return _of_one_zone(moments, zones.pop())
    found = np.empty(len(moments))
    for zone in zones:
        places = [place for place, moment in enumerate(moments) if moment.tzinfo == zone]
        found[places] = _of_one_zone([moments[place] for place in places], zone)
    return found


def wall_seconds(utc: Seconds, zone: tzinfo) -> Seconds:
    """What a clock on the wall in `zone` shows at moments given in UTC seconds."""
    if utc.size == 0:
        return utc
    begins, offsets = _offsets(zone, utc)
    return utc + offsets[np.searchsorted(begins, utc, side="right")]


def _of_one_zone(moments: Sequence[datetime], zone: tzinfo | None) -> Seconds:
    if zone is None:
        raise NaiveMomentError("A moment has no time zone. Pass aware datetimes.")
    # Subtracting moments of one zone compares their clock times and asks for no offset.
    epoch = _EPOCH.replace(tzinfo=zone)
    wall = np.array([(moment - epoch).total_seconds() for moment in moments])
    if zone is UTC:
        return wall
    begins, offsets = _offsets(zone, wall)
    # A clock time that occurs twice or not at all counts with the offset before the change
    # when `fold` is 0, with the one after it when it is 1 (PEP 495).
    before, after = begins + offsets[:-1], begins + offsets[1:]
    folded = np.array([moment.fold for moment in moments], dtype=bool)
    first = np.searchsorted(np.maximum(before, after), wall, side="right")
    second = np.searchsorted(np.minimum(before, after), wall, side="right")
    return wall - offsets[np.where(folded, second, first)]


def _offsets(zone: tzinfo, about: Seconds) -> tuple[Seconds, Seconds]:
    """Moments (UTC) at which the zone's offset changes, and the offsets before and after them.

    There is one offset more than there are changes. They hold for the years of `about`.
    """
    years = [_year(float(about.min()) - _DAY), _year(float(about.max()) + _DAY)]
    changes = [change for y in range(years[0], years[1] + 1) for change in _changes(zone, y)]
    first = _offset(zone, _start_of(years[0]))
    return (
        np.array([at for at, _ in changes], dtype=float),
        np.array([first, *(offset for _, offset in changes)], dtype=float),
    )


def _year(seconds: float) -> int:
    inside = min(max(seconds, _start_of(_YEARS[0])), _start_of(_YEARS[1]))
    return (_EPOCH + timedelta(seconds=inside)).year


def _start_of(year: int) -> int:
    return int((datetime(year, 1, 1) - _EPOCH).total_seconds())  # noqa: DTZ001 a wall clock's


@lru_cache(maxsize=4096)
def _changes(zone: tzinfo, year: int) -> tuple[tuple[int, int], ...]:
    """Moments in a year (UTC) from which on the zone has another offset, with that offset."""
    found = []
    end = _start_of(year + 1)
    for day in range(_start_of(year), end, _DAY):
        low, high = day, min(day + _DAY, end)
        before, after = _offset(zone, low), _offset(zone, high)
        if before == after:
            continue
        while high - low > 1:
            middle = (low + high) // 2
            if _offset(zone, middle) == before:
                low = middle
            else:
                high = middle
        found.append((high, after))
    return tuple(found)


def _offset(zone: tzinfo, seconds: int) -> int:
    moment = (_EPOCH + timedelta(seconds=seconds)).replace(tzinfo=UTC).astimezone(zone)
    offset = moment.utcoffset()
    return 0 if offset is None else int(offset.total_seconds())
