"""How a plan ends, and how a practitioner gives a patient another one."""

from __future__ import annotations

from domain.averaging import average
from domain.averaging_rules import rule_named
from domain.events import Do
from domain.messages import Line, line
from domain.outcome import Rank
from domain.people import Contact, Role
from domain.plans import KINDS, Plan, PlanKind
from domain.readings import local_day, whole
from domain.talk import fitting, scheduling
from domain.talk.turn import Rows, Turn


def end_fell(turn: Turn) -> None:
    """The plan is over: its result, for the person and their practitioners; then the next."""
    plan = turn.state.plan
    if plan is None or turn.state.declined:
        return
    following = KINDS[plan.kind].then
    if following is None:
        return
    result = _result(turn, plan, with_rule=True)
    scheduling.begin_plan(turn, following, first_day=turn.local_now.date())
    due = scheduling.plan_ahead(turn)
    about = (line(f"plan.{following}.about"),)
    first = (line("join.first", at=due),) if due else ()
    own = _result(turn, plan, with_rule=False)
    turn.say(line("plan.over"), *own, *about, *first, line("caution.short"), rank=Rank.PROMPT)
    fitting.ask_at_plan_start(turn)
    for contact in turn.patient.contacts:
        if contact.role is Role.PRACTITIONER and contact.may_see:
            told = line("contact.plan_over", name=turn.patient.name)
            report = (turn.button("button.report", Do.PATIENT_REPORT),)
            turn.tell(contact, told, *result, buttons=(report,), rank=Rank.PROMPT)


def _result(turn: Turn, plan: Plan, *, with_rule: bool) -> tuple[Line, ...]:
    """The plan's average; a practitioner also reads by which rule."""
    zone = turn.patient.zone
    last = plan.last_day
    readings = [
        kept.reading
        for kept in turn.patient.readings
        if local_day(kept.reading.at, zone) >= plan.counted_from
        and (last is None or local_day(kept.reading.at, zone) <= last)
    ]
    rule = rule_named(turn.state.rule)
    found = average(readings, rule, zone)
    mean = found.overall
    if mean.systolic is None or mean.diastolic is None:
        return (line("plan.result.nothing"),)
    shown = f"{whole(mean.systolic)}/{whole(mean.diastolic)}"
    enough = "plan.result.enough" if found.enough else "plan.result.thin"
    return (
        line(
            "plan.result.by_rule" if with_rule else "plan.result",
            shown=shown,
            count=mean.readings,
            guideline=rule.guideline,
        ),
        line(enough),
    )


def choose(turn: Turn, contact: Contact) -> None:
    """The kinds of plan, for a practitioner to choose one for this patient."""
    rows: Rows = tuple(
        (turn.button(f"plan.{kind}.name", Do.PATIENT_PLAN, kind),) for kind in PlanKind
    )
    turn.tell(contact, line("plan.choose", name=turn.patient.name), buttons=rows)


def chosen(turn: Turn, contact: Contact, kind: PlanKind) -> None:
    """The practitioner has chosen: the plan begins, both are told."""
    scheduling.begin_plan(turn, kind)
    due = scheduling.plan_ahead(turn)
    about = line(f"plan.{kind}.about")
    first = (line("join.first", at=due),) if due else ()
    turn.tell(contact, line("plan.changed", name=turn.patient.name), about)
    turn.say(line("plan.changed_by", name=contact.name), about, *first)
    fitting.ask_at_plan_start(turn)
