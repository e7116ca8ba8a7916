"""What a patient is asked once, in order, and how the answers become a profile.

Every question has buttons and also takes free text; it can be left and taken up again, and
asked anew from the settings. What an invitation already says is not asked, only shown for
correction at the end. Lengths in cm, times local to the person.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import Button, Keyboard
from domain.people import JoinStep, Monitor, Place, Profile
from domain.talk import fitting, join_answers, out_of_hours, scheduling, signs
from domain.talk.turn import Rows, Turn
from domain.understanding.result import Understood

#: Cuff by circumference of the mid upper arm, cm: least, most, size.
#: Pickering, AHA recommendations, Hypertension 2005;45:142; ends: common practice.
CUFFS: Final = (
    (0.0, 22.0, "below"),
    (22.0, 26.5, "small"),
    (26.5, 34.5, "adult"),
    (34.5, 44.5, "large"),
    (44.5, 52.5, "extra_large"),
    (52.5, 1000.0, "above"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One step of joining. Labels of `options` are the wording's `join.<step>.<option>`."""

    options: tuple[str, ...] = ()
    wanted: Callable[[Profile], bool]  #: whether it still has to be asked
    in_settings: bool = True


QUESTIONS: Final[Mapping[JoinStep, Question]] = {
    JoinStep.ADULT: Question(
        wanted=lambda p: p.adult is None,  # its options: `fitting`
    ),
    JoinStep.BARRED_ARM: Question(
        options=("left", "right"),
        wanted=lambda p: False,  # asked only after "one arm must not be used"
        in_settings=False,
    ),
    JoinStep.PLACE: Question(wanted=lambda p: p.zone is None),
    JoinStep.NUMBER: Question(wanted=lambda p: p.emergency_number is None),
    JoinStep.OUT_OF_HOURS: Question(
        options=("none",),
        wanted=lambda p: False,  # offered when joining is over: nobody has to know it
    ),
    JoinStep.MEDICINE: Question(
        options=("08:00", "08:00,20:00", "none"),
        wanted=lambda p: p.medicine_times is None,
    ),
    JoinStep.PROMPT: Question(wanted=lambda p: p.morning_prompt is None),
    JoinStep.MONITOR: Question(
        options=("upper_arm", "wrist", "unknown"),
        wanted=lambda p: p.monitor is None,
    ),
    JoinStep.CUFF: Question(
        options=("21", "24", "30", "39", "48", "53", "0"),
        wanted=lambda p: p.arm_cm is None and p.monitor is not Monitor.WRIST,
    ),
    JoinStep.ARM: Question(
        options=("left", "right"),
        wanted=lambda p: p.arm is None,
    ),
}


#: Lines of the summary that a change in the settings shows again.
_SHOWN_AFTER: Final[Mapping[JoinStep, tuple[str, ...]]] = {
    JoinStep.ADULT: ("fitting.known",),
    JoinStep.PLACE: ("settings.place", "settings.number"),
    JoinStep.OUT_OF_HOURS: ("settings.out_of_hours",),
    JoinStep.NUMBER: ("settings.number",),
    JoinStep.MEDICINE: ("settings.medicine", "settings.no_medicine", "settings.prompts"),
    JoinStep.PROMPT: ("settings.prompts",),
    JoinStep.ARM: ("settings.arm",),
    JoinStep.BARRED_ARM: ("settings.arm",),
}


def begin(turn: Turn) -> None:
    """Welcome a patient who has just used an invitation, and ask the first question."""
    turn.change(joining=JoinStep.ADULT, declined=False)
    turn.say(line("join.welcome", name=turn.patient.name), line("join.cautions"))
    go_on(turn)


def go_on(turn: Turn) -> None:
    """Ask the next question that is still wanted, or finish."""
    for step, question in QUESTIONS.items():
        if question.wanted(turn.profile):
            turn.change(joining=step)
            ask(turn, step)
            return
    _finish(turn)


