"""What `--explain` shows, and that every underline lies under the characters that it means."""

from __future__ import annotations

import unicodedata
from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.commands.explaining import explained
from bot.commands.underlining import WIDTH, Mark, cells, draw
from bot.commands.understand import explain
from domain.understanding import understand

NOW = datetime.fromisoformat("2026-03-10T07:42:00+00:00")

#: Texts of what terminals draw differently: wide, combining, joined, invisible, harmful.
WRITTEN = st.lists(
    st.sampled_from(
        [
            *("142/91", " ", "dizzy", "chest pain", "\n", "\t", "\r\n", "a", "x" * 30),
            *("血圧", "ｔｉｇｈｔ", "カ\u3099", "한", "\u1112\u1161\u11ab", "e\u0301", "\u0301"),
            *("🙂", "👩\u200d👧", "❤\ufe0f", "👍🏽", "🇵🇹", "1\ufe0f\u20e3"),
            *("\x1b[31m", "\x07", "\u202e", "\u200b", "\x9b", "\ud800", "\u2028", "\u3000"),
        ]
    ),
    max_size=60,
).map("".join)
TEXTS = st.one_of(WRITTEN, st.text(max_size=300), st.text("a 漢\u0301\n", max_size=400))


def columns(shown: str) -> int:
    """Columns of printed text, counted apart from the code under test."""
    width = 0
    for sign in shown:
        if unicodedata.category(sign) in ("Mn", "Me") or "\u1160" <= sign <= "\u11ff":
            continue
        width += 2 if unicodedata.east_asian_width(sign) in "WF" else 1
    return width


def lines_of(text: str) -> list[str]:
    return list(explain(text, NOW))


def above(rows: list[str], at: int, left: int, right: int) -> str:
    """What the row of text above row `at` shows in columns `left` up to `right`."""
    text = next(row for row in reversed(rows[:at]) if row.startswith(">"))
    shown, column, inside = "", 0, False
    for sign in text:
        wide = columns(sign)
        inside = left <= column < right if wide else inside
        shown += sign if inside else ""
        column += wide
    return shown


@st.composite
def marked(draw_: st.DrawFn) -> tuple[str, Mark]:
    text = draw_(TEXTS.filter(bool))
    start = draw_(st.integers(0, len(text) - 1))
    end = draw_(st.integers(start + 1, min(len(text), start + 40)))
    return text, Mark(start, end, "^", "label")


@given(marked())
@settings(max_examples=500, deadline=None)
def test_an_underline_lies_under_its_characters(case: tuple[str, Mark]) -> None:
    text, mark = case
    rows = list(draw(text, [mark]))

    under = ""
    for at, row in enumerate(rows):
        if not row.startswith(">") and "^" in row:
            left, right = row.index("^"), row.rindex("^") + 1
            under += above(rows, at, left, right)
    wanted = [c for c in cells(text) if c.end > mark.start and c.start < mark.end]
    if any(cell.width for cell in wanted):
        # Spaces at the end of a row are not printed.
        shown = "".join(cell.shown for cell in wanted)
        assert under.replace(" ", "") == shown.replace(" ", "")


@given(marked())
@settings(max_examples=200, deadline=None)
def test_a_label_begins_under_its_first_character_or_stands_beside(case: tuple[str, Mark]) -> None:
    text, mark = case
    rows = list(draw(text, [mark]))

    at, row = next(
        (at, row) for at, row in enumerate(rows) if not row.startswith(">") and "label" in row
    )
    beside = "^" in row
    assert beside or rows[at - 1].index("^") == row.index("label") or row.endswith(" label")


@given(TEXTS)
@settings(max_examples=300, deadline=None)
def test_no_row_is_wider_than_a_terminal_and_none_can_harm_it(text: str) -> None:
    drawn = [*draw(text, []), *explained(text, understand(text, NOW))]

    assert max(columns(row) for row in drawn or [""]) <= WIDTH
    for row in drawn:
        assert not {unicodedata.category(sign) for sign in row} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


@given(TEXTS)
@settings(max_examples=200, deadline=None)
def test_the_cells_are_the_whole_text_without_gaps(text: str) -> None:
    found = list(cells(text))

    assert "".join(text[cell.start : cell.end] for cell in found) == text
    assert all(columns(cell.shown) == cell.width for cell in found)


