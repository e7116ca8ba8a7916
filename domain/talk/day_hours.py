"""Hours of the day in which something that can wait is said. Clock times are local."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from domain.plans import local_moment

#: Between these nobody is woken. Common practice.
DAY_FROM: Final = time(9)
DAY_UNTIL: Final = time(20)


def is_day(moment: datetime, zone: ZoneInfo) -> bool:
    """Whether people there are awake, as far as a clock can tell."""
    return DAY_FROM <= moment.astimezone(zone).time() < DAY_UNTIL


def next_at(clock: time, after: datetime, zone: ZoneInfo) -> datetime:
    """The first moment (UTC) after another at which a clock there shows this time."""
    day = after.astimezone(zone).date()
    for days in range(3):
        moment = local_moment(day + timedelta(days=days), clock, zone)
        if moment > after:
            return moment
    raise AssertionError("three days hold every clock time once")
