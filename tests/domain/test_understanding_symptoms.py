"""Symptoms in messages: the tables beside this file, the lexicon's own examples, properties."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from domain.danger import RED_FLAGS
from domain.understanding import Understood, understand
from domain.understanding.lexicon_files import lexicon
from tests.domain.message_tables import SymptomRow, symptom_rows

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
ROWS = symptom_rows()


def codes_of(understood: Understood) -> set[str]:
    """The contract's codes that count as present."""
    return {code for code in understood.symptoms if not code.startswith("x_")}


def test_the_tables_hold_enough_messages_and_none_twice() -> None:
    texts = Counter(row.text for row in ROWS)

    assert len(texts) >= 800
    assert [text for text, count in texts.items() if count > 1] == []


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.heading}: {row.text}")
def test_a_message_gives_the_symptoms_beside_it(row: SymptomRow) -> None:
    found = codes_of(understand(row.text, NOW))

    assert row.must <= found <= row.may


@pytest.mark.parametrize(
    "item",
    [e for e in lexicon().examples if e.kind == "sign"],
    ids=lambda e: f"{e.code} {'yes' if e.expected else 'no'}: {e.text}",
)
def test_the_examples_in_the_lexicon_hold(item: object) -> None:
    code, text, expected = (getattr(item, name) for name in ("code", "text", "expected"))

    assert (code in understand(text, NOW).symptoms) is expected


def test_every_sign_has_an_example_for_and_one_against() -> None:
    signs = {e.code for e in lexicon().examples if e.kind == "sign"}
    both = {(e.code, e.expected) for e in lexicon().examples if e.kind == "sign"}

    assert signs == lexicon().titles.keys()
    assert both == {(code, expected) for code in signs for expected in (True, False)}


def test_the_lexicon_knows_every_red_flag_and_every_symptom_of_the_severe_list() -> None:
    from domain.danger import MORE_RED_FLAGS, SEVERE_SYMPTOMS

    assert lexicon().titles.keys() >= RED_FLAGS | MORE_RED_FLAGS | SEVERE_SYMPTOMS


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
    ],
)
def test_red_flags_of_another_person_are_told_apart(text: str, others: tuple[str, ...]) -> None:
    assert tuple(sign.code for sign in understand(text, NOW).others) == others


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("no chest pain", ("chest_pain",)),
        ("no headache, dizziness or chest pain", ("headache", "dizziness", "chest_pain")),
        ("no chest pain but dizzy", ("chest_pain",)),
        ("all quiet here", ()),
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


RED = [row.text for row in ROWS if RED_FLAGS & row.must]
UNRELATED = (
    "It rained all day.",
    "The reading was 131/78.",
    "My niece is coming on Sunday.",
    "I had toast.",
    "No other news.",
    "Thank you.",
)


@settings(deadline=None, max_examples=150)
@given(st.sampled_from(RED), st.sampled_from(UNRELATED), st.booleans())
def test_an_unrelated_sentence_never_removes_a_red_flag(
    text: str, unrelated: str, before: bool
) -> None:
    alone = set(understand(text, NOW).symptoms) & RED_FLAGS
    whole = f"{unrelated} {text}" if before else f"{text}. {unrelated}"

    assert alone <= set(understand(whole, NOW).symptoms)


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
