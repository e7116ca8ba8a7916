"""An alarm from the first word to its end: what the person is asked, who is told, and when.

    (none) --severe, no sign--> ASKED --"none"--> REPEATING --both below--> (none)
       |                          |                  |
       |                          | a sign           +--severe--> TODAY --below--> (none)
       |                          v                  v a sign       | a sign
       +--red flag, -------> EMERGENCY <-------------+--------------+
          or severe and a sign

EMERGENCY ends with a fresh pair below the limits and "none of these signs", with somebody
who says that they are there, or with a correction that leaves neither sign nor severe
number. Every stage ends by itself after a day, and those who were told are told so. It is
never said that somebody knows when a message has only been sent. Pressures in mmHg.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from domain import danger
from domain.danger import Level
from domain.people import Alarm, AlarmStage, Kept, MessageRef, NoteKind, PersonId
from domain.readings import Reading
from domain.talk import alarm_words, coaching, doubts, scheduling
from domain.talk.signs import SIGN, WITH_SEVERE, Pair, Told, in_force_red, symptoms_in_force
from domain.talk.turn import Turn

#: The symptom question again. "Remind" of the practice sequence (4.3): common practice.
ASK_AGAIN_AFTER: Final = timedelta(minutes=3)
#: No answer to the symptom question: contacts are told. 5-10 min: common practice.
TELL_UNANSWERED_AFTER: Final = timedelta(minutes=8)
#: The second pair is expected by then: NHLBI rest of 5 min, a pair, and some slack.
PAIR_EXPECTED_AFTER: Final = timedelta(minutes=15)
TELL_NO_PAIR_AFTER: Final = timedelta(minutes=20)
#: Rest before the second pair. NHLBI patient page: wait five minutes.
REST_BEFORE_PAIR: Final = timedelta(minutes=5)
#: Contacts are called again until one answers; common practice.
CALL_AGAIN_AFTER: Final = timedelta(minutes=3)
MOST_ROUNDS: Final = 6
#: "Has help come?"; common practice.
CHECK_AFTER: Final = timedelta(minutes=30)
MOST_CHECKS: Final = 6
#: A severe reading stays open so long unless a pair is below; common practice.
OPEN_AT_MOST: Final = timedelta(hours=24)
ASK: Final = "severe.ask"
TELL: Final = "severe.tell"
REST: Final = "severe.rest"
PAIR: Final = "severe.pair"
TELL_PAIR: Final = "severe.tell_pair"
AGAIN: Final = "emergency.again"
CHECK: Final = "emergency.check"
END: Final = "alarm.end"
SEVERE_TIMERS: Final = (ASK, TELL, REST, PAIR, TELL_PAIR)
ALL_TIMERS: Final = (*SEVERE_TIMERS, AGAIN, CHECK, END)


def weigh(turn: Turn, told: Told, changed: Iterable[MessageRef] = ()) -> bool:
    """Judge what a message adds to what is open. True when the answer has been given here.

    Runs before any question about the message and before any other reply. `changed` are
    the messages whose numbers this one has corrected or taken back.
    """
    concerned = _numbers_taken_back(turn, changed)
    alarm = turn.state.alarm
    in_force = symptoms_in_force(turn, told)
    severe = tuple(dict.fromkeys(pair for pair in told.pairs if danger.is_severe(*pair)))
    open_severe = alarm is not None and any(danger.is_severe(*p) for p in alarm.readings)
    red = in_force_red(told.symptoms)
    joined = (severe or open_severe) and bool(set(in_force) & WITH_SEVERE)
    if (red or joined) and _is_new(turn, told, severe):
        raise_emergency(turn, told, severe, in_force)
        return True
    if concerned:
        return _after_change(turn)
    if alarm is not None and alarm.stage is AlarmStage.EMERGENCY:
        _more_in_emergency(turn, told)
        return True
    if severe and alarm is None:
        _open_severe(turn, told, severe)
        return True
    if alarm is not None:
        return _more_while_severe(turn, alarm, told, severe)
    return False


def _is_new(turn: Turn, told: Told, severe: tuple[Pair, ...]) -> bool:
    """Whether a message says more than an emergency that is open already."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return True
    return bool(set(told.symptoms) - set(alarm.symptoms) or set(severe) - set(alarm.readings))


# --- emergency


