"""Signs of danger that are not new or no longer there: the long-standing and the passed.

A sign that the practitioner has recorded as long-standing (angina, lung disease) gets the
number at once and one question; others are told on "worse", "not sure", or no answer. A sign
of danger that has passed has to be seen today, and those who may be told learn of it.
"""

from __future__ import annotations

from datetime import datetime

from domain import alarm_table, danger
from domain.alarm_table import Happening
from domain.danger import Level
from domain.messages import Line, line, symptom_words
from domain.people import Alarm, AlarmStage, NoteKind, PersonId
from domain.talk import alarm_words, calling, coaching, day_hours, severe_words
from domain.talk.alarm_steps import alarm_of, change, end, move, opened, raise_emergency, wait
from domain.talk.signs import Told
from domain.talk.turn import Turn
from domain.understanding.result import Earlier
from domain.watch import Finding

# --- long-standing


def open_lasting(turn: Turn, told: Told, codes: tuple[str, ...]) -> None:
    """The number at once, and whether it is worse than usual."""
    base = turn.state.alarm or Alarm(stage=AlarmStage.LASTING, opened=opened(turn, told))
    alarm = move(turn, Happening.LASTING_SIGN, base, symptoms=codes, causes=(told.message,))
    coaching.close(turn)
    turn.note(NoteKind.ALARM, code=Level.LOW.code, made_by=told.message)
    severe_words.ask_if_worse(turn, alarm)
    wait(turn, alarm_table.LASTING)
    wait(turn, alarm_table.END)


def worse(turn: Turn) -> None:
    """Worse, while resting, or not sure: as any red flag."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.LASTING:
        turn.say(*alarm_words.nothing_open())
        return
    told = Told(message=alarm.causes[-1], symptoms=alarm.symptoms)
    raise_emergency(turn, told, (), alarm.symptoms, happening=Happening.WORSE)


def as_usual(turn: Turn) -> None:
    """As usual: the practitioner reads of it, nobody is called."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.LASTING:
        turn.say(*alarm_words.nothing_open())
        return
    end(turn, Happening.AS_USUAL, "as_usual")


def lasting_fell(turn: Turn) -> None:
    """No answer counts as worse."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.LASTING:
        worse(turn)


# --- passed


def to_be_seen(earlier: tuple[Earlier, ...]) -> tuple[Earlier, ...]:
    """Those signs of an earlier day that still have to be seen today.

    How long ago counts from when the message was written: an outage makes nothing old.
    """
    return tuple(
        sign for sign in earlier if sign.ago is not None and danger.to_be_seen(sign.code, sign.ago)
    )


def open_passed(
    turn: Turn, told: Told, earlier: tuple[Earlier, ...], reported_by: PersonId | None = None
) -> None:
    """Be seen today; those who may be told learn that it was there, and that it is gone."""
    codes = tuple(dict.fromkeys(sign.code for sign in earlier))
    ago = min(sign.ago for sign in earlier if sign.ago is not None)
    alarm = move(
        turn,
        Happening.SIGN_PASSED,
        Alarm(stage=AlarmStage.PASSED, opened=opened(turn, told)),
        symptoms=codes,
        causes=(told.message,),
        reported_by=reported_by,
        sign_at=opened(turn, told) - ago,
    )
    turn.note(NoteKind.ALARM, code=Level.URGENT.code, made_by=told.message)
    severe_words.be_seen_today(turn, alarm)
    calling.tell(turn, "passed")
    wait(turn, alarm_table.SEEN)
    wait(turn, alarm_table.END)


def more_passed(turn: Turn, told: Told, earlier: tuple[Earlier, ...]) -> None:
    """Another one that is gone while one is open: all are told of again."""
    alarm = alarm_of(turn)
    codes = tuple(dict.fromkeys((*alarm.symptoms, *(sign.code for sign in earlier))))
    causes = tuple(dict.fromkeys((*alarm.causes, told.message)))
    alarm = change(turn, symptoms=codes, causes=causes)
    severe_words.be_seen_today(turn, alarm)
    calling.tell(turn, "passed")


def note_earlier(turn: Turn, told: Told) -> tuple[Line, ...]:
    """Signs of an earlier day that open nothing: noted for the practitioner, and what to say.

    Those too long ago are for the next visit; the others belong to what is open for today.
    """
    open_ = turn.state.alarm.symptoms if turn.state.alarm is not None else ()
    codes = tuple(dict.fromkeys(s.code for s in told.earlier if s.code not in open_))
    if not codes:
        return ()
    turn.note(NoteKind.FINDING, code=Finding.EARLIER_SIGN, text=",".join(codes))
    today = any(sign.code in codes for sign in to_be_seen(told.earlier))
    key = "earlier.today" if today else "earlier.next_visit"
    words = symptom_words(codes)
    return (line(key, symptoms=words), line("passed.back", number=turn.number))


def seen(turn: Turn) -> None:
    """A doctor or nurse has heard of it."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage not in {AlarmStage.PASSED, AlarmStage.TODAY}:
        turn.say(*alarm_words.nothing_open())
        return
    turn.note(NoteKind.ALARM_SEEN)
    if alarm.stage is AlarmStage.PASSED:
        end(turn, Happening.SEEN, "seen")
        return
    change(turn, seen=True)
    turn.cancel(alarm_table.SEEN.key)
    severe_words.seen_by_a_doctor(turn, alarm_of(turn))


def seen_fell(turn: Turn) -> None:
    """Hours later, by day: has a doctor or nurse heard of it? Again until it is answered.

    Where a second pair or an answer is missing, that is asked for. Nothing heard twice: the
    contacts are told, and the practitioner reads it in the list.
    """
    alarm = turn.state.alarm
    if alarm is None or alarm.stage not in alarm_table.SEEN.stages or alarm.seen:
        return
    if not day_hours.is_day(turn.now, turn.patient.zone):
        _ask_by_day(turn, turn.now)
        return
    alarm = change(turn, asks=alarm.asks + 1)
    if alarm.stage in {AlarmStage.PASSED, AlarmStage.TODAY}:
        severe_words.ask_if_seen(turn, alarm)
    else:
        severe_words.still_awaited(turn, alarm)
    if alarm.asks == alarm_table.UNSEEN_TOLD_AT:
        turn.note(NoteKind.FINDING, code=Finding.UNSEEN)
        calling.tell(turn, "unseen")
    _ask_by_day(turn, turn.now + alarm_table.SEEN.after)


def _ask_by_day(turn: Turn, due: datetime) -> None:
    """At that moment, or the next morning where it is night then."""
    zone = turn.patient.zone
    day = day_hours.is_day(due, zone)
    turn.set_timer(
        alarm_table.SEEN.key, due if day else day_hours.next_at(day_hours.DAY_FROM, due, zone)
    )
