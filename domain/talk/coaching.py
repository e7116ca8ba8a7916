"""The guided occasion: rest, first reading, a minute, second, a third if the two differ.

The steps only decide what is asked next. Which readings belong together, and their mean,
is decided by `domain.readings.occasions` alone; a reading typed without any prompt goes
the same way. Delays are data with their source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import Rank
from domain.people import AlarmStage, NoteKind, OpenOccasion, Step
from domain.readings import OCCASION_GAP, Half, Occasion, Reading, at_home, occasions
from domain.talk import alarm_words, replies, scheduling, watching
from domain.talk.turn import Rows, Turn

#: Seated and quiet before the first reading. Stergiou 2018, AAFP 2021.
REST: Final = timedelta(minutes=5)
#: Between two readings. NICE NG136 1.2.6: at least one minute apart.
PAUSE: Final = timedelta(minutes=1)
#: A third reading when either number of the two differs by more than this, mmHg.
#: Office rule of ESH 2021 (from 10 on); at home: common practice.
#: Whoever has an irregular heartbeat measures three times anyway (TSOC/THS 2020, NICE NG136).
FAR_APART: Final = 10
#: How long a prompt waits for an answer before the one reminder; common practice.
REMIND_AFTER: Final = timedelta(minutes=30)
#: When a prompt that nobody answered is noted as missed; common practice.
MISSED_AFTER: Final = timedelta(hours=2)
#: A prompt that comes later than this (after an outage) asks for nothing; common practice.
TOO_LATE: Final = timedelta(hours=2)
#: Whoever does not answer so often is away or unwell: reminders stop, and the contacts are
#: told only of every so manyth miss from then on; common practice.
QUIET_AFTER: Final = 2
TELL_AGAIN_EVERY: Final = 6
DEFAULT_POSTPONE: Final = timedelta(minutes=20)
LONGEST_POSTPONE: Final = timedelta(hours=4)

NEXT: Final = "occasion.next"  #: rest over, minute over, or the postponed prompt
REMIND: Final = "occasion.remind"
MISSED: Final = "occasion.missed"
#: What `State.asking` holds while the person is asked whether prompts should end.
ASKING_STOP: Final = "stop"
TIMERS: Final = (NEXT, REMIND, MISSED)


class Happening(StrEnum):
    """What moves an occasion on."""

    READY = "ready"
    REST_OVER = "rest_over"
    READING = "reading"
    FAR_APART = "far_apart"
    ENOUGH = "enough"
    MINUTE_OVER = "minute_over"
    POSTPONED = "postponed"
    GIVEN_UP = "given_up"


#: Where each step leads; None closes the occasion. A happening that a step does not name
#: leaves it as it is. A reading may come at any step: people do not wait for the program.
STEPS: Final[Mapping[Step | None, Mapping[Happening, Step | None]]] = {
    None: {
        Happening.READY: Step.RESTING,
        Happening.READING: Step.PAUSE,
        Happening.POSTPONED: Step.PROMPTED,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
    },
    Step.PROMPTED: {
        Happening.READY: Step.RESTING,
        Happening.REST_OVER: Step.FIRST,
        Happening.READING: Step.PAUSE,
        Happening.POSTPONED: Step.PROMPTED,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
    Step.RESTING: {
        Happening.REST_OVER: Step.FIRST,
        Happening.READING: Step.PAUSE,
        Happening.POSTPONED: Step.PROMPTED,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
    Step.FIRST: {
        Happening.READING: Step.PAUSE,
        Happening.POSTPONED: Step.PROMPTED,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
    Step.PAUSE: {
        Happening.MINUTE_OVER: Step.SECOND,
        Happening.READING: Step.PAUSE,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
    Step.SECOND: {
        Happening.READING: Step.PAUSE,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
    Step.THIRD: {
        Happening.READING: Step.PAUSE,
        Happening.ENOUGH: None,
        Happening.FAR_APART: Step.THIRD,
        Happening.GIVEN_UP: None,
    },
}


def next_step(step: Step | None, happening: Happening) -> Step | None:
    """The step after a happening; the same step where the table has none."""
    return STEPS[step].get(happening, step)


# --- the prompt


def prompt_fell(turn: Turn, due: datetime) -> None:
    """The plan asks for an occasion now, before medicine."""
    scheduling.set_next_prompt(turn, after=due)
    half = scheduling.half_of_prompt(turn, due)
    if turn.state.paused or turn.state.declined:
        return
    if _held(turn):
        _say_what_is_open(turn)
        return
    turn.note(NoteKind.PROMPTED, code=half)
    if turn.now - due > TOO_LATE:
        # Not the person's doing: nobody is told, and `outage` has said what happened.
        turn.note(NoteKind.MISSED, code=half)
        return
    if turn.state.occasion is not None and turn.state.occasion.step is not Step.PROMPTED:
        return  # already measuring
    if _measured_lately(turn):
        return
    if turn.state.occasion is not None and turn.state.occasion.half:
        _note_missed(turn, Half(turn.state.occasion.half))
    turn.change(occasion=OpenOccasion(step=Step.PROMPTED, opened=turn.now, half=half))
    _say_prompt(turn, half)
    if _missed_in_a_row(turn) < QUIET_AFTER:
        turn.set_after(REMIND, REMIND_AFTER)
    turn.set_after(MISSED, MISSED_AFTER)
    turn.cancel(NEXT)


def _say_prompt(turn: Turn, half: str) -> None:
    if turn.state.asking:
        turn.change(asking="")  # a "yes" or "no" from here on answers the prompt
    medicine = "before_medicine" if turn.profile.medicine_times else "no_medicine"
    technique = "technique.wrist" if turn.profile.monitor == "wrist" else "technique"
    arm = f"arm.{turn.profile.arm}" if turn.profile.arm else "arm.same"
    turn.say(
        line(f"prompt.{half or Half.MORNING}.{medicine}"),
        line(technique, arm=Words((arm,))),
        buttons=_prompt_buttons(turn),
        rank=Rank.PROMPT,
    )


def _prompt_buttons(turn: Turn) -> Rows:
    return (
        (turn.button("button.ready", Do.READY),),
        (turn.button("button.rested", Do.RESTED),),
        (
            turn.button("button.later", Do.LATER, "20", minutes=20),
            turn.button("button.skip", Do.SKIP),
        ),
    )


def _held(turn: Turn) -> bool:
    """While an alarm waits for the person, nothing else is asked of them."""
    alarm = turn.state.alarm
    return alarm is not None and alarm.stage is not AlarmStage.TODAY


def _alarm_first(turn: Turn) -> bool:
    """In an alarm no occasion begins: what is open is said again."""
    alarm = turn.state.alarm
    if alarm is None or not _held(turn):
        return False
    alarm_words.what_is_open(turn, alarm)
    return True


def _say_what_is_open(turn: Turn) -> None:
    """At the time of a prompt, a question that was left open is put again: no silent day."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage in {AlarmStage.ASKED, AlarmStage.REPEATING}:
        alarm_words.what_is_open(turn, alarm)


