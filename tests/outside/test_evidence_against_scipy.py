"""Figures of daily values against SciPy, statsmodels and pymannkendall on random series.

Where a library has the same thing under one known correlation, that correlation alone is
taken out of ours. Where it has another answer to the same question (Theil-Sen,
Mann-Kendall), the two must agree as far as they should.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pymannkendall
import pytest
import statsmodels.api
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from domain.evidence.change import differences_of
from domain.evidence.days import Floats, Pressure, Series
from domain.evidence.intervals import (
    CORRELATIONS,
    Fit,
    Sample,
    fit,
    sample_of,
    spread_bounds,
    t_bounds,
)
from domain.evidence.levels import means_of
from domain.evidence.trend import Direction, directions, slopes_of, trend
from domain.evidence.variability import pattern_chances, variability, weekdays, wilson
from tests.domain.evidence.simulated_days import FIRST_DAY, People, packed, people

SEEDS = range(12)


def _random(seed: int, days: int = 40) -> Series:
    """Values on days of which some are missing."""
    chance = np.random.default_rng(seed)
    places = np.sort(chance.choice(2 * days, days, replace=False))
    return Series(FIRST_DAY + places, chance.normal(140, 9, days))


def _only(found: Fit, place: int) -> Fit:
    """As if one correlation of the table were known to be the true one."""
    weights = np.zeros_like(found.weights)
    weights[place] = 1
    return replace(found, weights=weights)


def _regression(series: Series, columns: Floats, correlation: float) -> Any:
    """Generalised least squares with the correlation of every pair of days written out."""
    alike = correlation ** np.abs(np.subtract.outer(series.days, series.days))
    return statsmodels.api.GLS(series.values, columns, sigma=alike).fit()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("place", range(len(CORRELATIONS.values)))
def test_a_line_is_that_of_generalised_least_squares(seed: int, place: int) -> None:
    series = _random(seed)
    along = (series.days - series.days.mean()) / 80
    found = fit(sample_of([series]), along[None])
    result = _regression(
        series, np.column_stack((np.ones(len(series)), along)), CORRELATIONS.values[place]
    )
    # Days 40 and more apart count as independent with us; 0.7 to the 40th is all it differs by.
    assert found.estimates[place, 0] == pytest.approx(result.params, rel=1e-5, abs=1e-5)
    assert found.scales[place, 0] == pytest.approx(result.bse, rel=1e-5)
    expected = result.conf_int()[1]
    low, high = _only(found, place).bounds(1)
    assert (low[0], high[0]) == pytest.approx(expected, rel=1e-4, abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_correlations_weigh_by_their_restricted_likelihood(seed: int) -> None:
    series = _random(seed, 15)
    x = np.column_stack((np.ones(15), series.days - series.days.mean()))
    # Likelihood of contrasts that no line changes, the SD integrated out (Harville 1974).
    free = np.linalg.svd(x)[0][:, 2:]
    contrasts = free.T @ series.values
    logs = []
    for correlation in CORRELATIONS.values:
        alike = correlation ** np.abs(np.subtract.outer(series.days, series.days))
        covariance = free.T @ alike @ free
        square = contrasts @ np.linalg.solve(covariance, contrasts)
        logs.append(-np.linalg.slogdet(covariance)[1] / 2 - 13 / 2 * np.log(square))
    expected = np.array(CORRELATIONS.weights) * np.exp(np.array(logs) - max(logs))
    found = fit(sample_of([series]), (series.days - series.days.mean())[None] / 30)
    assert found.weights[:, 0] == pytest.approx(expected / expected.sum(), rel=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_independent_days_have_the_interval_of_students_t(seed: int) -> None:
    series = _random(seed, 9)
    found = means_of(sample_of([series]))
    low, high = replace(found, found=_only(found.found, 0)).bounds()
    expected = stats.ttest_1samp(series.values, 0).confidence_interval()
    assert (low[0], high[0]) == pytest.approx((expected.low, expected.high), abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_interval_of_an_sd_is_that_of_chi_square(seed: int) -> None:
    series = _random(seed, 11)
    low, high = spread_bounds(_only(fit(sample_of([series])), 0))
    square = series.values.var(ddof=1) * 10
    expected = np.sqrt(square / stats.chi2(10).ppf([0.975, 0.025]))
    assert (low[0], high[0]) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_difference_of_independent_days_is_welchs(seed: int) -> None:
    before, after = _random(seed, 9), _random(seed + 100, 17)
    after = Series(after.days + 1000, after.values * 1.3)
    found = differences_of(sample_of([before]), sample_of([after]))
    alone = np.zeros_like(found.weights)
    alone[0] = 1
    low, high = replace(found, weights=alone).bounds()
    expected = stats.ttest_ind(after.values, before.values, equal_var=False)
    interval = expected.confidence_interval()
    assert (low[0], high[0]) == pytest.approx((interval.low, interval.high), abs=2e-3)


@pytest.mark.parametrize("place", range(len(CORRELATIONS.values)))
def test_the_standard_error_of_a_mean_is_that_of_the_days_written_out(place: int) -> None:
    series = _random(3, 25)
    found = means_of(sample_of([series]))
    correlation = CORRELATIONS.values[place]
    alike = correlation ** np.abs(np.subtract.outer(series.days, series.days))
    expected = np.sqrt(found.found.variances[place, 0] * alike.sum()) / 25
    assert found.scales[place, 0] == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("place", range(len(CORRELATIONS.values)))
def test_the_standard_error_of_a_difference_is_that_of_the_days_written_out(place: int) -> None:
    days = np.arange(20)
    values = np.random.default_rng(1).normal(140, 9, 20)
    before = Series(FIRST_DAY + days[:8], values[:8])
    after = Series(FIRST_DAY + days[9:], values[9:])
    found = differences_of(sample_of([before]), sample_of([after]))
    sds = [np.sqrt(fit(sample_of([one])).variances[place, 0]) for one in (before, after)]
    signs = np.concatenate((np.full(8, -sds[0] / 8), np.full(11, sds[1] / 11)))
    both = np.concatenate((before.days, after.days))
    alike = CORRELATIONS.values[place] ** np.abs(np.subtract.outer(both, both))
    assert found.scales[place, 0] == pytest.approx(np.sqrt(signs @ alike @ signs), rel=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mixture_of_students_t_is_cut_at_its_quantiles(seed: int) -> None:
    chance = np.random.default_rng(seed)
    weights = chance.dirichlet(np.ones(8))[:, None]
    centres, scales = chance.normal(140, 3, (8, 1)), chance.uniform(1, 9, (8, 1))
    freedom = np.array([int(chance.integers(1, 40))])
    for end, share in zip(
        t_bounds(weights, centres, scales, freedom, 0.9), (0.05, 0.95), strict=True
    ):
        chances = stats.t(freedom, centres, scales).cdf(end)
        assert float((weights * chances).sum()) == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_weekdays_of_independent_days_are_tested_as_by_analysis_of_variance(seed: int) -> None:
    chance = np.random.default_rng(seed)
    days = np.arange(FIRST_DAY, FIRST_DAY + 60)
    # Turning up and down: nothing is alike from day to day, so only independence fits.
    values = 140 + 9 * np.where(days % 2, 1, -1) + chance.normal(0, 1, 60)
    groups = [values[weekdays(days) == day] for day in range(7)]
    found = pattern_chances(sample_of([Series(days, values)]))
    assert found[0] == pytest.approx(stats.f_oneway(*groups).pvalue, abs=0.01)


@pytest.mark.parametrize(("hits", "days"), [(0, 5), (3, 6), (7, 7), (11, 28), (100, 180)])
def test_wilson_is_as_statsmodels_has_it(hits: int, days: int) -> None:
    low, high = wilson(np.array([hits / days]), np.array([float(days)]))
    expected = proportion_confint(hits, days, method="wilson")
    assert (low[0], high[0]) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_spread_is_as_scipy_has_it(seed: int) -> None:
    series = _random(seed)
    found = variability(series)
    assert found is not None
    assert found.sd.estimate == pytest.approx(stats.tstd(series.values))
    assert found.cv == pytest.approx(100 * stats.variation(series.values, ddof=1))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("change", [-25, 25])
def test_a_clear_trend_is_the_one_that_theil_sen_and_mann_kendall_find(
    seed: int, change: float
) -> None:
    chance = np.random.default_rng(seed)
    values = 140 + change * np.arange(60) / 59 + chance.normal(0, 7, 60)
    found = trend(Series(FIRST_DAY + np.arange(60), values), Pressure.SYSTOLIC)
    other = stats.theilslopes(values)
    assert found.slope is not None
    assert found.slope.low < 30 * other.slope < found.slope.high
    assert found.slope.estimate == pytest.approx(30 * other.slope, abs=2.5)
    expected = {"increasing": Direction.RISING, "decreasing": Direction.FALLING}
    assert found.direction is expected[pymannkendall.original_test(values).trend]


def test_where_mann_kendall_and_its_corrections_see_trends_that_are_none_we_do_not() -> None:
    found = people(400, 28, 0.4, np.random.default_rng(4), most_missing=0.0)
    others = (
        pymannkendall.original_test,
        pymannkendall.hamed_rao_modification_test,
        pymannkendall.trend_free_pre_whitening_modification_test,
    )
    with np.errstate(invalid="ignore"):  # Hamed and Rao's variance is sometimes negative
        shares = [np.mean([other(values).h for values in found.values]) for other in others]
    assert min(shares) > 0.1, shares
    said = directions(slopes_of(found.sample()), Pressure.SYSTOLIC)
    assert np.mean([one in (Direction.RISING, Direction.FALLING) for one in said]) <= 0.06


def test_one_wild_day_moves_the_line_no_more_than_theil_sens() -> None:
    """Least squares would be moved by 13 mmHg where the wild day is the last one."""
    chance = np.random.default_rng(6)
    values = chance.normal(140, 6, (200, 28))
    wild = values.copy()
    wild[:, -1] += 60
    present = np.ones_like(values, dtype=bool)

    def changes(some: Floats) -> Floats:
        sample: Sample = packed(some, present)
        lines = slopes_of(sample).found
        return np.asarray((lines.weights * lines.estimates[..., 1]).sum(axis=0))

    ours = np.abs(changes(wild) - changes(values)).mean()
    theirs = np.mean(
        [
            27 * abs(stats.theilslopes(one).slope - stats.theilslopes(other).slope)
            for one, other in zip(wild, values, strict=True)
        ]
    )
    assert ours < 1.5 * theirs < 4


def test_the_simulated_people_are_as_alike_from_day_to_day_as_they_are_said_to_be() -> None:
    found: People = people(300, 200, 0.4, np.random.default_rng(2), most_missing=0.0)
    estimates = [statsmodels.api.tsa.acf(values, nlags=2) for values in found.values]
    assert np.mean(estimates, axis=0) == pytest.approx([1, 0.4, 0.16], abs=0.03)
