"""What holds for every text, and every way of writing a reading that the generator makes."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.readings import LIMITS
from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.tokens import tokens
from tests.domain.number_writings import WRITINGS

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)

#: Signs that the reader gives a meaning to, so that random texts meet its rules.
PIECES = [
    "142",
    "91",
    "1",
    "/",
    " over ",
    " not ",
    " or ",
    "?",
    " at 7 ",
    " yesterday",
    "one ",
    "forty ",
    "hundred ",
    " and ",
    " to ",
    "systolic ",
    "bottom ",
    " pulse ",
    "kPa",
    "17.1",
    ",",
    ".",
    "\n",
    " my wife's ",
    " target ",
    " if ",
    "l",
    "O",
    "<b>",
    "½",
    "٣",
    "between ",
]


def read(text: str) -> NumbersRead:
    return read_numbers(text, tokens(text), NOW)


#: With "l" for one, "lll" would be no number.
USUAL = [name for name in WRITINGS if not name.endswith("for one")]
SEPARATORS = [" over ", "/", " / ", " on ", " upon ", " by ", " OVER ", " ovr ", "//", "\\", "|"]


@st.composite
def pairs(draw: st.DrawFn) -> tuple[int, int]:
    diastolic = draw(st.integers(40, 140))
    systolic = draw(st.integers(max(70, diastolic + LIMITS.least_pulse_pressure), 260))
    return systolic, diastolic


@pytest.mark.parametrize("writing", USUAL)
@given(pair=pairs(), separator=st.sampled_from(SEPARATORS))
@settings(max_examples=60, deadline=None)
def test_what_is_written_comes_back(writing: str, pair: tuple[int, int], separator: str) -> None:
    write = WRITINGS[writing]
    text = f"{write(pair[0])}{separator}{write(pair[1])}"

    found = read(text)

    assert [(r.systolic, r.diastolic) for r in found.readings] == [pair], text
    assert not found.doubts


@given(
    pair=pairs(),
    pulse=st.integers(40, 150),
    form=st.sampled_from(
        [
            "{0}/{1}/{2}",
            "{0} {1} {2}",
            "{0}/{1} pulse {2}",
            "{0} over {1}, heart rate {2}",
            "pulse {2}, {0}/{1}",
            "systolic {0} diastolic {1} pulse {2}",
            "{0}/{1} ({2})",
            "top {0} bottom {1} beats {2}",
            "{0}\n{1}\n{2}",
            "{0}/{1} {2}bpm",
        ]
    ),
)
@settings(max_examples=200, deadline=None)
def test_a_pulse_comes_back_with_its_pair(pair: tuple[int, int], pulse: int, form: str) -> None:
    found = read(form.format(*pair, pulse))

    assert [(r.systolic, r.diastolic, r.pulse) for r in found.readings] == [(*pair, pulse)]


@given(st.lists(pairs(), min_size=1, max_size=10), st.sampled_from([", ", "\n", " and ", "; "]))
@settings(max_examples=100, deadline=None)
def test_a_list_of_readings_comes_back_in_order(
    written: list[tuple[int, int]], between: str
) -> None:
    text = between.join(f"{systolic}/{diastolic}" for systolic, diastolic in written)

    found = read(text)

    assert [(r.systolic, r.diastolic) for r in found.readings] == written


@given(st.text(max_size=10_000))
@settings(max_examples=200, deadline=None)
def test_any_text_gives_an_answer(text: str) -> None:
    found = read(text)

    assert all(0 <= start < end <= len(text) for start, end in found.spans)


@given(st.lists(st.sampled_from(PIECES), max_size=200).map("".join))
@settings(max_examples=400, deadline=None)
def test_any_mixture_of_meaningful_pieces_gives_possible_readings(text: str) -> None:
    found = read(text)

    for reading in found.readings:
        assert LIMITS.pressure_problem(reading.systolic, reading.diastolic) is None
        assert reading.pulse is None or LIMITS.pulse_problem(reading.pulse) is None
        assert reading.at is None or reading.at <= NOW


@given(st.text(max_size=300))
@settings(max_examples=300, deadline=None)
def test_tokens_point_at_the_text_in_order(text: str) -> None:
    end = 0
    for token in tokens(text):
        assert 0 <= token.start < token.end <= len(text)
        # One letter may make two pieces ("½" of a ligature), so starts may be equal.
        assert token.end >= end
        end = token.end


BEFORE = [
    "",
    "took my 5 mg at 6, ",
    "two slices of toast and ",
    "I weigh 81.4 kg and ",
    "sugar 6.3, ",
    "the number 12 bus was late. ",
    "slept 7 hours, ",
    "room 14 was cold. ",
    "I am 79 and ",
    "my grandson turned 9. ",
    "it is 3 degrees out, ",
    "after 2 cups of tea, ",
    "temp 36.9. ",
    "walked 4,000 steps. ",
    "sats 95%, ",
    "pain 4/10 today, ",
    "rested 5 minutes and ",
    "day 6. ",
    "paid £35 for batteries, ",
    "half a pill then ",
    "1/2 a tablet, ",
    "not dizzy, ",
    "ring 01632 960 555 later, ",
    "since 2014 on tablets, ",
    "her next visit is on 12/05, ",
]
AFTER = [
    "",
    " today",
    ", 5 mg taken",
    ", weight 81 kg",
    ". See you at 9",
    ", room was 21 degrees",
    " after 10 minutes rest",
    ", sugar 6.3",
    ", 2 tablets left",
    ", bus at 8.15",
    ". I am 79",
    ", oxygen 96",
    ", temp 36.9",
    ", pain 4/10",
    ", appointment on 14/04 at 10.30",
    ". Ring 01632 960 555",
    ", steps 4000",
    ", back at half two",
    ", day 6 of 7",
]
FORMS = [
    "142/91",
    "142 over 91",
    "sys 142 dia 91",
    "142, 91",
    "one forty two over ninety one",
    "142 / 91 mmHg",
    "top 142 bottom 91",
    "142-91",
    "142 on 91",
    "a hundred and forty two over ninety one",
]


@given(st.sampled_from(BEFORE), st.sampled_from(FORMS), st.sampled_from(AFTER))
@settings(max_examples=400, deadline=None)
def test_what_stands_around_a_reading_does_not_change_it(
    before: str, form: str, after: str
) -> None:
    found = read(before + form + after)

    assert [(r.systolic, r.diastolic, r.pulse, r.at) for r in found.readings] == [
        (142, 91, None, None)
    ]
    assert not found.doubts
