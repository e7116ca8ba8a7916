"""Where a reading was taken, read from the words around it: the lexicon's examples and lists."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.readings import Setting
from domain.understanding import languages, understand
from domain.understanding.lexicon_files import Example, lexicon

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
CLINIC, HOME = Setting.CLINIC, Setting.HOME

EXAMPLES = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "setting"
]


def settings(text: str, language: str = "en") -> list[Setting | None]:
    return [found.setting for found in understand(text, NOW, language).readings]


@pytest.mark.parametrize(
    ("language", "example"),
    EXAMPLES,
    ids=[f"{lang} {e.code} {'yes' if e.expected else 'no'}: {e.text}" for lang, e in EXAMPLES],
)
def test_the_examples_in_the_lexicon_hold(language: str, example: Example) -> None:
    (found,) = settings(example.text, language)

    assert (found is Setting(example.code)) is example.expected


@pytest.mark.parametrize("language", languages())
def test_every_language_knows_both_places(language: str) -> None:
    known = {example.code for lang, example in EXAMPLES if lang == language}

    assert known == set(Setting)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("the nurse got 148/90 and at home it was 136/82", [CLINIC, HOME]),
        ("150/92 at the surgery, 138/84 at home", [CLINIC, HOME]),
        ("150/92 at the surgery but 138/84 at home", [CLINIC, HOME]),
        ("at home 138/84, at the doctor's 150/92", [HOME, CLINIC]),
        ("138/84 this morning, nurse took 150/92", [None, CLINIC]),
        ("138/84 this morning. The nurse took 150/92", [None, CLINIC]),
        ("at the doctor's 150/92, 148/90", [CLINIC, CLINIC]),
        ("at the doctor's\n150/92\n148/90", [CLINIC, CLINIC]),
        ("150/92 and 148/88 at the doctor's", [CLINIC, CLINIC]),
        ("150/92 at the doctor's. 138/84 this evening", [CLINIC, None]),
        ("138/84, 136/82", [None, None]),
    ],
)
def test_each_reading_has_the_place_that_stands_nearest(
    text: str, expected: list[Setting | None]
) -> None:
    assert settings(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("en el médico 150/92 y en casa 130/80", [CLINIC, HOME]),
        ("en casa 130/80, en la consulta 150/92 y 148/90", [HOME, CLINIC, CLINIC]),
        ("130/80 esta mañana, la enfermera me tomó 150/92", [None, CLINIC]),
    ],
)
def test_the_same_in_spanish(text: str, expected: list[Setting | None]) -> None:
    assert settings(text, "es") == expected


def test_what_is_in_doubt_has_a_place_too() -> None:
    (possible,) = understand("at the doctor's 92/150", NOW).readings
    halves = understand("at the clinic the top was 150", NOW).possible

    assert possible.setting is CLINIC
    assert [half.setting for half in halves] == [CLINIC]


@pytest.mark.parametrize(
    ("language", "text", "expected"),
    [
        ("en", "that was at the doctor's", CLINIC),
        ("en", "It was taken by the nurse", CLINIC),
        ("en", "taken at the clinic", CLINIC),
        ("en", "that one was at home", HOME),
        ("en", "I'm at the doctor's", None),
        ("en", "off to the doctor's", None),
        ("en", "that was not at the doctor's", None),
        ("es", "eso fue en el médico", CLINIC),
        ("es", "fue en casa", HOME),
        ("es", "estoy en el médico", None),
    ],
)
def test_a_message_may_say_it_of_the_reading_before(
    language: str, text: str, expected: Setting | None
) -> None:
    assert understand(text, NOW, language).setting_said is expected
