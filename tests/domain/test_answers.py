"""Short answers to a question of the program."""

from __future__ import annotations

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.talk import answers
from domain.understanding import languages


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("yes", True),
        ("Yes!", True),
        ("  OK. ", True),
        ("That’s right", True),
        ("no", False),
        ("No thanks", False),
        ("none of these", False),
        ("I don’t agree", False),
        ("yes but no", None),
        ("noodles", None),
        ("", None),
        ("142/91", None),
    ],
)
def test_yes_and_no_are_whole_answers(text: str, meant: bool | None) -> None:
    assert answers.yes_or_no(text) is meant


@pytest.mark.parametrize(
    ("text", "present"),
    [("yes", True), ("Yes I do", True), ("fine", False), ("ok", False), ("no", False)],
)
def test_fine_and_ok_do_not_say_that_a_sign_is_there(text: str, present: bool) -> None:
    assert answers.says(text, "present") is present


@pytest.mark.parametrize(
    ("question", "text", "value"),
    [
        ("adult", "none of these", "none"),
        ("adult", "No", "none"),
        ("adult", "I am pregnant", "pregnant"),
        ("adult", "I'm not pregnant", None),
        ("adult", "no I am not pregnant", None),
        ("adult", "I am never pregnant", None),
        ("adult", "I have a fistula", "one_arm"),
        ("adult", "I am 17", "under_18"),
        ("adult", "banana", None),
        ("arm", "the left one", "left"),
        ("arm", "not the left", None),
        ("arm", "R", "right"),
        ("arm", "I will go and look which of my two arms is the left one", None),
        ("monitor", "it goes on the upper arm", "upper_arm"),
        ("monitor", "wrist", "wrist"),
        ("monitor", "not sure", "unknown"),
        ("monitor", "I have no idea", "unknown"),
        ("cuff", "I can't measure it", "0"),
        ("medicine", "I take none", "none"),
        ("medicine", "no tablets", "none"),
        ("no such question", "yes", None),
    ],
)
def test_a_choice_is_named_by_a_short_text(question: str, text: str, value: str | None) -> None:
    assert answers.choice(question, text) == value


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("112", 112),
        (" it is 999. ", 999),
        ("34", 34),
        ("123456", None),
        ("1 or 2", None),
        ("none", None),
        ("here it is at long last: 112", None),
    ],
)
def test_a_number_is_the_whole_answer(text: str, number: int | None) -> None:
    assert answers.whole_number(text) == number


@pytest.mark.parametrize(
    ("text", "cm"),
    [
        ("33", 33.0),
        ("33.5 cm", 33.5),
        ("33,5", 33.5),
        ("13 inches", 33.0),
        ('13"', 33.0),
        ("10", 10.0),
        ("9", None),
        ("80", 80.0),
        ("81", None),
        ("about so much", None),
    ],
)
def test_the_length_round_an_arm_is_between_10_and_80_cm(text: str, cm: float | None) -> None:
    assert answers.arm_length_cm(text) == cm


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("8", [time(8)]),
        ("8 and 20:00", [time(8), time(20)]),
        ("8am and 8pm", [time(8), time(20)]),
        ("8 in the morning and 8 at night", [time(8), time(20)]),
        ("7.30", [time(7, 30)]),
        ("7h30", [time(7, 30)]),
        ("19:30, 07:30", [time(7, 30), time(19, 30)]),
        ("12 am", [time(0)]),
        ("12 pm", [time(12)]),
        ("noon", [time(12)]),
        ("8 and 8 am", [time(8)]),
        ("12 at night", [time(0)]),
        ("midnight", [time(0)]),
        ("8 in the morning and at night", [time(8)]),
        ("25:00", []),
        ("142/91", []),
        ("whenever", []),
        ("", []),
        ("quarter to 8", [time(7, 45)]),
        ("half past 7 and ten to 8 at night", [time(7, 30), time(19, 50)]),
    ],
)
def test_clock_times_are_found_earliest_first(text: str, times: list[time]) -> None:
    assert list(answers.clock_times(text)) == times


@given(st.text(max_size=300), st.sampled_from(languages()))
def test_no_text_makes_reading_an_answer_fail(text: str, language: str) -> None:
    answers.yes_or_no(text, language=language)
    answers.whole_number(text)
    answers.arm_length_cm(text, language=language)
    times = answers.clock_times(text, language=language)
    assert list(times) == sorted(set(times))
    for question in ("adult", "arm", "barred_arm", "monitor", "cuff", "medicine"):
        answers.choice(question, text, language=language)


@given(st.times(), st.sampled_from(languages()))
def test_a_time_written_with_two_digits_each_is_read_as_written(clock: time, language: str) -> None:
    found = answers.clock_times(f"{clock:%H:%M}", language=language)

    assert found == (clock.replace(second=0, microsecond=0),)
