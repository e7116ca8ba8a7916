"""What a patient can ask for by name: "/week", "/settings", "/help" and the like."""

from __future__ import annotations

from datetime import timedelta

from domain.events import Do
from domain.messages import line
from domain.outcome import Rank, ReportFile, WeekPicture
from domain.people import JoinStep, NoteKind
from domain.plans import next_due
from domain.talk import afterwards, coaching, joining, keeping, language_talk, replies, scheduling
from domain.talk.turn import NO_NUMBER, Turn


def week(turn: Turn) -> None:
    """The picture of the current week, Monday to Sunday."""
    today = turn.local_now.date()
    monday = today - timedelta(days=today.weekday())
    picture = WeekPicture(patient=turn.patient.id, first_day=monday)
    _send(turn, picture)


def report(turn: Turn) -> None:
    """The report for the visit, to whoever asked for it."""
    _send(turn, ReportFile(patient=turn.patient.id, last_day=turn.local_now.date()))


def _send(turn: Turn, attachment: WeekPicture | ReportFile) -> None:
    contact = turn.actor_contact
    if contact is None:
        turn.say(attachment=attachment)
    elif contact.may_see:
        turn.tell(contact, attachment=attachment)
    elif contact.may_be_told:
        turn.tell(contact, line("contact.alarms_only", name=turn.patient.name))
    else:
        turn.tell(contact, line("contact.wait", name=turn.patient.name))


def weekly_fell(turn: Turn) -> None:
    """Sunday evening: the week's picture to the patient and to those who may see it."""
    turn.set_timer(scheduling.WEEK, scheduling.next_sunday(turn))
    afterwards.weekly(turn)
    if turn.state.paused or turn.state.declined or turn.state.alarm is not None:
        return
    sunday = turn.local_now.date()
    sunday -= timedelta(days=(sunday.weekday() + 1) % 7)
    picture = WeekPicture(patient=turn.patient.id, first_day=sunday - timedelta(days=6))
    turn.say(rank=Rank.PROMPT, attachment=picture)
    for contact in turn.patient.contacts:
        if contact.may_see:
            turn.tell(contact, rank=Rank.PROMPT, attachment=picture)


def plan(turn: Turn) -> None:
    """When the person is asked to measure, and next."""
    following = turn.state.plan
    if following is None:
        turn.say(line("plan.none"))
        return
    due = next_due(following, scheduling.prompts(turn), turn.patient.zone, turn.now)
    at = due.moment.astimezone(turn.patient.zone) if due and not turn.state.paused else None
    upcoming = (line("plan.next", at=at),) if at else (line("plan.next.none"),)
    change = (turn.button("settings.change.prompt", Do.SET, JoinStep.PROMPT),)
    turn.say(line(f"plan.{following.kind}.about"), *upcoming, buttons=(change,))


def settings(turn: Turn) -> None:
    """What is known of the person, each with a button to change it."""
    rows = tuple(
        (turn.button(f"settings.change.{step}", Do.SET, step),)
        for step, question in joining.QUESTIONS.items()
        if question.in_settings
    )
    rows = (*rows, (language_talk.button(),))
    turn.say(line("settings.title"), *joining.summary(turn.profile), buttons=rows)


def undo(turn: Turn) -> keeping.Taken:
    """Take the last reading back, and say which it was."""
    taken = keeping.undo(turn)
    if not taken.deleted:
        turn.say(line("undo.nothing"))
        return taken
    gone = taken.deleted[0]
    turn.say(line("undo.done", shown=replies.shown(gone), at=gone.at.astimezone(turn.patient.zone)))
    return taken


def help_(turn: Turn) -> None:
    turn.say(line("help", number=turn.number), buttons=replies.caution_buttons(turn))


def cautions(turn: Turn) -> None:
    """The whole of the cautions; the patient's emergency number only for whoever may know it."""
    contact = turn.actor_contact
    known = contact is None or contact.may_be_told
    number = turn.number if known else NO_NUMBER
    turn.answer_actor(line("cautions.whole", number=number))


def stop(turn: Turn) -> None:
    """Ask once before the prompts stop; alarms and typed readings go on working."""
    turn.change(asking=coaching.ASKING_STOP)
    turn.say(
        line("stop.ask"),
        buttons=(
            (turn.button("button.stop_yes", Do.STOP_YES),),
            (turn.button("button.resume", Do.RESUME),),
        ),
    )


def stop_confirmed(turn: Turn) -> None:
    turn.change(paused=True, asking="")
    coaching.close(turn)
    scheduling.stop_prompts(turn)
    turn.note(NoteKind.PLAN, code="paused")
    turn.say(line("stop.done"))


def resume(turn: Turn) -> None:
    """Prompts again, from the next one that is due."""
    turn.change(paused=False, asking="")
    due = scheduling.plan_ahead(turn)
    turn.say(line("resume.done", at=due) if due else line("resume.nothing_due"))