def raise_emergency(
    turn: Turn,
    told: Told,
    severe: tuple[Pair, ...],
    symptoms: tuple[str, ...],
    reported_by: PersonId | None = None,
) -> None:
    """Call now: the person first, then everybody who may be told, at once."""
    before = turn.state.alarm
    was_emergency = before is not None and before.stage is AlarmStage.EMERGENCY
    base = before or Alarm(stage=AlarmStage.EMERGENCY, opened=_opened(turn, told))
    alarm = replace(
        base,
        stage=AlarmStage.EMERGENCY,
        readings=_merged(base.readings, severe or told.pairs[-1:]),
        symptoms=tuple(dict.fromkeys((*base.symptoms, *symptoms))),
        causes=tuple(dict.fromkeys((*base.causes, told.message))),
        no_symptoms=False,
        reported_by=reported_by or base.reported_by,
    )
    turn.change(alarm=alarm)
    coaching.close(turn)
    turn.cancel(*SEVERE_TIMERS)
    turn.note(NoteKind.ALARM, code=Level.EMERGENCY.code, made_by=told.message)
    alarm_words.emergency(turn, alarm, again=was_emergency)
    _call_contacts(turn, update=was_emergency)
    turn.set_after(AGAIN, CALL_AGAIN_AFTER)
    turn.set_after(CHECK, CHECK_AFTER)
    turn.set_after(END, OPEN_AT_MOST)


def _more_in_emergency(turn: Turn, told: Told) -> None:
    """Anything further in an emergency: readings are kept, the advice stays."""
    alarm = _alarm(turn)
    # "No" to "call now" denies no sign: only who has a calm pair has been asked about them.
    asked = _calm_pair(turn) or bool(told.kept)
    if told.denies_all and not told.symptoms and asked:
        turn.change(alarm=replace(alarm, no_symptoms=True))
        turn.note(NoteKind.SYMPTOM, code="none")
    if told.pairs and any(danger.is_severe(*p) for p in told.pairs):
        readings = _merged(alarm.readings, told.pairs)
        turn.change(alarm=replace(_alarm(turn), readings=readings))
    if _calm_pair(turn) and _alarm(turn).no_symptoms:
        _calm(turn)
        return
    alarm_words.still_emergency(turn, _alarm(turn), kept=told.kept, calm=_calm_pair(turn))


def _calm(turn: Turn) -> None:
    """A calm pair and "none of these signs" end it, unless somebody else saw the signs.

    Who is confused may not know it: then whoever told of it has to say that it is over.
    """
    alarm = _alarm(turn)
    reporter = turn.patient.contact(alarm.reported_by) if alarm.reported_by else None
    if reporter is None or not reporter.may_be_told:
        end(turn, "calm")
    else:
        alarm_words.ask_reporter(turn, reporter)


def _call_contacts(turn: Turn, *, update: bool = False) -> None:
    alarm = _alarm(turn)
    told = [c for c in turn.patient.contacts if c.may_be_told]
    for contact in told:
        alarm_words.call_contact(turn, contact, alarm, update=update)
    persons = (*alarm.told, *(c.person for c in told))
    turn.change(alarm=replace(alarm, told=tuple(dict.fromkeys(persons)), rounds=alarm.rounds + 1))


def again_fell(turn: Turn) -> None:
    """Nobody has answered yet: call again, and tell the person how it stands."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or alarm.answered_by:
        return
    if alarm.rounds >= MOST_ROUNDS:
        alarm_words.nobody_answered(turn, alarm, last=True)
        return
    _call_contacts(turn)
    alarm_words.nobody_answered(turn, alarm, last=False)
    turn.set_after(AGAIN, CALL_AGAIN_AFTER)


def check_fell(turn: Turn) -> None:
    """Half an hour later: has help come? Asked again while there is no answer."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return
    alarm_words.ask_if_help_came(turn)
    turn.change(alarm=replace(alarm, checks=alarm.checks + 1))
    if alarm.checks + 1 < MOST_CHECKS:
        turn.set_after(CHECK, CHECK_AFTER)


# --- severe without a sign


def _open_severe(turn: Turn, told: Told, severe: tuple[Pair, ...]) -> None:
    alarm = Alarm(
        stage=AlarmStage.ASKED,
        opened=_opened(turn, told),
        readings=severe,
        symptoms=told.symptoms,
        causes=(told.message,),
        asks=1,
        no_symptoms=False,
    )
    turn.change(alarm=alarm)
    coaching.close(turn)
    turn.note(NoteKind.ALARM, code=Level.URGENT.code, made_by=told.message)
    if told.denies_all and not told.symptoms:
        alarm_words.severe_seen(turn, alarm)
        no_signs(turn)
    else:
        alarm_words.ask_symptoms(turn, alarm, again=False)
        turn.set_after(ASK, ASK_AGAIN_AFTER)
        turn.set_after(TELL, TELL_UNANSWERED_AFTER)
    turn.set_after(PAIR, PAIR_EXPECTED_AFTER)
    turn.set_after(TELL_PAIR, TELL_NO_PAIR_AFTER)
    turn.set_after(END, OPEN_AT_MOST)


