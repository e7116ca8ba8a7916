"""What the practitioner gets for the visit: numbers, tables and remarks, before they are drawn.

Averages follow a published rule by name (`averaging.py`) and are given to one decimal, in
mmHg and beats per minute; days are local dates. Nothing is hidden: every reading of the
period is in the table, with the reason where it is not in the average. How good the record
is: `evidence/record.py`; trend, changes and spread: `report_evidence.py`. How it looks is the
shell's business.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from domain.averaging import Average, Mean, Why, average
from domain.averaging_rules import RULES, Rule
from domain.danger import is_severe
from domain.evidence.quality import Kind
from domain.evidence.record import quality_of
from domain.messages import Line, Value, Words, line, symptom_words
from domain.people import Note, NoteKind
from domain.readings import Arm, CameAs, Half, Reading, at_clinic, at_home, half_of, local_day
from domain.record_quality import Quality
from domain.report_evidence import ReportEvidence, report_evidence, standing_changes
from domain.shown import (
    Against,
    Pair,
    ShownOccasion,
    compare,
    local_occasions,
    show_occasion,
    shown_pair,
)
from domain.watch import Finding

#: So many days one report covers at most. Own choice: what it says of trends looks at 180 of
#: them, more pages than a year fills are read by nobody, and ten years make a file of more than
#: the platform takes (58 MB). What is older is in the export.
LONGEST_DAYS: Final = 366

#: What the report tells besides readings.
TOLD_KINDS: Final = frozenset(
    {
        NoteKind.SYMPTOM,
        NoteKind.ALARM,
        NoteKind.ALARM_ENDED,
        NoteKind.FINDING,
        NoteKind.CONDITION,
        NoteKind.MEDICINE,
    }
)
#: Codes of such notes that say only that something is not there.
_NOT_THERE: Final = frozenset({"none", "no_signs"})

#: Which remark on the record a doubt makes needless.
_TOLD_AS_DOUBT: Final = {
    Kind.INCOMPLETE: "report.quality.asked",
    Kind.SINGLE: "report.quality.single",
    Kind.SHORT_PAUSES: "report.quality.gaps",
}

#: Keys of what everybody who reads the report must know.
_CAUTIONS: Final = ("typed", "monitor", "decide", "device")


@dataclass(frozen=True, slots=True)
class Row:
    """One reading as it stands in the table."""

    at: datetime  #: local
    half: Half
    systolic: int
    diastolic: int
    pulse: int | None
    arm: Arm | None
    came_as: CameAs
    severe: bool
    left_out: Why | None  #: why it is not in the average; None: it is
    opens_day: bool  #: the first row of its local day


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportView:
    """All that the report shows."""

    first_day: date
    last_day: date
    made: datetime  #: local to the patient
    zone: str
    target: Pair  #: "below" these, mmHg
    average: Average  #: under the chosen rule
    everything: Mean  #: every reading of the period, by no guideline
    against: Against  #: the rule's average against the target
    occasions: tuple[ShownOccasion, ...]  #: oldest first, for the chart
    rows: tuple[Row, ...]  #: oldest first
    told: tuple[Note, ...]  #: symptoms, alarms, medicine notes and changes, oldest first, local
    quality: Quality
    earlier: int  #: readings of days before the first one, which the report leaves out
    evidence: ReportEvidence
    invented: bool


def first_day_of_report(days: Iterable[date], last_day: date) -> date:
    """Where the report up to `last_day` begins: with the first reading, or `LONGEST_DAYS` ago.

    Args:
        days: local dates with readings, in any order; later ones are passed over.
    """
    earliest = last_day - timedelta(days=LONGEST_DAYS - 1)
    return min((day for day in days if earliest <= day <= last_day), default=last_day)


def _of_days(first: date, last: date, zone: ZoneInfo) -> Callable[[datetime], bool]:
    return lambda moment: first <= local_day(moment, zone) <= last


def report_view(
    readings: Sequence[Reading],
    *,
    zone: ZoneInfo,
    first_day: date,
    last_day: date,
    rule: Rule,
    target: tuple[int, int],
    made: datetime,
    asked: int | None = None,
    notes: Iterable[Note] = (),
    invented: bool = False,
) -> ReportView:
    """The local days from `first_day` to `last_day`, both included.

    Args:
        readings: any, in any order; other days are passed over. Those taken at the clinic are
            in the table and stand beside the average, not in it.
        rule: which average is on the first page. Most rules look at the last week only.
        target: systolic and diastolic in mmHg, both to stay below.
        made: the aware moment at which the report is made.
        asked: occasions asked for in the period; None when nothing was.
        notes: of any kind and time; the report tells of those of the period in `TOLD_KINDS`.
        invented: every page says that the readings are made up.
    """
    inside = _of_days(first_day, last_day, zone)
    kept = [r for r in readings if inside(r.at)]
    known = [n for n in notes if inside(n.at)]
    found = average(kept, rule, zone)
    told = [_local(n, zone) for n in known if n.kind in TOLD_KINDS and _says_something(n)]
    changes = [_local(n, zone) for n in standing_changes(known) if n.kind is NoteKind.CHANGED]
    limits, overall = Pair(*target), pair_of(found.overall)
    return ReportView(
        first_day=first_day,
        last_day=last_day,
        made=made.astimezone(zone),
        zone=zone.key,
        target=limits,
        average=found,
        everything=average(kept, RULES["all"], zone).overall,
        against=compare(overall, limits, days=len(found.days)),
        occasions=tuple(show_occasion(one, zone) for one in local_occasions(kept, zone)),
        rows=_rows(kept, found, zone),
        told=tuple(sorted((*told, *changes), key=lambda n: n.at)),
        quality=quality_of(at_home(kept), asked=asked),
        earlier=sum(local_day(r.at, zone) < first_day for r in readings),
        evidence=report_evidence(
            at_home(kept),
            zone=zone,
            target=limits,
            guideline=found.guideline,
            average=overall,
            asked=asked,
            notes=known,
            office=at_clinic(kept),
        ),
        invented=invented,
    )


def pair_of(mean: Mean) -> Pair | None:
    """The mean in whole mmHg; None where there is none."""
    if mean.systolic is None or mean.diastolic is None:
        return None
    return shown_pair(mean.systolic, mean.diastolic)


def _local(note: Note, zone: ZoneInfo) -> Note:
    return Note(kind=note.kind, at=note.at.astimezone(zone), code=note.code, text=note.text)


def _rows(kept: Sequence[Reading], found: Average, zone: ZoneInfo) -> tuple[Row, ...]:
    why: Mapping[int, Why] = {left.place: left.why for left in found.left_out}
    order = sorted(range(len(kept)), key=lambda place: (kept[place].at, place))
    days = [local_day(kept[place].at, zone) for place in order]
    opening = {place for place, day in enumerate(days) if place == 0 or day != days[place - 1]}
    return tuple(
        _row(kept[place], why.get(place), zone, opens_day=number in opening)
        for number, place in enumerate(order)
    )


def _row(reading: Reading, why: Why | None, zone: ZoneInfo, *, opens_day: bool) -> Row:
    local = reading.at.astimezone(zone)
    return Row(
        at=local,
        half=half_of(local),
        systolic=reading.systolic,
        diastolic=reading.diastolic,
        pulse=reading.pulse,
        arm=reading.arm,
        came_as=reading.came_as,
        severe=is_severe(reading.systolic, reading.diastolic),
        left_out=why,
        opens_day=opens_day,
    )


def enough_lines(view: ReportView) -> tuple[Line, ...]:
    """Whether the record is enough for the rule, and if not, what it lacks."""
    if view.average.enough:
        return (line("report.enough"),)
    lacks = [
        line(f"report.lack.{lack.least}", needed=lack.needed, found=lack.found)
        for lack in view.average.lacks
    ]
    return (line("report.not_enough"), *lacks)


def severe_lines(view: ReportView) -> tuple[Line, ...]:
    """How many readings were severe, in the average or not; nothing when none was."""
    count = sum(row.severe for row in view.rows)
    return (line("report.severe.readings", count=count),) if count else ()


def clinic_lines(view: ReportView) -> tuple[Line, ...]:
    """How many readings were taken at the clinic; nothing when none was."""
    count = sum(row.left_out is Why.CLINIC for row in view.rows)
    return (line("report.clinic.readings", count=count),) if count else ()


def quality_lines(view: ReportView) -> tuple[Line, ...]:
    """How good the record is, one remark a line."""
    quality = view.quality
    lines = []
    if quality.asked is not None:
        lines.append(line("report.quality.asked", done=quality.occasions, asked=quality.asked))
    if quality.single:
        lines.append(line("report.quality.single", count=quality.single, of=quality.occasions))
    if quality.gaps:
        lines.append(line("report.quality.gaps", count=quality.short_gaps, of=quality.gaps))
    if quality.together:
        lines.append(line("report.quality.together", count=quality.together))
    if quality.confirmed:
        lines.append(line("report.quality.confirmed", count=quality.confirmed))
    if quality.imported:
        lines.append(line("report.quality.imported", count=quality.imported))
    return tuple(lines)


def record_lines(view: ReportView) -> tuple[Line, ...]:
    """Those of `quality_lines` that are not told as doubts, and what the report leaves out.

    One line where there is no reading.
    """
    earlier = (line("report.earlier", count=view.earlier),) if view.earlier else ()
    if not view.rows:
        return (line("report.quality.none"), *earlier)
    told = {_TOLD_AS_DOUBT.get(one.kind) for one in view.evidence.doubts}
    return (*(one for one in quality_lines(view) if one.key not in told), *earlier)


def _says_something(note: Note) -> bool:
    return note.code not in _NOT_THERE


def told_line(note: Note) -> Line:
    """What was told or found, what the person was advised, how an alarm ended."""
    if note.kind is NoteKind.ALARM_ENDED:
        return line(f"patients.how.{note.code}")
    if note.kind is NoteKind.FINDING:
        return _found_line(note)
    if note.kind is NoteKind.CONDITION:
        return line(f"report.condition.{note.code}")
    if note.kind is NoteKind.SYMPTOM:
        return line(f"symptom.{note.code}")
    if note.kind is NoteKind.ALARM:
        return line(f"report.alarm.{note.code}")
    if note.kind is NoteKind.CHANGED:
        return line("report.changed", day=date.fromisoformat(note.code))
    return line("report.medicine", text=note.text)


def _found_line(note: Note) -> Line:
    """What was found, with the number, the signs or the names that it rests on."""
    if not note.text:
        return line(f"patients.found.{note.code}")
    signs = note.code == Finding.EARLIER_SIGN
    number: Value = symptom_words(note.text.split(",")) if signs else note.text
    return line("report.found", found=Words((f"patients.found.{note.code}",)), number=number)


def caution_lines() -> tuple[Line, ...]:
    """What everybody who reads the report must know."""
    return tuple(line(f"report.caution.{name}") for name in _CAUTIONS)
