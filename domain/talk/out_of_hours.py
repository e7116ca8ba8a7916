"""Whom to call when it should be today and the practice is closed: a number, or where to go.

The number is set by whoever invites the person or typed by the person, at joining or later.
"""

from __future__ import annotations

import re
from typing import Final

from domain.messages import Line, line
from domain.people import Helpline
from domain.talk import answers
from domain.talk.turn import Turn

LONGEST: Final = 60  #: characters of the whole entry: it stands in a short message
NONE: Final = "none"
#: A telephone number as people write it. Some lines have three digits.
_NUMBER: Final = re.compile(r"\+?\d(?:[ ./()-]{0,2}\d){2,16}")


def read(text: str, *, language: str) -> str | None:
    """The value that a free text gives: the entry, "none", or None when it is neither."""
    if answers.yes_or_no(text, language=language) is False:
        return NONE
    entry = " ".join(text.split())
    return entry if len(entry) <= LONGEST and helpline(entry) is not None else None


def helpline(entry: str) -> Helpline | None:
    """The number in an entry such as "Night clinic, 020 7946 0000", with what stands beside it."""
    found = _NUMBER.search(entry)
    if found is None:
        return None
    beside = f"{entry[: found.start()]} {entry[found.end() :]}"
    name = re.sub(r"\s+", " ", beside).strip(" ,;:.-()")
    return Helpline(number=found[0].strip(), name=name)


def kept(value: str) -> Helpline | None:
    """What the profile keeps of a value; "none" takes the number away."""
    return None if value == NONE else helpline(value)


def advice(turn: Turn) -> tuple[Line, ...]:
    """For "a doctor or nurse today": the stored number, or where to go tonight without one."""
    known = turn.profile.out_of_hours
    if known is None:
        return (line("out_of_hours.unknown"),)
    if known.name:
        return (line("out_of_hours.named", called=known.name, helpline=known.number),)
    return (line("out_of_hours.call", helpline=known.number),)


def summary(known: Helpline | None) -> tuple[Line, ...]:
    """What is known of it, for correction."""
    if known is None:
        return ()
    return (line("settings.out_of_hours", helpline=f"{known.name} {known.number}".strip()),)
