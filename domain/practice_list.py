"""The practitioner's list: what to do about each patient, why, and the numbers behind it.

Only the values. How they are found for many patients at once: `evidence/patients.py`; the
words for every reason and cause: the message catalogues. Pressures in mmHg; days are the
patient's local dates. Nothing here is a diagnosis: it sorts whom to look at first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from domain import watch
from domain.averaging import Lack
from domain.averaging_rules import DEFAULT_RULE, RULES, Rule
from domain.people import PersonId
from domain.plans import Plan
from domain.practice_marks import Finding, Seen, silences
from domain.readings import local_day
from domain.record_quality import Cause
from domain.shown import Pair
from domain.watch import ROWS, Heading


class Action(StrEnum):
    """What to do, in the order of the list: what cannot wait stands first."""

    PHONE = "phone"
    DECIDE = "decide"
    CHASE = "chase"
    LEAVE_ALONE = "leave_alone"


class Reason(StrEnum):
    """Why, in the order within an action. The first one that holds is given."""

    ALARM_OPEN = "alarm_open"
    SEVERE_LATELY = "severe_lately"  #: a reading at or above `danger.SEVERE` in the last days
    ALARM_LATELY = "alarm_lately"  #: an alarm of the last days that is over
    FOUND_TODAY = "found_today"  #: the person was told of late to see a doctor the same day
    LOW_LATELY = "low_lately"  #: a systolic below `danger.LOW_SYSTOLIC` in the last days
    ABOVE_TARGET = "above_target"  #: enough readings, and either number not below the target
    FOUND = "found"  #: something of late that was said to be for the next visit
    ABOVE_TOO_FEW = "above_too_few"  #: not below it, but too few for the rule
    NO_READINGS = "no_readings"  #: none at all, though they were asked for
    SILENT = "silent"  #: none for days, though they were asked for
    TOO_FEW = "too_few"  #: what was to be decided on did not come together
    BEHIND = "behind"  #: a plan that runs, with less than half of what it asked for
    POOR_DATA = "poor_data"  #: enough of them, but how they came about is in doubt
    NOT_JOINED = "not_joined"
    PLAN_RUNS = "plan_runs"
    AS_ASKED = "as_asked"  #: measures what the plan asks, which is less than the rule wants
    SEEN = "seen"  #: what was found is what a practitioner has decided on, until a day
    AT_TARGET = "at_target"  #: enough readings, both numbers below the target
    NOT_ASKED = "not_asked"  #: paused, ended, or without a plan


#: What each reason calls for.
ACTIONS: Final[Mapping[Reason, Action]] = {
    Reason.ALARM_OPEN: Action.PHONE,
    Reason.SEVERE_LATELY: Action.PHONE,
    Reason.ALARM_LATELY: Action.PHONE,
    Reason.FOUND_TODAY: Action.PHONE,
    Reason.LOW_LATELY: Action.PHONE,
    Reason.ABOVE_TARGET: Action.DECIDE,
    Reason.FOUND: Action.DECIDE,
    Reason.ABOVE_TOO_FEW: Action.CHASE,
    Reason.NO_READINGS: Action.CHASE,
    Reason.SILENT: Action.CHASE,
    Reason.TOO_FEW: Action.CHASE,
    Reason.BEHIND: Action.CHASE,
    Reason.POOR_DATA: Action.CHASE,
    Reason.NOT_JOINED: Action.CHASE,
    Reason.PLAN_RUNS: Action.LEAVE_ALONE,
    Reason.AS_ASKED: Action.LEAVE_ALONE,
    Reason.SEEN: Action.LEAVE_ALONE,
    Reason.AT_TARGET: Action.LEAVE_ALONE,
    Reason.NOT_ASKED: Action.LEAVE_ALONE,
}


#: Severe and low readings of so many days, today included, are a reason to phone. Own choice.
LATELY_DAYS: Final = 3

#: How an alarm may have ended so that it was none.
_NO_ALARM: Final = frozenset({"not_about", "corrected"})
#: What the person was told to speak to a doctor about the same day.
_FOR_TODAY: Final = frozenset(row.finding for row in ROWS if row.heading >= Heading.TODAY) | {
    watch.Finding.OLD_SEVERE,
    watch.Finding.FALL,
    watch.Finding.UNSEEN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lately:
    """Something of the last days that is no reading: how an alarm ended, what was found."""

    day: date
    code: str  #: "calm" and the like of an alarm, a `watch.Finding` otherwise
    number: str = ""
    is_alarm: bool = False

    @property
    def reason(self) -> Reason | None:
        """What it calls for; None for an alarm that was none, and for what is not known."""
        if self.is_alarm:
            return None if self.code in _NO_ALARM else Reason.ALARM_LATELY
        if self.code in _FOR_TODAY:
            return Reason.FOUND_TODAY
        return Reason.FOUND if self.code in set(watch.Finding) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """What the list must know of a patient besides the readings."""

    person: PersonId
    name: str
    zone: ZoneInfo
    target: tuple[int, int] = (135, 85)  #: on target is below both
    plan: Plan | None = None
    alarm_open: bool = False
    joined: bool = True  #: has finished joining
    asked: bool = True  #: wants to be asked: neither paused nor ended
    rule: Rule = RULES[DEFAULT_RULE]  #: as a practitioner chose it
    seen: Seen | None = None  #: the finding that a practitioner has decided on
    lately: tuple[Lately, ...] = ()  #: of the last `LATELY_DAYS`, by moment
    alarms_only: bool = False  #: agreed that whoever reads the list is told of alarms alone


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedAverage:
    """The average that a line rests on, as `averaging.average` gives and prints it."""

    systolic: Fraction  #: mmHg, to one decimal
    diastolic: Fraction  #: mmHg, to one decimal
    shown: Pair  #: whole, as it is judged against the target
    readings: int
    days: int
    last_day: date
    rule: str  #: name of the rule; where the chosen one was not met it may be another


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the list."""

    patient: PersonId
    name: str
    action: Action
    reason: Reason
    target: Pair
    average: ListedAverage | None  #: None where no reading can be averaged
    lacks: tuple[Lack, ...]  #: what the chosen rule lacks in the week looked at; () when enough
    last_day: date | None  #: of the last reading; None: none in the window
    silent: int | None  #: whole days since then
    asked: int  #: occasions that the plan asked for in the seven days before today
    done: int  #: occasions measured in these days, since the plan began
    next_day: date | None  #: the next day, from today on, on which the plan asks
    worst: Pair | None  #: the severe or low reading that is the reason
    causes: tuple[Cause, ...]  #: of poor data, whatever the reason of the line
    urgency: float = 0.0  #: among those of one reason the greater stands first
    finding: Reason | None = None  #: what was found, where it has been seen and is not told
    until: date | None = None  #: when it is told again
    pause: int | None  #: seconds between readings, the usual length of those too short
    lately: tuple[Lately, ...] = ()  #: told below the line, whatever its reason


