"""Answers to the questions about signs, and what is found beside the reply to a reading.

A pulse that is an emergency together with a sign; severe readings that call nobody by their
number alone; falls; a monitor that shows an error. What stands beside a reading is
`watching.py`. Pressures in mmHg, pulse in beats per minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from domain import watch
from domain.messages import line
from domain.people import AlarmStage, MessageRef, NoteKind, Step
from domain.readings import CameAs, Reading, Setting
from domain.talk import (
    alarm_steps,
    alarm_words,
    answers,
    coaching,
    replies,
    severe,
    watching,
)
from domain.talk.signs import OLD_READING, SIGN, Pair, Told
from domain.talk.turn import Turn
from domain.understanding.result import Remark, Understood
from domain.watch import Finding, Heading

FALL: Final = "x_fall"
#: What an alarm shows for the pulse that raised it.
_PULSES: Final = {
    Finding.SLOW_WITH_SIGN: "x_slow_pulse",
    Finding.VERY_SLOW: "x_slow_pulse",
    Finding.RATHER_SLOW_WITH_SIGN: "x_slow_pulse",
    Finding.FAST_WITH_SIGN: "x_fast_pulse",
    Finding.VERY_FAST: "x_fast_pulse",
}
#: Measuring is put off so long after tries without a number; own choice.
TRY_AGAIN_AFTER: Final = timedelta(hours=1)
#: A severe reading so long before a listed sign counts as together with it; common practice.
TOGETHER_WITHIN: Final = timedelta(hours=24)
#: A pulse so long before a sign counts as together with it; own choice.
PULSE_IN_FORCE: Final = timedelta(hours=1)
#: Another fall so soon is for today; common practice.
FALLS_WITHIN: Final = timedelta(days=7)


# --- what danger has to weigh


def calls(reading: Reading, written_at: datetime) -> bool:
    """Whether a reading may call somebody by its number alone: new, and taken at home.

    Counted from when it was written, so that an outage makes nothing old.
    """
    old = written_at - reading.at > OLD_READING
    return not (old or reading.setting is Setting.CLINIC or reading.came_as is CameAs.IMPORTED)


def together(turn: Turn, told: Told) -> tuple[Pair, ...]:
    """Severe readings of the last day that count with a listed sign, whatever their age.

    Those that a later pair, all below, has taken back do not. None without a listed sign.
    """
    listed = turn.limits.with_severe | {SIGN}
    if not listed & {*told.symptoms, *watching.told_lately(turn, within=TOGETHER_WITHIN)}:
        return ()
    moment = told.written_at or turn.now
    readings = [k.reading for k in turn.patient.readings]
    recent = [r for r in readings if moment - r.at <= TOGETHER_WITHIN]
    places = [n for n, r in enumerate(recent) if turn.limits.is_severe(r.systolic, r.diastolic)]
    if not places or len(recent) - places[-1] > 2:
        return ()
    worst = recent[places[-1]]
    return ((worst.systolic, worst.diastolic),)


def call_now(turn: Turn, told: Told, pulses: Sequence[int] = ()) -> bool:
    """Raise an emergency when a pulse and a sign in force make one. True when it was raised.

    Args:
        pulses: beats per minute, given without a pressure.
    """
    alarm = turn.state.alarm
    found = [f for pulse in pulses for f in watching.found_in_pulse(turn, pulse, told.symptoms)]
    readings = told.kept or (_lately(turn) if told.symptoms else ())
    if readings:
        found += watching.found_in(turn, readings, told.symptoms)
    codes = tuple(_PULSES[f.finding] for f in found if f.row.heading is Heading.CALL)
    if not codes or (alarm is not None and set(codes) <= set(alarm.symptoms)):
        return False
    signs = watch.PULSE_SIGNS & set(watching.told_lately(turn, told.symptoms))
    alarm_steps.raise_emergency(turn, told, (), (*sorted(signs), *codes))
    return True


def _lately(turn: Turn) -> tuple[Reading, ...]:
    since = turn.now - PULSE_IN_FORCE
    return tuple(k.reading for k in turn.patient.readings if k.reading.at >= since)


def pulse_alone(turn: Turn, pulses: Sequence[int], symptoms: tuple[str, ...]) -> None:
    """A pulse without a pressure is kept with none; what it needs is said all the same."""
    advice = watching.beside_pulse(turn, pulses[-1], symptoms)
    symptom_lines = () if advice.heading >= Heading.TODAY else replies.symptom_lines(turn, symptoms)
    alone = line("pulse.alone")
    turn.say(*advice.first, *symptom_lines, *advice.later, alone, buttons=advice.buttons)


# --- the answers


def by_word(turn: Turn, text: str) -> bool:
    """A word that answers the question about signs; False when it is neither yes nor no."""
    asked = turn.state.asking.removeprefix(watching.ASKING)
    yes = answers.yes_or_no(text, language=turn.language)
    if yes or answers.says(text, "present", language=turn.language):
        signs_there(turn, asked)
    elif yes is False:
        no_signs(turn, asked)
    else:
        return False
    return True


def signs_there(turn: Turn, argument: str) -> None:
    """One of the signs asked about is there: an emergency, whatever the number.

    `argument` is the topic, with a message or a pair behind a colon where no reading of the
    last hours stands for it.
    """
    watching.stop_asking(turn)
    turn.note(NoteKind.SYMPTOM, code=SIGN)
    topic, _, detail = argument.partition(":")
    chat, readings = turn.patient.chat, turn.patient.readings
    if chat is None:
        return
    message = MessageRef(chat=chat, message=0)
    pairs: tuple[Pair, ...] = ()
    pulse: tuple[str, ...] = ()
    if topic == watching.OLD:
        systolic, _, diastolic = detail.partition("/")
        pairs = ((int(systolic), int(diastolic)),)
    elif topic == "fall":
        message = MessageRef(chat=chat, message=int(detail))
    elif readings:
        last = readings[-1]
        message, pairs = last.made_by, ((last.reading.systolic, last.reading.diastolic),)
        found = watching.found_in(turn, (last.reading,))
        pulse = tuple(_PULSES[f.finding] for f in found if f.finding in _PULSES)
    told = Told(message=message, pairs=pairs, symptoms=(SIGN,))
    symptoms = tuple(dict.fromkeys((*watching.told_lately(turn), *pulse)))
    alarm_steps.raise_emergency(turn, told, pairs if topic == watching.OLD else (), symptoms)


def no_signs(turn: Turn, argument: str) -> None:
    """None of the signs asked about: noted; the advice that was given stands."""
    watching.stop_asking(turn)
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is not AlarmStage.TODAY:
        alarm_words.what_is_open(turn, alarm)
        return
    topic = argument.partition(":")[0]
    turn.note(NoteKind.FINDING, code=watching.NO_SIGNS, text=topic)
    starts = "severe.if_starts" if topic == watching.OLD else f"signs.{topic}.if_starts"
    last = line("old.measure" if topic == watching.OLD else "signs.none.stands")
    turn.say(line("signs.none"), last, line(starts, number=turn.number))


# --- falls


def fall_in(understood: Understood) -> bool | None:
    """Whether a message tells of the person's own fall of today; None: of no fall at all.

    False is another day's, or somebody else's.
    """
    if FALL in understood.symptoms:
        return True
    return False if Remark.FELL in understood.remarks else None


def fell(turn: Turn, message: MessageRef, understood: Understood) -> bool:
    """After a fall: is somebody hurt? Then what to do about the fall. False: there is none."""
    own = fall_in(understood)
    if own is None:
        return False
    again = _told_of_falls(turn)
    said = watching.said_now(turn)  # beside a reading in the same message
    low = () if said else watching.beside_symptoms(turn, (FALL,) if own else ()).first[:1]
    asked, buttons = watching.question(turn, "fall", f"fall:{message.message}")
    if own:
        turn.note(NoteKind.FINDING, code=Finding.FALL)
    today = again or "dizziness" in watching.told_lately(turn)
    advice = () if said else low or (line("fall.today" if today else "fall.next_visit"),)
    measure = () if said else (line("symptom.measure"),)
    turn.say(line("fall.seen"), *asked, *advice, *measure, buttons=buttons)
    return True


def _told_of_falls(turn: Turn) -> bool:
    """Whether a fall was told of in the last days."""
    falls = (n for n in turn.patient.notes if n.kind is NoteKind.FINDING and n.code == Finding.FALL)
    return any(turn.now - note.at <= FALLS_WITHIN for note in falls)


# --- from sitting to standing


def standing_drop(turn: Turn, understood: Understood) -> None:
    """Readings told apart by posture: a fall on standing up is for a doctor, sooner with falls."""
    pairs = [((r.systolic, r.diastolic), r.standing) for r in understood.readings]
    seated = [pair for pair, standing in pairs if not standing]
    stood = [pair for pair, standing in pairs if standing]
    if not any(watch.drops(one, other) for one in seated for other in stood):
        return
    falls = _told_of_falls(turn)
    today = falls or "dizziness" in watching.told_lately(turn)
    shown = f"{stood[0][0]}/{stood[0][1]}"
    watching.note_finding(turn, Finding.STANDING_DROP, shown)
    turn.say(line("standing.today" if today else "standing.next_visit", shown=shown))


# --- the monitor shows an error


def monitor_error(turn: Turn, message: MessageRef, *, said: bool) -> None:
    """A try without a number: what to check; after several it is left for now.

    Args:
        said: whether it is answered: with a number in the same message it is only noted.
    """
    turn.note(NoteKind.FAILED, code="monitor_error", made_by=message)
    if not said:
        return
    tries = _tries(turn)
    unwell = line("error.unwell", number=turn.number)
    given_up = tries >= watch.MOST_TRIES
    if severe.monitor_failed(turn, () if given_up else (line("error.check"), unwell)):
        return
    if not given_up:
        turn.say(line("error.check"), unwell)
        return
    turn.say(line("error.later", tries=tries), unwell)
    open_ = turn.state.occasion
    if open_ is not None and open_.step in {Step.PROMPTED, Step.RESTING, Step.FIRST}:
        coaching.postpone(turn, TRY_AGAIN_AFTER)


def _tries(turn: Turn) -> int:
    """Tries without a number within `watch.TRIES_WITHIN`, since the last number came."""
    since = turn.now - watch.TRIES_WITHIN
    last = max((k.written_at for k in turn.patient.readings), default=since)
    failed = (n for n in turn.patient.notes if n.kind is NoteKind.FAILED)
    return sum(note.at >= max(since, last) for note in failed)
