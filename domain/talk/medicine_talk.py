"""When a person's medicine was changed, in their own words: asked about, kept as a date.

The date is what the report compares before and after; see `report_evidence.standing_changes`.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from domain.events import Do
from domain.messages import Line, line
from domain.people import NoteKind
from domain.talk.turn import Rows, Turn
from domain.understanding.result import Understood

#: Offered: so many days ago. Common practice; a practitioner may record any other day.
_DAYS_AGO: Final = (0, 1, 2, 7)


def question(turn: Turn, understood: Understood) -> tuple[tuple[Line, ...], Rows]:
    """On which day it was, where a message tells of a change; else nothing."""
    if not understood.medicine_changed:
        return (), ()
    today = turn.local_now.date()
    days = [today - timedelta(days=ago) for ago in _DAYS_AGO]
    rows: Rows = tuple(
        (turn.button("button.practice_day", Do.MEDICINE_CHANGED, day.isoformat(), day=day),)
        for day in days
    )
    return (line("medicine.changed.ask"),), rows


def changed(turn: Turn, argument: str) -> None:
    """The person has said on which day it was."""
    day = date.fromisoformat(argument)
    turn.note(NoteKind.CHANGED, code=day.isoformat())
    turn.say(line("medicine.changed.done", day=day))
