"""What an answer to a question of joining means: from a text to a value, from it to the profile.

A value is what a button of the question holds ("left", "08:00,20:00"). Which question comes
when, and what is said: `joining.py`; the question that may have several answers:
`fitting.py`. Lengths in cm, times local to the person.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Final

from domain.emergency_numbers import emergency_number
from domain.people import JoinStep, Monitor, Place, Profile
from domain.readings import Arm
from domain.talk import answers, fitting, out_of_hours
from domain.talk.turn import Turn

#: Minutes before the first medicine at which the morning prompt comes. Common practice:
#: time to sit down, rest five minutes and measure twice before the tablet.
PROMPT_BEFORE_MEDICINE: Final = timedelta(minutes=30)
DEFAULT_MORNING: Final = time(7, 30)
DEFAULT_EVENING: Final = time(19, 30)
_EVENING_MEDICINE_FROM: Final = time(16)


def read(turn: Turn, step: JoinStep, text: str) -> str | None:
    """The answer that a free text gives to a question, or None when it gives none."""
    language = turn.language
    match step:
        case JoinStep.ADULT:
            return fitting.read(turn, text)
        case JoinStep.PLACE:
            places = turn.situation.places
            return place_value(places[0]) if len(places) == 1 else None
        case JoinStep.NUMBER:
            return _number(turn, text)
        case JoinStep.OUT_OF_HOURS:
            return out_of_hours.read(text, language=language)
        case JoinStep.MEDICINE:
            found = times_value(answers.clock_times(text, language=language))
            return found or answers.choice(step, text, language=language)
        case JoinStep.PROMPT:
            if answers.yes_or_no(text, language=language) is True:
                return times_value(proposed_prompts(turn.profile))
            return times_value(answers.clock_times(text, language=language)[:2]) or None
        case JoinStep.CUFF:
            length = answers.arm_length_cm(text, language=language)
            return (
                answers.choice(step, text, language=language) if length is None else f"{length:g}"
            )
        case _:
            return answers.choice(step, text, language=language)


def _number(turn: Turn, text: str) -> str | None:
    if answers.yes_or_no(text, language=turn.language) is True:
        return proposed_number(turn)
    number = answers.whole_number(text)
    return None if number is None else "".join(ch for ch in text if ch.isdigit())


def apply(turn: Turn, step: JoinStep, value: str) -> bool:
    """Put the answer into the profile. False when it cannot be (an old or odd button)."""
    match step:
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
        case JoinStep.OUT_OF_HOURS:
            turn.change_profile(out_of_hours=out_of_hours.kept(value))
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
        case JoinStep.ARM if turn.profile.barred_arm != value:
            turn.change_profile(arm=Arm(value))
        case _:
            return False
    return True


def place_value(place: Place) -> str:
    return f"{place.zone}|{place.country}"


def proposed_number(turn: Turn) -> str:
    """The emergency number of the person's country."""
    known = emergency_number(turn.profile.country)
    return known.call if known else "112"


def proposed_prompts(profile: Profile) -> tuple[time, time]:
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


def times_value(times: tuple[time, ...]) -> str:
    return ",".join(f"{t:%H:%M}" for t in times)


def _read_times(value: str) -> tuple[time, ...]:
    return tuple(time.fromisoformat(part) for part in value.split(",") if part)


def _as_halves(times: tuple[time, ...], profile: Profile) -> tuple[time, time]:
    """One typed time replaces its own half of the day; two are morning and evening."""
    morning, evening = proposed_prompts(profile)
    for clock in times:
        if clock < time(14):
            morning = clock
        else:
            evening = clock
    return morning, evening
