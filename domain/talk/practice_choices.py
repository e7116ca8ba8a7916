"""What a practitioner decides for one patient: target, guideline, change of medicine, "seen".

What concerns danger stands in `practice_danger`.

Each is a command with or without its value ("/target 130/80"); without one the usual values are
offered as buttons. A button's argument is "command:value". Only a practitioner to whom the
patient has agreed comes here. Pressures in mmHg; days are the patient's local dates.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Final

from domain.averaging import average
from domain.averaging_rules import RULES, rule_named
from domain.events import Do
from domain.messages import line
from domain.people import Contact, NoteKind
from domain.plans import PlanKind
from domain.practice_list import Reason
from domain.practice_marks import LONGEST, NEVER_SILENT, NO_CHANGE, Finding, Seen
from domain.shown import shown_pair
from domain.talk import practice_danger
from domain.talk.turn import Rows, Turn

_PAIR: Final = re.compile(r"\s*(\d{2,3})\s*[/\s]\s*(\d{2,3})\s*")
#: Offered for the next look, in weeks. Common practice.
_WEEKS: Final = (1, 4, 12)
#: Offered for a change of medicine: so many days ago.
_DAYS_AGO: Final = (0, 1, 7)
#: A change longer ago than this is in no report any more.
_LONGEST_AGO: Final = timedelta(days=366)


def command(turn: Turn, contact: Contact, name: str, value: str) -> None:
    """A practitioner's command about this patient; one of `COMMANDS`."""
    _DOES[name](turn, contact, value.strip())


def pressed(turn: Turn, contact: Contact, argument: str) -> None:
    """A button of such a command."""
    name, _, value = argument.partition(":")
    if name in _DOES:
        command(turn, contact, name, value)
    else:
        turn.tell(contact, line("old_button"))


def _row(turn: Turn, label: str, argument: str, **values: str | int | date) -> Rows:
    return ((turn.button(label, Do.PRACTICE, argument, **values),),)


# --- target


def _target(turn: Turn, contact: Contact, value: str) -> None:
    # Here, because it loads NumPy, which no other message needs.
    from domain.evidence.targets import BOUNDS, TARGETS, UnsafeTargetError, chosen_target
    from domain.shown import Pair

    bounds = {"low": str(BOUNDS.lowest), "high": str(BOUNDS.highest)}
    wanted = _pair(value)
    if wanted is None:
        usual = {g.target.pair for groups in TARGETS.values() for g in groups if g.target}
        now = "{}/{}".format(*turn.profile.target)
        rows: Rows = ()
        for pair in sorted(usual):
            rows += _row(turn, "button.practice_target", f"target:{pair}", target=str(pair))
        asked = line("practice.target.ask", name=turn.patient.name, target=now, **bounds)
        turn.tell(contact, asked, buttons=rows)
        return
    try:
        chosen = chosen_target(Pair(*wanted)).pair
    except UnsafeTargetError:
        turn.tell(contact, line("practice.target.unsafe", **bounds))
        return
    turn.change_profile(target=(chosen.systolic, chosen.diastolic))
    turn.note(NoteKind.TARGET, code=str(chosen), text=contact.name)
    said = {"target": str(chosen), "doctor": contact.name}
    turn.tell(contact, line("practice.target.done", name=turn.patient.name, **said))
    turn.say(line("practice.target.told", **said))


# --- guideline


def _guideline(turn: Turn, contact: Contact, value: str) -> None:
    name = turn.patient.name
    if value not in RULES:
        rows: Rows = ()
        for rule in RULES.values():
            rows += _row(turn, "button.practice_rule", f"guideline:{rule.name}", rule=rule.name)
        now = rule_named(turn.state.rule)
        asked = line("practice.rule.ask", name=name, rule=now.name, guideline=now.guideline)
        turn.tell(contact, asked, buttons=rows)
        return
    turn.change(rule=value)
    chosen = rule_named(value)
    done = line("practice.rule.done", name=name, rule=chosen.name, guideline=chosen.guideline)
    turn.tell(contact, done)


