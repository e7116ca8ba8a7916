"""The report for the visit: from its view and the words of a language to a PDF.

What is counted and averaged comes from `domain.report`; this file puts words to it and
decides where marks stand in the chart. The pages themselves are `templates/report.typ`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from bot.pictures import compiler
from bot.pictures.report_evidence import evidence_data
from bot.pictures.saying import Saying
from bot.wording.catalogue import Wording
from domain.averaging import Mean
from domain.people import Note
from domain.readings import CameAs
from domain.report import (
    ReportView,
    Row,
    caution_lines,
    clinic_lines,
    enough_lines,
    pair_of,
    record_lines,
    severe_lines,
    told_line,
)
from domain.report_evidence import doubt_lines

TEMPLATE: Final = "report.typ"

_ROOM_AT_ENDS = 10  # mmHg above and below the outermost value of the chart
_GRID_EVERY = 20  # mmHg between two lines of the chart
_MOST_DAY_LABELS = 14

#: The means that stand for different days; mornings and evenings are of the week above them.
_DATED = frozenset({"overall", "everything"})


def report_pdf(view: ReportView, words: Wording, name: str) -> bytes:
    """The report as a tagged PDF/UA-1 of A4 pages, with `name` as whom it is about."""
    return compiler.pdf(TEMPLATE, report_data(view, words, name), made=view.made)


def report_data(view: ReportView, words: Wording, name: str) -> dict[str, object]:
    """What `templates/report.typ` is given."""
    say = Saying(words)
    return {
        "language": words.language,
        "title": say("report.title"),
        "name": name,
        "period": say("report.period", first=view.first_day, last=view.last_day),
        "made": say("report.made", made=view.made, zone=view.zone),
        # The template knows the numbers only when the pages are laid out.
        "page": say("report.page", page="[page]", pages="[pages]"),
        "foot": say("report.foot"),
        "invented": say("report.invented") if view.invented else None,
        "average": _average(view, say),
        "chart": _chart(view, say),
        "doubts": {"title": say("report.doubts"), "lines": say.all(doubt_lines(view.evidence))},
        "evidence": evidence_data(view.evidence, say),
        "told": _told(view, say),
        "quality": {
            "title": say("report.quality"),
            "lines": say.all(record_lines(view)),
        },
        "cautions": {"title": say("report.cautions"), "lines": say.all(caution_lines())},
        "readings": _readings(view, say),
    }


def _average(view: ReportView, say: Saying) -> dict[str, object]:
    found = view.average
    pair = pair_of(found.overall)
    parts = [("overall", found.overall), ("morning", found.morning), ("evening", found.evening)]
    return {
        "title": say("report.average"),
        "value": str(pair) if pair else say("report.average.none"),
        "against": say(f"report.against.{view.against}"),
        "target": say("report.target", target=str(view.target)),
        "enough": view.average.enough,
        "verdict": " ".join(say.all(enough_lines(view))),
        "lines": [*_rule_lines(view, say), *say.all((*severe_lines(view), *clinic_lines(view)))],
        "head": [
            say(f"report.column.{column}")
            for column in ("part", "pressure", "pulse", "occasions", "readings")
        ],
        "rows": [
            _mean_row(name, mean, days, say)
            for name, mean, days in [
                *((name, mean, view.average.days) for name, mean in parts),
                ("everything", view.everything, (view.first_day, view.last_day)),
            ]
        ],
    }


def _rule_lines(view: ReportView, say: Saying) -> list[str]:
    found, rule = view.average, view.average.rule
    if not found.days:
        return [say("report.rule.empty", rule=rule.name, source=rule.source)]
    first, last = found.days[0], found.days[-1]
    lines = [say("report.rule", rule=rule.name, source=rule.source, first=first, last=last)]
    if found.first_day is not None:
        lines.append(say("report.first_day", day=found.first_day))
    if found.overall.band is not None:
        band = say(f"band.{found.overall.band.name}")
        lines.append(say("report.range", guideline=found.guideline.value, range=band))
    return lines


def _mean_row(name: str, mean: Mean, days: Sequence[date], say: Saying) -> dict[str, object]:
    """One mean; the first of the week and that of the period say of which days they are."""
    dated = name in _DATED and len(days) > 0
    pressure = say("report.nothing")
    if mean.systolic is not None:
        pressure = f"{say.decimal(mean.systolic)} / {say.decimal(mean.diastolic)}"
    return {
        "part": say(f"report.part.{name}"),
        "days": say("report.part.days", first=days[0], last=days[-1]) if dated else None,
        "cells": [pressure, say.decimal(mean.pulse), str(mean.occasions), str(mean.readings)],
    }


def _chart(view: ReportView, say: Saying) -> dict[str, object] | None:
    if not view.occasions:
        return None
    tops = [o.value.systolic for o in view.occasions]
    lows = [o.value.diastolic for o in view.occasions]
    low = min(*lows, view.target.diastolic) - _ROOM_AT_ENDS
    high = max(*tops, view.target.systolic) + _ROOM_AT_ENDS
    days = (view.last_day - view.first_day).days + 1
    step = -(-days // _MOST_DAY_LABELS)
    return {
        "title": say("report.chart"),
        "explained": say("report.chart.explained"),
        "alt": say(
            "report.chart.alt",
            times=len(tops),
            first=view.first_day,
            last=view.last_day,
            low=min(tops),
            high=max(tops),
            target=str(view.target),
        ),
        "halves": [
            {"half": half, "label": say(f"week.{half}")}
            for half in ("morning", "afternoon", "evening")
            if any(o.half == half for o in view.occasions)
        ],
        "low": low,
        "high": high,
        "grid": list(range(-(-low // _GRID_EVERY) * _GRID_EVERY, high, _GRID_EVERY)),
        "target": [view.target.systolic, view.target.diastolic],
        "days": [
            say("report.day", day=view.first_day + timedelta(days=n)) if n % step == 0 else None
            for n in range(days)
        ],
        "points": [
            {
                "half": o.half.value,
                "across": (o.at.date() - view.first_day).days + (o.at.hour + o.at.minute / 60) / 24,
                "systolic": o.value.systolic,
                "diastolic": o.value.diastolic,
            }
            for o in view.occasions
        ],
    }


def _told(view: ReportView, say: Saying) -> dict[str, object]:
    return {
        "title": say("report.told"),
        "none": say("report.told.none"),
        "head": [say(f"report.column.{column}") for column in ("when", "kind", "what")],
        "rows": [_told_row(note, say) for note in view.told],
    }


def _told_row(note: Note, say: Saying) -> list[str]:
    what = told_line(note)
    return [
        say("report.moment", at=note.at),
        say(f"report.kind.{note.kind}"),
        say(what.key, **what.values),
    ]


def _readings(view: ReportView, say: Saying) -> dict[str, object]:
    columns = ("date", "time", "pressure", "pulse", "arm", "remark")
    return {
        "title": say("report.readings"),
        "none": say("report.readings.none"),
        "head": [say(f"report.column.{column}") for column in columns],
        "rows": [_reading_row(row, say) for row in view.rows],
    }


def _reading_row(row: Row, say: Saying) -> dict[str, object]:
    remarks = []
    if row.severe:
        remarks.append(say("report.severe"))
    if row.left_out is not None:
        remarks.append(say(f"report.left_out.{row.left_out}"))
    if row.came_as is not CameAs.TYPED:
        remarks.append(say(f"report.{row.came_as}"))
    return {
        "opens": row.opens_day,
        "severe": row.severe,
        "counted": row.left_out is None,
        "half": row.half.value,
        "cells": [
            say("report.date", day=row.at),
            say("report.clock", at=row.at),
            f"{row.systolic}/{row.diastolic}",
            str(row.pulse) if row.pulse is not None else say("report.nothing"),
            say(f"report.arm.{row.arm}") if row.arm else say("report.nothing"),
            "; ".join(remarks),
        ],
    }
