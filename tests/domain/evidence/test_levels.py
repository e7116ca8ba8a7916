"""Means of days: when there is an interval, and what makes it wide."""

from __future__ import annotations

import numpy as np
import pytest

from domain.evidence.intervals import CORRELATIONS, fit, sample_of
from domain.evidence.levels import Level, level, means_of
from tests.domain.evidence.simulated_days import people, series


def _level(*values: float, days: list[int] | None = None) -> Level:
    found = level(series(*values, days=days))
    assert found is not None
    return found


@pytest.mark.parametrize(("days", "told"), [(0, False), (2, False), (3, True), (4, True)])
def test_below_three_days_it_cannot_be_told(days: int, told: bool) -> None:
    assert (level(series(*[130.0, 140.0, 135.0, 128.0][:days])) is not None) == told


def test_the_estimate_is_the_plain_mean_and_the_interval_lies_evenly_about_it() -> None:
    found = _level(134.5, 136.0, 132.5, 140.0, 137.0, 131.5, 138.0)
    assert found.mean.estimate == pytest.approx(949.5 / 7)
    assert found.mean.high - found.mean.estimate == pytest.approx(
        found.mean.estimate - found.mean.low, abs=1e-4
    )
    assert found.sd.low < found.sd.estimate < found.sd.high
    assert 1 < found.effective_days <= 7


def test_equal_days_still_leave_what_rounding_hides() -> None:
    found = _level(140.0, 140.0, 140.0)
    assert 0.2 < found.mean.high - 140 < 3
    assert found.sd.estimate == 0


def test_days_alike_tell_less_than_days_that_alternate() -> None:
    high = [146.0] * 10 + [130.0] * 10
    alike, turning = _level(*high), _level(*([146.0, 130.0] * 10))
    assert alike.mean.estimate == turning.mean.estimate
    assert alike.correlation > 0.5 > 0.1 > turning.correlation
    assert alike.effective_days < 8 < 15 < turning.effective_days
    assert alike.mean.low < turning.mean.low


def test_days_far_apart_tell_more_than_days_in_a_row() -> None:
    values = [131.0, 139.0, 150.0, 148.0, 141.0, 128.0, 130.0, 144.0]
    apart = _level(*values, days=[60 * n for n in range(8)])
    assert apart.effective_days == pytest.approx(8, abs=1e-3)
    assert _level(*values).effective_days < 7


def test_with_many_days_the_days_decide_what_the_correlation_is() -> None:
    chance = np.random.default_rng(5)
    for true in (0.0, 0.2, 0.4):
        found = people(40, 1500, true, chance, most_missing=0.0)
        assert fit(found.sample()).correlation.mean() == pytest.approx(true, abs=0.03)


def test_people_side_by_side_have_the_same_figures_as_each_alone() -> None:
    chance = np.random.default_rng(7)
    several = [
        series(*chance.normal(140, 9, n), days=sorted(chance.choice(40, n, replace=False)))
        for n in (3, 8, 21)
    ]
    together = means_of(sample_of(several))
    low, high = together.bounds()
    for place, one in enumerate(several):
        alone = level(one)
        assert alone is not None
        assert together.means[place] == pytest.approx(alone.mean.estimate)
        assert low[place] == pytest.approx(alone.mean.low)
        assert high[place] == pytest.approx(alone.mean.high)
        assert together.effective_days[place] == pytest.approx(alone.effective_days)


def test_more_regressors_than_days_are_refused() -> None:
    with pytest.raises(ValueError, match="more days than regressors"):
        fit(sample_of([series(140.0)]))


def test_the_table_of_correlations_is_whole() -> None:
    assert len(CORRELATIONS.values) == len(CORRELATIONS.weights)
    assert sum(CORRELATIONS.weights) == pytest.approx(1)
    assert min(CORRELATIONS.weights) > 0
    assert list(CORRELATIONS.values) == sorted(CORRELATIONS.values)
    assert max(CORRELATIONS.values) < 1
    assert CORRELATIONS.source
