"""Which number of the last reading a single number corrects."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.readings import LIMITS, Bpm, Mmhg, Reading
from domain.talk.changed_number import with_change
from domain.understanding.result import Change
from tests.domain.conftest import Stage


def reading(systolic: int, diastolic: int, pulse: int | None = None) -> Reading:
    at = datetime(2026, 3, 10, 8, tzinfo=UTC)
    beats = None if pulse is None else Bpm(pulse)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), pulse=beats, at=at)


@pytest.mark.parametrize(
    ("before", "loose", "after"),
    [
        # one slip of the thumb from one of the two
        ((192, 114), 142, (142, 114)),
        ((142, 91), 132, (132, 91)),
        ((142, 91), 81, (142, 81)),
        ((142, 91), 19, None),
        ((172, 104), 127, (127, 104)),
        ((160, 110), 101, (160, 101)),
        # what a diastolic is hardly ever, and a systolic hardly ever
        ((195, 118), 146, (146, 118)),
        ((190, 118), 129, (190, 129)),
        ((95, 56), 79, (95, 79)),
        # only one place gives a possible pair
        ((120, 98), 102, (120, 102)),
        ((142, 91), 95, (142, 95)),
        ((118, 60), 125, (125, 60)),
        # the nearer of the two
        ((160, 95), 105, (160, 105)),
        ((160, 95), 128, (128, 95)),
        # neither
        ((142, 91), 310, None),
    ],
)
def test_a_single_number_goes_where_it_may_belong(
    before: tuple[int, int], loose: int, after: tuple[int, int] | None
) -> None:
    changed = with_change(reading(*before), Change(loose=loose))

    assert (None if changed is None else (changed.systolic, changed.diastolic)) == after


def test_the_number_that_is_named_as_wrong_is_the_one_that_goes() -> None:
    changed = with_change(reading(192, 114), Change(loose=142, wrong=114))

    assert changed is not None
    assert (changed.systolic, changed.diastolic) == (192, 142)


@given(diastolic=st.integers(40, 150), width=st.integers(10, 110), loose=st.integers(1, 320))
def test_no_single_number_makes_an_impossible_pair(diastolic: int, width: int, loose: int) -> None:
    changed = with_change(reading(diastolic + width, diastolic), Change(loose=loose))

    if changed is not None:
        assert LIMITS.pressure_problem(changed.systolic, changed.diastolic) is None
        assert loose in {changed.systolic, changed.diastolic}


@pytest.mark.parametrize(
    "text", ["no, 142", "sorry, 142", "no, it was 142", "no no, 142", "should have been 142"]
)
def test_no_and_a_number_corrects_the_last_reading(stage: Stage, text: str) -> None:
    stage.says("192/114")
    stage.says(text)

    assert stage.pairs() == [(142, 114)]
