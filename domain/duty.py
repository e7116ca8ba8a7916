"""When a practitioner looks at their patients: the daily list, and the hours of live alarms.

A practitioner is no night watch: by default they get one list a day and are called in no
alarm. Clock times are local to the practitioner.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final, NewType
from zoneinfo import ZoneInfo

from domain.plans import local_moment

#: The id of a person; `domain.people.PersonId` is the same kind of name.
Deputy = NewType("Deputy", str)

#: The timer of the daily list: a practitioner's own, no patient's.
LOOK: Final = "look"

#: The list comes before the surgery opens. Common practice.
LOOKS_AT: Final = time(8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """What a practitioner has chosen."""

    looks_at: time = LOOKS_AT  #: the daily list
    #: Alarms reach them at once between these times, over midnight when the second is the
    #: earlier one, all day when both are the same; None: never.
    live: tuple[time, time] | None = None
    deputy: Deputy | None = None  #: called as well when they have not answered

    def is_live(self, local: datetime) -> bool:
        """Whether an alarm reaches them at once at this local moment."""
        if self.live is None:
            return False
        start, end = self.live
        now = local.time()
        if start < end:
            return start <= now < end
        return now >= start or now < end

    def next_look(self, now: datetime, zone: ZoneInfo) -> datetime:
        """The next moment, after now, at which the daily list is sent."""
        today: date = now.astimezone(zone).date()
        for days in range(3):
            moment = local_moment(today + timedelta(days=days), self.looks_at, zone)
            if moment > now:
                return moment
        raise AssertionError("three days hold a moment that is still to come")
