"""Before and after a change: which days count, what may be said, and the cautions."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from domain.evidence.change import (
    MOST_DAYS_NEEDED,
    Caution,
    Change,
    Shift,
    before_and_after,
    days_needed,
    detectable_change,
    differences_of,
)
from domain.evidence.days import Days, Part, Pressure, daily_values
from domain.evidence.intervals import sample_of
from domain.readings import Mmhg, Reading
from tests.domain.evidence.simulated_days import series

_MADRID = ZoneInfo("Europe/Madrid")
_CHANGED = date(2026, 5, 1)


def _days(numbers: range, level: int, *, clocks: tuple[int, ...] = (8, 20)) -> list[Reading]:
    """Readings on days counted from the change, some mmHg about a level."""
    return [
        Reading(
            systolic=Mmhg(level + (0, 6, -5, 3, -4)[number % 5]),
            diastolic=Mmhg(80),
            at=datetime(2026, 5, 1, clock, tzinfo=_MADRID) + timedelta(days=number),
        )
        for number in numbers
        for clock in clocks
    ]


def _change(readings: list[Reading], *, high: bool = False) -> Change:
    days: Days = daily_values(readings, _MADRID)
    return before_and_after(days, _CHANGED, Pressure.SYSTOLIC, chosen_for_being_high=high)


@pytest.mark.parametrize(
    ("after", "shift"), [(130, Shift.LOWER), (160, Shift.HIGHER), (145, Shift.NOT_CLEAR)]
)
def test_a_difference_is_named_only_where_it_is_clear(after: int, shift: Shift) -> None:
    found = _change(_days(range(-20, 0), 145) + _days(range(14, 34), after))
    assert found.shift is shift
    assert found.difference is not None
    assert found.difference.estimate == pytest.approx(after - 145, abs=0.6)
    assert found.difference.low < found.difference.estimate < found.difference.high
    assert found.before is not None
    assert found.after is not None
    assert found.difference.estimate == pytest.approx(
        found.after.mean.estimate - found.before.mean.estimate
    )


def test_the_day_of_the_change_and_two_weeks_after_it_count_for_neither_side() -> None:
    calm = _days(range(-20, 0), 145) + _days(range(14, 34), 130)
    assert _change(calm + _days(range(14), 200)) == _change(calm)


def test_at_most_four_weeks_count_on_either_side() -> None:
    calm = _days(range(-28, 0), 145) + _days(range(14, 42), 130)
    far = _days(range(-60, -28), 200) + _days(range(42, 80), 200)
    assert _change(calm + far) == _change(calm)


def test_the_first_day_of_either_side_is_left_out() -> None:
    rest = _days(range(-7, 0), 145) + _days(range(15, 23), 130)
    first = _days(range(-8, -7), 190) + _days(range(14, 15), 190)
    found = _change(rest + first)
    assert found.before is not None
    assert found.after is not None
    assert (found.before.days, found.after.days) == (7, 8)
    assert found.before.mean.estimate < 150
    assert found.after.mean.estimate < 135


@pytest.mark.parametrize(
    ("before", "after", "told"), [(7, 7, True), (6, 7, False), (7, 6, False), (0, 20, False)]
)
def test_it_takes_six_days_besides_the_first_on_either_side(
    before: int, after: int, told: bool
) -> None:
    found = _change(_days(range(-before, 0), 145) + _days(range(14, 14 + after), 130))
    assert (found.shift is not Shift.CANNOT_TELL) == told
    assert (found.difference is not None) == told


def test_without_readings_nothing_is_told() -> None:
    found = _change([])
    assert found.shift is Shift.CANNOT_TELL
    assert found.before is found.after is found.days_needed is None


@pytest.mark.parametrize(
    ("before", "high", "cautions"),
    [
        (8, False, set()),
        (7, False, {Caution.SHORT_BEFORE}),
        (8, True, {Caution.CHOSEN_FOR_BEING_HIGH}),
        (7, True, {Caution.SHORT_BEFORE, Caution.CHOSEN_FOR_BEING_HIGH}),
    ],
)
def test_a_fall_that_may_come_by_itself_carries_a_caution(
    before: int, high: bool, cautions: set[Caution]
) -> None:
    found = _change(_days(range(-before, 0), 145) + _days(range(14, 34), 130), high=high)
    assert found.cautions == cautions


def test_mornings_are_not_compared_with_evenings() -> None:
    mornings = _days(range(-20, 0), 150, clocks=(8,))
    both = _days(range(14, 34), 150, clocks=(8,)) + _days(range(14, 34), 120, clocks=(20,))
    found = _change(mornings + both)
    assert found.part is Part.MORNING
    assert found.shift is Shift.NOT_CLEAR


def test_a_difference_of_too_few_days_is_refused() -> None:
    few, enough = sample_of([series(*[140.0] * 5)]), sample_of([series(*[140.0] * 6)])
    with pytest.raises(ValueError, match="6 days in both"):
        differences_of(few, enough)


@pytest.mark.parametrize(
    ("sd", "correlation", "days"),
    [(4, 0.0, 5), (8.6, 0.0, 23), (8.6, 0.2, 34), (8.6, 0.4, 53), (40, 0.0, None)],
)
def test_more_spread_and_more_alike_days_need_more_of_them(
    sd: float, correlation: float, days: int | None
) -> None:
    assert days_needed(sd, correlation) == days
    if days is not None:
        assert detectable_change(sd, days, correlation) <= 5
        assert detectable_change(sd, days - 1, correlation) > 5
    else:
        assert detectable_change(sd, MOST_DAYS_NEEDED, correlation) > 5


@pytest.mark.parametrize("correlation", [0.0, 0.2, 0.4, 0.7])
@pytest.mark.parametrize("days", [1, 2, 7, 30])
def test_the_detectable_change_is_that_of_days_alike_by_the_power_of_their_distance(
    days: int, correlation: float
) -> None:
    apart = np.abs(np.subtract.outer(np.arange(days), np.arange(days)))
    variance = (correlation**apart).sum() / days**2
    expected = 1.959964 * np.sqrt(2 * variance) * 8.6
    assert detectable_change(8.6, days, correlation) == pytest.approx(expected, rel=1e-6)
