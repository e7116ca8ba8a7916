"""What is counted of a record of readings, when a pause is short, and what may lie behind.

Counts and codes, no judgement of the person. `evidence/record.py` counts,
`evidence/quality.py` says which counts are worth a word.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Final

from domain.messages import Line, line

#: The least pause between two readings. NICE NG136: at least one minute (confirmed).
LEAST_PAUSE: Final = timedelta(minutes=1)

#: No cuff fills and empties in less (common practice): readings closer than this were told in
#: one message without times, so the pause between them is not known.
LEAST_MEASURING: Final = timedelta(seconds=15)


class Cause(StrEnum):
    """What probably lies behind it: about how the numbers came, not about who sent them."""

    TIMES_DO_NOT_SUIT = "times_do_not_suit"
    NO_FULL_MINUTE = "no_full_minute"
    REST_TOO_SHORT = "rest_too_short"
    SECOND_LEFT_OUT = "second_left_out"
    ARM_NOT_FIXED = "arm_not_fixed"
    ENTERED_TWICE = "entered_twice"
    NUMBERS_ROUNDED = "numbers_rounded"


def said_to_the_person(cause: Cause) -> Line:
    """What to ask of the person, in one sentence that can be read out as it stands."""
    return line(f"evidence.say.{cause}")


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
