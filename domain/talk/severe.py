"""A severe reading without a known sign: the question, the rest, the second pair, and today.

The number is already shown when the question is put. No answer is not a no: those who may be
told are told after `alarm_table.TELL`. Pressures in mmHg.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from domain import alarm_table
from domain.alarm_table import Happening
from domain.danger import Level
from domain.messages import Line
from domain.people import Alarm, AlarmStage, NoteKind, PersonId
from domain.readings import Reading
from domain.talk import alarm_words, calling, coaching, doubts, severe_words
from domain.talk.alarm_steps import (
    alarm_of,
    change,
    end,
    is_calm,
    is_rested,
    keeps_open,
    merged,
    move,
    opened,
    raise_emergency,
    readings_since,
    wait,
)
from domain.talk.signs import SIGN, Pair, Told
from domain.talk.turn import Turn


def open_severe(
    turn: Turn, told: Told, severe: tuple[Pair, ...], reported_by: PersonId | None = None
) -> None:
    """A severe number, no sign known: asked for, and the second pair is expected."""
    symptoms = tuple(dict.fromkeys((*_before(turn).symptoms, *told.symptoms)))
    alarm = move(
        turn,
        Happening.SEVERE,
        _before(turn, opened=opened(turn, told)),
        readings=severe,
        symptoms=symptoms,
        causes=(told.message,),
        asks=1,
        no_symptoms=False,
        reported_by=reported_by,
    )
    coaching.close(turn)
    turn.note(NoteKind.ALARM, code=Level.URGENT.code, made_by=told.message)
    if told.denies_all and not told.symptoms:
        severe_words.severe_seen(turn, alarm)
        no_signs(turn)
    else:
        severe_words.ask_symptoms(turn, alarm, again=False)
        wait(turn, alarm_table.ASK)
        wait(turn, alarm_table.TELL)
    wait(turn, alarm_table.PAIR)
    wait(turn, alarm_table.TELL_PAIR)
    wait(turn, alarm_table.END)


def open_same_day(turn: Turn, told: Told, pairs: tuple[Pair, ...]) -> None:
    """A number that needs a call the same day by itself (pregnancy): nothing is repeated."""
    alarm = move(
        turn,
        Happening.SAME_DAY,
        _before(turn, opened=opened(turn, told)),
        readings=pairs,
        causes=(told.message,),
        no_symptoms=told.denies_all,
        asks=0,
    )
    coaching.close(turn)
    turn.note(NoteKind.ALARM, code=Level.URGENT.code, made_by=told.message)
    severe_words.same_day(turn, alarm)
    calling.tell(turn, "same_day")
    wait(turn, alarm_table.SEEN)
    wait(turn, alarm_table.END)


def _before(turn: Turn, **values: object) -> Alarm:
    """The open alarm as a base, or a new one."""
    alarm = turn.state.alarm or Alarm(stage=AlarmStage.ASKED, opened=turn.now)
    return replace(alarm, **values)  # type: ignore[arg-type]  # values of its own fields


def no_signs(turn: Turn) -> None:
    """The person says that none of the signs is there."""
    if turn.state.alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    turn.note(NoteKind.SYMPTOM, code="none")
    alarm = change(turn, no_symptoms=True)
    turn.cancel(alarm_table.ASK.key, alarm_table.TELL.key)
    match alarm.stage:
        case AlarmStage.EMERGENCY:
            answer_in_emergency(turn, Told(message=alarm.causes[-1], denies_all=True))
        case AlarmStage.LASTING | AlarmStage.PASSED:
            alarm_words.what_is_open(turn, alarm)
        case _ if not settle(turn):
            _rest(turn)


def _rest(turn: Turn) -> None:
    alarm = move(turn, Happening.NO_SIGN)
    if alarm.stage is AlarmStage.TODAY:
        alarm_words.what_is_open(turn, alarm)
        return
    later = readings_since(turn)
    if later and is_rested(turn, later[-1]):
        severe_words.one_of_two(turn, later[-1])
    else:
        said = min(turn.now, turn.written_at)
        if said < alarm.opened + alarm_table.REST.after:
            alarm = change(turn, rest_until=said + alarm_table.REST.after)
        if later:
            severe_words.measured_early(turn, alarm, later[-1])
        else:
            severe_words.rest_then_repeat(turn, alarm)
        wait(turn, alarm_table.REST)
    # Whoever answers late is not told that the pair is overdue while they rest.
    slack = alarm_table.PAIR.after - alarm_table.REST.after
    due = max(alarm.opened + alarm_table.PAIR.after, turn.now + slack)
    turn.set_timer(alarm_table.PAIR.key, due)
    doubts.ask(turn)  # only now: signs come before "did you mean"


def signs_there(turn: Turn) -> None:
    """The person says that one of the signs is there, without naming it."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    told = Told(message=alarm.causes[-1], pairs=alarm.readings, symptoms=(SIGN,))
    turn.note(NoteKind.SYMPTOM, code=SIGN)
    raise_emergency(turn, told, alarm.readings, (SIGN,))