def _opened(turn: Turn, told: Told) -> datetime:
    """When it was written: after an outage the second pair may have been sent long ago."""
    return min(turn.now, told.written_at or turn.now)


def no_signs(turn: Turn) -> None:
    """The person says that none of the signs is there."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    turn.note(NoteKind.SYMPTOM, code="none")
    turn.change(alarm=replace(alarm, no_symptoms=True))
    turn.cancel(ASK, TELL)
    if alarm.stage is AlarmStage.EMERGENCY:
        _more_in_emergency(turn, Told(message=alarm.causes[-1], denies_all=True))
        return
    if _settle(turn):
        return
    turn.change(alarm=replace(_alarm(turn), stage=AlarmStage.REPEATING))
    alarm_words.rest_then_repeat(turn, _alarm(turn))
    turn.set_after(REST, REST_BEFORE_PAIR)
    # Whoever answers late is not told that the pair is overdue while they rest.
    slack = PAIR_EXPECTED_AFTER - REST_BEFORE_PAIR
    turn.set_timer(PAIR, max(alarm.opened + PAIR_EXPECTED_AFTER, turn.now + slack))
    doubts.ask(turn)  # only now: signs come before "did you mean"


def remind_what_is_open(turn: Turn) -> bool:
    """While an answer or a second pair is awaited, that is what matters. False otherwise."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage in {AlarmStage.TODAY, AlarmStage.EMERGENCY}:
        return False
    alarm_words.what_is_open(turn, alarm)
    return True


def signs_there(turn: Turn) -> None:
    """The person says that one of the signs is there, without naming it."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    told = Told(message=alarm.causes[-1], pairs=alarm.readings, symptoms=(SIGN,))
    turn.note(NoteKind.SYMPTOM, code=SIGN)
    raise_emergency(turn, told, alarm.readings, (SIGN,))


def _more_while_severe(turn: Turn, alarm: Alarm, told: Told, severe: tuple[Pair, ...]) -> bool:
    """Another message while a severe reading is open."""
    if severe:
        causes = tuple(dict.fromkeys((*alarm.causes, told.message)))
        readings = _merged(alarm.readings, severe)
        turn.change(alarm=replace(alarm, readings=readings, causes=causes))
    if told.denies_all and not told.symptoms and alarm.stage is AlarmStage.ASKED:
        no_signs(turn)
        return True
    if told.kept:
        return _repeat_came(turn, told.kept[-1])
    unanswered = bool(told.pairs) and alarm.stage is AlarmStage.ASKED
    if severe or told.symptoms or unanswered:  # signs come before "did you mean"
        alarm_words.ask_symptoms(turn, _alarm(turn), again=True)
        return True
    return False


def _repeat_came(turn: Turn, last: Reading) -> bool:
    """A reading while a severe one is open. False when the usual reply should follow."""
    alarm = _alarm(turn)
    if not alarm.no_symptoms:
        alarm_words.ask_symptoms(turn, alarm, again=True, shown=last)
        return True
    if _settle(turn):
        return True
    if alarm.stage is AlarmStage.TODAY:
        if danger.is_severe(last.systolic, last.diastolic):
            alarm_words.today(turn, (last,))
        return False  # the guided occasion goes on; its second reading settles
    alarm_words.one_of_two(turn, last)
    return True


def _settle(turn: Turn) -> bool:
    """Decide by the second pair once it is there. False while a reading is missing."""
    alarm = _alarm(turn)
    pair = _pair_since(turn, alarm)
    severe = any(danger.is_severe(r.systolic, r.diastolic) for r in pair)
    if len(pair) < 2 or (alarm.stage is AlarmStage.TODAY and severe):
        return False
    turn.cancel(*SEVERE_TIMERS)
    if severe:
        turn.change(alarm=replace(alarm, stage=AlarmStage.TODAY))
        alarm_words.today(turn, pair)
        _tell_contacts(turn, "still_severe")
    else:
        alarm_words.lower_now(turn, pair)
        end(turn, "below", said=True)
    return True


def _pair_since(turn: Turn, alarm: Alarm) -> tuple[Reading, ...]:
    """The last two readings that were sent after those that raised the alarm."""
    first = alarm.causes[0]

    def is_later(kept: Kept) -> bool:
        # The host's clock may run behind the platform's: then the moment alone says nothing.
        here, number = kept.made_by.chat == first.chat, kept.made_by.message
        return kept.reading.at > alarm.opened and not (here and number <= first.message)

    later = [kept for kept in turn.patient.readings if is_later(kept)]
    return tuple(kept.reading for kept in later[-2:])


def _calm_pair(turn: Turn) -> bool:
    pair = _pair_since(turn, _alarm(turn))
    return len(pair) == 2 and not any(danger.is_severe(r.systolic, r.diastolic) for r in pair)


def ask_fell(turn: Turn) -> None:
    """No answer to the symptom question: ask again, once."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.ASKED:
        turn.change(alarm=replace(alarm, asks=alarm.asks + 1))
        alarm_words.ask_symptoms(turn, alarm, again=True)


