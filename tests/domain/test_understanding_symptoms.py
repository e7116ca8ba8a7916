"""Symptoms in messages: the tables beside this file, the lexicon's own examples, properties."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from domain.danger import RED_FLAGS
from domain.understanding import Understood, languages, understand
from domain.understanding.lexicon_files import Example, lexicon
from tests.domain.message_tables import SYMPTOM_TABLES, SymptomRow, symptom_rows

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
ROWS_IN = [(language, row) for language in SYMPTOM_TABLES for row in symptom_rows(language)]
EXAMPLES = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "sign"
]
EXAMPLES_OF_OTHERS = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "theirs"
]


def codes_of(understood: Understood) -> set[str]:
    """The contract's codes that count as present."""
    return {code for code in understood.symptoms if not code.startswith("x_")}


@pytest.mark.parametrize(
    ("language", "messages", "of_each_flag", "calm"),
    [("en", 800, 20, 200), ("es", 1200, 25, 500)],
)
def test_the_tables_hold_enough_messages_and_none_twice(
    language: str, messages: int, of_each_flag: int, calm: int
) -> None:
    rows = symptom_rows(language)
    texts = Counter(row.text for row in rows)
    flags = Counter(code for row in rows for code in row.must & RED_FLAGS)

    assert len(texts) >= messages
    assert [text for text, count in texts.items() if count > 1] == []
    assert min(flags[code] for code in RED_FLAGS) >= of_each_flag
    assert sum(not row.may & RED_FLAGS for row in rows) >= calm


@pytest.mark.parametrize(
    ("language", "row"), ROWS_IN, ids=[f"{lang} {row.heading}: {row.text}" for lang, row in ROWS_IN]
)
def test_a_message_gives_the_symptoms_beside_it(language: str, row: SymptomRow) -> None:
    found = codes_of(understand(row.text, NOW, language))

    assert row.must <= found <= row.may


@pytest.mark.parametrize(
    ("language", "item"),
    EXAMPLES,
    ids=[f"{lang} {e.code} {'yes' if e.expected else 'no'}: {e.text}" for lang, e in EXAMPLES],
)
def test_the_examples_in_the_lexicon_hold(language: str, item: Example) -> None:
    assert (item.code in understand(item.text, NOW, language).symptoms) is item.expected


@pytest.mark.parametrize(
    ("language", "item"),
    EXAMPLES_OF_OTHERS,
    ids=[f"{lang} {e.code}: {e.text}" for lang, e in EXAMPLES_OF_OTHERS],
)
def test_the_examples_of_others_in_the_lexicon_are_others(language: str, item: Example) -> None:
    understood = understand(item.text, NOW, language)

    assert item.code in {sign.code for sign in understood.others}
    assert not set(understood.symptoms) & RED_FLAGS


@pytest.mark.parametrize("language", languages())
def test_every_sign_has_an_example_for_and_one_against(language: str) -> None:
    given = [example for lang, example in EXAMPLES if lang == language]
    both = {(e.code, e.expected) for e in given}
    signs = lexicon(language).titles.keys()

    assert both == {(code, expected) for code in signs for expected in (True, False)}


@pytest.mark.parametrize("language", languages())
def test_the_lexicon_knows_every_red_flag_and_every_symptom_of_the_severe_list(
    language: str,
) -> None:
    from domain.danger import MORE_RED_FLAGS, SEVERE_SYMPTOMS

    known = lexicon(language).titles.keys()

    assert known >= RED_FLAGS | MORE_RED_FLAGS | SEVERE_SYMPTOMS
    assert known == lexicon().titles.keys()


@pytest.mark.parametrize(
    ("text", "passed"),
    [
        ("chest tight this morning but it has gone", True),
        ("chest tight this morning", False),
        ("my arm went numb for ten minutes, fine now", True),
        ("my arm is numb and won't go back to normal", False),
    ],
)
def test_a_red_flag_that_went_is_marked_as_passed(text: str, passed: bool) -> None:
    assert [sign.passed for sign in understand(text, NOW).signs] == [passed]


@pytest.mark.parametrize(
    ("text", "unsure"),
    [
        ("chest pain", False),
        ("no dizziness, chest pain", True),
        ("daughter says speech is slurred", True),
        ("my speech is slurred", False),
    ],
)
def test_what_the_words_leave_open_is_present_and_marked_as_unsure(text: str, unsure: bool) -> None:
    assert [sign.unsure for sign in understand(text, NOW).signs] == [unsure]