_AWAITED: Final = frozenset({AlarmStage.ASKED, AlarmStage.REPEATING, AlarmStage.LASTING})


def is_awaited(turn: Turn) -> bool:
    """Whether an answer or a second pair is awaited."""
    alarm = turn.state.alarm
    return alarm is not None and alarm.stage in _AWAITED


def remind_what_is_open(turn: Turn) -> bool:
    """While an answer or a second pair is awaited, that is what matters. False otherwise."""
    alarm = turn.state.alarm
    if alarm is None or not is_awaited(turn):
        return False
    alarm_words.what_is_open(turn, alarm)
    return True


def cannot_wait(turn: Turn) -> bool:
    """Somebody wants to sleep first, or to do it later: not while this is open. False otherwise.

    Also not before a doctor or nurse has heard of it, unless what is put off is a prompt.
    """
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is AlarmStage.EMERGENCY or alarm.seen:
        return False
    if alarm.stage not in _AWAITED and turn.state.occasion is not None:
        return False
    severe_words.cannot_wait(turn, alarm)
    return True


def monitor_failed(turn: Turn, check: tuple[Line, ...]) -> bool:
    """The monitor gives no number while an alarm waits for one: one answer. False otherwise.

    `check` says what to look at; without it, after several tries, nobody waits for the monitor.
    Those who may be told learn of it when the pair is overdue.
    """
    alarm = turn.state.alarm
    if alarm is None or alarm.stage not in _AWAITED:
        return False
    severe_words.monitor_failed(turn, alarm, check)
    return True


# --- more is said


def more_said(turn: Turn, told: Told, severe: tuple[Pair, ...]) -> bool:
    """Another message while a severe reading is open."""
    alarm = alarm_of(turn)
    if told.kept and told.message in alarm.causes:
        alarm_words.what_is_open(turn, alarm)  # the number that raised it, now filed
        return True
    if severe:
        causes = tuple(dict.fromkeys((*alarm.causes, told.message)))
        change(turn, readings=merged(alarm.readings, severe), causes=causes)
    if told.denies_all and not told.symptoms and alarm.stage is AlarmStage.ASKED:
        no_signs(turn)
        return True
    if told.kept:
        return _repeat_came(turn, told.kept[-1])
    unanswered = bool(told.pairs) and alarm.stage is AlarmStage.ASKED
    if severe or told.symptoms or unanswered:  # signs come before "did you mean"
        severe_words.ask_symptoms(turn, alarm_of(turn), again=True)
        return True
    return False


def _repeat_came(turn: Turn, last: Reading) -> bool:
    """A reading while a severe one is open. False when the usual reply should follow."""
    alarm = alarm_of(turn)
    if not alarm.no_symptoms and alarm.stage is not AlarmStage.TODAY:
        severe_words.ask_symptoms(turn, alarm, again=True, shown=last)
        return True
    if settle(turn):
        return True
    if alarm.stage is AlarmStage.TODAY:
        if keeps_open(turn, last):
            severe_words.today(turn, (last,))
        return False  # the guided occasion goes on; its second reading settles
    if is_rested(turn, last):
        severe_words.one_of_two(turn, last)
    else:
        severe_words.measured_early(turn, alarm, last)
    return True