def tell_fell(turn: Turn) -> None:
    """Still no answer: no answer is not a no, so the contacts are told."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.ASKED:
        _tell_contacts(turn, "unanswered")
        alarm_words.told_unanswered(turn, _alarm(turn))


def rest_fell(turn: Turn) -> None:
    if turn.state.alarm is not None and turn.state.alarm.stage is AlarmStage.REPEATING:
        alarm_words.measure_again(turn)


def pair_fell(turn: Turn) -> None:
    """The second pair is overdue: remind."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.REPEATING:
        alarm_words.pair_overdue(turn)


def tell_pair_fell(turn: Turn) -> None:
    """No second pair: the contacts are told."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage in {AlarmStage.REPEATING, AlarmStage.ASKED}:
        _tell_contacts(turn, "no_pair")
        alarm_words.told_no_pair(turn, _alarm(turn))


def _tell_contacts(turn: Turn, why: str) -> None:
    alarm = _alarm(turn)
    told = [c for c in turn.patient.contacts if c.may_be_told]
    for contact in told:
        alarm_words.tell_severe(turn, contact, alarm, why)
    persons = (*alarm.told, *(c.person for c in told))
    turn.change(alarm=replace(alarm, told=tuple(dict.fromkeys(persons))))


# --- the end


def end(turn: Turn, how: str, *, said: bool = False, by: str = "") -> None:
    """The alarm is over; those who were told are told how. `how` is a key of the wording."""
    alarm = _alarm(turn)
    turn.change(alarm=None)
    turn.cancel(*ALL_TIMERS)
    turn.note(NoteKind.ALARM_ENDED, code=how)
    if not said:
        alarm_words.ended(turn, alarm, how, by=by)
    alarm_words.tell_ended(turn, alarm, how, by=by)
    doubts.ask(turn)  # what an emergency left unasked is no lost reading
    scheduling.plan_ahead(turn)


def end_fell(turn: Turn) -> None:
    """A day without an end: nothing more is asked, and nobody is left to wait."""
    if turn.state.alarm is not None:
        end(turn, "no_word")


def _numbers_taken_back(turn: Turn, changed: Iterable[MessageRef]) -> bool:
    """Leave only the numbers that still stand. True when the alarm rested on a changed one.

    A change takes back a number, never a symptom.
    """
    alarm = turn.state.alarm
    if alarm is None or not set(changed) & set(alarm.causes):
        return False
    standing = [
        kept.reading
        for kept in turn.patient.readings
        if kept.made_by in alarm.causes or kept.written_at >= alarm.opened
    ]
    pairs: tuple[Pair, ...] = tuple((r.systolic, r.diastolic) for r in standing)
    severe = tuple(dict.fromkeys(pair for pair in pairs if danger.is_severe(*pair)))
    turn.change(alarm=replace(alarm, readings=severe, slip=False))
    return True


def _after_change(turn: Turn) -> bool:
    """Everybody who was told is told of the change; without cause left, the alarm ends.

    False when it has ended: then the usual reply to the right number follows.
    """
    alarm = _alarm(turn)
    flagged = bool(in_force_red(alarm.symptoms)) or SIGN in alarm.symptoms
    if not alarm.readings and not flagged:
        end(turn, "corrected")
        return False
    alarm_words.number_changed(turn, alarm)
    return True


def _alarm(turn: Turn) -> Alarm:
    alarm = turn.state.alarm
    assert alarm is not None, "called only while an alarm is open"
    return alarm


def _merged(before: tuple[Pair, ...], new: tuple[Pair, ...]) -> tuple[Pair, ...]:
    return tuple(dict.fromkeys((*before, *new)))