# --- change of medicine


def _changed(turn: Turn, contact: Contact, value: str) -> None:
    name, today = turn.patient.name, turn.local_now.date()
    if value == NO_CHANGE:
        turn.note(NoteKind.CHANGED, code=NO_CHANGE, text=contact.name)
        turn.tell(contact, line("practice.changed.none", name=name))
        return
    day = _day(value, today, -1)
    if day is None or not today - _LONGEST_AGO <= day <= today:
        rows: Rows = ()
        for ago in _DAYS_AGO:
            then = today - timedelta(days=ago)
            rows += _row(turn, "button.practice_day", f"changed:{then}", day=then)
        turn.tell(contact, line("practice.changed.ask", name=name), buttons=rows)
        return
    turn.note(NoteKind.CHANGED, code=day.isoformat(), text=contact.name)
    kind = PlanKind.NEW_TABLETS_WEEK
    plan = (turn.button(f"plan.{kind}.name", Do.PATIENT_PLAN, kind),)
    undo = (turn.button("button.practice_changed_none", Do.PRACTICE, f"changed:{NO_CHANGE}"),)
    done = line("practice.changed.done", name=name, day=day)
    turn.tell(contact, done, buttons=(plan, undo) if day == today else (undo,))


# --- seen, decided


def _seen(turn: Turn, contact: Contact, value: str) -> None:
    """A day, and from the list what was found there: "2026-04-30@above_target@148/92"."""
    until, _, listed = value.partition("@")
    finding, _, shown = listed.partition("@")
    today = turn.local_now.date()
    found, mean = Finding(finding or Reason.ABOVE_TARGET), _pair(shown) or _mean(turn)
    day = _day(until, today, 7)
    if day is None or not today < day <= today + LONGEST:
        rows: Rows = ()
        for weeks in _WEEKS:
            then = today + timedelta(weeks=weeks)
            rows += _row(turn, "button.practice_day", f"seen:{then}@{found}@{shown}", day=then)
        turn.tell(contact, line("practice.seen.ask", name=turn.patient.name), buttons=rows)
        return
    if found in NEVER_SILENT:
        turn.tell(contact, line("practice.seen.never", name=turn.patient.name))
        return
    seen = Seen(by=contact.name, at=turn.now, until=day, finding=found, value=mean)
    turn.change(seen=seen)
    turn.tell(contact, line("practice.seen.done", name=turn.patient.name, day=day))
    turn.say(line("practice.seen.told", doctor=contact.name, day=day))


def _pair(text: str) -> tuple[int, int] | None:
    match = _PAIR.fullmatch(text)
    return (int(match[1]), int(match[2])) if match else None


def _mean(turn: Turn) -> tuple[int, int] | None:
    """The average at home by the chosen rule, as it stands now."""
    zone = turn.patient.zone
    readings = [kept.reading for kept in turn.patient.readings]
    mean = average(readings, rule_named(turn.state.rule), zone).overall
    if mean.systolic is None or mean.diastolic is None:
        return None
    shown = shown_pair(mean.systolic, mean.diastolic)
    return shown.systolic, shown.diastolic


def _day(value: str, today: date, step: int) -> date | None:
    """A date as 2026-04-30, or a number of `step` days from today; None for anything else."""
    if value.isdecimal() and len(value) <= 3:
        return today + timedelta(days=step * int(value))
    try:
        return date.fromisoformat(value)
    except ValueError:
        return None


_DOES: Final[Mapping[str, Callable[[Turn, Contact, str], None]]] = {
    "target": _target,
    "guideline": _guideline,
    "changed": _changed,
    "seen": _seen,
    "limits": practice_danger.limits,
    "known": practice_danger.known,
}

#: What a practitioner types behind the slash.
COMMANDS: Final = frozenset(_DOES)
