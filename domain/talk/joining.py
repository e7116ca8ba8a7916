"""What a patient is asked once, in order, and how the answers become a profile.

Every question has buttons and also takes free text; it can be left and taken up again, and
asked anew from the settings. What an invitation already says is not asked, only shown for
correction at the end. Lengths in cm, times local to the person.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Final

from domain.emergency_numbers import emergency_number
from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import Button, Keyboard
from domain.people import JoinStep, Monitor, NoteKind, Place, Profile
from domain.readings import Arm
from domain.talk import answers, scheduling
from domain.talk.turn import Rows, Turn

#: Minutes before the first medicine at which the morning prompt comes. Common practice:
#: time to sit down, rest five minutes and measure twice before the tablet.
PROMPT_BEFORE_MEDICINE: Final = timedelta(minutes=30)
DEFAULT_MORNING: Final = time(7, 30)
DEFAULT_EVENING: Final = time(19, 30)
_EVENING_MEDICINE_FROM: Final = time(16)

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
        options=("none", "pregnant", "under_18", "one_arm"),
        wanted=lambda p: p.adult is None,
    ),
    JoinStep.BARRED_ARM: Question(
        options=("left", "right"),
        wanted=lambda p: False,  # asked only after "one arm must not be used"
        in_settings=False,
    ),
    JoinStep.PLACE: Question(wanted=lambda p: p.zone is None),
    JoinStep.NUMBER: Question(wanted=lambda p: p.emergency_number is None),
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
    JoinStep.PLACE: ("settings.place", "settings.number"),
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
    no_medicine = step is JoinStep.PROMPT and not turn.profile.medicine_times
    turn.say(
        line("join.prompt.no_medicine" if no_medicine else f"join.{step}", **_values(turn, step)),
        buttons=_buttons(turn, step),
        keyboard=_keyboard(step),
    )


def read(turn: Turn, step: JoinStep, text: str) -> str | None:
    """The answer that a free text gives to a question, or None when it gives none."""
    match step:
        case JoinStep.PLACE:
            places = turn.situation.places
            return _place_value(places[0]) if len(places) == 1 else None
        case JoinStep.NUMBER:
            if answers.yes_or_no(text, language=turn.language) is True:
                return _proposed_number(turn)
            number = answers.whole_number(text)
            return None if number is None else "".join(ch for ch in text if ch.isdigit())
        case JoinStep.MEDICINE:
            times = answers.clock_times(text, language=turn.language)
            found = ",".join(f"{t:%H:%M}" for t in times)
            return found or answers.choice(step, text, language=turn.language)
        case JoinStep.PROMPT:
            if answers.yes_or_no(text, language=turn.language) is True:
                return _times_value(_proposed_prompts(turn.profile))
            return (
                ",".join(
                    f"{t:%H:%M}" for t in answers.clock_times(text, language=turn.language)[:2]
                )
                or None
            )
        case JoinStep.CUFF:
            length = answers.arm_length_cm(text, language=turn.language)
            return (
                answers.choice(step, text, language=turn.language)
                if length is None
                else f"{length:g}"
            )
        case _:
            return answers.choice(step, text, language=turn.language)


def text_answer(turn: Turn, step: JoinStep, text: str) -> bool:
    """Take a free text as the answer. False when it is none; then nothing has happened."""
    value = read(turn, step, text)
    if value is None:
        return False
    answer(turn, step, value)
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
    if step is JoinStep.ADULT and _declined(turn, value):
        return
    if step is JoinStep.ADULT and turn.state.declined:
        _taken_back(turn)
    if step is JoinStep.ADULT and value == "one_arm":
        turn.change_profile(adult=True)
        _ask_next(turn, JoinStep.BARRED_ARM)
        return
    if not _apply(turn, step, value):
        not_understood(turn, step)
        return
    if turn.state.joining is not None:
        go_on(turn)
        return
    turn.change(asking="")
    scheduling.plan_ahead(turn)
    turn.say(line("settings.changed"), *_known_now(turn, step), *_advice(turn, step))
    if step is JoinStep.MEDICINE and turn.profile.medicine_times:
        _ask_next(turn, JoinStep.PROMPT)  # "before your medicine" must stay true


def place_shared(turn: Turn, place: Place) -> None:
    """The person's position, looked up by the shell."""
    answer(turn, JoinStep.PLACE, _place_value(place))


def summary(profile: Profile) -> tuple[Line, ...]:
    """What is known of the person, for correction."""
    lines = [line("settings.place", zone=profile.zone or "UTC")]
    if profile.emergency_number:
        lines.append(line("settings.number", number=profile.emergency_number))
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
    return tuple(lines)


def _known_now(turn: Turn, step: JoinStep) -> tuple[Line, ...]:
    """What is known after a change in the settings, so that a mistake is seen."""
    profile = turn.profile
    if profile.emergency_number is None:  # that of the country, shown after a move
        profile = replace(profile, emergency_number=_proposed_number(turn))
    return tuple(one for one in summary(profile) if one.key in _SHOWN_AFTER.get(step, ()))


# --- questions


def _ask_next(turn: Turn, step: JoinStep) -> None:
    if turn.state.joining is not None:
        turn.change(joining=step)
    else:
        turn.change(asking=f"set:{step}")
    ask(turn, step)


