"""The standing timers of a patient: the next prompt, Sunday's picture, the end of a plan.

Moments are aware; days and clock times are the person's own. What happens when a timer
falls is in the room that owns it.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Final

from domain.people import Consent, NoteKind
from domain.plans import Due, Plan, PlanKind, local_moment, next_due
from domain.readings import Half
from domain.talk.turn import Turn

PROMPT: Final = "prompt"  #: the next occasion that the plan asks for
WEEK: Final = "week"  #: the weekly picture
PLAN_END: Final = "plan.end"
CONTACTS: Final = "contacts"  #: links that wait for the patient's consent

WEEK_PICTURE_AT: Final = time(20, 45)  #: Sunday, local: after an evening occasion
PLAN_RESULT_AT: Final = time(9)  #: the morning after the last day
SUNDAY: Final = 6


def start_plan_if_none(turn: Turn) -> Plan:
    """The plan that runs; without one the invitation's kind, or the first week, begins today.

    Today counts only when its morning prompt is still to come, so that day 1 is whole.
    """
    return turn.state.plan or begin_plan(turn, turn.state.wanted_plan or PlanKind.FIRST_WEEK)


def begin_plan(turn: Turn, kind: PlanKind, first_day: date | None = None) -> Plan:
    """Begin a plan of this kind and note it; the first day is today or tomorrow, local."""
    if first_day is None:
        morning = turn.profile.morning_prompt or time(7, 30)
        today = turn.local_now.date()
        late = turn.local_now.time() >= morning and kind is not PlanKind.NEW_TABLETS_WEEK
        first_day = today + timedelta(days=1) if late else today
    plan = Plan(kind=kind, first_day=first_day)
    turn.change(plan=plan)
    turn.note(NoteKind.PLAN, code=kind)
    return plan


def prompts(turn: Turn) -> dict[Half, time]:
    """The local times of the prompts by half of the day."""
    profile = turn.profile
    return {
        Half.MORNING: profile.morning_prompt or time(7, 30),
        Half.EVENING: profile.evening_prompt or time(19, 30),
    }


def plan_ahead(turn: Turn) -> datetime | None:
    """Set the standing timers anew. Returns the next prompt's local moment, None if none."""
    state = turn.state
    if state.declined or state.paused or state.unreachable or state.joined_at is None:
        return None
    turn.set_timer(WEEK, next_sunday(turn))
    plan = turn.state.plan
    if plan is None:
        return None
    if plan.last_day is not None:
        end = local_moment(plan.last_day + timedelta(days=1), PLAN_RESULT_AT, turn.patient.zone)
        turn.set_timer(PLAN_END, max(end, turn.now))
    due = set_next_prompt(turn, after=turn.now)
    return due.moment.astimezone(turn.patient.zone) if due else None


def set_next_prompt(turn: Turn, *, after: datetime) -> Due | None:
    """Set the timer of the first prompt after a moment, or cancel it when none is due."""
    plan = turn.state.plan
    due = next_due(plan, prompts(turn), turn.patient.zone, after) if plan else None
    if due is None:
        turn.cancel(PROMPT)
    else:
        turn.set_timer(PROMPT, due.moment)
    return due


def next_sunday(turn: Turn) -> datetime:
    """The next moment (UTC) at which the weekly picture is due."""
    today = turn.local_now.date()
    for days in range(8):
        day = today + timedelta(days=days)
        moment = local_moment(day, WEEK_PICTURE_AT, turn.patient.zone)
        if day.weekday() == SUNDAY and moment > turn.now:
            return moment
    raise AssertionError("eight days hold a Sunday evening that is still to come")


def stop_prompts(turn: Turn) -> None:
    """No more prompts and pictures; alarms go on working."""
    turn.cancel(PROMPT, WEEK, PLAN_END, "occasion.next", "occasion.remind", "occasion.missed")


def show_proposals_soon(turn: Turn) -> None:
    """Show the links that wait for consent, as an event of their own."""
    waiting = any(c.consent is Consent.PROPOSED and not c.asked for c in turn.patient.contacts)
    if waiting:
        turn.set_timer(CONTACTS, turn.now)


def half_of_prompt(turn: Turn, due: datetime) -> Half:
    """The half of the day whose prompt fell due at this moment."""
    clock = due.astimezone(turn.patient.zone).time()
    times = prompts(turn)
    if clock == times[Half.EVENING] and clock != times[Half.MORNING]:
        return Half.EVENING
    return Half.MORNING if clock < time(14) else Half.EVENING
