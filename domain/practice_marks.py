"""A practitioner's mark "seen, my plan until DATE" on one finding about one patient.

It takes the finding out of what asks for a decision until the date, and no longer than it
stays what it was: another finding and a worse value are told at once, and what is listed in
`NEVER_SILENT` always is. Pressures in mmHg; days are the patient's local dates.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, NewType

#: What was seen. In the practitioner's list it is the `practice_list.Reason`.
Finding = NewType("Finding", str)

#: Code of a note `NoteKind.CHANGED` that takes back the changes recorded before it.
NO_CHANGE: Final = "none"

#: A mark holds for at most so long. Common practice: nobody stays unseen for half a year.
LONGEST: Final = timedelta(days=182)

#: No mark silences these. Red flags never come here: they are alarms.
NEVER_SILENT: Final = frozenset(
    {
        Finding(found)
        for found in ("alarm_open", "severe_lately", "alarm_lately", "found_today", "low_lately")
    }
)

#: A mean this much higher than the one that was seen is another matter, mmHg. As `shown.A_LITTLE`:
#: less lies within the usual variation of a week (Kato 2010; diastolic: common practice).
WORSE_BY: Final = (10, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One finding that a practitioner has decided on."""

    by: str  #: their name
    at: datetime
    until: date  #: from this day on it is told again
    finding: Finding
    value: tuple[int, int] | None = None  #: the mean that was seen, mmHg; None: there was none


def silences(
    seen: Seen | None, finding: Finding, value: tuple[int, int] | None, today: date
) -> bool:
    """Whether the finding with this mean is the one that was seen, and need not be told today."""
    if seen is None or finding in NEVER_SILENT or finding != seen.finding:
        return False
    return today < seen.until and not _worse(value, seen.value)


def _worse(now: tuple[int, int] | None, then: tuple[int, int] | None) -> bool:
    if now is None or then is None:
        return now is not then
    return any(n >= t + by for n, t, by in zip(now, then, WORSE_BY, strict=True))