def _measured_lately(turn: Turn) -> bool:
    """They measured by themselves shortly before the prompt: this is that occasion."""
    recent = [r for r in _at_home(turn) if turn.now - REMIND_AFTER * 2 <= r.at <= turn.now]
    return bool(recent)


# --- answers to the prompt


def _is_elsewhere(turn: Turn) -> bool:
    """Whether an alarm or a later step comes before the rest; then that has been said."""
    if _alarm_first(turn):
        return True
    open_ = turn.state.occasion
    if open_ is None or open_.step in {Step.PROMPTED, Step.RESTING}:
        return False
    say_step(turn)
    return True


def ready(turn: Turn) -> None:
    """The person sits down: five quiet minutes begin."""
    if _is_elsewhere(turn):
        return
    _move(turn, Happening.READY)
    turn.set_after(NEXT, REST)
    turn.set_after(MISSED, MISSED_AFTER)
    turn.cancel(REMIND)
    turn.say(
        line("rest.begin", minutes=int(REST.total_seconds() // 60)),
        buttons=((turn.button("button.rested", Do.RESTED),),),
    )


def rested(turn: Turn) -> None:
    """The five minutes are over, or the person has rested already."""
    if _is_elsewhere(turn):
        return
    if turn.state.occasion is None:
        turn.change(occasion=OpenOccasion(step=Step.PROMPTED, opened=turn.now))
    _move(turn, Happening.REST_OVER)
    turn.cancel(NEXT)
    turn.set_after(REMIND, OCCASION_GAP)
    turn.set_after(MISSED, MISSED_AFTER)
    turn.say(line("measure.first"))


def postpone(turn: Turn, delay: timedelta | None) -> None:
    """They measure later: the prompt comes again."""
    if _alarm_first(turn):
        return
    wait = min(delay or DEFAULT_POSTPONE, LONGEST_POSTPONE)
    _move(turn, Happening.POSTPONED)
    turn.set_after(NEXT, wait)
    turn.set_after(MISSED, wait + MISSED_AFTER)
    turn.cancel(REMIND)
    at = (turn.now + wait).astimezone(turn.patient.zone)
    turn.say(line("prompt.postponed", at=at))


def skip(turn: Turn) -> None:
    """Not this time: noted, without a word of blame."""
    open_ = turn.state.occasion
    turn.note(NoteKind.SKIPPED, code=open_.half if open_ else "")
    close(turn)
    turn.say(line("prompt.skipped"))


# --- timers


def next_fell(turn: Turn) -> None:
    """Rest over, the minute over, or the postponed prompt."""
    open_ = turn.state.occasion
    if open_ is None or _held(turn):
        return
    watching.stop_asking(turn)
    match open_.step:
        case Step.PROMPTED:
            _say_prompt(turn, open_.half)
            turn.set_after(REMIND, REMIND_AFTER)
        case Step.RESTING:
            rested(turn)
        case Step.PAUSE:
            _move(turn, Happening.MINUTE_OVER)
            turn.say(line("measure.second"), rank=Rank.REPLY)
        case Step.THIRD:
            turn.say(line("measure.third"), rank=Rank.REPLY)
        case Step.FIRST | Step.SECOND:
            pass


def remind_fell(turn: Turn) -> None:
    """One reminder, not more."""
    open_ = turn.state.occasion
    if open_ is None or open_.reminded or _held(turn):
        return
    turn.change(occasion=replace(open_, reminded=True))
    if open_.step is Step.PROMPTED:
        turn.say(line("prompt.reminder"), buttons=_prompt_buttons(turn), rank=Rank.PROMPT)
    else:
        turn.say(line("measure.reminder"), rank=Rank.PROMPT)


def missed_fell(turn: Turn) -> None:
    """Nobody answered, or no second reading came: the occasion ends with what there is."""
    open_ = turn.state.occasion
    if open_ is None:
        return
    occasion = current(turn, since=open_.opened)
    close(turn)
    if occasion is not None:
        replies.occasion_done(turn, occasion, open_.symptoms, ended_early=True)
    elif open_.half:
        _note_missed(turn, Half(open_.half))


def _missed_in_a_row(turn: Turn) -> int:
    """How many occasions were missed since the person last measured or left one out."""
    last = max((kept.written_at for kept in turn.patient.readings), default=None)
    count = 0
    for note in turn.patient.notes:
        if note.kind is NoteKind.SKIPPED:
            count = 0
        elif note.kind is NoteKind.MISSED and (last is None or note.at > last):
            count += 1
    return count


def _note_missed(turn: Turn, half: Half) -> None:
    turn.note(NoteKind.MISSED, code=half)
    missed = _missed_in_a_row(turn)
    if missed > QUIET_AFTER and missed % TELL_AGAIN_EVERY:
        return
    at = turn.local_now
    for contact in turn.patient.contacts:
        if contact.may_be_told and contact.told_missed:
            words = Words((f"half.{half}",))
            told = line("contact.missed", name=turn.patient.name, half=words, at=at)
            turn.tell(contact, told, rank=Rank.PROMPT)


# --- readings


def readings_came(turn: Turn, fresh: Reading, symptoms: tuple[str, ...]) -> None:
    """A reading of now has been kept: say what comes next, or how the occasion ended."""
    open_ = turn.state.occasion
    told = tuple(dict.fromkeys((*(open_.symptoms if open_ else ()), *symptoms)))
    watching.stop_asking(turn)
    occasion = occasion_of(turn, fresh)
    count = len(occasion.readings)
    marked = bool(watching.readings_marked(turn, occasion))
    third = count == 2 and (marked or turn.profile.irregular or far_apart(occasion))
    if count >= 2 and not third:
        close(turn)
        replies.occasion_done(turn, occasion, told)
        return
    turn.cancel(REMIND)
    turn.set_after(NEXT, PAUSE)
    turn.set_after(MISSED, OCCASION_GAP + timedelta(seconds=1))
    if count == 2:
        _move(turn, Happening.FAR_APART, symptoms=told)
        replies.another_wanted(turn, fresh, told, _why_a_third(occasion, marked=marked))
        return
    _move(turn, Happening.READING, symptoms=told)
    replies.first_kept(turn, fresh, told)


def _why_a_third(occasion: Occasion, *, marked: bool) -> Line:
    if marked:
        return line("irregular.third")
    if far_apart(occasion):
        return line("reading.far_apart", difference=FAR_APART)
    return line("fitting.third")


def reading_gone(turn: Turn) -> None:
    """A reading was taken back: an open occasion without any asks for the first anew."""
    open_ = turn.state.occasion
    if open_ is None or open_.step not in {Step.PAUSE, Step.SECOND, Step.THIRD}:
        return
    if current(turn, since=open_.opened) is None:
        turn.change(occasion=replace(open_, step=Step.FIRST))
        turn.cancel(NEXT)
        turn.set_after(MISSED, MISSED_AFTER)
        say_step(turn)


def occasion_of(turn: Turn, reading: Reading) -> Occasion:
    """The occasion to which a kept reading, taken at home, belongs."""
    every = occasions(_at_home(turn))
    return next(o for o in reversed(every) if reading in o.readings)


def _at_home(turn: Turn) -> tuple[Reading, ...]:
    """What was taken at home: a visit to the clinic is no occasion of a plan."""
    return at_home(kept.reading for kept in turn.patient.readings)


def current(turn: Turn, since: datetime) -> Occasion | None:
    """The last occasion, when it began (or went on) since a moment."""
    every = occasions(_at_home(turn))
    if every and every[-1].readings[-1].at >= since - OCCASION_GAP:
        return every[-1]
    return None


def far_apart(occasion: Occasion) -> bool:
    """Whether either number of the two readings differs by more than `FAR_APART` mmHg."""
    first, second = occasion.readings[:2]
    return (
        abs(first.systolic - second.systolic) > FAR_APART
        or abs(first.diastolic - second.diastolic) > FAR_APART
    )


def close(turn: Turn) -> None:
    """No occasion is open any more."""
    if turn.state.occasion is not None:
        turn.change(occasion=None)
    turn.cancel(*TIMERS)


def say_step(turn: Turn) -> None:
    """Say again what is asked now."""
    open_ = turn.state.occasion
    step = open_.step if open_ else None
    turn.say(line(f"step.{step}" if step else "step.none"))


def _move(turn: Turn, happening: Happening, *, symptoms: tuple[str, ...] | None = None) -> None:
    open_ = turn.state.occasion
    step = next_step(open_.step if open_ else None, happening)
    if step is None:
        close(turn)
        return
    base = open_ or OpenOccasion(step=step, opened=turn.now)
    told = base.symptoms if symptoms is None else symptoms
    turn.change(occasion=replace(base, step=step, symptoms=told))
