"""What the readings allow to say in the report: trend, change of medicine, spread, doubts.

Everything but the change of medicine is of at most the last `trend.WINDOW_DAYS` days, so that
an old year does not stand beside the average of this week. Values and keys only; the report's
pages are the shell's business. Pressures in mmHg; days are local dates.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from domain.bands import Guideline
from domain.evidence.change import (
    LEAST_DAYS_EACH,
    PERIOD_DAYS,
    SETTLING_DAYS,
    WORTH_SEEING,
    Caution,
    Change,
    Shift,
    before_and_after,
)
from domain.evidence.days import Days, Part, Pressure, daily_values, days_of
from domain.evidence.intervals import LEAST_DAYS
from domain.evidence.levels import Level
from domain.evidence.office import Compared, compared
from domain.evidence.quality import Finding, findings
from domain.evidence.record import record_of_taken
from domain.evidence.sentences import office_lines, sentence_of
from domain.evidence.taken import taken
from domain.evidence.trend import LEAST_DAYS as TREND_DAYS
from domain.evidence.trend import LEAST_SPAN as TREND_SPAN
from domain.evidence.trend import STEADY_WITHIN, WINDOW_DAYS, Direction, Trend, trend
from domain.evidence.variability import (
    AtTarget,
    Variability,
    WeekPattern,
    morning_minus_evening,
    pulse_pressure,
    time_at_target,
    variability,
    week_pattern,
)
from domain.messages import Line, line
from domain.people import Note, NoteKind
from domain.plans import PlanKind
from domain.practice_marks import NO_CHANGE
from domain.readings import Reading, local_day, whole
from domain.shown import Pair

PRESSURES: Final = (Pressure.SYSTOLIC, Pressure.DIASTOLIC)

#: Stands for the weekday where a date is written as its weekday only.
_A_MONDAY: Final = date(2001, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfPressure:
    """The figures of the systolic, or of the diastolic."""

    pressure: Pressure
    trend: Trend
    morning_minus_evening: Level | None  #: None below `LEAST_DAYS` days with both
    change: Change | None  #: None where no change of medicine is known
    variability: Variability | None  #: None below `LEAST_DAYS` days
    weekdays: WeekPattern | None  #: None where the weekdays do not differ, or cannot be told


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportEvidence:
    """What the days show, how sure it is, and what speaks against the data."""

    part: Part  #: which part of the days is compared
    first_day: date | None  #: with a reading, in the window; None: no reading
    last_day: date | None
    days: int  #: with a reading, in the window
    figures: tuple[OfPressure, OfPressure]  #: systolic, diastolic
    changed: date | None  #: the last change of medicine of the period
    target: Pair  #: "below" these, mmHg
    at_target: AtTarget | None
    pulse_pressure: Level | None
    office: Compared | None  #: None without readings from the office
    doubts: tuple[Finding, ...]  #: what may move the average most first

    @property
    def tells(self) -> bool:
        """Whether there are days enough for any figure at all."""
        return all(of.trend.level is not None for of in self.figures)


def report_evidence(
    readings: Sequence[Reading],
    *,
    zone: ZoneInfo,
    target: Pair,
    guideline: Guideline,
    average: Pair | None,
    asked: int | None,
    notes: Iterable[Note] = (),
    office: Sequence[Reading] = (),
) -> ReportEvidence:
    """The figures of one period.

    Args:
        readings: of the period, taken at home, in any order.
        average: the average at home that the report shows, under `guideline`.
        asked: occasions asked for in the period; None when nothing was.
        notes: of the period, of any kind.
        office: of the period, taken at the office.
    """
    at_home = taken(readings)
    days = days_of(at_home, zone)
    recent = _recent(days)
    part = recent.comparable_part()
    changed = medicine_changed(notes, zone)
    systolic, diastolic = (
        OfPressure(
            pressure=pressure,
            trend=trend(recent.series(pressure, part), pressure),
            morning_minus_evening=morning_minus_evening(recent, pressure),
            change=_change(days, changed, pressure),
            variability=variability(recent.series(pressure, part)),
            weekdays=week_pattern(recent.series(pressure, part)),
        )
        for pressure in PRESSURES
    )
    ends = [date.fromordinal(int(day)) for day in (*recent.days[:1], *recent.days[-1:])]
    return ReportEvidence(
        part=part,
        first_day=min(ends, default=None),
        last_day=max(ends, default=None),
        days=len(recent),
        figures=(systolic, diastolic),
        changed=changed,
        target=target,
        at_target=time_at_target(recent, (target.systolic, target.diastolic)),
        pulse_pressure=pulse_pressure(recent),
        office=compared(daily_values(office, zone), days, guideline, average),
        doubts=findings(record_of_taken(at_home, asked=asked)),
    )


def medicine_changed(notes: Iterable[Note], zone: ZoneInfo) -> date | None:
    """The last local day on which medicine was changed, as far as that was recorded as such.

    Recorded by its date, or by the plan for new tablets, which begins with it. What a person
    writes about medicine is kept in their own words, "forgot my tablet" like "new tablet", so
    those notes mark no change.
    """
    return max((changed_on(note, zone) for note in standing_changes(notes)), default=None)


def standing_changes(notes: Iterable[Note]) -> list[Note]:
    """The notes that record a change of medicine and were not taken back, oldest first."""
    standing: list[Note] = []
    for note in sorted(notes, key=lambda note: note.at):
        if note.kind is NoteKind.CHANGED and note.code == NO_CHANGE:
            standing.clear()
        elif note.kind is NoteKind.CHANGED or (
            note.kind is NoteKind.PLAN and note.code == PlanKind.NEW_TABLETS_WEEK
        ):
            standing.append(note)
    return standing


def changed_on(note: Note, zone: ZoneInfo) -> date:
    """The local day of the change that a note records."""
    if note.kind is NoteKind.CHANGED:
        return date.fromisoformat(note.code)
    return local_day(note.at, zone)


def _recent(days: Days) -> Days:
    if not len(days):
        return days
    return days.between(date.fromordinal(int(days.days[-1]) - WINDOW_DAYS + 1))


def _change(days: Days, changed: date | None, pressure: Pressure) -> Change | None:
    if changed is None:
        return None
    # Why the medicine was changed is not told; mostly because of high readings, so always warn.
    return before_and_after(days, changed, pressure, chosen_for_being_high=True)


def tenths(value: float) -> Fraction:
    """To one decimal, as it is printed."""
    return Fraction(round(10 * value), 10)


def too_few_line(found: ReportEvidence) -> Line:
    """Why there are no figures, in one line."""
    return line("report.evidence.too_few", count=found.days, needed=LEAST_DAYS)


def basis_line(found: ReportEvidence) -> Line:
    """Which days the figures are of. Only where `tells`."""
    assert found.first_day is not None
    assert found.last_day is not None
    return line(
        f"report.evidence.basis.{found.part}",
        count=found.figures[0].trend.days,
        first=found.first_day,
        last=found.last_day,
    )


def trend_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """What it would take to tell the trend, what "steady" means, and which days were left out."""
    trends = [of.trend for of in found.figures]
    first = trends[0]
    lines = []
    if first.slope is None:
        assert found.last_day is not None
        lacking = max(TREND_DAYS - first.days, 0)
        soonest = max(TREND_SPAN - first.span, lacking, 1)
        lines.append(
            line(
                "report.trend.few",
                count=max(lacking, 1),
                needed=TREND_DAYS,
                span=TREND_SPAN,
                day=found.last_day + timedelta(days=soonest),
            )
        )
    elif any(one.direction is Direction.CANNOT_TELL for one in trends):
        lines.append(line("report.trend.wide"))
    if any(one.direction is Direction.STEADY for one in trends):
        limits = (whole(STEADY_WITHIN[pressure]) for pressure in PRESSURES)
        lines.append(line("report.trend.steady_means", limits=str(Pair(*limits))))
    lines += [
        line(f"report.trend.wild.{of.pressure}", count=of.trend.wild)
        for of in found.figures
        if of.trend.wild
    ]
    return tuple(lines)


def at_target_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """On how many days the mean was below the target."""
    at = found.at_target
    if at is None:
        return ()
    low, high = whole(100 * at.share.low), whole(100 * at.share.high)
    shares = {"share": whole(100 * at.share.estimate), "low": low, "high": high}
    return (
        line("report.at_target", count=at.days, below=at.below, target=str(found.target), **shares),
    )


def pulse_pressure_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """The mean pulse pressure."""
    if found.pulse_pressure is None:
        return ()
    mean = found.pulse_pressure.mean
    ends = {"low": tenths(mean.low), "high": tenths(mean.high)}
    return (line("report.pulse_pressure", value=tenths(mean.estimate), **ends),)


def spread_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """How much the days differ, beside the SD that stands in the table."""
    systolic, diastolic = (of.variability for of in found.figures)
    if systolic is None or diastolic is None:
        return ()
    told = line("report.spread.cv", systolic=tenths(systolic.cv), diastolic=tenths(diastolic.cv))
    if systolic.arv is None or diastolic.arv is None:
        return (told,)
    steps = {"systolic": tenths(systolic.arv), "diastolic": tenths(diastolic.arv)}
    return told, line("report.spread.arv", **steps)


def weekday_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """Which weekdays are highest and lowest, where they differ more than by chance."""
    lines = []
    for of in found.figures:
        if of.weekdays is not None:
            means = of.weekdays.means
            high, low = means.index(max(means)), means.index(min(means))
            lines.append(
                line(
                    f"report.weekdays.{of.pressure}",
                    high=_A_MONDAY + timedelta(days=high),
                    most=tenths(means[high]),
                    low=_A_MONDAY + timedelta(days=low),
                    least=tenths(means[low]),
                )
            )
    return tuple(lines)


def explained(found: ReportEvidence) -> tuple[tuple[Line, ...], ...]:
    """What stands below the figures, what bears on the decision first; one remark an element."""
    parts = (
        change_lines(found),
        office_lines(found.office) if found.office else (),
        at_target_lines(found),
        trend_lines(found),
        spread_lines(found),
        weekday_lines(found),
        pulse_pressure_lines(found),
    )
    return tuple(part for part in parts if part)


def change_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """What is compared before and after the change of medicine, what it takes, what to mind."""
    change, changed = found.figures[0].change, found.changed
    if change is None or changed is None:
        return ()
    settled = changed + timedelta(days=SETTLING_DAYS)
    lines = [line("report.change.compared", day=changed, settled=settled, weeks=PERIOD_DAYS // 7)]
    if change.shift is Shift.CANNOT_TELL:
        lines.append(_lacking(change, settled, found.last_day))
    if change.days_needed is not None:
        seen = whole(WORTH_SEEING)
        lines.append(line("report.change.needed", count=change.days_needed, change=seen))
    if change.difference is not None:
        lines.append(line("report.change.caution"))
        if Caution.SHORT_BEFORE in change.cautions:
            lines.append(line("report.change.short_before", count=change.days_before))
    return tuple(lines)


def _lacking(change: Change, settled: date, last_day: date | None) -> Line:
    """What is missing; the first day of each period never counts."""
    if change.days_before < LEAST_DAYS_EACH:
        return line("report.change.few_before", count=change.days_before, needed=LEAST_DAYS_EACH)
    over = settled + timedelta(days=PERIOD_DAYS)
    if last_day is not None and last_day >= over:
        return line("report.change.few_after", count=change.days_after, needed=LEAST_DAYS_EACH)
    lacking = LEAST_DAYS_EACH - change.days_after + (change.days_after == 0)
    return line("report.change.more_days", count=lacking, settled=settled)


def doubt_lines(found: ReportEvidence) -> tuple[Line, ...]:
    """Doubts about the data, what may move the average most first."""
    return tuple(sentence_of(one) for one in found.doubts)
