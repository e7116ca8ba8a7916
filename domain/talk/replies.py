"""What is said after readings: the occasion's average, the target, the week so far.

No diagnosis, no dose. Nothing is praised and nothing is called "on target" where there is a
symptom, or a number at or above `danger.STILL_HIGH`. Pressures in mmHg, shown as whole
numbers rounded half up, so that the words and the comparison agree.
"""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from typing import Final

from domain import danger
from domain.events import Do
from domain.messages import Line, Words, line
from domain.readings import Occasion, Reading, at_home, local_day, occasions, whole
from domain.shown import shown_pair
from domain.talk.turn import Rows, Turn

#: A low reading so long ago still counts together with a symptom; the project's own choice.
LOW_IN_FORCE: Final = timedelta(hours=12)


def first_kept(turn: Turn, reading: Reading, symptoms: tuple[str, ...]) -> None:
    """The first of two: kept, and what comes next. The average waits for the second."""
    lines = [line("reading.first", shown=shown(reading))]
    if danger.is_low(reading.systolic, symptoms):
        lines.append(line("low.today", number=turn.number))
    elif symptoms:
        lines.append(symptom_line(turn, symptoms))
    lines.append(line("reading.wait"))
    turn.say(*lines)


def occasion_done(
    turn: Turn, occasion: Occasion, symptoms: tuple[str, ...], *, ended_early: bool = False
) -> None:
    """The occasion's average and what it means, without jargon."""
    pair = shown_pair(occasion.systolic, occasion.diastolic)
    systolic, diastolic = pair.systolic, pair.diastolic
    count = len(occasion.readings)
    lines = [_average_line(occasion, systolic, diastolic)]
    low = danger.is_low(systolic, symptoms)
    if low:
        lines.append(line("low.today", number=turn.number))
    else:
        lines.append(_target_line(turn, systolic, diastolic, plain=not symptoms))
    if symptoms and not low:  # "at the next visit" would take back "today"
        lines.append(symptom_line(turn, symptoms))
    if count == 1 and ended_early:
        lines.append(line("reading.single"))
    lines.extend(_week_lines(turn))
    lines.append(line("caution.short"))
    turn.say(*lines, buttons=caution_buttons(turn))


def kept_for_earlier(turn: Turn, readings: tuple[Reading, ...]) -> None:
    """Readings of an earlier time: kept where they belong; nothing is asked."""
    lines = [
        line("reading.earlier", shown=shown(r), at=r.at.astimezone(turn.patient.zone))
        for r in readings
    ]
    turn.say(*lines, line("caution.short"), buttons=caution_buttons(turn))


def symptoms_noted(turn: Turn, symptoms: tuple[str, ...]) -> None:
    """Symptoms without a reading and without a red flag: noted, what to watch for, measure."""
    since = turn.now - LOW_IN_FORCE
    recent = [k.reading.systolic for k in turn.patient.readings if k.reading.at >= since]
    if any(danger.is_low(systolic, symptoms) for systolic in recent):
        turn.say(line("low.today", number=turn.number), line("symptom.measure"))
    else:
        turn.say(symptom_line(turn, symptoms), line("symptom.measure"))


def caution_buttons(turn: Turn) -> Rows:
    return ((turn.button("button.cautions", Do.CAUTIONS),),)


def shown(reading: Reading) -> str:
    """The two numbers as people write them: "142/91"."""
    return f"{reading.systolic}/{reading.diastolic}"


def _average_line(occasion: Occasion, systolic: int, diastolic: int) -> Line:
    shown_average, count = f"{systolic}/{diastolic}", len(occasion.readings)
    if occasion.pulse is None:
        return line("average", shown=shown_average, count=count)
    return line("average.pulse", shown=shown_average, count=count, pulse=whole(occasion.pulse))


def _target_line(turn: Turn, systolic: int, diastolic: int, *, plain: bool) -> Line:
    """How the pair compares with the person's target; the higher of the two decides."""
    target = turn.profile.target
    shown_target = f"{target[0]}/{target[1]}"
    if danger.STILL_HIGH.reached_by(systolic, diastolic):
        return line("target.high", target=shown_target)
    if systolic >= target[0] or diastolic >= target[1]:
        return line("target.above", target=shown_target)
    return line("target.below" if plain else "target.below.symptom", target=shown_target)


def symptom_line(turn: Turn, symptoms: tuple[str, ...]) -> Line:
    """Symptoms that can wait until the next visit, and what to do if they get worse."""
    words = Words(tuple(f"symptom.{code}" for code in symptoms))
    return line("symptom.next_visit", symptoms=words, number=turn.number)


def _week_lines(turn: Turn) -> list[Line]:
    """This week so far at home, from Monday on, when there is more than this one occasion."""
    zone = turn.patient.zone
    today = turn.local_now.date()
    monday = today - timedelta(days=today.weekday())
    readings = at_home(
        k.reading for k in turn.patient.readings if local_day(k.reading.at, zone) >= monday
    )
    count = len(occasions(readings))
    if count < 2:
        return []
    # The mean of all readings, as the weekly picture shows it.
    pair = shown_pair(
        Fraction(sum(r.systolic for r in readings), len(readings)),
        Fraction(sum(r.diastolic for r in readings), len(readings)),
    )
    return [line("week.so_far", shown=str(pair), count=count)]
