"""What is said to the person while an alarm is no emergency: asked, resting, today, passed.

Keys with their values; the number to call stands in each. Pressures in mmHg.
"""

from __future__ import annotations

from domain import danger
from domain.alarm_table import AlarmStage
from domain.events import Do
from domain.messages import Line, line, symptom_words
from domain.outcome import Rank
from domain.people import Alarm
from domain.readings import Reading
from domain.talk import contact_words, out_of_hours
from domain.talk.alarm_shown import (
    nobody_line,
    shown_pairs,
    shown_readings,
    will_be_called,
)
from domain.talk.turn import Rows, Turn, names, person_name


def signs(turn: Turn) -> Line:
    """The signs that are asked about."""
    return line("severe.signs.pregnant" if turn.profile.pregnant else "severe.signs")


def ask_symptoms(
    turn: Turn,
    alarm: Alarm,
    *,
    again: bool,
    shown: Reading | None = None,
    before: tuple[Line, ...] = (),
) -> None:
    """The symptom question, with the number already shown; `before` is read first."""
    number = shown_pairs([(shown.systolic, shown.diastolic)] if shown else alarm.readings)
    turn.say(
        *before,
        line("severe.ask.again" if again else "severe.ask", shown=number),
        *_reported(turn, alarm),
        signs(turn),
        line("severe.if_sign", number=turn.number),
        *(() if again or will_be_called(turn, alarm) else (nobody_line(turn),)),
        buttons=(*_sign_buttons(turn), (turn.button("button.slip", Do.SLIP),)),
        rank=Rank.ALARM,
    )


def _reported(turn: Turn, alarm: Alarm) -> tuple[Line, ...]:
    """Who sent the number, where it was not the person."""
    if alarm.reported_by is None:
        return ()
    return (line("severe.reported", by=person_name(turn.patient, alarm.reported_by)),)


def what_is_open(turn: Turn, alarm: Alarm, before: tuple[Line, ...] = ()) -> None:
    """What an open alarm waits for, said again instead of anything else; `before` first."""
    match alarm.stage:
        case AlarmStage.ASKED:
            ask_symptoms(turn, alarm, again=True, before=before)
        case AlarmStage.LASTING:
            ask_if_worse(turn, alarm, before)
        case AlarmStage.PASSED:
            be_seen_today(turn, alarm, before)
        case AlarmStage.TODAY:
            key = "severe.pregnant" if turn.profile.pregnant else "severe.still"
            _today(turn, line(key, shown=shown_pairs(alarm.readings[-1:])), before=before)
        case _:
            turn.say(*before, line("severe.go_on"), rank=Rank.ALARM)


def cannot_wait(turn: Turn, alarm: Alarm) -> None:
    """They want to sleep, or to do it tomorrow: what has to be done before."""
    before = (line("severe.cannot_wait"),)
    if alarm.stage is not AlarmStage.REPEATING:
        what_is_open(turn, alarm, before)
        return
    told = () if alarm.told else will_be_called(turn, alarm)
    who = (line("severe.cannot_wait.told", names=names(told)),) if told else ()
    _with_signs_to_watch_for(turn, *before, line("severe.go_on"), *who)


def monitor_failed(turn: Turn, alarm: Alarm, check: tuple[Line, ...]) -> None:
    """No number came: what to check, and what is awaited; without `check` no more tries."""
    if alarm.stage is not AlarmStage.REPEATING:
        what_is_open(turn, alarm, (line("error.none_came"),))
    elif check:
        what_is_open(turn, alarm, check)
    else:
        _with_signs_to_watch_for(turn, line("severe.monitor"), *_where_today(turn))


def still_awaited(turn: Turn, alarm: Alarm) -> None:
    """Hours later: the answer or the second pair is still missing."""
    if alarm.stage is AlarmStage.ASKED:
        ask_symptoms(turn, alarm, again=True)
        return
    shown = shown_pairs(alarm.readings[-1:])
    _with_signs_to_watch_for(turn, line("severe.still_awaited", shown=shown))


def _with_signs_to_watch_for(turn: Turn, *lines: Line) -> None:
    """While a second pair is awaited: behind everything, when to call, and the button for it."""
    turn.say(
        *lines,
        line("severe.if_starts", number=turn.number),
        buttons=((turn.button("button.signs", Do.SYMPTOMS_YES),),),
        rank=Rank.ALARM,
    )


def severe_seen(turn: Turn, alarm: Alarm) -> None:
    """They said in the same message that there is no sign."""
    turn.say(line("severe.seen", shown=shown_pairs(alarm.readings)), rank=Rank.ALARM)


def rest_then_repeat(turn: Turn, alarm: Alarm) -> None:
    _with_signs_to_watch_for(turn, line("severe.rest", shown=shown_pairs(alarm.readings)))


def measure_again(turn: Turn) -> None:
    turn.say(line("severe.measure"), rank=Rank.ALARM)


def measured_early(turn: Turn, alarm: Alarm, last: Reading) -> None:
    """Kept, but measured before the rest was over: the two that decide come after it."""
    said = line(
        "severe.early",
        shown=shown_readings([last]),
        first=shown_pairs(alarm.readings[:1]),
        at=alarm.rest_over.astimezone(turn.patient.zone),
    )
    _with_signs_to_watch_for(turn, said)


