"""The practitioner's list: many patients at once, sorted by what to do about each.

Readings and averages are arrays (`columns.py`, `many_averages.py`); only the plan of each
patient is asked one by one. The values that come out, and what each reason means:
`domain/practice_list.py`. Pressures in mmHg; days are the patient's local dates.

Which average a line rests on: the youngest week that has enough for the rule and ended at
most `RESULT_DAYS` ago; where there is none, whatever the rule makes of the newest week.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt

from domain.averaging_rules import RULES, Rule
from domain.danger import LOW_SYSTOLIC, SEVERE, STILL_HIGH
from domain.evidence.columns import (
    Bools,
    Ints,
    OccasionColumns,
    ReadingColumns,
    moment_of,
    occasion_columns,
)
from domain.evidence.many_averages import Averages, DayGrid, whole_of_tenths
from domain.evidence.plan_days import RESULT_DAYS, WEEK, PlanDays, next_day, plan_days
from domain.evidence.poor_data import PoorData, poor_data
from domain.practice_list import (
    ACTIONS,
    LATELY_DAYS,
    Entry,
    Followed,
    ListedAverage,
    Reason,
    as_agreed,
    without_seen,
)
from domain.shown import A_LITTLE, LEAST_DAYS, Pair

Floats = npt.NDArray[np.float64]

#: Readings older than this are not looked at.
WINDOW: Final = timedelta(days=90)

#: Silent is who measured on none of so many days although so many occasions were asked for.
#: Own choice: a weekend away is no reason, two weeks of the two usual mornings are.
SILENT_DAYS: Final = 3
SILENT_ASKED: Final = 3

#: Behind is who measured less than half of what a week asked for, if it asked for so much.
BEHIND_ASKED: Final = 4

#: Where the rule cannot be met, because the plan asks for less: the mean of four weeks, with
#: at least as many days as any average that is compared with a target. Own choice.
LATELY: Final = replace(
    RULES["all"], name="four-weeks", week_days=28, least_days=LEAST_DAYS, remark="own choice"
)


def practitioner_list(
    patients: Sequence[Followed],
    readings: ReadingColumns,
    *,
    now: datetime,
    rule: Rule | None = None,
) -> tuple[Entry, ...]:
    """One entry for every patient, by action and then by urgency.

    Who agreed to alarms only has an entry while there is an alarm to tell of.

    Args:
        patients: in the order in which equals stand in the list.
        readings: that count, by the patient's place in `patients`. Only those of the
            `WINDOW` before `now` are looked at.
        now: aware. Today is each patient's own.
        rule: a row of `RULES`: what is enough, and the mean of what. None: for each patient
            the one that was chosen for them.
    """
    rules = dict.fromkeys([rule] if rule else [patient.rule for patient in patients])
    if len(rules) <= 1:
        found: Sequence[Entry] = [
            e for one in rules for e in _by_rule(patients, readings, now, one)
        ]
    else:
        found = []
        for one in rules:
            places = [n for n, patient in enumerate(patients) if patient.rule == one]
            mine = [patients[place] for place in places]
            found += _by_rule(mine, readings.of(np.array(places)), now, one)
    if len(rules) > 1 or any(patient.seen for patient in patients):
        found = without_seen(found, patients, now)
    if any(patient.alarms_only for patient in patients):
        found = as_agreed(found, patients)
    return tuple(found)


def _by_rule(
    patients: Sequence[Followed], readings: ReadingColumns, now: datetime, rule: Rule
) -> tuple[Entry, ...]:
    """The entries of some patients, all by one rule."""
    if not patients:
        return ()
    inside = readings.between(moment_of(now - WINDOW), moment_of(now)).without_repeats()
    occasions = occasion_columns(inside, [patient.zone for patient in patients])
    days = plan_days(patients, occasions, now)
    figures = _figures(patients, inside, occasions, days, rule)
    reason = _reasons(patients, days, figures)
    urgency = _urgency(reason, days, figures)
    order = np.lexsort((np.arange(len(patients)), -urgency, reason))
    entries = _Entries(patients, reason, urgency, days, figures)
    return tuple(entries.of(place) for place in order.tolist())


#: Sorted by action as well, see `practice_list.ACTIONS`.
_REASONS: Final = tuple(Reason)


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """What the readings show, by patient."""

    average: Averages  #: the one that the line rests on
    result: Bools  #: it is enough and young enough to decide on
    lately: Averages  #: of four weeks
    lately_young: Bools
    few_before: Bools  #: measured in the week before a plan that began of late
    over: Floats  #: how far the average is over the target, in steps of `A_LITTLE`
    lately_over: Floats
    still_high: Bools
    severe: Ints  #: place of the worst severe reading of the last days, -1 without one
    low: Ints
    readings: ReadingColumns
    poor: PoorData


def _figures(
    patients: Sequence[Followed],
    readings: ReadingColumns,
    occasions: OccasionColumns,
    days: PlanDays,
    rule: Rule,
) -> _Figures:
    grid = DayGrid(occasions, len(patients))
    average, result = _youngest_result(grid, rule, days.today)
    lately = grid.averages(LATELY, days.today)
    target = np.array([one.target for one in patients]).reshape(len(patients), 2)
    recent = days.today - days.began <= RESULT_DAYS
    before = grid.measured_between(days.began - WEEK, days.began - 1)
    young = (days.today - lately.last_day <= RESULT_DAYS) & lately.enough
    systolic, diastolic = (whole_of_tenths(tenths) for tenths in average.tenths())
    high = (systolic >= STILL_HIGH.systolic) | (diastolic >= (STILL_HIGH.diastolic or 0))
    severe, low = _worst_lately(readings, occasions, days.today)
    return _Figures(
        average=average,
        result=result,
        lately=lately,
        lately_young=young,
        few_before=recent & before,
        over=_over(average, target),
        lately_over=_over(lately, target),
        # While a plan runs, only what belongs to it can be too high to wait for its end.
        still_high=high & result & (average.last_day >= days.counted_from),
        severe=severe,
        low=low,
        readings=readings,
        poor=poor_data(readings, occasions, days.today),
    )


def _youngest_result(grid: DayGrid, rule: Rule, today: Ints) -> tuple[Averages, Bools]:
    """The average of the youngest week with enough, else of the newest; and which is which."""
    best = grid.averages(rule, today)
    found = best.enough & (today - best.last_day <= RESULT_DAYS)
    for back in range(1, RESULT_DAYS + 1):
        if found.all():
            break
        earlier = grid.averages(rule, today - back)
        fits = ~found & earlier.enough & (today - earlier.last_day <= RESULT_DAYS)
        if fits.any():
            best = earlier.where(fits, best)
            found |= fits
    return best, found


def _over(average: Averages, target: Ints) -> Floats:
    """How far the shown average is over the target: 0 at it, below 0 under both numbers."""
    systolic, diastolic = (whole_of_tenths(tenths) for tenths in average.tenths())
    over: Floats = np.maximum(
        (systolic - target[:, 0]) / A_LITTLE.systolic,
        (diastolic - target[:, 1]) / A_LITTLE.diastolic,
    )
    return np.where(average.weight > 0, over, -np.inf)


def _worst_lately(
    readings: ReadingColumns, occasions: OccasionColumns, today: Ints
) -> tuple[Ints, Ints]:
    """Places of each patient's highest severe and lowest low reading of the last days."""
    severe = readings.systolic >= SEVERE.systolic
    if SEVERE.diastolic is not None:
        severe |= readings.diastolic >= SEVERE.diastolic
    low = readings.systolic < LOW_SYSTOLIC

    def worst(chosen: Bools, sign: int) -> Ints:
        places = np.flatnonzero(chosen)
        ago = today[readings.patient[places]] - occasions.day[occasions.of_reading(places)]
        places = places[ago < LATELY_DAYS]
        order = np.lexsort((sign * readings.diastolic[places], sign * readings.systolic[places]))
        found = np.full(len(today), -1, dtype=np.int64)
        found[readings.patient[places[order]]] = places[order]  # the last one stays
        return found

    return worst(severe, 1), worst(low, -1)


