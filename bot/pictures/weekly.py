"""The weekly picture: from the view of a week and the words of a language to a PNG.

What is measured and what is said comes from `domain.week`; this file only decides where
things stand on the page. The drawing itself is `templates/week.typ`.
"""

from __future__ import annotations

import math
from typing import Final

from bot.pictures import compiler
from bot.wording.catalogue import Wording
from domain.messages import Line, line
from domain.readings import Half
from domain.shown import Against
from domain.week import (
    Day,
    WeekView,
    against_line,
    average_of,
    clinic_line,
    symptoms_line,
    target_line,
)

TEMPLATE: Final = "week.typ"

#: The least systolic range that the marks are spread over, so that a calm week looks calm.
_LEAST_RANGE = 60
_ROOM_AT_ENDS = 8  # mmHg between the outermost mark and the edge

#: Said on a dark ground, because a person should act on it.
_LOUD = frozenset({Against.LOW, Against.WELL_ABOVE, Against.FAR_ABOVE})

#: Named in the picture, so that the days keep their room; the text under it names all.
_MOST_SYMPTOMS = 5

#: Characters that a line of notes holds at its least size.
_LINE_OF_NOTES = 50

#: How far down in its row a mark stands, as a share of the row's height.
_DOWN = {Half.MORNING: 0.26, Half.AFTERNOON: 0.5, Half.EVENING: 0.74}


def weekly_png(view: WeekView, words: Wording, name: str) -> bytes:
    """The picture of a week, a PNG of 1080 x 1350 pixels, with `name` as its title."""
    return compiler.png(TEMPLATE, weekly_data(view, words, name))


def weekly_data(view: WeekView, words: Wording, name: str) -> dict[str, object]:
    """What `templates/week.typ` is given."""

    def say(key: str, **values: str | int) -> str:
        return words.plain(line(key, **values))

    halves = _columns(view)
    scale = _Scale(view)
    notes = [words.plain(note) for note in _notes(view)]
    dates = words.plain(line("week.dates", first=view.first_day, last=view.last_day))
    average = str(view.average.value) if view.average else None
    return {
        "language": words.language,
        "name": name,
        "dates": dates,
        "invented": say("week.invented") if view.invented else None,
        "average": average,
        "average-size": _average_size(notes),
        "of": words.plain(average_of(view)),
        "against": words.plain(against_line(view)) if view.average else None,
        "target": words.plain(target_line(view)),
        "loud": view.against in _LOUD,
        "halves": [{"half": h.value, "label": say(f"week.{h.value}")} for h in halves],
        "rows": [_row(day, halves, scale, words) for day in view.days],
        "goal": {
            "label": say("week.target.systolic", systolic=view.target.systolic),
            "at": scale.at(view.target.systolic),
        },
        "notes": notes,
        "caution": say("week.caution"),
    }


def _average_size(notes: list[str]) -> int:
    """In points. Each line of notes beyond the first takes room from it, not from the days."""
    lines = sum(math.ceil(len(note) / _LINE_OF_NOTES) for note in notes)
    return 250 - 25 * max(0, lines - 1)


def _columns(view: WeekView) -> list[Half]:
    """Morning and evening always, afternoon only in a week that has one."""
    used = {occasion.half for occasion in view.occasions} | {Half.MORNING, Half.EVENING}
    return [half for half in Half if half in used]


class _Scale:
    """Systolic values in mmHg laid along the strip, 0 at its left end and 1 at its right."""

    def __init__(self, view: WeekView) -> None:
        values = [o.value.systolic for o in view.occasions] + [view.target.systolic]
        low, high = min(values) - _ROOM_AT_ENDS, max(values) + _ROOM_AT_ENDS
        more = max(0, _LEAST_RANGE - (high - low)) / 2
        self._low, self._high = low - more, high + more

    def at(self, systolic: int) -> float:
        return round((systolic - self._low) / (self._high - self._low), 4)


def _row(day: Day, halves: list[Half], scale: _Scale, words: Wording) -> dict[str, object]:
    missing = words.plain(line("week.day.missing"))
    return {
        "label": words.plain(line("week.day", day=day.day)),
        "coming": day.coming,
        "empty": "" if day.coming else None if day.occasions else missing,
        "cells": [_cell(day, half) for half in halves],
        "marks": [
            {"half": o.half.value, "at": scale.at(o.value.systolic), "down": _DOWN[o.half]}
            for o in day.occasions
        ],
    }


def _cell(day: Day, half: Half) -> dict[str, object] | None:
    mean, found = day.mean(half), day.of(half)
    if mean is None:
        return None
    times = f"{len(found)}×" if len(found) > 1 else None
    return {
        "text": str(mean.value),
        "times": times,
        "framed": any(occasion.severe for occasion in found),
    }


def _notes(view: WeekView) -> list[Line]:
    found = []
    if any(len(day.of(half)) > 1 for day in view.days for half in Half):
        found.append(line("week.several"))
    if view.severe:
        found.append(line("week.severe"))
    if view.at_clinic:
        found.append(clinic_line(view))
    if view.symptoms:
        found.append(symptoms_line(view, most=_MOST_SYMPTOMS))
    return found
