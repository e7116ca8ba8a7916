"""Spread, halves of the day, time at target and weekdays."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from domain.evidence.days import Days, Pressure, Series, daily_values
from domain.evidence.variability import (
    morning_minus_evening,
    pulse_pressure,
    time_at_target,
    variability,
    week_pattern,
    weekdays,
    wilson,
)
from domain.readings import Mmhg, Reading
from tests.domain.evidence.simulated_days import FIRST_DAY, series

_MADRID = ZoneInfo("Europe/Madrid")


def _days(*pairs: tuple[int, int], clock: int = 8, later: int | None = None) -> Days:
    """One reading a day; with `later` a second one in the evening, so much lower."""
    readings = []
    for number, (systolic, diastolic) in enumerate(pairs):
        at = datetime(2026, 5, 4, clock, tzinfo=_MADRID) + timedelta(days=number)
        readings.append(Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at))
        if later is not None:
            lower = Mmhg(systolic - later - number % 2), Mmhg(diastolic - later)
            at = at.replace(hour=20)
            readings.append(Reading(systolic=lower[0], diastolic=lower[1], at=at))
    return daily_values(readings, _MADRID)


@pytest.mark.parametrize(("days", "told"), [(0, False), (2, False), (3, True)])
def test_below_three_days_there_is_no_spread(days: int, told: bool) -> None:
    assert (variability(series(*[130.0, 140.0, 135.0][:days])) is not None) == told


@pytest.mark.parametrize(
    ("days", "arv"),
    [
        ([0, 1, 2, 3], (10 + 4 + 6) / 3),
        ([0, 1, 3, 4], (10 + 6) / 2),
        ([0, 1, 3, 5], None),
        ([0, 2, 4, 6], None),
    ],
)
def test_average_real_variability_is_of_consecutive_days_only(
    days: list[int], arv: float | None
) -> None:
    found = variability(series(130.0, 140.0, 136.0, 142.0, days=days))
    assert found is not None
    assert found.arv == (pytest.approx(arv) if arv is not None else None)


def test_the_coefficient_of_variation_is_the_share_of_the_mean_in_percent() -> None:
    found = variability(series(130.0, 140.0, 150.0))
    assert found is not None
    assert found.sd.estimate == pytest.approx(10)
    assert found.cv == pytest.approx(100 * 10 / 140)


def test_morning_minus_evening_is_of_days_that_have_both() -> None:
    both = _days(*[(140, 80), (150, 85), (130, 80), (144, 82)], later=10)
    found = morning_minus_evening(both, Pressure.SYSTOLIC)
    assert found is not None
    assert found.mean.estimate == pytest.approx(10.5)
    assert found.days == 4
    assert morning_minus_evening(_days(*[(140, 80)] * 9), Pressure.SYSTOLIC) is None


def test_pulse_pressure_is_the_mean_of_the_days() -> None:
    found = pulse_pressure(_days((140, 80), (150, 85), (130, 80)))
    assert found is not None
    assert found.mean.estimate == pytest.approx((60 + 65 + 50) / 3)


@pytest.mark.parametrize(
    ("pair", "below"),
    [((134, 84), 5), ((135, 84), 4), ((134, 85), 4), ((120, 90), 4), ((150, 70), 4)],
)
def test_a_day_at_target_is_below_both_limits(pair: tuple[int, int], below: int) -> None:
    found = time_at_target(_days(pair, *[(130, 80)] * 4), (135, 85))
    assert found is not None
    assert (found.below, found.days) == (below, 5)
    assert found.share.estimate == pytest.approx(below / 5)
    assert 0 <= found.share.low < found.share.estimate
    assert found.share.high <= 1


def test_time_at_target_counts_fewer_days_than_there_are_where_days_are_alike() -> None:
    turning = time_at_target(_days(*[(130, 80), (140, 80)] * 15), (135, 85))
    alike = time_at_target(_days(*[(130, 80)] * 15, *[(140, 80)] * 15), (135, 85))
    assert turning is not None
    assert alike is not None
    assert alike.share.estimate == turning.share.estimate
    assert alike.effective_days < 15 < 25 < turning.effective_days <= 30
    assert alike.share.low < turning.share.low


def test_time_at_target_of_two_days_cannot_be_told() -> None:
    assert time_at_target(_days((130, 80), (140, 80)), (135, 85)) is None


@pytest.mark.parametrize(
    ("share", "days", "low", "high"),
    [(0.0, 10, 0, 0.2775), (1.0, 10, 0.7225, 1), (0.5, 1e9, 0.5, 0.5)],
)
def test_wilson_intervals_stay_between_none_and_all(
    share: float, days: float, low: float, high: float
) -> None:
    found = wilson(np.array([share]), np.array([days]))
    assert found[0][0] == pytest.approx(low, abs=1e-4)
    assert found[1][0] == pytest.approx(high, abs=1e-4)


def _weeks(weeks: int, monday_more: float, *, without: int | None = None) -> Series:
    monday = FIRST_DAY - date.fromordinal(FIRST_DAY).weekday()
    days = monday + np.arange(7 * weeks)
    values = 140 + np.random.default_rng(8).normal(0, 6, len(days))
    values[::7] += monday_more
    kept = days % 7 != (monday + without) % 7 if without is not None else days > 0
    return Series(days[kept], values[kept])


@pytest.mark.parametrize(
    ("weeks", "more", "without", "found"),
    [
        (8, 20, None, True),
        (8, 0, None, False),
        (4, 25, None, True),
        (3, 40, None, False),
        (8, 20, 3, False),
        (0, 0, None, False),
    ],
)
def test_a_pattern_of_weekdays_is_told_only_where_it_is_clear(
    weeks: int, more: float, without: int | None, found: bool
) -> None:
    pattern = week_pattern(_weeks(weeks, more, without=without))
    assert (pattern is not None) == found
    if pattern is not None:
        assert max(pattern.means) == pattern.means[0]
        assert pattern.means[0] - np.mean(pattern.means[1:]) == pytest.approx(more, abs=6)


def test_weekdays_are_those_of_the_calendar() -> None:
    days = np.arange(FIRST_DAY, FIRST_DAY + 8)
    assert weekdays(days).tolist() == [date.fromordinal(d).weekday() for d in days.tolist()]
