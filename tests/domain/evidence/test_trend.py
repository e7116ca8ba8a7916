"""When a trend is named, and what it is taken from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special

from domain.evidence.days import Floats, Pressure, Series
from domain.evidence.trend import Direction, Trend, trend
from tests.domain.evidence.simulated_days import FIRST_DAY, series


def _noise(days: int, sd: float) -> Floats:
    """Normal scores in no order, without any line in them, with the SD asked for."""
    scores = special.ndtri((np.arange(days) + 0.5) / days)
    found = np.random.default_rng(4).permutation(scores)
    along = np.arange(days) - (days - 1) / 2
    found -= found.mean() + along * (along @ found) / (along @ along)
    return np.asarray(sd * found / found.std(ddof=2))


def _line(days: int, change: float, sd: float, level: float = 140.0) -> Series:
    """`change` mmHg from the first day to the last."""
    values = level + change * np.arange(days) / (days - 1) + _noise(days, sd)
    return Series(FIRST_DAY + np.arange(days), values)


def _trend(found: Series, pressure: Pressure = Pressure.SYSTOLIC) -> Trend:
    return trend(found, pressure)


@pytest.mark.parametrize(
    ("days", "change", "sd", "direction"),
    [
        (60, 20, 8, Direction.RISING),
        (60, -20, 8, Direction.FALLING),
        (60, 4, 8, Direction.CANNOT_TELL),
        (180, 0, 8, Direction.STEADY),
        (60, 0, 4, Direction.STEADY),
        (60, 0, 14, Direction.CANNOT_TELL),
        (28, 0, 8, Direction.CANNOT_TELL),
    ],
)
def test_a_direction_is_named_only_where_the_days_allow(
    days: int, change: float, sd: float, direction: Direction
) -> None:
    found = _trend(_line(days, change, sd))
    assert found.direction is direction
    assert found.change is not None
    assert found.change.low < change < found.change.high
    assert found.change.estimate == pytest.approx(change, abs=3)


def test_the_same_wobble_may_be_steady_for_the_systolic_and_not_for_the_diastolic() -> None:
    days = _line(60, 0, 6)
    assert _trend(days).direction is Direction.STEADY
    assert _trend(days, Pressure.DIASTOLIC).direction is Direction.CANNOT_TELL


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (range(14), False),
        (range(20), False),
        (range(21), True),
        ([*range(12), 25], False),
        ([*range(13), 25], True),
        ([*range(13), 20], True),
        ([*range(13), 19], False),
        ([], False),
    ],
)
def test_it_takes_two_weeks_of_days_over_three_weeks(days: list[int], told: bool) -> None:
    values = 140 + 3 * np.array(days) + np.resize([0.0, 1.0, -1.0], len(days))
    found = _trend(series(*values, days=list(days)))
    assert (found.slope is not None) == told
    assert (found.direction is Direction.RISING) == told
    assert (found.level is not None) == (len(days) > 0)


def test_what_is_longer_ago_than_180_days_is_not_looked_at() -> None:
    flat = _line(180, 0, 6)
    long_ago = Series(flat.days - 180, flat.values + 40)
    both = Series(
        np.concatenate((long_ago.days, flat.days)), np.concatenate((long_ago.values, flat.values))
    )
    assert _trend(both) == _trend(flat)
    assert _trend(both).days == _trend(both).span == 180


def test_the_slope_is_for_30_days_and_the_change_for_the_whole_span() -> None:
    found = _trend(_line(61, 12, 3))
    assert found.slope is not None
    assert found.change is not None
    assert found.slope.estimate == pytest.approx(found.change.estimate / 2)
    assert found.slope.low == pytest.approx(found.change.low / 2)
    assert found.span == 61


@pytest.mark.parametrize("place", [0, 13, 27])
@pytest.mark.parametrize("off", [60, -60])
def test_one_wild_day_moves_the_line_little_wherever_it_lies(place: int, off: float) -> None:
    days = _line(28, 0, 6)
    values = days.values.copy()
    values[place] += off
    wild = _trend(Series(days.days, values))
    quiet = _trend(days)
    assert wild.change is not None
    assert quiet.change is not None
    assert wild.wild == 1
    assert quiet.wild == 0
    assert abs(wild.change.estimate - quiet.change.estimate) < 2
    assert wild.direction is quiet.direction
    assert wild.level is not None
    assert wild.level.mean.estimate == pytest.approx(140 + off / 28)


@pytest.mark.parametrize(("wild", "steady"), [(1, True), (2, False), (4, False)])
def test_several_wild_days_are_not_called_steady(wild: int, steady: bool) -> None:
    days = _line(60, 0, 5)
    values = days.values.copy()
    values[60 - wild :] += 45
    found = _trend(Series(days.days, values))
    assert found.wild == wild
    assert (found.direction is Direction.STEADY) == steady


def test_a_steep_rise_is_no_row_of_wild_days() -> None:
    found = _trend(_line(60, 80, 5))
    assert found.direction is Direction.RISING
    assert found.wild == 0
    assert found.change is not None
    assert found.change.estimate == pytest.approx(80, abs=3)


def test_turned_upside_down_the_trend_is_turned_too() -> None:
    days = _line(60, 15, 7)
    up, down = _trend(days), _trend(Series(days.days, 300 - days.values))
    assert up.change is not None
    assert down.change is not None
    assert up.change.estimate == pytest.approx(-down.change.estimate)
    assert up.change.low == pytest.approx(-down.change.high, abs=1e-4)


def test_equal_days_are_steady() -> None:
    found = _trend(series(*[140.0] * 60))
    assert found.direction is Direction.STEADY
    assert found.change is not None
    assert found.change.estimate == pytest.approx(0)
