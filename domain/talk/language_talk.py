"""In which language a chat is spoken to: that of its client at first, then what is chosen.

It belongs to the chat and not to a patient, so it is the same for a patient, a carer and a
practitioner, and is answered before anything else looks at the event.
"""

from __future__ import annotations

from typing import Final

from domain.events import Action, Do, Event, Pressed, Said, Situation
from domain.messages import line
from domain.outcome import Button, LanguageChosen, Outcome, Outgoing
from domain.talk import routing
from domain.understanding.clauses import fold
from domain.understanding.lexicon_data import languages, lexicon_data

_COMMAND: Final = "language"


def wanted(situation: Situation, event: Event) -> str | None:
    """The language that the event chooses, "" when it only asks for the choice, else None."""
    known = bool(situation.ties) or situation.patient is not None
    if not known or situation.actor.chat is None:
        return None
    match event:
        case Pressed(action=Action(do=Do.LANGUAGE, argument=chosen)):
            return chosen if chosen in languages() else ""
        case Said(text=text):
            asked = routing.command(text)
            if asked is None:
                return _named(text)
            if asked[0] == _COMMAND:
                return _named(asked[1]) or ""
    return None


def answer(situation: Situation, chosen: str) -> Outcome:
    """The new language, said in it; or the question, with a button for each."""
    chat = situation.actor.chat
    assert chat is not None
    if not chosen:
        return Outcome(
            outgoing=(
                Outgoing(
                    chat=chat,
                    lines=(line("language.which"),),
                    language=situation.actor.language,
                    buttons=tuple((button(code),) for code in languages()),
                ),
            )
        )
    said = Outgoing(chat=chat, lines=(line("language.chosen"),), language=chosen)
    return Outcome(facts=(LanguageChosen(chat=chat, language=chosen),), outgoing=(said,))


def button(language: str = "") -> Button:
    """A button that chooses a language by its own name; without one, that asks for the choice."""
    label = f"language.name.{language}" if language else "settings.change.language"
    return Button(label=line(label), action=Action(do=Do.LANGUAGE, argument=language))


def _named(text: str) -> str | None:
    """The language that a whole text names, in whatever language: "English", "en español"."""
    plain = " ".join("".join(c if c.isalnum() else " " for c in fold(text)).split())
    for code in languages():
        if plain == code or plain in lexicon_data(code, "answers")["own_names"]:
            return code
    return None
