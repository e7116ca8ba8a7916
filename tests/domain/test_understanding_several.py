"""Who writes in another language than the one they chose is understood all the same."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.danger import MORE_RED_FLAGS, RED_FLAGS
from domain.understanding import Intent, understand, understand_any
from tests.domain.message_tables import all_number_rows, intent_rows, symptom_rows

NOW = datetime(2026, 3, 10, 9, tzinfo=UTC)
FLAGS = RED_FLAGS | MORE_RED_FLAGS


@pytest.mark.parametrize(
    ("language", "text", "code"),
    [
        ("en", "me duele mucho el pecho", "chest_pain"),
        ("en", "142/91, no puedo respirar", "breathlessness"),
        ("en", "se me durmió el brazo izquierdo", "one_sided_weakness"),
        ("es", "my chest hurts", "chest_pain"),
        ("es", "142/91 and my face is drooping on one side", "face_droop"),
        ("es", "fainted in the kitchen", "fainting"),
    ],
)
def test_a_red_flag_counts_in_any_language(language: str, text: str, code: str) -> None:
    assert code in understand_any(text, NOW, language).symptoms


@pytest.mark.parametrize(
    ("language", "text", "pair"),
    [
        ("en", "ciento cuarenta y dos sobre noventa", (142, 90)),
        ("es", "one forty two over ninety", (142, 90)),
        ("es", "my top number is 142 and bottom 90", (142, 90)),
    ],
)
def test_a_reading_that_only_another_language_sees_is_taken(
    language: str, text: str, pair: tuple[int, int]
) -> None:
    (reading,) = understand_any(text, NOW, language).readings

    assert (reading.systolic, reading.diastolic) == pair


@pytest.mark.parametrize(
    ("language", "text", "intent"),
    [
        ("es", "took my tablets this morning", Intent.MEDICINE),
        ("en", "ya tomé la pastilla esta mañana", Intent.MEDICINE),
        ("en", "heavy handed with the salt", Intent.OTHER),
        ("en", "is 130/80 good?", Intent.QUESTION),
        ("es", "¿qué quiere decir 160/100?", Intent.QUESTION),
        ("es", "no more messages", Intent.STOP),  # "no" and "messages" sound Spanish
        ("es", "stop messaging me", Intent.STOP),  # so do "stop" and "me"
        ("es", "leave me alone", Intent.STOP),
        ("es", "later", Intent.POSTPONE),
        ("es", "in a minute", Intent.POSTPONE),
        ("es", "not today", Intent.SKIP),
        ("es", "remove the last one", Intent.UNDO),
        ("es", "what is normal", Intent.QUESTION),
        ("en", "no me mande más mensajes", Intent.STOP),
        ("en", "ya no quiero mensajes", Intent.STOP),
        ("en", "ahora no", Intent.POSTPONE),
        ("en", "hoy no", Intent.SKIP),
        ("en", "borra la última", Intent.UNDO),
        ("en", "a la carte", Intent.OTHER),
        ("en", 'import os; os.system("ls")', Intent.OTHER),  # "os" is Spanish twice
        ("es", "Barcelona 3 - Madrid 2", Intent.OTHER),
        ("es", "Real Madrid", Intent.OTHER),
    ],
)
def test_what_a_foreign_text_is_for_is_understood_and_an_own_one_is_left_alone(
    language: str, text: str, intent: Intent
) -> None:
    assert understand_any(text, NOW, language).intent is intent


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "my husband had 150/90"),
        ("en", "my target is 130/80"),
        ("en", "mi esposo tiene 150/90"),
        ("es", "mi esposo tiene 150/90"),
        ("es", "la doctora quiere que esté en 130/80"),
        ("es", "my husband had 150/90"),
    ],
)
def test_a_pair_that_is_not_the_writers_is_none_in_any_language(language: str, text: str) -> None:
    understood = understand_any(text, NOW, language)

    assert understood.readings == ()
    assert not understood.doubts


@pytest.mark.parametrize("language", ["en", "es"])
def test_another_language_finds_no_readings_in_an_ordinary_message(language: str) -> None:
    texts = [row[-1] for row in all_number_rows(language)]
    texts += [text for _, text in intent_rows(language)]
    assert len(texts) > 800

    for text in texts[::3]:
        own, read = understand(text, NOW, language), understand_any(text, NOW, language)
        assert (read.readings, read.doubts, read.intent) == (own.readings, own.doubts, own.intent)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("text", "pair", "code"),
    [
        ("192 over 114, dolor de cabeza", (192, 114), "headache"),
        ("192/114 me duele la cabeza", (192, 114), "headache"),
        ("142 over 91, me duele el pecho", (142, 91), "chest_pain"),
        ("142/91 y chest pain", (142, 91), "chest_pain"),
    ],
)
def test_two_languages_in_one_message_are_both_read(
    language: str, text: str, pair: tuple[int, int], code: str
) -> None:
    understood = understand_any(text, NOW, language)

    assert [(r.systolic, r.diastolic) for r in understood.readings] == [pair]
    assert code in understood.symptoms
    assert understood.intent is Intent.READING


@pytest.mark.parametrize(
    ("language", "text", "code"),
    [("es", "i'm confused", "confusion"), ("en", "estoy vomitando", "vomiting")],
)
def test_a_foreign_word_near_to_one_of_the_own_language_is_read_all_the_same(
    language: str, text: str, code: str
) -> None:
    assert code in understand_any(text, NOW, language).symptoms


def test_the_other_languages_raise_no_alarm_over_ordinary_english() -> None:
    calm = [row.text for row in symptom_rows()]
    calm = [text for text in calm if not {s.code for s in understand(text, NOW).signs} & FLAGS]
    assert len(calm) > 1_500

    alarmed = [
        text
        for text in calm
        if {sign.code for sign in understand_any(text, NOW, "en").signs} & FLAGS
    ]

    assert alarmed == []


def test_the_other_languages_raise_no_alarm_over_ordinary_spanish() -> None:
    calm = [row[-1] for row in all_number_rows("es")]
    calm += [text for _, text in intent_rows("es")]
    calm = [t for t in calm if not {s.code for s in understand(t, NOW, "es").signs} & FLAGS]
    assert len(calm) > 800

    alarmed = [t for t in calm if {s.code for s in understand_any(t, NOW, "es").signs} & FLAGS]

    assert alarmed == []
