"""The language of a chat: chosen by a button or by its name, by whoever writes there."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.conversation import respond
from domain.events import Action, Actor, Do, Event, MessageRef, Pressed, Said, Situation
from domain.outcome import LanguageChosen, Outcome
from domain.people import ChatId, Consent, PersonId, Role, Tie
from domain.understanding import languages, nearest_language

CHAT = ChatId(500)
NOW = datetime(2026, 3, 10, 7, tzinfo=UTC)
HERE = MessageRef(chat=CHAT, message=1)


def tie(role: Role, *, language: str = "en") -> Tie:
    return Tie(
        patient=PersonId("hollis"),
        patient_name="Hollis",
        role=role,
        person=PersonId("hollis" if role is Role.PATIENT else "wren"),
        person_name="Hollis",
        consent=Consent.AGREED,
        language=language,
    )


def happens(event: Event, *ties: Tie, language: str = "en") -> Outcome:
    return respond(Situation(actor=Actor(chat=CHAT, language=language), ties=ties), event, NOW)


def said(text: str) -> Said:
    return Said(text=text, message=HERE, written_at=NOW)


def pressed(argument: str) -> Pressed:
    action = Action(do=Do.LANGUAGE, argument=argument)
    return Pressed(action=action, pressed_at=NOW, message=HERE)


@pytest.mark.parametrize("role", list(Role))
def test_everybody_in_a_chat_may_choose_from_every_language(role: Role) -> None:
    outcome = happens(said("/language"), tie(role))

    (question,) = outcome.outgoing
    offered = [row[0].action for row in question.buttons]
    assert [action.argument for action in offered] == list(languages())
    assert all(action.do is Do.LANGUAGE for action in offered)
    assert outcome.facts == ()


@pytest.mark.parametrize(
    ("event", "language"),
    [
        (pressed("es"), "es"),
        (pressed("en"), "en"),
        (said("/language es"), "es"),
        (said("/language English"), "en"),
        (said("Español"), "es"),
        (said("en español, por favor"), "es"),
        (said("In English please!"), "en"),
        (said("ingles"), "en"),
    ],
)
def test_a_choice_holds_for_the_chat_and_is_said_in_the_new_language(
    event: Event, language: str
) -> None:
    outcome = happens(event, tie(Role.PATIENT), language="en" if language == "es" else "es")

    assert outcome.facts == (LanguageChosen(chat=CHAT, language=language),)
    (told,) = outcome.outgoing
    assert told.language == language
    assert told.lines[0].key == "language.chosen"


@pytest.mark.parametrize("argument", ["xx", "", "english"])
def test_a_button_without_a_known_language_asks_again(argument: str) -> None:
    outcome = happens(pressed(argument), tie(Role.PATIENT))

    assert outcome.facts == ()
    assert outcome.outgoing[0].lines[0].key == "language.which"


@pytest.mark.parametrize("text", ["142/91", "my English neighbour is here", "/week", "spanish flu"])
def test_other_texts_choose_no_language(text: str) -> None:
    facts = happens(said(text), tie(Role.PATIENT), tie(Role.CARER)).facts

    assert not any(isinstance(fact, LanguageChosen) for fact in facts)


def test_a_stranger_is_told_as_before_that_they_are_not_known() -> None:
    (told,) = happens(said("/language"), language="es").outgoing

    assert told.lines[0].key == "stranger"
    assert told.language == "es"


@pytest.mark.parametrize(
    ("tag", "language"),
    [("es", "es"), ("es-419", "es"), ("ES_mx", "es"), ("en-GB", "en"), ("fr", "en"), ("", "en")],
)
def test_the_tag_of_a_chat_client_leads_to_the_nearest_lexicon(tag: str, language: str) -> None:
    assert nearest_language(tag) == language
