"""A person's week: what the weekly picture shows, and the lines that say the same in words.

Seven local days from a first day. Pressures in whole mmHg (see `shown.py`). Every occasion of
the week is in the view, also those of the afternoon and several of one morning. The week's
average is the mean of all its readings and follows no guideline: averages for a decision
are made by `averaging.py`. How it is drawn is the shell's business.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from domain.averaging import LocalOccasion
from domain.danger import MORE_RED_FLAGS, RED_FLAGS
from domain.messages import Line, line, symptom_words
from domain.people import Note, NoteKind
from domain.readings import Half, Reading, local_day
from domain.shown import (
    Against,
    Pair,
    ShownMean,
    ShownOccasion,
    clinic_occasions,
    compare,
    local_occasions,
    mean_of,
    show_occasion,
)

DAYS_OF_A_WEEK: Final = 7

#: A day with more occasions than this is told in words by its count and range only, so that
#: the text fits under a picture in a chat (1,024 characters).
TOLD_ONE_BY_ONE: Final = 4


@dataclass(frozen=True, slots=True)
class Day:
    """One local day with its occasions, oldest first."""

    day: date
    occasions: tuple[ShownOccasion, ...]
    means: tuple[tuple[Half, ShownMean], ...]  #: one for each half that has an occasion
    coming: bool  #: after today: nothing is missing yet

    def of(self, half: Half) -> tuple[ShownOccasion, ...]:
        return tuple(occasion for occasion in self.occasions if occasion.half is half)

    def mean(self, half: Half) -> ShownMean | None:
        return dict(self.means).get(half)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekView:
    """All that the weekly picture and its text show."""

    days: tuple[Day, ...]  #: always seven
    target: Pair  #: "below" these, mmHg
    average: ShownMean | None
    morning: ShownMean | None
    evening: ShownMean | None
    against: Against
    highest: ShownOccasion | None  #: by systolic, then diastolic; the earlier one of equals
    lowest: ShownOccasion | None
    asked: int | None  #: occasions asked for in this week; None when nothing was
    symptoms: tuple[str, ...]  #: codes told in this week, in that order, each once
    at_clinic: tuple[ShownOccasion, ...]  #: taken at the clinic: in no mean and on no day
    invented: bool

    @property
    def first_day(self) -> date:
        return self.days[0].day

    @property
    def last_day(self) -> date:
        return self.days[-1].day

    @property
    def missing(self) -> tuple[date, ...]:
        """Days that are over or running and have no reading."""
        return tuple(d.day for d in self.days if not d.occasions and not d.coming)

    @property
    def occasions(self) -> tuple[ShownOccasion, ...]:
        return tuple(occasion for day in self.days for occasion in day.occasions)

    @property
    def severe(self) -> tuple[ShownOccasion, ...]:
        return tuple(occasion for occasion in self.occasions if occasion.severe)


def week_view(
    readings: Iterable[Reading],
    *,
    zone: ZoneInfo,
    first_day: date,
    target: tuple[int, int],
    today: date | None = None,
    asked: int | None = None,
    notes: Iterable[Note] = (),
    invented: bool = False,
) -> WeekView:
    """The seven local days from `first_day` in `zone`.

    Args:
        readings: any, in any order; those of other days are passed over. An occasion lies
            on the day of its first reading. Those taken at the clinic stand beside the days.
        target: systolic and diastolic in mmHg, both to stay below.
        today: the local date on which the picture is made; days after it are not missing.
            None when the week is over.
        asked: occasions asked for up to now in this week.
        notes: of any kind and time; the symptoms of this week are taken.
        invented: the readings are made up, and the picture says so.
    """
    dates = [first_day + timedelta(days=n) for n in range(DAYS_OF_A_WEEK)]
    every = tuple(readings)
    kept = [found for found in local_occasions(every, zone) if found.day in dates]
    elsewhere = [found for found in clinic_occasions(every, zone) if found.day in dates]
    days = tuple(_day(day, [o for o in kept if o.day == day], zone, today) for day in dates)
    shown = [occasion for day in days for occasion in day.occasions]
    average = mean_of(kept)
    limits = Pair(*target)
    measured_days = sum(1 for day in days if day.occasions)
    return WeekView(
        days=days,
        target=limits,
        average=average,
        morning=_mean_in(kept, Half.MORNING),
        evening=_mean_in(kept, Half.EVENING),
        against=compare(average.value if average else None, limits, days=measured_days),
        highest=max(shown, key=lambda o: o.value, default=None),
        lowest=min(shown, key=lambda o: o.value, default=None),
        asked=asked,
        symptoms=_symptoms_of(notes, dates, zone),
        at_clinic=tuple(show_occasion(occasion, zone) for occasion in elsewhere),
        invented=invented,
    )


def _day(day: date, found: list[LocalOccasion], zone: ZoneInfo, today: date | None) -> Day:
    means = ((half, _mean_in(found, half)) for half in Half)
    return Day(
        day=day,
        occasions=tuple(show_occasion(occasion, zone) for occasion in found),
        means=tuple((half, mean) for half, mean in means if mean is not None),
        coming=today is not None and day > today,
    )


def _mean_in(found: list[LocalOccasion], half: Half) -> ShownMean | None:
    return mean_of([occasion for occasion in found if occasion.half is half])


def _symptoms_of(notes: Iterable[Note], days: list[date], zone: ZoneInfo) -> tuple[str, ...]:
    told = [
        note for note in notes if note.kind is NoteKind.SYMPTOM and local_day(note.at, zone) in days
    ]
    return tuple(dict.fromkeys(note.code for note in sorted(told, key=lambda n: n.at)))


def average_of(view: WeekView) -> Line:
    """What the week's average is an average of: "average of 12 mornings and evenings"."""
    if view.average is None:
        return line("week.of.nothing")
    halves = {occasion.half for occasion in view.occasions}
    key = {
        frozenset({Half.MORNING}): "week.of.mornings",
        frozenset({Half.EVENING}): "week.of.evenings",
        frozenset({Half.MORNING, Half.EVENING}): "week.of.both",
    }.get(frozenset(halves), "week.of.times")
    return line(key, count=view.average.occasions)


