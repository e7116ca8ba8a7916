"""The steps that every part of an alarm is made of: moving it on, raising it, ending it.

`domain.alarm_table` says which stage follows; here the state is changed and the waits that
belong to a left stage go. What is said stands in `alarm_words`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from domain import alarm_table
from domain.alarm_table import AlarmStage, Happening, Wait
from domain.danger import Level
from domain.people import Alarm, Kept, NoteKind, PersonId
from domain.readings import Reading
from domain.talk import alarm_words, calling, coaching, contact_words, doubts, scheduling
from domain.talk.signs import Pair, Told
from domain.talk.turn import Turn


def alarm_of(turn: Turn) -> Alarm:
    """The open alarm; called only while one is open."""
    alarm = turn.state.alarm
    assert alarm is not None, "called only while an alarm is open"
    return alarm


def move(turn: Turn, happening: Happening, alarm: Alarm | None = None, **values: Any) -> Alarm:
    """Take the alarm to the stage that follows, with new values; a new `alarm` is opened so.

    The waits of the stage that is left are cancelled. Returns the alarm as it was left, also
    when it is over.
    """
    before = turn.state.alarm.stage if turn.state.alarm else None
    stage = alarm_table.after(before, happening)
    base = alarm or alarm_of(turn)
    changed = replace(base, **values) if stage is None else replace(base, stage=stage, **values)
    turn.change(alarm=None if stage is None else changed)
    left = [w.key for w in alarm_table.WAITS if before in w.stages and stage not in w.stages]
    turn.cancel(*left)
    return changed


def change(turn: Turn, **values: Any) -> Alarm:
    """New values for the open alarm, which stays in its stage."""
    changed = replace(alarm_of(turn), **values)
    turn.change(alarm=changed)
    return changed


def wait(turn: Turn, what: Wait, after: timedelta | None = None) -> None:
    """Set a wait of the alarm's stage, from now on."""
    turn.set_after(what.key, what.after if after is None else after)


def opened(turn: Turn, told: Told) -> datetime:
    """When it was written: after an outage the second pair may have been sent long ago."""
    return min(turn.now, told.written_at or turn.now)


def raise_emergency(
    turn: Turn,
    told: Told,
    severe: tuple[Pair, ...],
    symptoms: tuple[str, ...],
    reported_by: PersonId | None = None,
    happening: Happening = Happening.DANGER,
) -> None:
    """Call now: the person first, then everybody who may be told, at once."""
    before = turn.state.alarm
    again = before is not None and before.stage is AlarmStage.EMERGENCY
    base = before or Alarm(stage=AlarmStage.EMERGENCY, opened=opened(turn, told))
    if not again:  # what was answered to something less is no answer; a chat is tried anew
        base = replace(base, answered_by=(), unable=(), failed=(), rounds=0)
    alarm = move(
        turn,
        happening,
        base,
        readings=merged(base.readings, severe or told.pairs[-1:]),
        symptoms=tuple(dict.fromkeys((*base.symptoms, *symptoms))),
        causes=tuple(dict.fromkeys((*base.causes, told.message))),
        no_symptoms=False,
        reported_by=reported_by or base.reported_by,
    )
    coaching.close(turn)
    turn.note(NoteKind.ALARM, code=Level.EMERGENCY.code, made_by=told.message)
    alarm_words.emergency(turn, alarm, again=again)
    calling.call(turn, update=again)
    wait(turn, alarm_table.AGAIN)
    wait(turn, alarm_table.CHECK)
    wait(turn, alarm_table.END)


def end(turn: Turn, happening: Happening, how: str, *, said: bool = False, by: str = "") -> None:
    """The alarm is over; those who were told are told how. `how` is a key of the wording."""
    alarm = move(turn, happening)
    assert turn.state.alarm is None, f"{happening.name} does not end an alarm at {alarm.stage}"
    turn.note(NoteKind.ALARM_ENDED, code=how)
    if not said:
        alarm_words.ended(turn, alarm, how, by=by)
    contact_words.ended(turn, alarm, how, by=by)
    doubts.ask(turn)  # what an emergency left unasked is no lost reading
    scheduling.plan_ahead(turn)


def end_fell(turn: Turn) -> None:
    """A day without an end: nothing more is asked, and nobody is left to wait."""
    if turn.state.alarm is not None:
        end(turn, Happening.DAY_OVER, "no_word")


def merged(before: tuple[Pair, ...], new: tuple[Pair, ...]) -> tuple[Pair, ...]:
    return tuple(dict.fromkeys((*before, *new)))


# --- readings since it was opened


def readings_since(turn: Turn) -> tuple[Reading, ...]:
    """The readings that were sent after those that raised the alarm, by moment.

    In an emergency also after everything worse that was told since: what a message with a
    sign is edited to says nothing of how the person is afterwards.
    """
    alarm = alarm_of(turn)
    emergency = alarm.stage is AlarmStage.EMERGENCY
    before = alarm.causes if emergency else alarm.causes[:1]

    def is_later(kept: Kept) -> bool:
        # The host's clock may run behind the platform's: then the moment alone says nothing.
        made = kept.made_by
        named = any(made.chat == one.chat and made.message <= one.message for one in before)
        return kept.reading.at > alarm.opened and not named

    return tuple(kept.reading for kept in turn.patient.readings if is_later(kept))


def is_rested(turn: Turn, reading: Reading) -> bool:
    """Whether the rest before the second pair was over when it was measured, in whole minutes, as
    clock times are typed.
    """
    over = alarm_of(turn).rest_over
    return reading.at >= over.replace(second=0, microsecond=0) - alarm_table.REST_SLACK


def is_calm(turn: Turn) -> bool:
    """Whether two readings have come since and both are below this person's limits."""
    pair = readings_since(turn)[-2:]
    return len(pair) == 2 and not any(keeps_open(turn, reading) for reading in pair)


def keeps_open(turn: Turn, reading: Reading) -> bool:
    return turn.limits.keeps_open(reading.systolic, reading.diastolic)