def settle(turn: Turn) -> bool:
    """Decide by the second pair once it is there. False while a reading is missing."""
    pair = _second_pair(turn)
    high = any(keeps_open(turn, reading) for reading in pair)
    if len(pair) < 2 or (alarm_of(turn).stage is AlarmStage.TODAY and high):
        return False
    if high:
        move(turn, Happening.PAIR_SEVERE, asks=0)
        severe_words.today(turn, pair)
        calling.tell(turn, "still_severe")
        wait(turn, alarm_table.SEEN)
    else:
        severe_words.lower_now(turn, pair)
        end(turn, Happening.PAIR_BELOW, "below", said=True)
    return True


def _second_pair(turn: Turn) -> tuple[Reading, ...]:
    """The two readings that decide; fewer while one is missing.

    Those measured after the rest. Before it only a severe one decides: a low one may be the
    luck of a moment, and to wait for a better one of a severe pair helps nobody.
    """
    later = readings_since(turn)
    if alarm_of(turn).stage is AlarmStage.TODAY:
        return later[-2:]
    rested = tuple(reading for reading in later if is_rested(turn, reading))
    early = later[-2:]
    if not rested and any(keeps_open(turn, reading) for reading in early):
        return early
    return rested[-2:]


def answer_in_emergency(turn: Turn, told: Told) -> None:
    """Anything further in an emergency: readings are kept, the advice stays."""
    # "No" to "call now" denies no sign: only who has a calm pair has been asked about them.
    asked = is_calm(turn) or bool(told.kept)
    if told.denies_all and not told.symptoms and asked:
        change(turn, no_symptoms=True)
        turn.note(NoteKind.SYMPTOM, code="none")
    severe = tuple(pair for pair in told.pairs if turn.limits.is_severe(*pair))
    if severe:
        change(turn, readings=merged(alarm_of(turn).readings, told.pairs))
    if is_calm(turn) and alarm_of(turn).no_symptoms:
        _calm(turn)
        return
    alarm_words.still_emergency(turn, alarm_of(turn), kept=told.kept, calm=is_calm(turn))


def _calm(turn: Turn) -> None:
    """A calm pair and "none of these signs" end it, unless somebody else saw the signs.

    Who is confused may not know it: then whoever told of it has to say that it is over.
    """
    alarm = alarm_of(turn)
    reporter = turn.patient.contact(alarm.reported_by) if alarm.reported_by else None
    if reporter is None or not reporter.may_be_told:
        end(turn, Happening.CALM, "calm")
    else:
        alarm_words.ask_reporter(turn, reporter)


# --- timers


def ask_fell(turn: Turn) -> None:
    """No answer to the symptom question: ask again, once."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.ASKED:
        change(turn, asks=alarm.asks + 1)
        severe_words.ask_symptoms(turn, alarm, again=True)


def tell_fell(turn: Turn) -> None:
    """Still no answer: no answer is not a no, so the contacts are told."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.ASKED:
        calling.tell(turn, "unanswered")
        severe_words.told_unanswered(turn, alarm_of(turn))


def rest_fell(turn: Turn) -> None:
    """The rest is over: measure."""
    if turn.state.alarm is not None and turn.state.alarm.stage is AlarmStage.REPEATING:
        severe_words.measure_again(turn)


def pair_fell(turn: Turn) -> None:
    """The second pair is overdue: remind."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.REPEATING:
        return
    if not _monitor_has_failed(turn):  # they know, and cannot
        severe_words.pair_overdue(turn)


def tell_pair_fell(turn: Turn) -> None:
    """No second pair: the contacts are told."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage in {AlarmStage.REPEATING, AlarmStage.ASKED}:
        why = "monitor" if _monitor_has_failed(turn) else "no_pair"
        calling.tell(turn, why)
        severe_words.told_no_pair(turn, change(turn, asks=0), why)
        wait(turn, alarm_table.SEEN)


def _monitor_has_failed(turn: Turn) -> bool:
    """Whether the monitor gave no number since the alarm opened, and none came afterwards."""
    last = max((k.written_at for k in turn.patient.readings), default=alarm_of(turn).opened)
    return any(n.kind is NoteKind.FAILED and n.at > last for n in turn.patient.notes)
