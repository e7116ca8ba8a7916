"""Whom the limits for adults do not fit: one question that may have several answers.

It is put when somebody joins, before the arm is chosen, again at the start of each plan, and
from the settings. Each answer holds from the moment it is given (what protects most must not
wait for "that is all"); under 18 is declined with where to turn. Days are local to the
person.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time, timedelta
from typing import Final

from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import Rank
from domain.people import JoinStep, NoteKind, Profile
from domain.plans import local_moment
from domain.talk import answers, scheduling
from domain.talk.turn import Rows, Turn
from domain.understanding.result import Understood
from domain.watch import Finding

#: What can apply, in the order of the buttons. Labels are the wording's `join.adult.<option>`.
OPTIONS: Final = ("pregnant", "birth", "under_18", "one_arm", "irregular")
NONE: Final = "none"  #: after another answer it means: none of the others
DONE: Final = "done"
SAME: Final = "same"  #: what is known already still holds
ANEW: Final = "anew"  #: an answer was a mistake

#: How long the limits for pregnancy hold until it is asked again. After birth: six weeks, when
#: NICE NG133 has the pressure reviewed (from memory). Pregnant: forty weeks and six more, at
#: the latest; common practice.
HOLDS: Final[Mapping[str, timedelta]] = {
    "birth": timedelta(weeks=6),
    "pregnant": timedelta(weeks=46),
}
#: Timer: a plan has begun while something else was asked or open.
PLAN: Final = "fitting.plan"
_NOT_NOW: Final = timedelta(hours=1)
#: Timer: the day has come after which the limits for pregnancy are asked about again.
AGAIN: Final = "fitting.again"
_ASKED_AT: Final = time(10)


def ask(turn: Turn) -> None:
    """Put the question, or what is left of it after some answers."""
    picked = turn.state.picked
    if picked:
        said = line("fitting.noted", what=_words(picked))
        turn.say(said, line("fitting.more"), buttons=_buttons(turn))
        return
    known = _known(turn.profile)
    buttons = _buttons(turn, same=bool(known), is_setting=True)
    turn.say(line("join.adult"), *_known_line(known), buttons=buttons)


def ask_at_plan_start(turn: Turn) -> None:
    """A plan begins: does any of these apply by now? Later, when something else is open."""
    state = turn.state
    if state.declined or state.joining is not None or state.plan is None:
        return  # joining has just asked, or will
    if state.asking or state.alarm is not None or state.unreachable:
        turn.set_after(PLAN, _NOT_NOW)
        return
    turn.change(asking=f"set:{JoinStep.ADULT}", picked=())
    known = _known(turn.profile)
    turn.say(
        line("fitting.plan"),
        *_known_line(known),
        buttons=_buttons(turn, same=bool(known)),
        rank=Rank.PROMPT,
    )


def again_fell(turn: Turn) -> None:
    """Six weeks after birth, or a pregnancy that must be over: the limits hold until answered."""
    state = turn.state
    if state.declined or not turn.profile.pregnant:
        return
    if state.alarm is not None or state.joining is not None or state.asking:
        turn.set_after(AGAIN, timedelta(days=1))
        return
    turn.change(asking=f"set:{JoinStep.ADULT}", picked=())
    turn.say(line("fitting.over"), buttons=_buttons(turn), rank=Rank.PROMPT)


def read(turn: Turn, text: str) -> str | None:
    """The answer that a free text gives: options joined by commas, or one of the others.

    A typed "no" takes back nothing that is known: it is read as "nothing has changed", and
    the reply shows what is kept. Only the button clears it.
    """
    language = turn.language
    named = answers.several(JoinStep.ADULT, text, language=language)
    if not named and answers.yes_or_no(text, language=language) is False:
        named = (NONE,)
    picked = turn.state.picked
    if named and set(named) <= {NONE, DONE, SAME}:
        if turn.state.in_doubt is not None:
            return None  # "no" belongs to the question that was put last
        if not picked and named != (NONE,):
            return SAME if named == (SAME,) and _may_say_same(turn) else None
        if not picked and _may_say_same(turn):
            return SAME
    return ",".join(named) or None


def names_condition(turn: Turn, text: str, understood: Understood) -> bool:
    """Whether a text names a known irregular heartbeat: asked for, it is no sign of today."""
    asked = JoinStep.ADULT in {turn.state.joining, turn.state.asking.removeprefix("set:")}
    if not asked or turn.state.alarm is not None or understood.readings:
        return False
    told = (*understood.symptoms, *(sign.code for sign in understood.others))
    named = (read(turn, text) or "").split(",")
    return "irregular" in named and set(told) == {"palpitations"}


def answer(turn: Turn, value: str) -> bool:
    """Take an answer. True when the question is finished, and something else may follow."""
    if value == ANEW:
        turn.change(picked=())
        ask(turn)
        return False
    if value == SAME and _may_say_same(turn):
        turn.change(picked=())
        turn.change_profile(adult=True)
        return True
    options = tuple(one for one in value.split(",") if one in OPTIONS)
    if "under_18" in options:
        _decline(turn)
        return False
    if turn.state.declined:
        _taken_back(turn)
    if options:
        _pick(turn, options)
        return False
    return _finish(turn)


def go_on(turn: Turn) -> None:
    """The arm that must not be used is known: what is left of the question."""
    ask_next(turn, JoinStep.ADULT)
    ask(turn)


def ask_next(turn: Turn, step: JoinStep) -> None:
    """What a text answers from now on, in joining or from the settings."""
    if turn.state.joining is not None:
        turn.change(joining=step)
    else:
        turn.change(asking=f"set:{step}")


def summary(profile: Profile) -> tuple[Line, ...]:
    """What is known of it, for correction."""
    return _known_line(_known(profile))


# --- answers


def _pick(turn: Turn, options: tuple[str, ...]) -> None:
    new = tuple(option for option in options if option not in turn.state.picked)
    turn.change(picked=(*turn.state.picked, *new))
    for option in new:
        turn.note(NoteKind.CONDITION, code=option)
        if option in HOLDS and turn.state.joined_at is not None and not turn.profile.pregnant:
            turn.note(NoteKind.FINDING, code=Finding.PREGNANT)
    holds = [HOLDS[option] for option in options if option in HOLDS]
    if holds:
        # The longest: whoever names both is pregnant again.
        until = turn.local_now.date() + max(holds)
        turn.change_profile(pregnant=True, pregnant_until=until)
        _ask_again_after(turn)
        turn.say(*_pregnancy_advice(turn))
    if "irregular" in options:
        turn.change_profile(irregular=True)
        turn.say(line("fitting.irregular", number=turn.number))
    if "one_arm" in options:
        _ask_which_arm(turn)
    else:
        ask_next(turn, JoinStep.ADULT)
        ask(turn)


def _ask_which_arm(turn: Turn) -> None:
    ask_next(turn, JoinStep.BARRED_ARM)
    rows: Rows = tuple(
        (turn.button(f"join.barred_arm.{arm}", Do.JOIN, f"{JoinStep.BARRED_ARM}:{arm}"),)
        for arm in ("left", "right")
    )
    turn.say(line("join.barred_arm"), buttons=rows)


def _finish(turn: Turn) -> bool:
    """Whatever was not named does not apply any more."""
    picked = turn.state.picked
    if "one_arm" in picked and turn.profile.barred_arm is None:
        _ask_which_arm(turn)  # "that is all" of an earlier message must not lose the arm
        return False
    pregnant = any(option in HOLDS for option in picked)
    if not picked and _known(turn.profile):
        turn.note(NoteKind.CONDITION, code=NONE)
    turn.change(picked=())
    turn.change_profile(
        adult=True,
        pregnant=pregnant,
        pregnant_until=turn.profile.pregnant_until if pregnant else None,
        irregular="irregular" in picked,
        barred_arm=turn.profile.barred_arm if "one_arm" in picked else None,
    )
    if not pregnant:
        turn.cancel(AGAIN)
    return True


def _decline(turn: Turn) -> None:
    """Too young for the limits used here: said courteously, with where to turn."""
    turn.change_profile(adult=False)
    turn.change(joining=None, declined=True, occasion=None, asking="", picked=())
    scheduling.stop_prompts(turn)
    turn.note(NoteKind.DECLINED, code="under_18")
    turn.say(line("join.declined.under_18", number=turn.number), line("join.declined.back"))


def _taken_back(turn: Turn) -> None:
    """It was a mistake, or no longer holds: joining goes on, or the plan does."""
    unfinished = turn.state.joined_at is None
    turn.change(declined=False, asking="", joining=JoinStep.ADULT if unfinished else None)


def _ask_again_after(turn: Turn) -> None:
    until = turn.profile.pregnant_until
    assert until is not None
    due = local_moment(until + timedelta(days=1), _ASKED_AT, turn.patient.zone)
    turn.set_timer(AGAIN, due)


def _pregnancy_advice(turn: Turn) -> tuple[Line, ...]:
    """Who sets the plan, the limits and signs that hold at once, and the monitor.

    Source: NICE NG133 / CG107 (limits), NG133 1.1.1 (signs), ISO 81060-2:2018 (monitor).
    """
    number = turn.number
    return (
        line("fitting.pregnant.limits", number=number),
        line("fitting.pregnant.signs", number=number),
        line("fitting.pregnant.plan"),
        line("fitting.pregnant.monitor"),
    )


# --- what is known


def _known(profile: Profile) -> tuple[str, ...]:
    held = {
        "pregnant": profile.pregnant,
        "one_arm": profile.barred_arm is not None,
        "irregular": profile.irregular,
    }
    return tuple(option for option, holds in held.items() if holds)


def _known_line(known: tuple[str, ...]) -> tuple[Line, ...]:
    return (line("fitting.known", what=_words(known)),) if known else ()


def _may_say_same(turn: Turn) -> bool:
    until = turn.profile.pregnant_until
    over = until is not None and turn.local_now.date() > until
    return bool(_known(turn.profile)) and not over


def _words(options: tuple[str, ...]) -> Words:
    return Words(tuple(f"fitting.word.{option}" for option in options))


def _buttons(turn: Turn, *, same: bool = False, is_setting: bool = False) -> Rows:
    """One below the other, for a thumb; what was picked already is not offered again."""
    picked = turn.state.picked
    gone = set(picked) | (set(HOLDS) if set(HOLDS) & set(picked) else set())
    if turn.state.joining is None and turn.profile.adult and not is_setting:
        # Whoever measures already has not become a child: a slip must not end it all.
        gone.add("under_18")
    values = [SAME] if same and _may_say_same(turn) else []
    values += [option for option in OPTIONS if option not in gone]
    values += [DONE, ANEW] if picked else [NONE]
    return tuple(
        (turn.button(f"join.adult.{value}", Do.JOIN, f"{JoinStep.ADULT}:{value}"),)
        for value in values
    )
