"""What is no alarm and must not be left without an answer: low pressure, pulse, the unusual.

Limits as rows, and pure functions that read them. Pressures in mmHg, pulse in beats per
minute. A heading is an internal name; what is said under it is wording. What is severe, and
the signs that are an emergency whatever the number, is `danger.py`. Pregnancy has its own
limits there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import IntEnum, StrEnum
from fractions import Fraction
from statistics import median
from typing import Final
from zoneinfo import ZoneInfo

from domain.readings import Reading, Setting, local_day, whole


class Heading(IntEnum):
    """What a person is told to do, from least to most, so that the strongest is `max`."""

    NOTHING = 0
    NEXT_VISIT = 1
    TODAY = 2
    CALL = 3


class Finding(StrEnum):
    """What was found. The values are kept in notes: a practitioner's list names them."""

    LOW = "low"
    LOW_WITH_SIGN = "low_with_sign"
    LOW_ON_MEDICINE = "low_on_medicine"
    LOW_DIASTOLIC = "low_diastolic"
    SLOW_WITH_SIGN = "slow_with_sign"
    VERY_SLOW = "very_slow"
    RATHER_SLOW_WITH_SIGN = "rather_slow_with_sign"
    RATHER_SLOW = "rather_slow"
    FAST_WITH_SIGN = "fast_with_sign"
    VERY_FAST = "very_fast"
    FAST = "fast"
    IRREGULAR = "irregular"
    FAR_FROM_USUAL = "far_from_usual"
    RISING = "rising"
    OLD_SEVERE = "old_severe"
    STANDING_DROP = "standing_drop"
    FALL = "fall"
    EARLIER_SIGN = "earlier_sign"  #: a sign of danger told of days later; its number is a code
    UNSEEN = "unseen"  #: told to see a doctor today, asked twice, and nothing heard
    REHEARSAL = "rehearsal"  #: somebody did not answer in a rehearsal; its number says who
    PREGNANT = "pregnant"  #: told after joining: other limits hold from then on