def ask(turn: Turn, step: JoinStep) -> None:
    """Put one question, with its buttons."""
    if step is JoinStep.ADULT:
        fitting.ask(turn)
        return
    no_medicine = step is JoinStep.PROMPT and not turn.profile.medicine_times
    turn.say(
        line("join.prompt.no_medicine" if no_medicine else f"join.{step}", **_values(turn, step)),
        buttons=_buttons(turn, step),
        keyboard=_keyboard(step),
    )


def text_answer(turn: Turn, step: JoinStep, text: str) -> bool:
    """Take a free text as the answer. False when it is none; then nothing has happened."""
    value = join_answers.read(turn, step, text)
    if value is None:
        return False
    answer(turn, step, value)
    return True


def takes_place(turn: Turn, text: str, understood: Understood) -> bool:
    """Answer with a place that was asked for and is known. False when there is none.

    Before signs are weighed: "Pune" is no symptom that was misspelt. A red flag still is one.
    """
    told = (*understood.symptoms, *(sign.code for sign in understood.others))
    known = bool(turn.situation.places) and turn.state.alarm is None
    if not known or understood.readings or signs.in_force_red(told):
        return False
    if not text_answer(turn, JoinStep.PLACE, text):
        not_understood(turn, JoinStep.PLACE)
    return True


def not_understood(turn: Turn, step: JoinStep) -> None:
    """Say how the question can be answered, and put it again."""
    if step is JoinStep.PLACE and turn.situation.places:
        turn.say(line("join.place.which"), buttons=_place_buttons(turn))
        return
    turn.say(line(f"join.{step}.again"))
    ask(turn, step)


def answer(turn: Turn, step: JoinStep, value: str) -> None:
    """Take an answer (a button's or a free text's), then go on with joining or the settings."""
    if step is JoinStep.ADULT:
        if fitting.answer(turn, value):
            _answered(turn, step)
        return
    if not join_answers.apply(turn, step, value):
        not_understood(turn, step)
    elif step is JoinStep.BARRED_ARM and "one_arm" in turn.state.picked:
        fitting.go_on(turn)
    else:
        _answered(turn, step)


def _answered(turn: Turn, step: JoinStep) -> None:
    if turn.state.joining is not None:
        go_on(turn)
        return
    turn.change(asking="")
    scheduling.plan_ahead(turn)
    done = "fitting.done" if step is JoinStep.ADULT else "settings.changed"
    turn.say(line(done), *_known_now(turn, step), *_advice(turn, step))
    if step is JoinStep.MEDICINE and turn.profile.medicine_times:
        _ask_next(turn, JoinStep.PROMPT)  # "before your medicine" must stay true


def place_shared(turn: Turn, place: Place) -> None:
    """The person's position, looked up by the shell."""
    answer(turn, JoinStep.PLACE, join_answers.place_value(place))


def summary(profile: Profile) -> tuple[Line, ...]:
    """What is known of the person, for correction."""
    lines = [line("settings.place", zone=profile.zone or "UTC")]
    if profile.emergency_number:
        lines.append(line("settings.number", number=profile.emergency_number))
    lines.extend(out_of_hours.summary(profile.out_of_hours))
    if profile.medicine_times:
        times = ", ".join(f"{t:%H:%M}" for t in profile.medicine_times)
        lines.append(line("settings.medicine", times=times))
    elif profile.medicine_times == ():
        lines.append(line("settings.no_medicine"))
    if profile.morning_prompt and profile.evening_prompt:
        lines.append(
            line("settings.prompts", morning=profile.morning_prompt, evening=profile.evening_prompt)
        )
    if profile.arm:
        lines.append(line("settings.arm", arm=Words((f"arm.{profile.arm}",))))
    return (*lines, *fitting.summary(profile))


def _known_now(turn: Turn, step: JoinStep) -> tuple[Line, ...]:
    """What is known after a change in the settings, so that a mistake is seen."""
    profile = turn.profile
    if profile.emergency_number is None:  # that of the country, shown after a move
        profile = replace(profile, emergency_number=join_answers.proposed_number(turn))
    return tuple(one for one in summary(profile) if one.key in _SHOWN_AFTER.get(step, ()))


