"""The notation of the lexicon, read and found."""

from __future__ import annotations

import pytest

from domain.understanding.clauses import split_words
from domain.understanding.lexicon_data import lexicon_data
from domain.understanding.matching import Matcher
from domain.understanding.patterns import PatternError, Slots, read_pattern
from domain.understanding.spelling import SpellingHabits, distance, sound

HABITS = SpellingHabits.from_data(lexicon_data("en", "symptoms")["spelling"])
GROUPS = {"limb": "arm leg lower_arm", "wall": "but and"}


def found(pattern: str, text: str, *, ordinary: tuple[str, ...] = ()) -> bool:
    slots = Slots(GROUPS)
    patterns = read_pattern(pattern, 0, slots)
    walls = slots.number_of("<wall>")
    matcher = Matcher(
        slots,
        patterns,
        ordinary=ordinary,
        misspelt={"bref": "breath"},
        spelling=HABITS,
        possessive=("'s",),
        walls=walls,
        everywhere=slots.number_of("the"),
        light=frozenset(),
    )
    words = split_words(text, (), matcher.unjoin)
    _, matches = matcher.find(words)
    return bool(matches)


@pytest.mark.parametrize(
    ("pattern", "text", "expected"),
    [
        ("chest", "my chest", True),
        ("chest", "my head", False),
        ("tight*", "tightness", True),
        ("tight*", "light", False),
        ("arm|leg", "the leg", True),
        ("<limb> numb", "arm numb", True),
        ("<limb> numb", "lower arm numb", True),
        ("<limb> numb", "hand numb", False),
        ("pins_and_needles", "pins and needles", True),
        ("pins_and_needles", "pins and thread", False),
        ("in # minutes", "in 20 minutes", True),
        ("in # minutes", "in some minutes", False),
        ("for #15 minutes", "for 14 minutes", False),
        ("for #15 minutes", "for 15 minutes", True),
        ("for #15 minutes", "for 120 minutes", True),
        ("for #15 minutes", "for 14.9 minutes", False),
        ("for #15|fifteen minutes", "for fifteen minutes", True),
        ("my? chest", "chest", True),
        ("sick !of", "sick today", True),
        ("sick !of", "sick of it", False),
        ("arm ..2 numb", "arm is very numb", True),
        ("arm ..2 numb", "arm is very very numb", False),
        ("arm ..3 numb", "arm fine but head numb", False),
        ("arm ...3 numb", "arm fine but head numb", True),
        ("arm ..2 numb", "arm aches. numb", False),
        ("arm ..2 numb", "arm, a bit numb", True),
        ("chest ~2 tight", "tight in the chest", True),
        ("chest ~2 tight", "chest is tight", True),
        ("^ stop", "please stop", False),
        ("^ stop", "Thanks. Stop", True),
        ("^^ stop $$", "stop", True),
        ("^^ stop $$", "Thanks. Stop", False),
        ("go away|$", "go away", True),
        ("go away|$", "go", True),
        ("go away|$", "go home", False),
        ("go ..1 away|,|$", "go right away", True),
        ("go ..1 away|,|$", "go, please", True),
        ("go ..1 away|,|$", "go please", False),
        ("not today ,", "not today, I am out", True),
        ("not today ,", "not today", True),
        ("not today ,", "not today I am out", False),
        ("can't go", "cant go", True),
        ("can't go", "can’t go", True),
    ],
)
def test_a_pattern_is_found_where_it_should_be(pattern: str, text: str, expected: bool) -> None:
    assert found(pattern, text) is expected


@pytest.mark.parametrize(
    ("pattern", "text", "expected"),
    [
        ("chest", "cheast", True),
        ("chest", "chset", True),
        ("chest", "chst", True),
        ("chest", "chess", False),  # ordinary
        ("=chest", "chset", False),
        ("leg", "lef", False),  # too short to forgive
        ("palpitations", "palpatatons", True),
        ("breathless", "breffless", False),
        ("convulsion", "konvulshun", True),
        ("breath", "bref", True),
        ("chest pain", "chestpain", True),
        ("headache", "head ache", True),
    ],
)
def test_slips_are_forgiven_in_longer_words(pattern: str, text: str, expected: bool) -> None:
    assert found(pattern, text, ordinary=("chess",)) is expected


@pytest.mark.parametrize(
    "pattern", ["", "..2 arm", "arm ..2", "!of", "<no_such>", "a$b", "arm ^ leg"]
)
def test_a_pattern_that_cannot_be_read_is_refused(pattern: str) -> None:
    with pytest.raises(PatternError):
        read_pattern(pattern, 0, Slots(GROUPS))


def test_of_a_word_without_end_the_beginning_is_kept_and_the_whole_place() -> None:
    endless = "tight" + "x" * 9_000
    words = split_words(f"{endless} chest", (), lambda word: (word,))
    assert len(words.norms[0]) < 50
    assert words.norms[0].startswith("tightx")
    assert words.spans == ((0, 9_005), (9_006, 9_011))


@pytest.mark.parametrize("word", ["bendroflumethiazide", "antihipertensivos"])
def test_two_of_the_longest_words_run_together_are_kept_whole(word: str) -> None:
    assert split_words(word * 2, (), lambda joined: (joined,)).norms == (word * 2,)


@pytest.mark.parametrize(
    ("left", "right", "slips"),
    [("chest", "chest", 0), ("chest", "chst", 1), ("chest", "chset", 1), ("chest", "chat", 2)],
)
def test_a_swap_of_neighbours_is_one_slip(left: str, right: str, slips: int) -> None:
    assert distance(left, right, 2) == slips


def test_words_of_the_same_sound_are_alike() -> None:
    assert sound("nauseous", HABITS) == sound("nawsius", HABITS)
    assert sound("cough", HABITS) != sound("calf", HABITS)