def as_agreed(entries: Iterable[Entry], patients: Iterable[Followed]) -> list[Entry]:
    """The entries without what somebody who agreed to alarms only has not agreed to.

    Of them only an alarm is told, open or of the last days; without one they stand in no list.
    """
    alarms_only = {patient.person for patient in patients if patient.alarms_only}
    found = [_alarms(entry) if entry.patient in alarms_only else entry for entry in entries]
    return _by_urgency(entry for entry in found if entry is not None)


def _alarms(entry: Entry) -> Entry | None:
    ended = tuple(one for one in entry.lately if one.reason is Reason.ALARM_LATELY)
    is_open = entry.reason is Reason.ALARM_OPEN
    if not (is_open or ended):
        return None
    reason = Reason.ALARM_OPEN if is_open else Reason.ALARM_LATELY
    return Entry(
        patient=entry.patient,
        name=entry.name,
        action=ACTIONS[reason],
        reason=reason,
        target=entry.target,
        average=None,
        lacks=(),
        last_day=None,
        silent=None,
        asked=0,
        done=0,
        next_day=None,
        worst=None,
        causes=(),
        pause=None,
        lately=ended,
    )


def without_seen(
    entries: Iterable[Entry], patients: Iterable[Followed], now: datetime
) -> list[Entry]:
    """The entries with what has been seen and decided moved to what needs nothing now.

    Args:
        entries: one for each patient, in any order.
        now: aware. Today is each patient's own.

    Returns:
        Them all, by action and then by urgency.
    """
    followed = {patient.person: patient for patient in patients}
    return _by_urgency(_unless_seen(entry, followed[entry.patient], now) for entry in entries)


def _by_urgency(entries: Iterable[Entry]) -> list[Entry]:
    places = {reason: place for place, reason in enumerate(Reason)}
    return sorted(entries, key=lambda entry: (places[entry.reason], -entry.urgency))


def _unless_seen(entry: Entry, patient: Followed, now: datetime) -> Entry:
    seen = patient.seen
    if seen is None:
        return entry
    shown = entry.average.shown if entry.average else None
    value = (shown.systolic, shown.diastolic) if shown else None
    if not silences(seen, Finding(entry.reason), value, local_day(now, patient.zone)):
        return entry
    return replace(
        entry,
        action=ACTIONS[Reason.SEEN],
        reason=Reason.SEEN,
        finding=entry.reason,
        until=seen.until,
    )
