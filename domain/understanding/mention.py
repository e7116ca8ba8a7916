"""One time or date as a message names it, and how neighbouring parts make one.

Which words name a time is found in `mentions.py`; what moment it is, in `moments.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from domain.understanding.pieces import Piece
from domain.understanding.vocabulary import Part

_JOINING_MARKS: Final = frozenset({",", "(", "@", "-", "–", "~"})
_MOST_JOINING: Final = 3  #: pieces between two parts of one mention


@dataclass(frozen=True, slots=True)
class Mention:
    """A time as it was named, from piece `start` up to before piece `end`."""

    start: int
    end: int
    hour: int | None = None
    minute: int = 0
    half: str | None = None  #: "am" or "pm", said or plain from the way it is written
    part: Part | None = None
    days_back: int | None = None
    weekday: int | None = None
    before_today: bool = False  #: "last Thursday" is never today
    date: tuple[int | None, int, int] | None = None  #: year if given, month, day of month
    minutes_ago: int | None = None
    is_now: bool = False

    @property
    def has_day(self) -> bool:
        return self.days_back is not None or self.weekday is not None or self.date is not None


def joined(pieces: Sequence[Piece], left: Mention, right: Mention) -> Mention | None:
    """Two mentions as one, when they stand together and do not say the same kind of thing."""
    between = pieces[left.end : right.start]
    if len(between) > _MOST_JOINING or not all(
        "time_join" in p.roles or p.text in _JOINING_MARKS for p in between
    ):
        return None
    if any("and_word" in p.roles for p in between) and not left.is_now:
        return None
    if (
        (left.hour is not None and right.hour is not None)
        or (left.part and right.part and _narrower(left.part, right.part) is None)
        or (left.has_day and right.has_day and (left.date is None) == (right.date is None))
        or (left.weekday is not None and right.weekday is not None)
        or left.minutes_ago is not None
        or right.minutes_ago is not None
        or left.is_now != right.is_now
    ):
        return None
    return replace(
        left,
        end=right.end,
        hour=left.hour if left.hour is not None else right.hour,
        minute=left.minute if left.hour is not None else right.minute,
        half=left.half or right.half,
        part=_narrower(left.part, right.part)
        if left.part and right.part
        else left.part or right.part,
        days_back=left.days_back if left.days_back is not None else right.days_back,
        weekday=left.weekday if left.weekday is not None else right.weekday,
        before_today=left.before_today or right.before_today,
        date=left.date or right.date,
    )


def _narrower(left: Part, right: Part) -> Part | None:
    """The part of the day that lies in the other one ("before bed last night"), or None."""
    if left == right or right.holds(left.clock):
        return left
    return right if left.holds(right.clock) else None
