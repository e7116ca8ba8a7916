"""What one message was understood to say, drawn under its text, for people at a terminal.

How parts of a text are underlined is in `underlining.py`. Pressures in mmHg, pulse in beats
per minute, moments with the offset of the message.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Final

from bot.commands.underlining import Mark, draw
from domain.danger import MORE_RED_FLAGS, RED_FLAGS, message_level
from domain.understanding import Change, Found, Possible, Sign, Understood

#: What underlines a reading, what a doubtful piece may mean, a sign, a sign of somebody else.
_READING, _POSSIBLE, _SIGN, _OTHERS = "^", "?", "~", "-"
_FLAGS: Final = RED_FLAGS | MORE_RED_FLAGS


def explained(text: str, understood: Understood) -> Iterator[str]:
    """The text with all that was found in it underlined, a blank line, then the summary."""
    if text:
        yield from draw(text, _marks(understood))
    else:
        yield "(no text)"
    yield ""
    yield from _summary(understood)


def _marks(understood: Understood) -> Iterator[Mark]:
    for found in understood.readings:
        yield Mark(*found.span, _READING, _reading(found))
    kept = {(found.span, found.systolic, found.diastolic) for found in understood.readings}
    for possible in understood.possible:
        if (possible.span, possible.systolic, possible.diastolic) in kept:
            continue
        yield Mark(*possible.span, _POSSIBLE, f"may mean {_possible(possible)}")
    for sign in understood.signs:
        kind = "red flag" if sign.code in _FLAGS else "symptom"
        yield Mark(*sign.span, _SIGN, f"{kind} {_sign(sign)}")
    for sign in understood.others:
        yield Mark(*sign.span, _OTHERS, f"another's {_sign(sign)}")


def _reading(found: Found) -> str:
    pulse = "" if found.pulse is None else f", pulse {found.pulse}/min"
    return f"{found.systolic}/{found.diastolic} mmHg{pulse}, {_moment(found.at)}"


def _moment(at: datetime | None) -> str:
    return "now" if at is None else f"at {at.isoformat(' ', 'minutes')}"


def _possible(possible: Possible) -> str:
    return f"{possible.systolic or '?'}/{possible.diastolic or '?'} mmHg"


def _sign(sign: Sign) -> str:
    remarks = (("passed", sign.passed), ("unsure", sign.unsure))
    return ", ".join([sign.code, *(remark for remark, holds in remarks if holds)])


def _summary(understood: Understood) -> Iterator[str]:
    yield f"intent    {understood.intent}"
    yield from _each("doubt", sorted(understood.doubts))
    yield from _each("denied", understood.denied)
    if understood.denies_all:
        yield "denied    everything"
    if understood.change is not None:
        yield f"change    {_change(understood.change)}"
    if understood.postponed is not None:
        yield f"wait      {understood.postponed}"
    pairs = [(found.systolic, found.diastolic) for found in understood.readings]
    yield f"alarm     {message_level(pairs, understood.symptoms).code}"


def _each(label: str, values: Iterable[str]) -> Iterator[str]:
    for value in values:
        yield f"{label:<10}{value}"


def _change(change: Change) -> str:
    parts = (
        ("systolic", change.systolic),
        ("diastolic", change.diastolic),
        ("pulse", change.pulse),
        ("one number", change.loose),
        ("instead of", change.wrong),
    )
    return ", ".join(f"{name} {number}" for name, number in parts if number is not None)
