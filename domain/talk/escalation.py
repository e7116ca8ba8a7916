"""What a message means for danger: weighed before any question about it and any other reply.

The table of stages is `domain.alarm_table`. From here: `alarm_steps` raises and ends,
`severe` asks and waits for the second pair, `quiet_signs` answers signs that are long-standing
or have passed, `calling` reaches people. It is never said that somebody knows when a message
has only been sent. Pressures in mmHg.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from domain.alarm_table import Happening
from domain.people import Alarm, AlarmStage, MessageRef
from domain.talk import alarm_words, quiet_signs, severe
from domain.talk.alarm_steps import alarm_of, change, end, raise_emergency
from domain.talk.signs import SIGN, Pair, Told, in_force_red, symptoms_in_force
from domain.talk.turn import Turn
from domain.understanding.result import Earlier


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a message and all that is in force mean for this person."""

    severe: tuple[Pair, ...]  #: of the message
    same_day: tuple[Pair, ...]  #: of the message
    in_force: tuple[str, ...]  #: signs of the message and of the last day
    danger: bool  #: help is needed now
    lasting: tuple[str, ...]  #: long-standing signs, when nothing makes them more
    passed: tuple[Earlier, ...]  #: gone, to be seen today


def weigh(turn: Turn, told: Told, changed: Iterable[MessageRef] = ()) -> bool:
    """Judge what a message adds to what is open. True when the answer has been given here.

    `changed` are the messages whose numbers this one has corrected or taken back.
    """
    concerned = _numbers_taken_back(turn, changed)
    found = weighed(turn, told)
    if found.danger and _is_new(turn, told, found.severe):
        raise_emergency(turn, told, found.severe, found.in_force)
        return True
    if concerned:
        return _after_change(turn)
    return _quieter(turn, told, found)


def weighed(turn: Turn, told: Told) -> Weighed:
    """The message's numbers and signs by this person's limits, with what is in force."""
    limits, alarm = turn.limits, turn.state.alarm
    in_force = symptoms_in_force(turn, told)
    pairs = tuple(dict.fromkeys(told.pairs))
    high = tuple(pair for pair in pairs if limits.is_severe(*pair))
    open_severe = alarm is not None and any(limits.is_severe(*p) for p in alarm.readings)
    joined = bool(high or open_severe) and bool(set(in_force) & (limits.with_severe | {SIGN}))
    red = tuple(code for code in told.symptoms if code in limits.red_flags)
    known = set(turn.profile.long_standing)
    lasting = () if joined else tuple(code for code in red if code in known)
    return Weighed(
        severe=high,
        same_day=tuple(p for p in pairs if limits.is_same_day(*p) and p not in high),
        in_force=in_force,
        danger=joined or len(red) > len(lasting) or any(limits.is_emergency(*p) for p in pairs),
        lasting=lasting,
        passed=quiet_signs.to_be_seen(told.earlier),
    )


def _quieter(turn: Turn, told: Told, found: Weighed) -> bool:
    """What is no new emergency, the gravest first."""
    alarm = turn.state.alarm
    stage = alarm.stage if alarm is not None else None
    if stage is AlarmStage.EMERGENCY:
        severe.answer_in_emergency(turn, told)
        return True
    calm = stage in {None, AlarmStage.PASSED, AlarmStage.LASTING}
    if found.severe and calm:
        severe.open_severe(turn, told, found.severe)
        return True
    if found.lasting and stage in {None, AlarmStage.PASSED}:
        quiet_signs.open_lasting(turn, told, found.lasting)
        return True
    if found.same_day and stage in {None, AlarmStage.PASSED}:
        severe.open_same_day(turn, told, found.same_day)
        return True
    if found.passed and stage is None:
        quiet_signs.open_passed(turn, told, found.passed)
        return True
    if alarm is not None and stage is AlarmStage.PASSED and _unknown(found.passed, alarm):
        quiet_signs.more_passed(turn, told, found.passed)
        return True
    return not calm and severe.more_said(turn, told, found.severe)


def _unknown(passed: tuple[Earlier, ...], alarm: Alarm) -> bool:
    return any(sign.code not in alarm.symptoms for sign in passed)


def _is_new(turn: Turn, told: Told, high: tuple[Pair, ...]) -> bool:
    """Whether a message says more than an emergency that is open already."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return True
    return bool(set(told.symptoms) - set(alarm.symptoms) or set(high) - set(alarm.readings))


# --- numbers that are corrected or taken back


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
    left = tuple(dict.fromkeys(pair for pair in pairs if turn.limits.keeps_open(*pair)))
    change(turn, readings=left, slip=False)
    return True


def _after_change(turn: Turn) -> bool:
    """Everybody who was told is told of the change; without cause left, the alarm ends.

    False when it has ended: then the usual reply to the right number follows.
    """
    alarm = alarm_of(turn)
    if not alarm.readings and not _rests_on_a_sign(turn):
        end(turn, Happening.CORRECTED, "corrected")
        return False
    alarm_words.number_changed(turn, alarm)
    return True


def _rests_on_a_sign(turn: Turn) -> bool:
    alarm = alarm_of(turn)
    quiet = alarm.stage in {AlarmStage.PASSED, AlarmStage.LASTING}
    red = in_force_red(alarm.symptoms, turn.limits)
    return bool(alarm.symptoms) if quiet else bool(red) or SIGN in alarm.symptoms