class Number(StrEnum):
    """Which number of an occasion a row looks at, and of several readings which."""

    LOWEST_SYSTOLIC = "lowest_systolic"
    MEAN_DIASTOLIC = "mean_diastolic"
    LOWEST_PULSE = "lowest_pulse"
    HIGHEST_PULSE = "highest_pulse"
    MEAN_PULSE = "mean_pulse"  #: a fast pulse slows down at rest: one reading does not decide
    REPEATED_PULSE = "repeated_pulse"  #: the lowest of at least two


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Found when the number lies in the range, both ends included, and the rest holds."""

    finding: Finding
    number: Number
    least: int
    most: int
    heading: Heading
    source: str
    with_any: frozenset[str] = frozenset()  #: one of these symptoms is needed; none: whatever
    on_medicine: bool = False  #: only while the person takes medicine
    #: Judged when the occasion is over, and not said again before this has passed.
    every: timedelta | None = None


_NO_END: Final = 1000
_WEEK: Final = timedelta(days=7)

#: With a systolic below 100. Dizziness, fainting, falls: practice by NEWS2 (from memory).
#: Fainting is an emergency by itself.
LOW_SIGNS: Final = frozenset({"dizziness", "fainting", "x_fall"})
#: With a pulse that is too slow or too fast. Dizziness: the clinical table; weakness and
#: palpitations: common practice. Fainting, trouble breathing and pain in the chest are
#: emergencies by themselves.
PULSE_SIGNS: Final = frozenset({"dizziness", "weakness", "palpitations"})

#: From this pulse on a sign makes it an emergency; see the row.
FAST_WITH_SIGN_FROM: Final = 131

#: The first row of a number that holds is the finding.
ROWS: Final[tuple[Row, ...]] = (
    Row(
        finding=Finding.LOW,
        number=Number.LOWEST_SYSTOLIC,
        least=0,
        most=89,
        heading=Heading.TODAY,
        source="NEWS2 (RCP 2017): <=90 scores 3 (from memory); practice: below 90, same day",
    ),
    Row(
        finding=Finding.LOW_WITH_SIGN,
        number=Number.LOWEST_SYSTOLIC,
        least=90,
        most=99,
        with_any=LOW_SIGNS,
        heading=Heading.TODAY,
        source="NEWS2: 91-100 scores 2 (from memory); with a sign within a day: common practice",
    ),
    Row(
        finding=Finding.LOW_ON_MEDICINE,
        number=Number.LOWEST_SYSTOLIC,
        least=90,
        most=99,
        on_medicine=True,
        every=_WEEK,
        heading=Heading.TODAY,
        source="NEWS2: 91-100 scores 2 (from memory); on medicine within a day: common practice",
    ),
    Row(
        finding=Finding.LOW_DIASTOLIC,
        number=Number.MEAN_DIASTOLIC,
        least=0,
        most=59,
        on_medicine=True,
        every=timedelta(days=28),
        heading=Heading.NEXT_VISIT,
        source="common practice: below 60 in treated older people, mention",
    ),
    Row(
        finding=Finding.SLOW_WITH_SIGN,
        number=Number.LOWEST_PULSE,
        least=0,
        most=39,
        with_any=PULSE_SIGNS,
        heading=Heading.CALL,
        source="NEWS2: <=40 scores 3 (from memory); below 40 with symptoms: common practice",
    ),
    Row(
        finding=Finding.VERY_SLOW,
        number=Number.LOWEST_PULSE,
        least=0,
        most=39,
        heading=Heading.TODAY,
        source="NEWS2: <=40 scores 3 (from memory); below 40 the same day: common practice",
    ),
    Row(
        finding=Finding.RATHER_SLOW_WITH_SIGN,
        number=Number.LOWEST_PULSE,
        least=40,
        most=49,
        with_any=PULSE_SIGNS,
        heading=Heading.TODAY,
        source="NEWS2: 41-50 scores 1 (from memory); below 50 with dizziness: common practice",
    ),
    Row(
        finding=Finding.RATHER_SLOW,
        number=Number.LOWEST_PULSE,
        least=40,
        most=49,
        every=_WEEK,
        heading=Heading.NEXT_VISIT,
        source="NEWS2: 41-50 scores 1 (from memory); often normal: mention, common practice",
    ),
    Row(
        finding=Finding.FAST_WITH_SIGN,
        number=Number.HIGHEST_PULSE,
        least=FAST_WITH_SIGN_FROM,
        most=_NO_END,
        with_any=PULSE_SIGNS,
        heading=Heading.CALL,
        source="NEWS2: >=131 scores 3 (from memory); above 130 with symptoms: common practice",
    ),
    Row(
        finding=Finding.VERY_FAST,
        number=Number.MEAN_PULSE,
        least=121,
        most=_NO_END,
        heading=Heading.TODAY,
        source="NEWS2: 111-130 scores 2 (from memory); above 120 the same day: common practice",
    ),
    Row(
        finding=Finding.FAST,
        number=Number.REPEATED_PULSE,
        least=101,
        most=_NO_END,
        every=_WEEK,
        heading=Heading.NEXT_VISIT,
        source="NEWS2: 91-110 scores 1 (from memory); above 100 again at rest: common practice",
    ),
)
#: Rows that one reading of an occasion that is still going on decides at once.
_ABOUT: Final = {
    Number.LOWEST_SYSTOLIC: "pressure",
    Number.MEAN_DIASTOLIC: "diastolic",
    Number.LOWEST_PULSE: "slow",
    Number.HIGHEST_PULSE: "fast",
    Number.MEAN_PULSE: "fast",
    Number.REPEATED_PULSE: "fast",
}


@dataclass(frozen=True, slots=True)
class Found:
    """A row that holds, with the number that it looked at."""

    row: Row
    number: int

    @property
    def finding(self) -> Finding:
        return self.row.finding


def findings(
    readings: Sequence[Reading], symptoms: Iterable[str], *, on_medicine: bool
) -> tuple[Found, ...]:
    """What the readings of one occasion show together with symptoms; of each number once.

    Args:
        readings: at least one; in any order.
        symptoms: codes that count together with them.
        on_medicine: whether the person takes medicine for the pressure.
    """
    return _findings(lambda number: _number(readings, number), symptoms, on_medicine=on_medicine)


def pulse_findings(pulse: int, symptoms: Iterable[str]) -> tuple[Found, ...]:
    """What one pulse (beats per minute), given without a pressure, shows with symptoms."""
    once = {Number.LOWEST_PULSE, Number.HIGHEST_PULSE, Number.MEAN_PULSE}
    return _findings(lambda number: pulse if number in once else None, symptoms, on_medicine=False)


def _findings(
    number_of: Callable[[Number], int | None], symptoms: Iterable[str], *, on_medicine: bool
) -> tuple[Found, ...]:
    told = frozenset(symptoms)
    found: dict[str, Found] = {}
    for row in ROWS:
        number = number_of(row.number)
        if number is None or not row.least <= number <= row.most:
            continue
        if (row.with_any and not row.with_any & told) or (row.on_medicine and not on_medicine):
            continue
        found.setdefault(_ABOUT[row.number], Found(row, number))
    return tuple(found.values())


def _number(readings: Sequence[Reading], which: Number) -> int | None:
    pulses = [reading.pulse for reading in readings if reading.pulse is not None]
    match which:
        case Number.LOWEST_SYSTOLIC:
            return min(reading.systolic for reading in readings)
        case Number.MEAN_DIASTOLIC:
            return whole(Fraction(sum(r.diastolic for r in readings), len(readings)))
        case Number.LOWEST_PULSE:
            return min(pulses, default=None)
        case Number.HIGHEST_PULSE:
            return max(pulses, default=None)
        case Number.MEAN_PULSE:
            return whole(Fraction(sum(pulses), len(pulses))) if pulses else None
        case Number.REPEATED_PULSE:
            return min(pulses) if len(pulses) > 1 else None


# --- far from the person's own usual


#: More than this from the person's own median: measured again, both kept. Common practice.
FAR_SYSTOLIC: Final = 40
FAR_DIASTOLIC: Final = 25
#: What is usual is known from so many readings on so many days of the last weeks on. Twelve
#: readings: Stergiou 2018, the least for an average; three days: ESH 2021 (from memory).
USUAL_READINGS: Final = 12
USUAL_DAYS: Final = 3
USUAL_WITHIN: Final = timedelta(days=28)


def usual(earlier: Iterable[Reading], before: datetime, zone: ZoneInfo) -> tuple[int, int] | None:
    """The person's own median systolic and diastolic at home (mmHg), or None while unknown.

    Args:
        earlier: kept readings; those from `before` on, and those taken elsewhere, are left out.
        before: when the occasion began that is compared with them; aware.
        zone: of the person's days.
    """
    known = [
        r for r in earlier if before - USUAL_WITHIN <= r.at < before and r.setting is Setting.HOME
    ]
    days = {local_day(reading.at, zone) for reading in known}
    if len(known) < USUAL_READINGS or len(days) < USUAL_DAYS:
        return None
    systolic = median(Fraction(r.systolic) for r in known)
    return whole(systolic), whole(median(Fraction(r.diastolic) for r in known))


def is_far(systolic: int, diastolic: int, own: tuple[int, int]) -> bool:
    """Whether either number (mmHg) lies far from the person's own."""
    return abs(systolic - own[0]) > FAR_SYSTOLIC or abs(diastolic - own[1]) > FAR_DIASTOLIC