def against_line(view: WeekView) -> Line:
    """The plain sentence about the target."""
    return line(f"week.against.{view.against}")


def target_line(view: WeekView) -> Line:
    return line("week.target", target=str(view.target))


def clinic_line(view: WeekView) -> Line:
    """What was taken at the clinic in this week, of which there must be something."""
    values = ", ".join(str(occasion.value) for occasion in view.at_clinic)
    return line("week.clinic", values=values)


def symptoms_line(view: WeekView, *, most: int | None = None) -> Line:
    """The symptoms told in this week, of which there must be one.

    `most`: no more than so many by name, those that cannot wait first, and the number of
    the others.
    """
    codes = sorted(view.symptoms, key=lambda code: code not in RED_FLAGS | MORE_RED_FLAGS)
    named, others = codes[:most], len(codes[most:]) if most is not None else 0
    words = symptom_words(named)
    if others:
        return line("week.symptoms.more", symptoms=words, others=others)
    return line("week.symptoms", symptoms=words)


def caption(view: WeekView, name: str) -> tuple[Line, ...]:
    """All that the picture says, in words, one line of text for each, for under the picture."""
    lines = [line("week.caption.title", name=name, first=view.first_day, last=view.last_day)]
    if view.invented:
        lines.append(line("week.invented"))
    if view.average is None:
        lines += [against_line(view), target_line(view)]
    else:
        lines += [
            line("week.caption.average", value=str(view.average.value)),
            average_of(view),
            target_line(view),
            against_line(view),
        ]
        lines += _means_in_words(view)
    if view.asked is not None:
        lines.append(line("week.caption.asked", done=len(view.occasions), asked=view.asked))
    if view.occasions:
        lines += [_day_in_words(day) for day in view.days if not day.coming]
    if view.severe:
        lines.append(line("week.caption.severe"))
    if view.at_clinic:
        lines.append(clinic_line(view))
    if view.symptoms:
        lines.append(symptoms_line(view))
    lines.append(line("week.caution"))
    return tuple(lines)


def _means_in_words(view: WeekView) -> list[Line]:
    if view.morning is None or view.evening is None:
        return []
    morning, evening = str(view.morning.value), str(view.evening.value)
    return [line("week.caption.halves", morning=morning, evening=evening)]


def _day_in_words(day: Day) -> Line:
    if not day.occasions:
        return line("week.caption.day.missing", day=day.day)
    values = [occasion.value for occasion in day.occasions]
    if len(values) > TOLD_ONE_BY_ONE:
        low, high = str(min(values)), str(max(values))
        return line("week.caption.day.range", day=day.day, times=len(values), low=low, high=high)
    halves = [half for half in Half if day.of(half)]
    told = {half.value: ", ".join(str(o.value) for o in day.of(half)) for half in halves}
    return line("week.caption.day." + ".".join(halves), day=day.day, **told)