def _values(turn: Turn, step: JoinStep) -> dict[str, str]:
    if step is JoinStep.NUMBER:
        return {"number": _proposed_number(turn)}
    if step is JoinStep.PROMPT:
        morning, evening = _proposed_prompts(turn.profile)
        return {"morning": f"{morning:%H:%M}", "evening": f"{evening:%H:%M}"}
    return {}


def _buttons(turn: Turn, step: JoinStep) -> Rows:
    if step is JoinStep.PLACE:
        return _place_buttons(turn)
    if step is JoinStep.NUMBER:
        number = _proposed_number(turn)
        return ((turn.button("join.number.yes", Do.JOIN, f"{step}:{number}", number=number),),)
    if step is JoinStep.PROMPT:
        value = _times_value(_proposed_prompts(turn.profile))
        return ((turn.button("join.prompt.yes", Do.JOIN, f"{step}:{value}"),),)
    options = QUESTIONS[step].options
    if step is JoinStep.ARM and turn.profile.barred_arm:
        options = tuple(option for option in options if option != turn.profile.barred_arm)
    return tuple(
        (turn.button(f"join.{step}.{option}", Do.JOIN, f"{step}:{option}"),) for option in options
    )


def _place_buttons(turn: Turn) -> Rows:
    def button(place: Place) -> Button:
        value = f"{JoinStep.PLACE}:{_place_value(place)}"
        return turn.button("join.place.option", Do.JOIN, value, place=place.name)

    return tuple((button(place),) for place in turn.situation.places[:5])


def _keyboard(step: JoinStep) -> Keyboard | None:
    if step is JoinStep.PLACE:
        return Keyboard(locate=line("join.place.share"))
    return None


def _place_value(place: Place) -> str:
    return f"{place.zone}|{place.country}"


def _proposed_number(turn: Turn) -> str:
    known = emergency_number(turn.profile.country)
    return known.call if known else "112"


def _proposed_prompts(profile: Profile) -> tuple[time, time]:
    """Those that hold; else half an hour before the first medicine and the evening one."""
    if profile.morning_prompt and profile.evening_prompt:
        return profile.morning_prompt, profile.evening_prompt
    times = profile.medicine_times or ()
    morning = next((t for t in times if t < _EVENING_MEDICINE_FROM), None)
    evening = next((t for t in times if t >= _EVENING_MEDICINE_FROM), None)
    return (
        _earlier(morning) if morning else DEFAULT_MORNING,
        _earlier(evening) if evening else DEFAULT_EVENING,
    )


def _earlier(clock: time) -> time:
    # The date only carries the sum; a time just after midnight stays where it is.
    moment = datetime.combine(date(2000, 1, 1), clock) - PROMPT_BEFORE_MEDICINE
    return moment.time() if moment.date() == date(2000, 1, 1) else clock


def _times_value(times: tuple[time, ...]) -> str:
    return ",".join(f"{t:%H:%M}" for t in times)


# --- answers


def _declined(turn: Turn, value: str) -> bool:
    """Limits for adults do not fit: say so courteously, say where to turn, ask nothing more."""
    if value not in {"pregnant", "under_18"}:
        return False
    turn.change_profile(adult=False)
    turn.change(joining=None, declined=True, occasion=None, asking="")
    scheduling.stop_prompts(turn)
    turn.note(NoteKind.DECLINED, code=value)
    turn.say(line(f"join.declined.{value}", number=turn.number), line("join.declined.back"))
    return True


def _taken_back(turn: Turn) -> None:
    """It was a mistake, or no longer holds: joining goes on, or the plan does."""
    unfinished = turn.state.joined_at is None
    turn.change(declined=False, asking="", joining=JoinStep.ADULT if unfinished else None)


def _apply(turn: Turn, step: JoinStep, value: str) -> bool:
    """Put the answer into the profile. False when it cannot be (an old or odd button)."""
    match step:
        case JoinStep.ADULT:
            turn.change_profile(adult=True, barred_arm=None)
        case JoinStep.BARRED_ARM:
            barred = Arm(value)
            other = Arm.LEFT if barred is Arm.RIGHT else Arm.RIGHT
            turn.change_profile(barred_arm=barred, arm=other)
        case JoinStep.PLACE:
            zone, _, country = value.partition("|")
            moved = country != turn.profile.country
            number = None if moved else turn.profile.emergency_number
            turn.change_profile(zone=zone, country=country or None, emergency_number=number)
        case JoinStep.NUMBER:
            turn.change_profile(emergency_number=value)
        case JoinStep.MEDICINE:
            times = () if value == "none" else _read_times(value)
            turn.change_profile(medicine_times=times)
        case JoinStep.PROMPT:
            morning, evening = _as_halves(_read_times(value), turn.profile)
            turn.change_profile(morning_prompt=morning, evening_prompt=evening)
        case JoinStep.MONITOR:
            turn.change_profile(monitor=Monitor(value))
        case JoinStep.CUFF:
            turn.change_profile(arm_cm=float(value))
        case JoinStep.ARM:
            if turn.profile.barred_arm == value:
                return False
            turn.change_profile(arm=Arm(value))
    return True


def _read_times(value: str) -> tuple[time, ...]:
    return tuple(time.fromisoformat(part) for part in value.split(",") if part)


def _as_halves(times: tuple[time, ...], profile: Profile) -> tuple[time, time]:
    """One typed time replaces its own half of the day; two are morning and evening."""
    morning, evening = _proposed_prompts(profile)
    for clock in times:
        if clock < time(14):
            morning = clock
        else:
            evening = clock
    return morning, evening


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
    scheduling.show_proposals_soon(turn)


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