def test_wide_and_combining_characters_keep_the_underline_in_place() -> None:
    assert lines_of("血圧 142/91 🙂 cafe\u0301, bit dizzy")[:4] == [
        "> 血圧 142/91 🙂 cafe\u0301, bit dizzy",
        "       ^^^^^^              ~~~~~",
        "       |                   symptom dizziness",
        "       142/91 mmHg, now",
    ]


def test_lines_and_tabs_of_the_text_stay_lines_and_gaps() -> None:
    assert lines_of("142/91\n\tdizzy")[:6] == [
        "> 142/91",
        "  ^^^^^^",
        "  142/91 mmHg, now",
        ">     dizzy",
        "      ~~~~~",
        "      symptom dizziness",
    ]


def test_a_long_text_is_wrapped_between_words_with_its_findings_under_each_row() -> None:
    text = "It was raining all day and so we stayed in and played cards, then I took it: 151/93"

    assert lines_of(text)[:4] == [
        "> It was raining all day and so we stayed in and played cards, then I took it:",
        "> 151/93",
        "  ^^^^^^",
        "  151/93 mmHg, now",
    ]


def test_what_goes_over_the_end_of_a_row_is_underlined_in_both() -> None:
    text = "x" * 70 + "y" * 20

    assert list(draw(text, [Mark(70, 90, "^", "here")])) == [
        "> " + "x" * 70 + "y" * 8,
        "  " + " " * 70 + "^" * 8,
        "  " + " " * 70 + "here",
        "> " + "y" * 12,
        "  " + "^" * 12,
        "  …",
    ]


def test_a_label_without_room_stands_beside_its_underline() -> None:
    text = "we all sat down after lunch and a long walk by the river, my face is drooping"

    left = 2 + text.index("face")
    assert lines_of(text)[1] == "red flag face_droop".rjust(left - 1) + " " + "~" * 16


def test_what_overlaps_is_drawn_one_below_the_other() -> None:
    assert list(draw("abcdefgh", [Mark(0, 5, "^", "one"), Mark(3, 8, "~", "two")])) == [
        "> abcdefgh",
        "  ^^^^^",
        "  one",
        "     ~~~~~",
        "     two",
    ]


def test_two_meanings_of_the_same_characters_share_an_underline() -> None:
    marks = [Mark(0, 3, "?", "first"), Mark(0, 3, "?", "second"), Mark(6, 7, "^", "third")]

    assert list(draw("abc de", marks[:2])) == ["> abc de", "  ???", "  first", "  second"]
    assert list(draw("abc   d", marks)) == [
        "> abc   d",
        "  ???   ^",
        "  |     third",
        "  first",
        "  second",
    ]


def test_an_empty_text_shows_that_it_is_empty() -> None:
    assert lines_of("") == ["(no text)", "", "intent    other", "alarm     none"]


def test_ten_thousand_characters_are_drawn_with_all_that_is_in_them() -> None:
    text = ("142/91 and bit dizzy, 血圧 then " * 500)[:10_000]

    drawn = lines_of(text)

    assert sum("142/91 mmHg" in row for row in drawn) == text.count("142/91")
    assert max(map(columns, drawn)) <= WIDTH
    shown = "".join(row[2:].replace(" ", "") for row in drawn if row.startswith(">"))
    assert shown == text.replace(" ", "")


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("in 20 minutes", "wait      0:20:00"),
        ("he has chest pain", "         another's chest_pain"),
        ("76/128", "doubt     swapped"),
        ("no symptoms", "denied    everything"),
        ("128/76 at 19:30, pulse 66", "  128/76 mmHg, pulse 66/min, at 2026-03-09 19:30+00:00"),
        ("142", "  may mean 142/? mmHg"),
        ("142/91 or 152/91", "  |         may mean 152/91 mmHg"),
        ("chest tight this morning but it has gone", "  red flag chest_pain, passed"),
        ("sorry 132 not 142", "change    one number 132, instead of 142"),
        ("sorry, bottom was 81", "change    diastolic 81"),
        ("chest pain", "alarm     emergency"),
        ("\x1b[2J\u202e", "> <1B>[2J<202E>"),
        ("\ud800", "> <D800>"),
    ],
)  # fmt: skip
def test_what_was_found_is_shown(text: str, row: str) -> None:
    assert row in lines_of(text)
