"""The part of the report on what the days show: its figures and lines, in words."""

from __future__ import annotations

from collections.abc import Callable

from bot.pictures.saying import Saying
from domain.evidence.intervals import Interval
from domain.report_evidence import (
    OfPressure,
    ReportEvidence,
    basis_line,
    explained,
    tenths,
    too_few_line,
)


def evidence_data(found: ReportEvidence, say: Saying) -> dict[str, object]:
    """What `templates/report.typ` is given of it."""
    title = say("report.evidence")
    if not found.tells:
        return {"title": title, "basis": say.line(too_few_line(found)), "rows": [], "lines": []}
    return {
        "title": title,
        "basis": say.line(basis_line(found)),
        "head": [say(f"report.column.{column}") for column in ("figure", "systolic", "diastolic")],
        "rows": _rows(found, say),
        "lines": [" ".join(say.all(lines)) for lines in explained(found)],
    }


def _rows(found: ReportEvidence, say: Saying) -> list[list[str]]:
    def row(title: str, cell: Callable[[OfPressure], str]) -> list[str]:
        return [title, *(cell(of) for of in found.figures)]

    def mean(of: OfPressure) -> Interval | None:
        return of.trend.level.mean if of.trend.level else None

    def spread(of: OfPressure) -> Interval | None:
        return of.trend.level.sd if of.trend.level else None

    def halves(of: OfPressure) -> Interval | None:
        return of.morning_minus_evening.mean if of.morning_minus_evening else None

    def changed(of: OfPressure) -> Interval | None:
        return of.change.difference if of.change else None

    rows = [
        row(say("report.figure.trend"), lambda of: say(f"report.trend.{of.trend.direction}")),
        row(say("report.figure.slope"), lambda of: _range(of.trend.slope, say, "difference")),
        row(
            say("report.figure.mean", count=found.figures[0].trend.days),
            lambda of: _range(mean(of), say, "level"),
        ),
        row(say("report.figure.halves"), lambda of: _range(halves(of), say, "difference")),
        row(say("report.figure.spread"), lambda of: _range(spread(of), say, "level")),
    ]
    if found.changed is not None:
        rows += [
            row(say("report.figure.changed", day=found.changed), lambda of: _shift(of, say)),
            row(say("report.figure.difference"), lambda of: _range(changed(of), say, "difference")),
        ]
    nothing = say("report.nothing")
    return [cells for cells in rows if any(cell != nothing for cell in cells[1:])]


def _shift(of: OfPressure, say: Saying) -> str:
    return say(f"report.change.{of.change.shift}") if of.change else say("report.nothing")


def _range(found: Interval | None, say: Saying, kind: str) -> str:
    """The estimate with its interval; a difference shows its sign."""
    if found is None:
        return say("report.nothing")
    ends = {"low": tenths(found.low), "high": tenths(found.high)}
    return say(f"report.range_of.{kind}", value=tenths(found.estimate), **ends)
