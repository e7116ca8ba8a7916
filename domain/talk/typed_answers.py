"""Words that answer what is open: the signs asked about, a step, a setting, how it is.

Each says whether the text was such an answer; nothing here keeps a reading.
"""

from __future__ import annotations

from domain.messages import line
from domain.people import AlarmStage, JoinStep, Step
from domain.talk import (
    alarm_answers,
    answers,
    coaching,
    commands,
    details,
    family,
    joining,
    quiet_signs,
    severe,
    signs,
    watch_answers,
    watching,
)
from domain.talk.alarm_steps import is_calm
from domain.talk.turn import Turn
from domain.understanding.result import Intent, Understood


def signs_by_word(turn: Turn, text: str) -> bool:
    """A word that answers the symptom question. "Fine" is neither a yes nor a clear no."""
    if answers.says(text, "present", language=turn.language):
        severe.signs_there(turn)
    elif answers.yes_or_no(text, language=turn.language) is False:
        severe.no_signs(turn)
    else:
        return False
    return True


def worse_by_word(turn: Turn, text: str) -> bool:
    """A word that answers whether a long-standing sign is worse; anything unclear waits."""
    said = {
        what
        for what in ("worse", "present", "as_usual")
        if answers.says(text, what, language=turn.language)
    }
    if said & {"worse", "present"}:
        quiet_signs.worse(turn)
    elif said or answers.yes_or_no(text, language=turn.language) is False:
        quiet_signs.as_usual(turn)
    else:
        return False
    return True


def seen_by_word(turn: Turn, text: str) -> bool:
    """A word that a doctor or nurse has heard of it; to have phoned is not to have spoken."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage not in {AlarmStage.PASSED, AlarmStage.TODAY}:
        return False
    if not answers.says(text, "seen", language=turn.language):
        return False
    quiet_signs.seen(turn)
    return True


def says_how_it_is(turn: Turn, text: str, understood: Understood) -> bool:
    """In an emergency: the buttons, typed. A cry for help alone is no news by then."""
    told = {*understood.symptoms, *(sign.code for sign in understood.others)} - {signs.HELP}
    if told or understood.readings or may_be_severe(turn, text, understood):
        return False
    if _no_help_by_word(turn, text):
        return True
    if is_calm(turn) and signs_by_word(turn, text):
        return True  # "do you still have any of these?" has been asked
    return _help_by_word(turn, text) or alarm_answers.patient_remarked(turn, understood.remarks)


def _no_help_by_word(turn: Turn, text: str) -> bool:
    """A "no" once it was asked whether help has come, unless the signs were asked about since."""
    checked = turn.state.alarm is not None and turn.state.alarm.checks > 0
    if not checked or is_calm(turn):
        return False
    if answers.yes_or_no(text, language=turn.language) is not False:
        return False
    alarm_answers.help_not_yet(turn)
    return True


def _help_by_word(turn: Turn, text: str) -> bool:
    """The emergency's buttons, typed."""
    for what in ("ambulance", "helper", "cannot_phone"):
        if answers.says(text, what, language=turn.language):
            alarm_answers.patient_pressed(turn, what)
            return True
    return False


def may_be_severe(turn: Turn, text: str, understood: Understood) -> bool:
    """Whether a doubt may hide a severe number; a bare one may be a telephone number asked for."""
    asked = {turn.state.joining, turn.state.asking.removeprefix("set:")}
    if JoinStep.NUMBER in asked and text.strip().isdigit():
        return False
    if JoinStep.OUT_OF_HOURS in asked and text.replace(" ", "").isdigit():
        return False
    return any(turn.limits.is_severe(p.systolic, p.diastolic) for p in understood.possible)


def asked_for(turn: Turn, asking: str, text: str, understood: Understood) -> bool:
    yes = answers.yes_or_no(text, language=turn.language)
    if asking.startswith(watching.ASKING):
        return watch_answers.by_word(turn, text)
    if asking == coaching.ASKING_STOP:
        if yes is None:
            turn.change(asking="")
            return False
        (commands.stop_confirmed if yes else commands.resume)(turn)
        return True
    if asking == family.ASKING_CARER and yes is False:
        turn.change(asking="")
        turn.say(line("cancelled"))
        return True
    if asking == family.ASKING_CARER:
        if understood.intent is not Intent.OTHER or understood.possible:
            return False  # "undo" and "142" are no names
        family.offer_invitation(turn, text)
        return True
    if asking.startswith(details.ASKING):
        return details.text_answer(turn, text, understood)
    _, _, step = asking.partition(":")
    return joining.text_answer(turn, JoinStep(step), text)


def prompt_by_word(turn: Turn, text: str) -> bool:
    open_ = turn.state.occasion
    if open_ is None or open_.step not in {Step.PROMPTED, Step.RESTING}:
        return False
    if answers.says(text, "rested", language=turn.language):
        coaching.rested(turn)
    elif answers.says(text, "ready", language=turn.language) and open_.step is Step.PROMPTED:
        coaching.ready(turn)
    else:
        return False
    return True
