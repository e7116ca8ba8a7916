"""What doubtful pieces may mean, changes of single numbers, and why pairs were left out."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.result import Change, Doubt
from domain.understanding.tokens import tokens

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)


def read(text: str) -> NumbersRead:
    return read_numbers(text, tokens(text), NOW)


@pytest.mark.parametrize(
    ("text", "possible"),
    [
        ("131/85 or 181/85", {(131, 85), (181, 85)}),
        ("131 or 181 over 85", {(131, 85), (181, 85)}),
        ("142/91 or 97", {(142, 91), (142, 97)}),
        ("192 over ?", {(192, None)}),
        ("bottom 112, top unreadable", {(None, 112)}),
        ("310/150", {(310, 150)}),
        ("18 over 11", {(18, 11), (180, 110)}),
        ("1?2/90", {(192, 90)}),
        ("17?/91", {(179, 91)}),
        ("142/10?", {(142, 10)}),
        ("between 170 and 185 over 90", {(170, 90), (185, 90)}),
        ("one forty too over ninety", {(140, 90), (142, 90)}),
        ("85/95", {(95, 85), (185, 95)}),
        ("1711 over 98", {(1711, 98)}),
    ],
)
def test_every_meaning_of_a_doubtful_piece_is_kept(
    text: str, possible: set[tuple[int | None, int | None]]
) -> None:
    found = read(text)

    assert {(p.systolic, p.diastolic) for p in found.possible} == possible


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("sorry top was 188 not 138", Change(systolic=188, wrong=138)),
        ("bottom was 81", Change(diastolic=81)),
        ("should have been 77", Change(loose=77)),
        ("oops lower figure is 74", Change(diastolic=74)),
        ("the 91 should be 81", Change(loose=81, wrong=91)),
        ("I meant 77 not 71", Change(loose=77, wrong=71)),
        ("change 162 to 126", Change(loose=126, wrong=162)),
        ("please change the top number from 162 to 126", Change(loose=126, wrong=162)),
        ("replace 192 with 129", Change(loose=129, wrong=192)),
        ("77 instead of 71", Change(loose=77, wrong=71)),
        ("not 77 but 71", Change(loose=71, wrong=77)),
        ("top one forty two not one twenty four", Change(systolic=142, wrong=124)),
        ("it was one forty two not one twenty four", Change(loose=142, wrong=124)),
        ("184 was meant to be 148", Change(loose=148, wrong=184)),
        ("pulse was 68 not 86", Change(pulse=68, wrong=86)),
        ("142/91", None),
        ("hello", None),
        ("change my dose from 20 to 40", None),
        ("change my weight 80 to 79", None),
    ],
)
def test_a_single_number_is_offered_as_a_change(text: str, change: Change | None) -> None:
    assert read(text).change == change


def test_a_single_number_of_a_correction_is_not_incomplete() -> None:
    found = read("small thing, the bottom was 81")

    assert Doubt.INCOMPLETE in found.doubts
    corrected = found.for_correction()
    assert corrected.doubts == frozenset()
    assert corrected.change == Change(diastolic=81)
    assert not corrected.mentions_reading


@pytest.mark.parametrize(
    "text", ["188 not 138", "should have been 77", "not 142/91, 147/91", "I meant 77"]
)
def test_a_message_that_names_the_wrong_number_replaces(text: str) -> None:
    assert read(text).replaces


@pytest.mark.parametrize(
    "text",
    [
        "142/91",
        "not dizzy, 142/91",
        "142/91 138/88",
        "149",
        "not 100% sure, 142/91",
        "142/91 was wrong",
    ],
)
def test_a_plain_message_replaces_nothing(text: str) -> None:
    assert not read(text).replaces


@pytest.mark.parametrize(
    "text", ["what does 150/90 mean?", "my target is 130/80", "keep it under 135/85"]
)
def test_a_pair_that_is_aimed_at_or_asked_about_is_told_apart(text: str) -> None:
    found = read(text)

    assert found.reading_is_question_or_target
    assert not found.mentions_reading


def test_somebody_elses_pair_is_told_apart() -> None:
    found = read("my wife's was 190/115")

    assert found.someone_elses
    assert not found.mentions_reading


def test_the_span_of_a_reading_points_at_its_numbers_in_the_text_as_sent() -> None:
    text = "🌧️ today １２９／８３ ok"

    found = read(text)

    start, end = found.readings[0].span
    assert text[start:end] == "１２９／８３"
