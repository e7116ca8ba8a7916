"""What a message is for: the table beside this file, the lexicon's examples, pauses."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from domain.understanding import Intent, languages, understand
from domain.understanding.lexicon_files import Example, lexicon
from tests.domain.message_tables import INTENT_TABLES, intent_rows

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)


@pytest.mark.parametrize(
    ("language", "right", "text"),
    [(language, *row) for language in INTENT_TABLES for row in intent_rows(language)],
)
def test_a_message_is_for_what_stands_beside_it(
    language: str, right: frozenset[str], text: str
) -> None:
    assert understand(text, NOW, language).intent in right


EXAMPLES = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "intent"
]


@pytest.mark.parametrize(
    ("language", "example"),
    EXAMPLES,
    ids=[f"{lang} {e.code} {'yes' if e.expected else 'no'}: {e.text}" for lang, e in EXAMPLES],
)
def test_the_examples_in_the_lexicon_hold(language: str, example: Example) -> None:
    assert (understand(example.text, NOW, language).intent == example.code) is example.expected


@pytest.mark.parametrize("language", languages())
def test_every_language_has_wordings_and_examples_for_every_intent(language: str) -> None:
    given = {example.code for lang, example in EXAMPLES if lang == language and example.expected}

    assert given == set(Intent) - {Intent.READING, Intent.SYMPTOM, Intent.OTHER}


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        # In the order of the contract: the first that fits wins.
        ("oops, typo, it was 131/81 and my head hurts", Intent.CORRECTION),
        ("131/81, please delete the last one", Intent.READING),
        ("131/81, headache, took my tablet, stop", Intent.READING),
        ("delete the last one and stop messaging me", Intent.UNDO),
        ("stop messaging me, I have a headache", Intent.STOP),
        ("I have a headache and took a tablet", Intent.SYMPTOM),
        ("took my tablet, will measure later", Intent.MEDICINE),
        ("not now, skip this one, I'll do it tonight", Intent.POSTPONE),
        ("skip today, when is the next one?", Intent.SKIP),
        ("no headache today, when is the next one?", Intent.QUESTION),
        ("no headache today", Intent.SYMPTOM),
        ("lovely day", Intent.OTHER),
        ("", Intent.OTHER),
    ],
)
def test_the_first_intent_that_fits_wins(text: str, intent: Intent) -> None:
    assert understand(text, NOW).intent is intent


@pytest.mark.parametrize(
    ("text", "wait"),
    [
        ("in 20 minutes", timedelta(minutes=20)),
        ("in 20 min", timedelta(minutes=20)),
        ("give me half an hour", timedelta(minutes=30)),
        ("in an hour", timedelta(hours=1)),
        ("in an hour and a half", timedelta(minutes=90)),
        ("in a couple of hours", timedelta(hours=2)),
        ("in quarter of an hour", timedelta(minutes=15)),
        ("I'll do it in twenty five minutes", timedelta(minutes=25)),
        ("after church", None),
        ("later", None),
        ("I will do it later, in 900 hours", None),
    ],
)
def test_a_pause_is_as_long_as_the_writer_says(text: str, wait: timedelta | None) -> None:
    understood = understand(text, NOW)

    assert understood.intent is Intent.POSTPONE
    assert understood.postponed == wait


@pytest.mark.parametrize(
    ("text", "wait"),
    [
        ("en 20 minutos", timedelta(minutes=20)),
        ("en 20 min", timedelta(minutes=20)),
        ("dame media hora", timedelta(minutes=30)),
        ("en media horita", timedelta(minutes=30)),
        ("dentro de una hora", timedelta(hours=1)),
        ("en una hora y media", timedelta(minutes=90)),
        ("en dos horas y media", timedelta(minutes=150)),
        ("en un par de horas", timedelta(hours=2)),
        ("en un cuarto de hora", timedelta(minutes=15)),
        ("en tres cuartos de hora", timedelta(minutes=45)),
        ("me la tomo en veinticinco minutos", timedelta(minutes=25)),
        ("espere unos 10 minutitos", timedelta(minutes=10)),
        ("deme unos minutos", timedelta(minutes=5)),
        ("después de misa", None),
        ("más tarde", None),
        ("luego, en 900 horas", None),
    ],
)
def test_a_pause_in_spanish_is_as_long_as_the_writer_says(
    text: str, wait: timedelta | None
) -> None:
    understood = understand(text, NOW, "es")

    assert understood.intent is Intent.POSTPONE
    assert understood.postponed == wait


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        ("perdón, me equivoqué, era 131/81 y me duele la cabeza", Intent.CORRECTION),
        ("131/81, borre la última", Intent.READING),
        ("borre la última y no me mande más mensajes", Intent.UNDO),
        ("no me mande más mensajes, me duele la cabeza", Intent.STOP),
        ("me duele la cabeza y tomé una pastilla", Intent.SYMPTOM),
        ("tomé la pastilla, luego me mido", Intent.MEDICINE),
        ("ahora no, me la salto, la mido esta noche", Intent.POSTPONE),
        ("hoy no, ¿cuándo es la próxima?", Intent.SKIP),
        ("bonito día", Intent.OTHER),
        ("", Intent.OTHER),
    ],
)
def test_the_first_intent_that_fits_wins_in_spanish(text: str, intent: Intent) -> None:
    assert understand(text, NOW, "es").intent is intent


def test_only_a_pause_has_a_length() -> None:
    assert understand("rested 5 minutes, 131/81", NOW).postponed is None
