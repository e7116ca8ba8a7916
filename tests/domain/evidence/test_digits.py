"""Last digits: both the test and the size of the excess must speak."""

from __future__ import annotations

import numpy as np
import pytest

from domain.evidence.digits import LEAST_READINGS, Endings, chi_square, endings, holm
from domain.evidence.taken import Floats

CHANCE = np.random.default_rng(29)


def _values(count: int, sd: float = 12.0) -> Floats:
    return np.round(CHANCE.normal(138, sd, count))


def _rounded(values: Floats, every: int) -> Floats:
    """Every so-manieth value rounded to ten."""
    found = values.copy()
    found[::every] = np.round(found[::every], -1)
    return found


def _one(values: Floats) -> Endings:
    return endings(values, _values(len(values)))[0]


def test_numbers_rounded_to_ten_speak_and_others_are_silent() -> None:
    values = _values(200)

    assert _one(_rounded(values, 2)).rounded
    assert not _one(values).rounded


@pytest.mark.parametrize(("count", "told"), [(LEAST_READINGS - 1, False), (LEAST_READINGS, True)])
def test_below_fifty_readings_nothing_is_said(count: int, told: bool) -> None:
    assert _one(_rounded(_values(count), 1)).rounded == told


def test_many_readings_with_a_trifling_excess_are_silent_though_the_test_speaks() -> None:
    # Every 70th reading rounded to ten: 11.3 % end in 0.
    found = _one(_rounded(_values(29_000), 70))

    assert found.adjusted_p < 0.001
    assert 0.11 < found.share < 0.12
    assert not found.rounded


def test_readings_all_within_a_few_mmhg_end_in_few_digits_by_nature() -> None:
    found = _one(_values(400, sd=2.5))

    assert found.adjusted_p < 0.001
    assert not found.rounded


def test_a_hundred_times_the_same_round_number_speaks_without_any_spread() -> None:
    assert _one(np.full(100, 140.0)).rounded


def test_a_monitor_that_shows_even_numbers_only_is_held_against_five_endings() -> None:
    values = 2 * np.round(_values(300) / 2)

    found = _one(values)
    assert (found.even_only, found.freedom, found.expected) == (True, 4, 0.2)
    assert not found.rounded
    assert _one(_rounded(values, 2)).rounded


def test_no_reading_at_all_is_even() -> None:
    assert chi_square([0] * 10) == (0.0, 9, 1.0)
    assert not any(one.rounded for one in endings(np.array([]), np.array([])))


@pytest.mark.parametrize(
    ("alone", "together"),
    [
        ([0.01, 0.04], [0.02, 0.04]),
        ([0.04, 0.01], [0.04, 0.02]),
        ([0.03, 0.04], [0.06, 0.06]),  # the second is never surer than the first
        ([0.7, 0.9], [1.0, 1.0]),
        ([], []),
    ],
)
def test_holm_doubles_the_smaller_of_two(alone: list[float], together: list[float]) -> None:
    assert holm(alone) == pytest.approx(together)