# --- from sitting to standing


#: Fall of either number from sitting or lying to standing. NICE NG136 1.1.6: >=20 systolic;
#: ESC 2024: >=20 or >=10 (both secondary).
DROP_SYSTOLIC: Final = 20
DROP_DIASTOLIC: Final = 10


def drops(seated: tuple[int, int], standing: tuple[int, int]) -> bool:
    """Whether the pressure (mmHg) falls too far on standing up."""
    return seated[0] - standing[0] >= DROP_SYSTOLIC or seated[1] - standing[1] >= DROP_DIASTOLIC


# --- a series that rises


#: Days of a week against days of the week before. Changes of a week's systolic mean below
#: 10 mmHg lie within usual variation (Kato 2010 with seven days: 9.0).
RISE_DAYS: Final = 7
RISE: Final = 10
#: So many of the newest days must each lie above the earlier mean: one bad day is no series.
#: Common practice.
RISE_IN_A_ROW: Final = 3
#: Older days are no part of it; common practice.
RISE_WITHIN: Final = timedelta(days=28)


def rises(readings: Iterable[Reading], target: int, today: date, zone: ZoneInfo) -> int | None:
    """By how many mmHg systolic the daily means at home have risen, or None when they have not.

    The mean of the newest seven measured days against that of the seven before them. A series
    that stays below the target is none.

    Args:
        readings: kept ones, in any order.
        target: systolic, mmHg; the newest mean must not lie below it.
        today: the person's local date.
        zone: of the person's days.
    """
    by_day: dict[date, list[int]] = {}
    for reading in readings:
        day = local_day(reading.at, zone)
        if reading.setting is Setting.HOME and today - RISE_WITHIN < day <= today:
            by_day.setdefault(day, []).append(reading.systolic)
    means = [Fraction(sum(by_day[day]), len(by_day[day])) for day in sorted(by_day)]
    if len(means) < 2 * RISE_DAYS:
        return None
    before, newest = means[-2 * RISE_DAYS : -RISE_DAYS], means[-RISE_DAYS:]
    level, reached = sum(before) / RISE_DAYS, sum(newest) / RISE_DAYS
    in_a_row = all(mean > level for mean in newest[-RISE_IN_A_ROW:])
    if reached - level < RISE or reached < target or not in_a_row:
        return None
    return whole(reached - level)


# --- the monitor's mark for an irregular pulse, and its errors


#: A mark on so many readings of one occasion (of three: community study, BMJ Open 2016), or on
#: so many days of a week ("several": common practice), is shown to a doctor for an ECG (NICE
#: NG196, from memory).
MARKED_READINGS: Final = 2
MARKED_DAYS: Final = 2
MARKED_WITHIN: Final = _WEEK

#: After so many tries without a number within this time it is left for now. Common practice.
MOST_TRIES: Final = 3
TRIES_WITHIN: Final = timedelta(hours=1)


def is_irregular(marked: int, days: Iterable[date], today: date) -> bool:
    """Whether marks are repeated: on readings of this occasion, or on days of the last week.

    Args:
        marked: readings of the occasion that carry the mark.
        days: local dates of all marks.
        today: the person's local date.
    """
    recent = {day for day in days if today - MARKED_WITHIN < day <= today}
    return marked >= MARKED_READINGS or len(recent) >= MARKED_DAYS