def _reasons(patients: Sequence[Followed], days: PlanDays, figures: _Figures) -> Ints:
    """Places in `Reason`: the first one of these that holds, whatever their order there."""

    def each(values: list[bool]) -> Bools:
        return np.array(values, dtype=bool)

    joined = each([one.joined for one in patients])
    wanted = each([one.asked for one in patients])
    result, runs = figures.result, days.runs
    silent = (days.today - days.last >= SILENT_DAYS) & (days.asked_since >= SILENT_ASKED)
    behind = (days.asked >= BEHIND_ASKED) & (2 * days.done < days.asked)
    undecided = ~runs & ~result
    holds: dict[Reason, Bools] = {
        Reason.ALARM_OPEN: each([one.alarm_open for one in patients]),
        Reason.SEVERE_LATELY: figures.severe >= 0,
        Reason.ALARM_LATELY: each([_says(one, Reason.ALARM_LATELY) for one in patients]),
        Reason.FOUND_TODAY: each([_says(one, Reason.FOUND_TODAY) for one in patients]),
        Reason.LOW_LATELY: figures.low >= 0,
        Reason.NOT_JOINED: ~joined & wanted,
        Reason.ABOVE_TARGET: result & (figures.over >= 0) & (~runs | figures.still_high),
        Reason.FOUND: each([_says(one, Reason.FOUND) for one in patients]),
        Reason.NOT_ASKED: ~wanted | (days.began == 0),
        Reason.NO_READINGS: silent & (days.last == 0),
        Reason.SILENT: silent,
        Reason.BEHIND: runs & behind,
        Reason.ABOVE_TOO_FEW: undecided & figures.lately_young & (figures.lately_over >= 0),
        Reason.TOO_FEW: undecided & (days.ended | figures.few_before | behind),
        Reason.POOR_DATA: figures.poor.any,
        Reason.PLAN_RUNS: runs,
        Reason.AT_TARGET: result,
    }
    codes = [_REASONS.index(reason) for reason in holds]
    found: Ints = np.select(list(holds.values()), codes, _REASONS.index(Reason.AS_ASKED))
    return found


