"""Readings as arrays: their order, repeats, and the occasions of `readings.py`."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from domain.averaging import average
from domain.averaging_rules import RULES
from domain.evidence.taken import taken
from domain.readings import Mmhg, Reading, occasions

BEGAN = datetime(2026, 3, 2, 7, tzinfo=UTC)

#: Few different seconds and numbers, so that readings tie and repeat.
_READINGS = st.lists(
    st.builds(
        lambda step, micro, systolic, pulse: Reading(
            systolic=Mmhg(systolic),
            diastolic=Mmhg(80),
            pulse=pulse,
            at=BEGAN + timedelta(seconds=step, microseconds=micro),
        ),
        st.sampled_from([0, 1, 59, 60, 599, 600, 601, 1200, 1201]),
        st.sampled_from([0, 123_456]),
        st.integers(130, 132),
        st.sampled_from([None, 60]),
    ),
    max_size=20,
)


@given(_READINGS)
def test_repeats_are_left_out_as_in_averaging_and_the_order_is_the_same(
    readings: list[Reading],
) -> None:
    found = taken(readings)

    kept = [r for one in average(readings, RULES["all"], None).used for r in one.occasion.readings]
    assert [readings[place] for place in found.places] == kept
    assert found.systolic.tolist() == [r.systolic for r in kept]
    sizes = [len(one.readings) for one in occasions(kept)]
    assert [int(i) for i in found.opens.nonzero()[0]] == [
        sum(sizes[:number]) for number in range(len(sizes))
    ]


def test_two_readings_of_one_moment_keep_the_order_in_which_they_came() -> None:
    pair = [Reading(systolic=Mmhg(s), diastolic=Mmhg(80), at=BEGAN) for s in (150, 140, 150)]

    assert taken(pair).systolic.tolist() == [150, 140]
