"""Averages of many people at once are those of `averaging.average`, to the last digit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.averaging import Average, average, printed
from domain.averaging_rules import RULES
from domain.evidence.columns import occasion_columns
from domain.evidence.many_averages import Averages, DayGrid, whole_of_tenths
from domain.readings import Mmhg, Reading, whole
from domain.shown import local_occasions
from tests.domain.evidence.many_readings import ZONES, columns_of, series

#: Own rows that no guideline has: other windows, other mixtures of the parts.
OWN = {
    "28 days": replace(RULES["all"], week_days=28, least_days=3),
    "run of all": replace(RULES["722"], by_halves=False, week_days=10, least_days=6),
    "occasions, day 1 out": replace(RULES["jsh"], by_halves=False, leave_out_first_day=True),
}
EVERY = {**RULES, **OWN}


def grid(people: Sequence[Sequence[Reading]], zones: Sequence[ZoneInfo]) -> DayGrid:
    occasions = occasion_columns(columns_of(people).without_repeats(), zones)
    return DayGrid(occasions, len(people))


def same(found: Averages, place: int, expected: Average) -> None:
    overall = expected.overall
    days = [one.day for one in expected.used]
    assert found.readings[place] == overall.readings
    assert found.days[place] == len(set(days))
    assert found.lacks()[place] == expected.lacks
    assert bool(found.enough[place]) is expected.enough
    if overall.systolic is None or overall.diastolic is None:
        assert found.weight[place] == 0
        return
    weight = int(found.weight[place])
    assert Fraction(int(found.systolic[place]), weight) == overall.systolic
    assert Fraction(int(found.diastolic[place]), weight) == overall.diastolic
    for tenths, exact in zip(found.tenths(), (overall.systolic, overall.diastolic), strict=True):
        assert Fraction(int(tenths[place]), 10) == printed(exact)
        assert whole_of_tenths(tenths)[place] == whole(printed(exact))


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(min_value=0, max_value=2**32),
    name=st.sampled_from(sorted(EVERY)),
    begin=st.sampled_from(("2026-03-20", "2026-10-14", "2026-04-01", "2025-12-28")),
    days=st.integers(min_value=1, max_value=30),
    back=st.integers(min_value=-3, max_value=35),
)
def test_every_rule_gives_what_one_by_one_gives(
    seed: int, name: str, begin: str, days: int, back: int
) -> None:
    zones = [ZONES[(seed + n) % len(ZONES)] for n in range(5)]
    starts = [datetime.fromisoformat(begin).replace(tzinfo=zone) for zone in zones]
    people = [series(seed + n, start, days) for n, start in enumerate(starts)]
    people[2] = []
    rule = EVERY[name]
    last = date.fromisoformat(begin) + timedelta(days=days - back)

    found = grid(people, zones).averages(rule, np.full(5, last.toordinal()))

    for place, (readings, zone) in enumerate(zip(people, zones, strict=True)):
        until = [
            reading
            for occasion in local_occasions(readings, zone)
            for reading in occasion.occasion.readings
            if occasion.day <= last
        ]
        same(found, place, average(until, rule, zone))


@pytest.mark.parametrize("name", ["jsh", "esh"])
def test_an_occasion_of_very_many_readings_is_still_exact(name: str) -> None:
    zone = ZoneInfo("Europe/Lisbon")
    begin = datetime(2026, 5, 4, 7, tzinfo=UTC)
    readings = [
        Reading(
            systolic=Mmhg(120 + (place * 7) % 23),
            diastolic=Mmhg(80 + (place * 5) % 11),
            at=begin + timedelta(days=day, seconds=place),
        )
        for day, size in enumerate((2, 37, 41, 43, 47, 3, 53))
        for place in range(size)
    ]

    last = np.array([date(2026, 5, 30).toordinal()])
    found = grid([readings], [zone]).averages(RULES[name], last)

    same(found, 0, average(readings, RULES[name], zone))


def test_a_day_on_which_nobody_measured_is_found_empty() -> None:
    zone = ZoneInfo("Europe/Lisbon")
    moment = datetime(2026, 5, 4, 7, tzinfo=UTC)
    one = Reading(systolic=Mmhg(130), diastolic=Mmhg(80), at=moment)
    filled = grid([[one], []], [zone, zone])
    day = date(2026, 5, 4).toordinal()

    def measured(first: int, last: int) -> list[bool]:
        ends = np.full(2, first), np.full(2, last)
        return [bool(found) for found in filled.measured_between(*ends)]

    assert measured(day, day) == [True, False]
    assert measured(day - 9, day - 1) == [False, False]
    assert measured(day + 1, day + 9) == [False, False]
    assert measured(day - 9, day + 9) == [True, False]
    assert measured(day + 9, day - 9) == [False, False]


def test_without_any_reading_there_is_no_average() -> None:
    zone = ZoneInfo("Europe/Lisbon")

    found = grid([[], []], [zone, zone]).averages(RULES["esh"], np.array([1, 800_000]))

    assert found.weight.tolist() == [0, 0]
    assert found.last_day.tolist() == [0, 0]
    assert found.enough.tolist() == [False, False]