def _urgency(reason: Ints, days: PlanDays, figures: _Figures) -> Floats:
    """Who stands first among those of one reason: the greater value."""
    systolic = figures.readings.systolic

    def is_for(*reasons: Reason) -> Bools:
        return np.isin(reason, [_REASONS.index(one) for one in reasons])

    def numbers(places: Ints) -> Floats:
        found = np.zeros(len(places))
        found[places >= 0] = systolic[places[places >= 0]]
        return found

    return np.select(
        [
            is_for(Reason.ALARM_OPEN, Reason.SEVERE_LATELY),
            is_for(Reason.LOW_LATELY),
            is_for(Reason.ABOVE_TOO_FEW),
            is_for(Reason.NO_READINGS, Reason.SILENT, Reason.TOO_FEW, Reason.BEHIND),
        ],
        [
            numbers(figures.severe),
            -numbers(figures.low),
            figures.lately_over,
            days.asked_since.astype(float),
        ],
        np.nan_to_num(figures.over, neginf=-1e9),
    )


def _says(patient: Followed, reason: Reason) -> bool:
    return any(one.reason is reason for one in patient.lately)


#: The reasons whose lines rest on four weeks, because the rule's week has too little.
_OF_FOUR_WEEKS: Final = frozenset({Reason.ABOVE_TOO_FEW, Reason.AS_ASKED})


class _Entries:
    """Makes the lines: one value a patient from all the arrays."""

    def __init__(
        self,
        patients: Sequence[Followed],
        reason: Ints,
        urgency: Floats,
        days: PlanDays,
        figures: _Figures,
    ) -> None:
        self._patients = patients
        self._urgency = urgency.tolist()
        self._reasons = [_REASONS[code] for code in reason.tolist()]
        # Python's own numbers: taking them out of the arrays one by one takes longer.
        self._last, self._today = days.last.tolist(), days.today.tolist()
        self._asked, self._done = days.asked.tolist(), days.done.tolist()
        self._figures = figures
        four_weeks = np.isin(reason, [_REASONS.index(one) for one in _OF_FOUR_WEEKS])
        self._causes, self._pauses = figures.poor.causes(), figures.poor.usual_pauses()
        self._lacks = figures.average.lacks()
        shown = figures.lately.where(four_weeks, figures.average)
        self._tenths = [tenths.tolist() for tenths in shown.tenths()]
        self._counts = shown.readings.tolist(), shown.days.tolist(), shown.last_day.tolist()

    def of(self, place: int) -> Entry:
        patient, reason = self._patients[place], self._reasons[place]
        last, today = self._last[place], self._today[place]
        asked = patient.plan if patient.asked and patient.joined else None
        return Entry(
            patient=patient.person,
            name=patient.name,
            action=ACTIONS[reason],
            reason=reason,
            target=Pair(*patient.target),
            average=self._average(place),
            lacks=self._lacks[place],
            last_day=date.fromordinal(last) if last else None,
            silent=today - last if last else None,
            asked=self._asked[place],
            done=self._done[place],
            next_day=None if asked is None else next_day(asked, today),
            worst=self._worst(place),
            causes=self._causes[place],
            urgency=self._urgency[place],
            pause=self._pauses[place],
            lately=tuple(one for one in patient.lately if one.reason is not None),
        )

    def _average(self, place: int) -> ListedAverage | None:
        readings, days, last_day = (counts[place] for counts in self._counts)
        if not readings:
            return None
        systolic, diastolic = (tenths[place] for tenths in self._tenths)
        rule = LATELY if self._reasons[place] in _OF_FOUR_WEEKS else self._figures.average.rule
        return ListedAverage(
            systolic=Fraction(systolic, 10),
            diastolic=Fraction(diastolic, 10),
            shown=Pair((systolic + 5) // 10, (diastolic + 5) // 10),
            readings=readings,
            days=days,
            last_day=date.fromordinal(last_day),
            rule=rule.name,
        )

    def _worst(self, place: int) -> Pair | None:
        figures = self._figures
        places = {Reason.SEVERE_LATELY: figures.severe, Reason.LOW_LATELY: figures.low}
        found = places.get(self._reasons[place])
        if found is None:
            return None
        at = int(found[place])
        return Pair(int(figures.readings.systolic[at]), int(figures.readings.diastolic[at]))