def one_of_two(turn: Turn, last: Reading) -> None:
    turn.say(line("severe.one_of_two", shown=shown_pairs([(last.systolic, last.diastolic)])))


def today(turn: Turn, pair: tuple[Reading, ...]) -> None:
    """Still severe, no sign: a doctor or nurse today."""
    _today(turn, line("severe.still", shown=shown_readings(pair)), telling=True)


def same_day(turn: Turn, alarm: Alarm) -> None:
    """High by the limits of pregnancy: the maternity unit today."""
    _today(turn, line("severe.pregnant", shown=shown_pairs(alarm.readings)), telling=True)


def _today(turn: Turn, seen: Line, *, telling: bool = False, before: tuple[Line, ...] = ()) -> None:
    """`telling`: contacts are written to in the same moment."""
    turn.say(
        *before,
        line("severe.today.pregnant" if turn.profile.pregnant else "severe.today"),
        seen,
        *_where_today(turn),
        *(_telling(turn) if telling else ()),
        line("severe.if_starts", number=turn.number),
        buttons=(
            (turn.button("button.signs", Do.SYMPTOMS_YES),),
            (turn.button("button.seen", Do.SEEN),),
        ),
        rank=Rank.ALARM,
    )


def _telling(turn: Turn) -> tuple[Line, ...]:
    """To whom a message goes now; that nobody can be reached where it is so."""
    alarm = turn.state.alarm
    told = will_be_called(turn, alarm) if alarm is not None else ()
    return (line("passed.telling", names=names(told)),) if told else (nobody_line(turn),)


def _where_today(turn: Turn) -> tuple[Line, ...]:
    """Whom to phone, and when the practice is closed."""
    if turn.profile.pregnant:
        return (line("severe.today.do.pregnant"),)
    return (line("severe.today.do"), *out_of_hours.advice(turn))


def lower_now(turn: Turn, pair: tuple[Reading, ...]) -> None:
    """The second pair is below the limits: lower, which may still be high."""
    high = any(danger.STILL_HIGH.reached_by(r.systolic, r.diastolic) for r in pair)
    turn.say(
        line("severe.lower.high" if high else "severe.lower", shown=shown_readings(pair)),
        line("severe.next_visit"),
        line("severe.if_starts", number=turn.number),
        line("caution.short"),
    )


def pair_overdue(turn: Turn) -> None:
    turn.say(line("severe.overdue"), rank=Rank.ALARM)


def told_unanswered(turn: Turn, alarm: Alarm) -> None:
    """No answer to the symptom question: to whom a message was sent."""
    _who_was_told(turn, alarm, "severe.told_unanswered")


def told_no_pair(turn: Turn, alarm: Alarm, why: str) -> None:
    """No second pair: to whom a message was sent. `why` is no_pair or monitor."""
    _who_was_told(turn, alarm, f"severe.told_{why}")


def _who_was_told(turn: Turn, alarm: Alarm, key: str) -> None:
    told = will_be_called(turn, alarm)
    who = line(key, names=names(told)) if told else line("severe.nobody_to_tell")
    turn.say(
        who,
        line("severe.if_starts", number=turn.number),
        buttons=_sign_buttons(turn) if alarm.stage is AlarmStage.ASKED else (),
        rank=Rank.ALARM,
    )


def _sign_buttons(turn: Turn) -> Rows:
    return (
        (turn.button("button.no_signs", Do.SYMPTOMS_NONE),),
        (turn.button("button.signs", Do.SYMPTOMS_YES),),
    )


# --- signs that are long-standing or gone


def ask_if_worse(turn: Turn, alarm: Alarm, before: tuple[Line, ...] = ()) -> None:
    """The number at once, and whether it is worse than usual."""
    turn.say(
        *before,
        line("lasting.call", number=turn.number),
        line("seen.symptoms", symptoms=symptom_words(alarm.symptoms)),
        line("lasting.ask"),
        buttons=(
            (turn.button("button.worse", Do.WORSE),),
            (turn.button("button.as_usual", Do.AS_USUAL),),
            (turn.button("button.not_sure", Do.WORSE),),
        ),
        rank=Rank.ALARM,
    )


def be_seen_today(turn: Turn, alarm: Alarm, before: tuple[Line, ...] = ()) -> None:
    """A sign of danger that is gone: seen today, and the number if it comes back."""
    symptoms = symptom_words(alarm.symptoms)
    turn.say(
        *before,
        line("severe.today"),
        line("passed.seen", symptoms=symptoms),
        *_where_today(turn),
        line("passed.back", number=turn.number),
        *_telling(turn),
        buttons=((turn.button("button.seen", Do.SEEN),),),
        rank=Rank.ALARM,
    )


def ask_if_seen(turn: Turn, alarm: Alarm) -> None:
    """Hours later: has a doctor or nurse heard of it?"""
    turn.say(
        line("doctor.asked"),
        line("severe.if_starts", number=turn.number),
        buttons=((turn.button("button.seen", Do.SEEN),),),
        rank=Rank.ALARM,
    )


def seen_by_a_doctor(turn: Turn, alarm: Alarm) -> None:
    """What the doctor or nurse says comes first; the reading stays open all the same."""
    turn.say(line("doctor.noted"), line("severe.if_starts", number=turn.number))
    contact_words.to_those_told(turn, alarm, line("contact.seen_open", name=turn.patient.name))