# --- questions


def _ask_next(turn: Turn, step: JoinStep) -> None:
    fitting.ask_next(turn, step)
    ask(turn, step)


def _values(turn: Turn, step: JoinStep) -> dict[str, str]:
    if step is JoinStep.NUMBER:
        return {"number": join_answers.proposed_number(turn)}
    if step is JoinStep.PROMPT:
        morning, evening = join_answers.proposed_prompts(turn.profile)
        return {"morning": f"{morning:%H:%M}", "evening": f"{evening:%H:%M}"}
    return {}


def _buttons(turn: Turn, step: JoinStep) -> Rows:
    if step is JoinStep.PLACE:
        return _place_buttons(turn)
    if step is JoinStep.NUMBER:
        number = join_answers.proposed_number(turn)
        return ((turn.button("join.number.yes", Do.JOIN, f"{step}:{number}", number=number),),)
    if step is JoinStep.PROMPT:
        value = join_answers.times_value(join_answers.proposed_prompts(turn.profile))
        return ((turn.button("join.prompt.yes", Do.JOIN, f"{step}:{value}"),),)
    options = QUESTIONS[step].options
    if step is JoinStep.ARM and turn.profile.barred_arm:
        options = tuple(option for option in options if option != turn.profile.barred_arm)
    return tuple(
        (turn.button(f"join.{step}.{option}", Do.JOIN, f"{step}:{option}"),) for option in options
    )


def _place_buttons(turn: Turn) -> Rows:
    def button(place: Place) -> Button:
        value = f"{JoinStep.PLACE}:{join_answers.place_value(place)}"
        return turn.button("join.place.option", Do.JOIN, value, place=place.name)

    return tuple((button(place),) for place in turn.situation.places[:5])


def _keyboard(step: JoinStep) -> Keyboard | None:
    if step is JoinStep.PLACE:
        return Keyboard(locate=line("join.place.share"))
    return None


def _finish(turn: Turn) -> None:
    turn.change(joining=None, joined_at=turn.state.joined_at or turn.now)
    plan = scheduling.start_plan_if_none(turn)
    advice = [*_advice(turn, JoinStep.MONITOR), *_advice(turn, JoinStep.CUFF)]
    due = scheduling.plan_ahead(turn)
    turn.say(line("join.done"), *summary(turn.profile), keyboard=Keyboard(remove=True))
    if advice:
        turn.say(*advice)
    first = (line("join.first", at=due),) if due else ()
    turn.say(line(f"plan.{plan.kind}.about"), *first, line("join.help"))
    if turn.profile.out_of_hours is None:
        _offer_out_of_hours(turn)
    scheduling.show_proposals_soon(turn)


def _offer_out_of_hours(turn: Turn) -> None:
    """Nobody has to know it; whoever wants to give it taps first, so no reading is mistaken."""
    turn.say(
        line("join.out_of_hours.offer"),
        buttons=(
            (turn.button("button.out_of_hours", Do.SET, JoinStep.OUT_OF_HOURS),),
            (turn.button("button.cancel", Do.CANCEL),),
        ),
    )


def _advice(turn: Turn, step: JoinStep) -> tuple[Line, ...]:
    """What follows from an answer: the right cuff, how to hold a wrist monitor."""
    if step is JoinStep.MONITOR and turn.profile.monitor is Monitor.WRIST:
        return (line("advice.wrist"),)
    if step is JoinStep.CUFF and turn.profile.arm_cm:
        return (line(f"advice.cuff.{cuff_size(turn.profile.arm_cm)}"),)
    return ()


def cuff_size(arm_cm: float) -> str:
    """The size of cuff for an upper arm of so many cm; the range printed on the cuff wins.

    Source: `CUFFS`.
    """
    return next(size for least, most, size in CUFFS if least <= arm_cm < most)
