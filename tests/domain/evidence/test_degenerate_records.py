"""Records as they should not be: nothing raises, and nothing more is said than they allow."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.evidence.change import Change, Shift, before_and_after
from domain.evidence.days import Days, Pressure, daily_values
from domain.evidence.intervals import LEAST_DAYS, Interval
from domain.evidence.levels import Level
from domain.evidence.quality import findings
from domain.evidence.record import record_of
from domain.evidence.trend import Direction, Trend, trend
from domain.evidence.variability import (
    morning_minus_evening,
    pulse_pressure,
    time_at_target,
    variability,
    week_pattern,
)
from domain.readings import Mmhg, Reading

MADRID = ZoneInfo("Europe/Madrid")
BEGAN = datetime(2026, 3, 1, 7, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def reading(number: int, after: timedelta, *, began: datetime = BEGAN) -> Reading:
    """The systolic is the number, the diastolic 50 less."""
    return Reading(systolic=Mmhg(number), diastolic=Mmhg(number - 50), at=began + after)


RECORDS: dict[str, list[Reading]] = {
    "none": [],
    "one": [reading(140, 0 * DAY)],
    "two of one day": [reading(140, 0 * DAY), reading(150, HOUR)],
    "two days": [reading(140, 0 * DAY), reading(150, DAY)],
    "three equal days": [reading(140, n * DAY) for n in range(3)],
    "a hundred equal days": [reading(140, n * DAY) for n in range(100)],
    "one day of 60": [reading(120 + n % 7, n * HOUR / 4) for n in range(60)],
    "one occasion of 200": [reading(120 + n % 7, n * HOUR / 60) for n in range(200)],
    "one moment": [reading(120 + n, 0 * DAY) for n in range(9)],
    "the same one 40 times": [reading(140, 0 * DAY)] * 40,
    "months apart": [reading(130 + 5 * (n % 3), 61 * n * DAY) for n in range(12)],
    "years apart": [reading(130 + 5 * (n % 3), 700 * n * DAY) for n in range(12)],
    "two ends of half a year": [
        reading(130 + n % 9, n * DAY) for n in (*range(8), *range(170, 178))
    ],
    "a step": [reading(120 + 40 * (n >= 20), n * DAY) for n in range(40)],
    "a ruler's line": [reading(120 + n, n * DAY) for n in range(40)],
    "up and down": [reading(120 + 60 * (n % 2), n * DAY) for n in range(40)],
    "one wild day": [reading(120 + 120 * (n == 9), n * DAY) for n in range(28)],
    "through a spring night": [
        reading(120 + n % 9, n * HOUR / 2, began=datetime(2026, 3, 28, tzinfo=UTC))
        for n in range(100)
    ],
    "the hour that comes twice": [
        Reading(
            systolic=Mmhg(130 + day + fold),
            diastolic=Mmhg(80),
            at=datetime(2026, 10, 20 + day, 2, 30, tzinfo=MADRID, fold=fold),
        )
        for day in range(8)
        for fold in (0, 1)
    ],
    "from three zones": [
        Reading(
            systolic=Mmhg(130 + n % 9),
            diastolic=Mmhg(80),
            at=(BEGAN + n * DAY / 2).astimezone(
                ZoneInfo(("Pacific/Auckland", "America/Halifax", "Asia/Kolkata")[n % 3])
            ),
        )
        for n in range(60)
    ],
    "30,000": [reading(120 + n * 7 % 41, n * DAY / 8) for n in range(30_000)],
}


def _of_level(found: Level | None) -> Iterator[Interval]:
    if found is not None:
        assert found.days >= LEAST_DAYS
        assert 0 < found.effective_days <= found.days + 1e-9
        yield from (found.mean, found.sd)


def _of_trend(found: Trend) -> Iterator[Interval]:
    yield from _of_level(found.level)
    yield from (one for one in (found.slope, found.change) if one is not None)
    if found.slope is None:
        assert found.direction is Direction.CANNOT_TELL


def _of_change(found: Change) -> Iterator[Interval]:
    yield from (*_of_level(found.before), *_of_level(found.after))
    if found.difference is None:
        assert found.shift is Shift.CANNOT_TELL
    else:
        yield found.difference


def _all_said(days: Days) -> Iterator[Interval]:
    """Every interval of every figure."""
    part = days.comparable_part()
    for pressure in Pressure:
        series = days.series(pressure, part)
        yield from _of_trend(trend(series, pressure))
        yield from _of_level(morning_minus_evening(days, pressure))
        spread = variability(series)
        if spread is not None:
            assert math.isfinite(spread.cv)
            yield spread.sd
        pattern = week_pattern(series)
        assert pattern is None or all(map(math.isfinite, pattern.means))
        changed = (BEGAN + 20 * DAY).date()
        yield from _of_change(before_and_after(days, changed, pressure, chosen_for_being_high=True))
    yield from _of_level(pulse_pressure(days))
    at_target = time_at_target(days, (135, 85))
    if at_target is not None:
        assert at_target.share.low >= 0
        assert at_target.share.high <= 1
        yield at_target.share


def _hold(readings: Sequence[Reading]) -> int:
    """How many intervals are given; each is finite and has its estimate inside."""
    with np.errstate(divide="raise", over="raise"):
        found = list(_all_said(daily_values(readings, MADRID)))
        for asked in (None, 0, 1, 10_000):
            for doubt in findings(record_of(readings, asked=asked)):
                assert doubt.count >= 0
                assert not math.isnan(doubt.effect)
    for one in found:
        assert all(map(math.isfinite, (one.low, one.estimate, one.high)))
        assert one.low - 1e-9 <= one.estimate <= one.high + 1e-9
    return len(found)


@pytest.mark.parametrize("name", RECORDS)
def test_whatever_is_said_of_a_strange_record_is_finite_and_within_its_interval(name: str) -> None:
    given_days = len(daily_values(RECORDS[name], MADRID))

    assert (_hold(RECORDS[name]) > 0) == (given_days >= LEAST_DAYS)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.tuples(st.integers(90, 250), st.integers(0, 60 * 24 * 120)), min_size=0, max_size=60
    )
)
def test_so_it_is_of_any_record(numbers: list[tuple[int, int]]) -> None:
    _hold([reading(number, timedelta(minutes=minutes)) for number, minutes in numbers])


def test_equal_days_are_no_certainty() -> None:
    """What rounding hides remains, and three days tell less than a hundred."""

    def width(days: int) -> float:
        found = trend(
            daily_values([reading(140, n * DAY) for n in range(days)], MADRID).series(
                Pressure.SYSTOLIC
            ),
            Pressure.SYSTOLIC,
        ).level
        assert found is not None
        return found.mean.high - found.mean.low

    assert width(3) > 1.0 > width(100) > 0
