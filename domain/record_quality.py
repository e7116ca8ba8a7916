"""How good a record of readings is: simple counts, no judgement of the person.

Of what was asked for, how much was measured; single readings; pauses between the readings
of an occasion. Statistics of the numbers themselves are elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from domain.readings import CameAs, Reading
from domain.shown import local_occasions

#: The least pause between two readings. NICE NG136: at least one minute (confirmed).
LEAST_PAUSE: Final = timedelta(minutes=1)

#: No cuff fills and empties in less (common practice): readings closer than this were told in
#: one message without times, so the pause between them is not known.
LEAST_MEASURING: Final = timedelta(seconds=15)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """Counts over one period."""

    occasions: int
    asked: int | None  #: occasions asked for; None when nothing was
    single: int  #: occasions of one reading
    gaps: int  #: pauses within occasions whose length is known
    short_gaps: int  #: of these, shorter than `LEAST_PAUSE`
    together: int  #: pauses whose length is not known
    confirmed: int  #: readings that were in doubt and that the person confirmed
    imported: int


def quality_of(readings: Sequence[Reading], *, zone: ZoneInfo, asked: int | None) -> Quality:
    """The counts over all the readings, which may come in any order."""
    found = [one.occasion.readings for one in local_occasions(readings, zone)]
    # In UTC: two moments of one zone are subtracted by their clock times otherwise.
    moments = [[reading.at.astimezone(UTC) for reading in group] for group in found]
    pauses = [later - earlier for group in moments for earlier, later in pairwise(group)]
    known = [pause for pause in pauses if pause >= LEAST_MEASURING]
    return Quality(
        occasions=len(found),
        asked=asked,
        single=sum(len(group) == 1 for group in found),
        gaps=len(known),
        short_gaps=sum(pause < LEAST_PAUSE for pause in known),
        together=len(pauses) - len(known),
        confirmed=sum(r.came_as is CameAs.CONFIRMED for r in readings),
        imported=sum(r.came_as is CameAs.IMPORTED for r in readings),
    )