@pytest.mark.parametrize(
    ("text", "others"),
    [
        ("my husband has chest pain", ("chest_pain",)),
        ("she fainted and her speech is slurred", ("fainting", "speech_trouble")),
        ("she has a headache and feels sick", ("headache", "nausea")),
        ("the dog has a cough", ()),
        ("my chest hurts", ()),
        ("nan has no idea who I am", ("confusion",)),
        ("I don't know where she is", ()),
        ("I can't wake my wife", ("fainting",)),
        ("grandad doesn't recognise us and talks gibberish", ("confusion", "speech_trouble")),
    ],
)
def test_red_flags_of_another_person_are_told_apart(text: str, others: tuple[str, ...]) -> None:
    assert tuple(sign.code for sign in understand(text, NOW).others) == others


@pytest.mark.parametrize(
    ("language", "text", "found"),
    [
        ("en", "my right leg has been weak since my stroke in 2015", False),
        ("en", "stroke nine years ago, which is why my mouth droops", False),
        ("en", "my right leg has been weak since my stroke in 2015, worse today", True),
        ("en", "had a stroke nine years ago and now I can't lift my arm", True),
        ("en", "chest pain since my operation in 2015", True),
        ("es", "la pierna floja desde el ictus de hace siete años", False),
        ("es", "la pierna floja desde el ictus de hace siete años, hoy peor", True),
    ],
)
def test_what_an_old_stroke_left_behind_is_nothing_new(
    language: str, text: str, found: bool
) -> None:
    assert bool(RED_FLAGS & set(understand(text, NOW, language).symptoms)) is found


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("no chest pain", ("chest_pain",)),
        ("no headache, dizziness or chest pain", ("headache", "dizziness", "chest_pain")),
        ("no chest pain but dizzy", ("chest_pain",)),
        ("all quiet here", ()),
        ("I'm not making sense and one arm is limp", ()),
    ],
)
def test_what_is_denied_is_named(text: str, denied: tuple[str, ...]) -> None:
    assert understand(text, NOW).denied == denied


@pytest.mark.parametrize(
    ("text", "denies_all"),
    [
        ("no symptoms", True),
        ("I feel fine", True),
        ("none of these", True),
        ("nothing", True),
        ("none", True),
        ("feeling well thanks", True),
        ("no", False),
        ("I don't feel well", False),
        ("not feeling fine at all", False),
        ("feel fine apart from a headache", False),
        ("my wife is well, she feels fine", False),
        ("128/76", False),
    ],
)
def test_denying_everything_is_more_than_a_no(text: str, denies_all: bool) -> None:
    assert understand(text, NOW).denies_all is denies_all


def test_spans_point_at_the_words_as_they_were_sent() -> None:
    text = "Good morning. My CHEST feels ｔｉｇｈｔ today"

    (sign,) = understand(text, NOW).signs

    assert text[slice(*sign.span)] == "CHEST feels ｔｉｇｈｔ"


RED = [(lang, row.text) for lang, row in ROWS_IN if RED_FLAGS & row.must]
UNRELATED = {
    "en": (
        "It rained all day.",
        "The reading was 131/78.",
        "My niece is coming on Sunday.",
        "I had toast.",
        "No other news.",
        "Thank you.",
    ),
    "es": (
        "Llovió todo el día.",
        "La tensión fue 131/78.",
        "El domingo viene mi sobrina.",
        "Desayuné pan con tomate.",
        "No hay más novedades.",
        "Muchas gracias.",
    ),
}


@settings(deadline=None, max_examples=300)
@given(st.sampled_from(RED), st.integers(0, 5), st.booleans())
def test_an_unrelated_sentence_never_removes_a_red_flag(
    message: tuple[str, str], which: int, before: bool
) -> None:
    language, text = message
    unrelated = UNRELATED[language][which]
    alone = set(understand(text, NOW, language).symptoms) & RED_FLAGS
    whole = f"{unrelated} {text}" if before else f"{text}. {unrelated}"

    assert alone <= set(understand(whole, NOW, language).symptoms)


@settings(deadline=None, max_examples=100)
@given(st.text(max_size=10_000))
@example("\ud800")
@example("s' 's s's")
@example("'" * 10_000)
@example("no headache, " * 769)
@example("<" * 10_000)
@example("½" * 10_000)
def test_any_text_is_understood_without_an_error(text: str) -> None:
    assert isinstance(understand(text, NOW), Understood)


@pytest.mark.parametrize(
    ("language", "text", "others"),
    [
        ("en", "the dog had a fit", ()),
        ("en", "our cat fainted, would you believe", ()),
        ("en", "my husband's dog had a seizure", ()),
        ("en", "my neighbour had a fit", ("seizure",)),
        ("en", "the dog found dad, he fainted", ("fainting",)),
        ("en", "walked the dog and mum fainted", ("fainting",)),
        ("es", "mi gato tuvo una convulsión", ()),
        ("es", "mi hija se desmayó", ("fainting",)),
    ],
)
def test_what_befalls_an_animal_is_told_of_nobody(
    language: str, text: str, others: tuple[str, ...]
) -> None:
    read = understand(text, NOW, language)
    assert read.signs == ()
    assert tuple(sign.code for sign in read.others) == others
