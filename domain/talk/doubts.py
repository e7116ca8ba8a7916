"""The one clear question about a message that may mean several things.

Danger has been judged on the worst of them before this is asked. The buttons are made from
what was typed. Pressures in mmHg.
"""

from __future__ import annotations

from typing import Final

from domain.events import Action, Do
from domain.messages import Line, line
from domain.outcome import Button
from domain.people import InDoubt, Option
from domain.talk.turn import Rows, Turn
from domain.understanding.result import Doubt

_ABOUT_A_DOUBT: Final = frozenset({Do.MEANT, Do.MEANT_NONE, Do.EDIT_YES, Do.EDIT_NO})


#: Readings that a button can name and still fit on a phone; the question names all.
_MOST_IN_BUTTON: Final = 3


def ask(turn: Turn) -> None:
    """Ask what the message in doubt meant."""
    waiting = turn.state.in_doubt
    if waiting is None:
        return
    turn.say(_question(waiting), buttons=_buttons(turn, waiting))


def _question(waiting: InDoubt) -> Line:
    if waiting.is_edit:
        return line("doubt.old_edit")
    several = len(waiting.options) > 1 and not waiting.together
    if Doubt.KILOPASCAL in waiting.doubts and not several:
        return line("doubt.kilopascal", shown=_all_shown(waiting.options))
    if Doubt.SWAPPED in waiting.doubts:
        return line("doubt.swapped", shown=_all_shown(waiting.options))
    if len(waiting.options) > 1:
        return line("doubt.which")
    if waiting.options:
        return line("doubt.meant", shown=_all_shown(waiting.options))
    if waiting.known_systolic is not None:
        return line("doubt.incomplete", number=waiting.known_systolic)
    if waiting.known_diastolic is not None:
        return line("doubt.incomplete.upper", number=waiting.known_diastolic)
    if Doubt.IMPLAUSIBLE in waiting.doubts:
        return line("doubt.implausible")
    return line("doubt.unclear")


def _buttons(turn: Turn, waiting: InDoubt) -> Rows:
    if waiting.is_edit:
        return (
            (turn.button("button.edit_yes", Do.EDIT_YES, _of(waiting)),),
            (turn.button("button.edit_no", Do.EDIT_NO, _of(waiting)),),
        )
    none = (turn.button("button.meant_none", Do.MEANT_NONE, _of(waiting)),)
    if not waiting.options:
        return ()
    if waiting.together or len(waiting.options) == 1:
        few = len(waiting.options) <= _MOST_IN_BUTTON
        values = {"shown": _all_shown(waiting.options)} if few else {}
        label = "button.meant" if few else "button.meant_all"
        return ((turn.button(label, Do.MEANT, _of(waiting, "all"), **values),), none)

    def button(place: int, option: Option) -> tuple[Button, ...]:
        argument = _of(waiting, str(place))
        return (turn.button("button.meant", Do.MEANT, argument, shown=shown_option(option)),)

    return (*(button(n, o) for n, o in enumerate(waiting.options)), none)


def chosen(waiting: InDoubt, argument: str) -> tuple[Option, ...]:
    """The options that a button's argument, or a bare "all", stands for; none for others."""
    which = argument.partition("@")[0]
    if which == "all":
        return waiting.options
    place = int(which) if which.isdigit() else -1
    return waiting.options[place : place + 1] if place >= 0 else ()


def is_about_another(turn: Turn, action: Action) -> bool:
    """Whether a button belongs to a doubt that a later one has replaced."""
    waiting, (_, _, mark) = turn.state.in_doubt, action.argument.partition("@")
    marked = action.do in _ABOUT_A_DOUBT and bool(mark)
    return marked and waiting is not None and mark != _mark(waiting)


def _of(waiting: InDoubt, which: str = "") -> str:
    """A button's argument: which option, and of which doubt, because older buttons stay."""
    return f"{which}@{_mark(waiting)}"


def _mark(waiting: InDoubt) -> str:
    return f"{waiting.made_by.message}:{_all_shown(waiting.options)}"


def shown_option(option: Option) -> str:
    return f"{option.systolic}/{option.diastolic}"


def _all_shown(options: tuple[Option, ...]) -> str:
    return ", ".join(shown_option(option) for option in options)
