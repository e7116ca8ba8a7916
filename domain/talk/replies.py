"""What is said after readings: the occasion's average, the target, the week so far.

No diagnosis, no dose. Nothing is praised and nothing is called "on target" where there is a
symptom, a doubt, a number at or above `danger.STILL_HIGH`, or anything that `watching.py`
has found. Pressures in mmHg, shown as whole numbers rounded half up, so that the words and
the comparison agree.
"""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

from domain import danger
from domain.events import Do
from domain.messages import Line, line, symptom_words
from domain.readings import Occasion, Reading, at_home, local_day, occasions, whole
from domain.shown import shown_pair
from domain.talk import watching
from domain.talk.turn import Rows, Turn
from domain.talk.watching import Advice
from domain.watch import Heading


def first_kept(turn: Turn, reading: Reading, symptoms: tuple[str, ...]) -> None:
    """The first of two: kept, and what comes next. The average waits for the second."""
    advice = watching.beside_first(turn, reading, symptoms)
    lines = [*advice.first, line("reading.first", shown=shown(reading)), *advice.later]
    if advice.heading < Heading.TODAY:
        lines += symptom_lines(turn, symptoms)
    if watching.shows_mark(turn, symptoms):
        lines.append(line("irregular.once"))
    lines.append(line("reading.wait"))
    turn.say(*lines, buttons=advice.buttons)


def another_wanted(turn: Turn, reading: Reading, symptoms: tuple[str, ...], why: Line) -> None:
    """The second of three: what it needs by itself, and why a third is asked for."""
    advice = watching.beside_first(turn, reading, symptoms)
    turn.say(*advice.first, why, *advice.later, buttons=advice.buttons)


def corrected(turn: Turn, reading: Reading) -> None:
    """After a correction: what the right number needs."""
    advice = watching.beside_first(turn, reading, ())
    if advice.first or advice.later:
        turn.say(*advice.first, *advice.later, buttons=advice.buttons)


def occasion_done(
    turn: Turn, occasion: Occasion, symptoms: tuple[str, ...], *, ended_early: bool = False
) -> None:
    """The occasion's average and what it means, without jargon; what is for today first."""
    advice = watching.beside_occasion(turn, occasion, symptoms)
    plain = advice.plain and watching.may_praise(turn, occasion.readings, symptoms)
    pair = shown_pair(occasion.systolic, occasion.diastolic)
    lines = [*advice.first, _average_line(occasion, pair.systolic, pair.diastolic)]
    lines += _target_lines(turn, occasion, advice, plain=plain)
    lines += advice.later
    if advice.heading < Heading.TODAY:  # "at the next visit" would take back "today"
        lines += symptom_lines(turn, symptoms)
    if len(occasion.readings) == 1 and ended_early:
        lines.append(line("reading.single"))
    lines.extend(_week_lines(turn))
    lines.append(line("caution.short"))
    turn.say(*lines, buttons=(*advice.buttons, *caution_buttons(turn)))


def kept_for_earlier(turn: Turn, readings: tuple[Reading, ...]) -> None:
    """Readings of an earlier time: kept where they belong; what they need is said first."""
    advice = watching.beside_earlier(turn, readings)
    lines = [
        line("reading.earlier", shown=shown(r), at=r.at.astimezone(turn.patient.zone))
        for r in readings
    ]
    buttons = (*advice.buttons, *caution_buttons(turn))
    turn.say(*advice.first, *lines, *advice.later, line("caution.short"), buttons=buttons)


def symptoms_noted(turn: Turn, symptoms: tuple[str, ...]) -> None:
    """Symptoms without a reading and without a red flag: noted, what to watch for, measure."""
    advice = watching.beside_symptoms(turn, symptoms)
    own = () if advice.heading is Heading.TODAY else symptom_lines(turn, symptoms)
    lines = [*advice.first, *own, *advice.later]
    if watching.shows_mark(turn, symptoms):
        lines.append(line("irregular.once"))
    turn.say(*lines, line("symptom.measure"), buttons=advice.buttons)


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


def _target_lines(turn: Turn, occasion: Occasion, advice: Advice, *, plain: bool) -> list[Line]:
    """How the average compares with the person's target; nothing where it is too low."""
    if any(said.key.startswith("low.") for said in advice.first):
        return []
    pair = shown_pair(occasion.systolic, occasion.diastolic)
    return [_target_line(turn, pair.systolic, pair.diastolic, plain=plain)]


def _target_line(turn: Turn, systolic: int, diastolic: int, *, plain: bool) -> Line:
    """How the pair compares with the person's target; the higher of the two decides."""
    target = turn.profile.target
    shown_target = f"{target[0]}/{target[1]}"
    if danger.STILL_HIGH.reached_by(systolic, diastolic):
        return line("target.high", target=shown_target)
    if systolic >= target[0] or diastolic >= target[1]:
        return line("target.above", target=shown_target)
    return line("target.below" if plain else "target.below.symptom", target=shown_target)


def symptom_lines(turn: Turn, symptoms: tuple[str, ...]) -> list[Line]:
    """For the next visit. The monitor's mark is no symptom and has its own line."""
    words = symptom_words(code for code in symptoms if code != watching.MARK)
    if not words.keys:
        return []
    return [line("symptom.next_visit", symptoms=words, number=turn.number)]


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
