"""A rehearsal of an alarm: who would answer, and how soon.

    (none) --DUE--> rehearsal --everybody has answered--> (none)
                     |     |  --END---------------------> (none)
                     AGAIN +  --the patient ends it-----> (none)
                              --an alarm----------------> (none), at once

The real chain runs: the same people, the same rank in the outbox, a button, a repeat. Every
line says that it is a rehearsal. It begins in the day hours of the patient, and at an hour at
which those who are called are awake, as far as their clocks tell. What came of it is told to
the patient and noted for the practitioner.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from math import ceil
from typing import Final

from domain.events import Do
from domain.messages import Line, line
from domain.outcome import Rank
from domain.people import Contact, NoteKind, Rehearsal, RehearsalAnswer
from domain.talk.callers import called_now
from domain.talk.day_hours import is_day, next_at
from domain.talk.reach import reached
from domain.talk.turn import Turn, names
from domain.watch import Finding

#: All of these are the project's own choice.
EVERY: Final = timedelta(days=91)  #: three months
AGAIN_AFTER: Final = timedelta(minutes=3)  #: as the calls of an alarm
LASTS: Final = timedelta(minutes=15)
SLACK: Final = timedelta(minutes=5)  #: as the gap that counts as an outage
NOT_NOW: Final = timedelta(hours=1)  #: while the person measures or is asked something
#: Local hours, the one tried first first: between the readings of the morning and the evening.
HOURS: Final = (time(15), time(11), time(17), time(13), time(18, 30), time(9, 30))

DUE: Final = "rehearsal.due"
AGAIN: Final = "rehearsal.again"
END: Final = "rehearsal.end"


def plan(turn: Turn) -> None:
    """Set the timer when a rehearsal is due: somebody can be called, and none was held lately."""
    last = turn.state.rehearsed_at
    wanted = last is None or turn.now - last >= EVERY
    if wanted and turn.state.rehearsal is None and _is_possible(turn):
        turn.set_timer(DUE, next_at(_best_hour(turn), turn.now, turn.patient.zone))


def due_fell(turn: Turn) -> None:
    if not _is_possible(turn) or turn.state.rehearsal is not None:
        return
    if not is_day(turn.now, turn.patient.zone):  # after an outage
        turn.set_timer(DUE, next_at(_best_hour(turn), turn.now, turn.patient.zone))
    elif _is_busy(turn):
        turn.set_after(DUE, NOT_NOW)
    else:
        _begin(turn)


def again_fell(turn: Turn) -> None:
    """Whoever has not answered is written to once more."""
    rehearsal = turn.state.rehearsal
    if rehearsal is None or _is_late(turn, rehearsal):
        return
    for contact in _silent(turn, rehearsal):
        _call(turn, contact, again=True)
    if turn.now + AGAIN_AFTER < rehearsal.opened + LASTS:
        turn.set_after(AGAIN, AGAIN_AFTER)


def end_fell(turn: Turn) -> None:
    """The time is up, or the patient has ended it."""
    rehearsal = turn.state.rehearsal
    if rehearsal is None:
        turn.say(line("rehearsal.none"))
    elif _is_late(turn, rehearsal):
        _void(turn, rehearsal)
    else:
        _finish(turn, rehearsal)


def seen(turn: Turn, contact: Contact) -> None:
    """A contact has pressed the button."""
    rehearsal = turn.state.rehearsal
    if rehearsal is None or contact.person not in rehearsal.told:
        turn.tell(contact, line("rehearsal.over", name=turn.patient.name), rank=Rank.ALARM)
        return
    if all(answer.person != contact.person for answer in rehearsal.answers):
        answer = RehearsalAnswer(person=contact.person, at=turn.now)
        turn.change(rehearsal=replace(rehearsal, answers=(*rehearsal.answers, answer)))
    turn.tell(contact, line("rehearsal.contact.thanks", name=turn.patient.name), rank=Rank.ALARM)


def is_awaited(turn: Turn, contact: Contact) -> bool:
    """Whether this contact has been written to and has not answered yet."""
    rehearsal = turn.state.rehearsal
    return rehearsal is not None and contact in _silent(turn, rehearsal)


def follow(turn: Turn) -> None:
    """After any event: an alarm ends it at once, and so does the last answer."""
    rehearsal = turn.state.rehearsal
    if rehearsal is None:
        if reached(turn.patient) and not reached(turn.before):
            plan(turn)
        return
    if turn.state.alarm is not None:
        _cut(turn, rehearsal)
    elif not _silent(turn, rehearsal):
        _finish(turn, rehearsal)


# --- whether and when


def _is_possible(turn: Turn) -> bool:
    state = turn.state
    joined = state.joined_at is not None and state.joining is None
    away = state.declined or state.paused or state.unreachable
    return joined and not away and bool(reached(turn.patient))


def _is_busy(turn: Turn) -> bool:
    state = turn.state
    busy = state.alarm is not None or state.occasion is not None or bool(state.asking)
    return busy or not called_now(turn)


def _best_hour(turn: Turn) -> time:
    """The hour at which the fewest of those who are called sleep; the first of several."""
    clocks = [contact.clock for contact in reached(turn.patient) if contact.clock is not None]

    def asleep(hour: time) -> int:
        moment = next_at(hour, turn.now, turn.patient.zone)
        return sum(not is_day(moment, clock) for clock in clocks)

    return min(HOURS, key=asleep)


# --- how it runs


def _begin(turn: Turn) -> None:
    told = called_now(turn)
    persons = tuple(contact.person for contact in told)
    turn.change(rehearsal=Rehearsal(opened=turn.now, told=persons), rehearsed_at=turn.now)
    turn.say(
        line("rehearsal.begin", names=names(told)),
        line("rehearsal.how", number=turn.number, minutes=_minutes(AGAIN_AFTER)),
        line("rehearsal.lasts", minutes=_minutes(LASTS)),
        buttons=((turn.button("button.rehearsal_end", Do.REHEARSAL_END),),),
        rank=Rank.ALARM,
    )
    for contact in told:
        _call(turn, contact, again=False)
    turn.set_after(AGAIN, AGAIN_AFTER)
    turn.set_after(END, LASTS)


def _call(turn: Turn, contact: Contact, *, again: bool) -> None:
    name = turn.patient.name
    lines = [line("rehearsal.contact.again" if again else "rehearsal.contact", name=name)]
    if not again:
        lines.append(line("rehearsal.contact.how", name=name, number=turn.number))
    button = turn.button("button.rehearsal_seen", Do.REHEARSAL_SEEN)
    turn.tell(contact, *lines, buttons=((button,),), rank=Rank.ALARM)


def _silent(turn: Turn, rehearsal: Rehearsal) -> tuple[Contact, ...]:
    """Who was told, can still be reached, and has not answered."""
    answered = {answer.person for answer in rehearsal.answers}
    return tuple(
        contact
        for contact in _told(turn, rehearsal)
        if contact.person not in answered and contact.reachable
    )


def _told(turn: Turn, rehearsal: Rehearsal) -> tuple[Contact, ...]:
    """Who was told; consent may have been withdrawn since."""
    return tuple(
        contact
        for contact in turn.patient.contacts
        if contact.person in rehearsal.told and contact.may_be_told
    )


def _minutes(delay: timedelta) -> int:
    return int(delay.total_seconds() // 60)


# --- how it ends


def _finish(turn: Turn, rehearsal: Rehearsal) -> None:
    told = _told(turn, rehearsal)
    lines = [line("rehearsal.result")]
    lines += [_result(contact, rehearsal, turn.now) for contact in told]
    if not rehearsal.answers:
        lines.append(line("rehearsal.result.nobody", number=turn.number))
    turn.say(*lines, rank=Rank.ALARM)
    for contact in _silent(turn, rehearsal):
        turn.tell(contact, line("rehearsal.over", name=turn.patient.name), rank=Rank.ALARM)
    whole = bool(told) and len(rehearsal.answers) >= len(told)
    _close(turn, rehearsal, "all" if whole else "some" if rehearsal.answers else "none")


def _result(contact: Contact, rehearsal: Rehearsal, now: datetime) -> Line:
    took = _took(contact, rehearsal)
    if took is not None:
        return line("rehearsal.result.answered", name=contact.name, count=took)
    if not contact.reachable:
        return line("rehearsal.result.blocked", name=contact.name)
    waited = max(1, _minutes(now - rehearsal.opened))
    return line("rehearsal.result.silent", name=contact.name, count=waited)


def _took(contact: Contact, rehearsal: Rehearsal) -> int | None:
    """Within how many minutes a contact answered; None without an answer."""
    for answer in rehearsal.answers:
        if answer.person == contact.person:
            return max(1, ceil((answer.at - rehearsal.opened).total_seconds() / 60))
    return None


def _is_late(turn: Turn, rehearsal: Rehearsal) -> bool:
    """The program stood still meanwhile: what came of it says nothing of the people."""
    return turn.now > rehearsal.opened + LASTS + SLACK


def _void(turn: Turn, rehearsal: Rehearsal) -> None:
    turn.say(line("rehearsal.void"))
    for contact in _silent(turn, rehearsal):
        turn.tell(contact, line("rehearsal.over", name=turn.patient.name), rank=Rank.ALARM)
    _close(turn, rehearsal, "void")
    turn.change(rehearsed_at=None)
    plan(turn)


def _cut(turn: Turn, rehearsal: Rehearsal) -> None:
    """An alarm: whoever was told of the rehearsal must not take the alarm for a part of it."""
    for contact in _told(turn, rehearsal):
        told = line("rehearsal.contact.cut", name=turn.patient.name)
        turn.tell(contact, told, rank=Rank.ALARM)
    _close(turn, rehearsal, "cut")


def _close(turn: Turn, rehearsal: Rehearsal, code: str) -> None:
    """Noted for the practitioner: each name with the minutes, "blocked" or "-"."""
    took = {contact: _took(contact, rehearsal) for contact in _told(turn, rehearsal)}
    came = (
        f"{contact.name}: {minutes or ('-' if contact.reachable else 'blocked')}"
        for contact, minutes in took.items()
    )
    turn.note(NoteKind.REHEARSAL, code=code, text=", ".join(came))
    if code in {"some", "none"}:
        # Also whose chat is blocked: in an alarm they would not answer either.
        without = (contact.name for contact, minutes in took.items() if minutes is None)
        turn.note(NoteKind.FINDING, code=Finding.REHEARSAL, text=", ".join(without))
    turn.change(rehearsal=None)
    turn.cancel(AGAIN, END)
