"""Worked examples and published tables for figures of daily values.

Examples are invented readings worked out by hand; the numbers they start from are
published: Kato, Ohasama, Am J Hypertens 2010 (SDs), Bland and Altman, BMJ 1996 (least
detectable change, from memory), Barnett, Int J Epidemiol 2005 (regression to the mean, from
memory), Wilson, JASA 1927, and Mena, J Hypertens 2005 (average real variability).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from domain.evidence.change import days_needed, detectable_change, expected_fall
from domain.evidence.days import Days, Pressure, daily_values
from domain.evidence.levels import level
from domain.evidence.variability import (
    morning_minus_evening,
    time_at_target,
    variability,
    wilson,
)
from domain.readings import Mmhg, Reading
from tests.domain.evidence.simulated_days import series

_MADRID = ZoneInfo("Europe/Madrid")

#: Days 2 to 7 of a week: morning, morning, evening, evening.
WEEK = """
140/88 136/86 134/84 132/82
138/86 134/84 136/84 132/82
142/88 138/86 130/80 128/80
136/86 134/84 132/82 130/82
140/88 136/86 134/84 130/80
138/86 136/84 132/82 130/82
"""


def _week() -> Days:
    readings = []
    for number, row in enumerate(WEEK.split("\n")[1:-1]):
        for place, pair in enumerate(row.split()):
            systolic, diastolic = map(int, pair.split("/"))
            clock = timedelta(days=number, hours=(8, 8, 20, 20)[place], minutes=place % 2)
            readings.append(
                Reading(
                    systolic=Mmhg(systolic),
                    diastolic=Mmhg(diastolic),
                    at=datetime(2026, 5, 5, tzinfo=_MADRID) + clock,
                )
            )
    return daily_values(readings, _MADRID)


def test_the_days_of_the_week_are_those_of_the_example() -> None:
    days = _week()
    assert days.whole.systolic.tolist() == [135.5, 135.0, 134.5, 133.0, 135.0, 134.0]
    assert days.whole.diastolic.tolist() == [85.0, 84.0, 83.5, 83.5, 84.5, 83.5]


def test_spread_of_seven_days() -> None:
    found = variability(series(134.5, 136.0, 132.5, 140.0, 137.0, 131.5, 138.0))
    assert found is not None
    assert found.sd.estimate == pytest.approx(3.02, abs=0.005)
    assert found.cv == pytest.approx(2.23, abs=0.005)
    assert found.arv == pytest.approx(4.58, abs=0.005)


def test_mean_of_seven_days() -> None:
    found = level(series(134.5, 136.0, 132.5, 140.0, 137.0, 131.5, 138.0))
    assert found is not None
    assert found.mean.estimate == pytest.approx(135.64, abs=0.005)


def test_morning_minus_evening_of_the_week() -> None:
    found = morning_minus_evening(_week(), Pressure.SYSTOLIC)
    assert found is not None
    assert found.mean.estimate == pytest.approx(5.7, abs=0.05)


def test_days_at_target_of_the_week() -> None:
    found = time_at_target(_week(), (135, 85))
    assert found is not None
    assert (found.below, found.days) == (3, 6)
    low, high = wilson(np.array([0.5]), np.array([6.0]))
    assert (low[0], high[0]) == pytest.approx((0.19, 0.81), abs=0.005)
    # Six days tell less than six independent ones would.
    assert found.share.low < 0.19
    assert found.share.high > 0.81


@pytest.mark.parametrize(
    ("sd", "changes"),
    [(8.6, {1: 23.8, 3: 13.8, 6: 9.7, 7: 9.0}), (10.0, {1: 27.7, 3: 16.0, 6: 11.3, 7: 10.5})],
)
def test_least_detectable_change_of_independent_days(sd: float, changes: dict[int, float]) -> None:
    for days, change in changes.items():
        assert detectable_change(sd, days) == pytest.approx(change, abs=0.05)
        # The table is rounded to one decimal.
        assert days_needed(sd, 0.0, change + 0.05) == days


def test_days_to_see_5_mmhg_follow_from_the_table_by_the_square() -> None:
    one_day = 23.8  # of the table, SD 8.6
    assert days_needed(8.6, 0.0) == int(np.ceil((one_day / 5) ** 2))


@pytest.mark.parametrize(("days", "fall"), [(1, 9.0), (6, 1.9)])
def test_a_value_of_160_is_expected_to_fall_without_any_effect(days: int, fall: float) -> None:
    assert expected_fall(160, days) == pytest.approx(fall, abs=0.05)


def test_a_low_value_is_expected_to_rise_and_a_usual_one_to_stay() -> None:
    assert expected_fall(110, 1) < 0
    assert expected_fall(123.4, 1) == 0
