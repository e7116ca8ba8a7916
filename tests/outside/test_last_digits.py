"""Last digits against open data, a worked example by hand, and another program.

NHEFS: follow-up of the first National Health and Nutrition Examination Survey (United States
federal data, public domain), as the package `causaldata` ships it.
"""

from __future__ import annotations

import numpy as np
import pytest
from causaldata import nhefs
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from domain.evidence.digits import chi_square, endings
from domain.evidence.taken import Floats

#: Critical values of the chi-square distribution, as printed in tables.
_CRITICAL = {9: (16.92, 21.67), 4: (9.49, 13.28)}


def _pressures() -> tuple[Floats, Floats]:
    data = nhefs.load_pandas().data
    systolic, diastolic = data["sbp"], data["dbp"]
    return (
        systolic.dropna().to_numpy(dtype=float),
        diastolic.dropna().to_numpy(dtype=float),
    )


def test_the_systolic_endings_of_nhefs_are_even_and_the_diastolic_ones_are_not() -> None:
    systolic, diastolic = endings(*_pressures())

    assert (systolic.readings, diastolic.readings) == (1552, 1548)
    assert systolic.chi_square == pytest.approx(7.0, abs=0.05)
    assert systolic.p == pytest.approx(0.64, abs=0.005)
    assert not systolic.rounded
    assert diastolic.chi_square == pytest.approx(37.6, abs=0.05)
    assert diastolic.share == pytest.approx(0.129, abs=0.0005)
    assert diastolic.rounded


def test_of_the_1548_pairs_of_nhefs_the_same_is_said() -> None:
    data = nhefs.load_pandas().data[["sbp", "dbp"]].dropna().to_numpy(dtype=float)

    systolic, diastolic = endings(data[:, 0], data[:, 1])

    assert systolic.readings == diastolic.readings == 1548
    assert (systolic.rounded, diastolic.rounded) == (False, True)


def test_the_worked_example_of_56_readings_is_18_64() -> None:
    """By hand: sum of squares 104.40 over E = 5.6; above the printed 16.92 of the 5 % level."""
    statistic, freedom, p = chi_square([14, 3, 5, 4, 5, 9, 4, 4, 5, 3])

    assert statistic == pytest.approx(18.64, abs=0.005)
    assert freedom == 9
    assert 0.01 < p < 0.05


@pytest.mark.parametrize("freedom", _CRITICAL)
def test_the_printed_critical_values_have_their_chances(freedom: int) -> None:
    for value, chance in zip(_CRITICAL[freedom], (0.05, 0.01), strict=True):
        assert stats.chi2.sf(value, freedom) == pytest.approx(chance, abs=0.0005)


_COUNTS = st.lists(st.integers(0, 400), min_size=10, max_size=10).filter(sum)


@given(_COUNTS)
def test_the_statistic_and_its_chance_are_those_of_scipy(counts: list[int]) -> None:
    statistic, freedom, p = chi_square(counts)

    seen = counts[::2] if freedom == 4 else counts
    theirs = stats.chisquare(seen)
    assert statistic == pytest.approx(theirs.statistic)
    assert p == pytest.approx(theirs.pvalue, abs=1e-12)


def test_of_people_who_round_nothing_hardly_anybody_is_told_so() -> None:
    """2,000 people with the spreads of the Ohasama study (Kato 2010), 28 to 720 readings each."""
    chance = np.random.default_rng(1548)
    told = 0
    for _ in range(2000):
        count = int(chance.integers(28, 720))
        spread = max(chance.normal(8.6, 3.1), 1.5)
        systolic = np.round(chance.normal(chance.normal(138, 15), spread, count))
        diastolic = np.round(chance.normal(82, spread * 0.67, count))
        told += any(one.rounded for one in endings(systolic, diastolic))

    assert told / 2000 < 0.05


@pytest.mark.parametrize(("share", "least"), [(0.3, 0.95), (0.6, 1.0)])
def test_of_people_who_round_every_third_reading_nearly_everybody_is_told_so(
    share: float, least: float
) -> None:
    """112 readings, four weeks of two pairs a day; clinic records: 64 % (de Lusignan 2004)."""
    chance = np.random.default_rng(64)
    told = 0
    for _ in range(300):
        values: Floats = chance.normal(138, 8.6, 112)
        rounded = chance.random(112) < share
        shown = np.where(rounded, 10 * np.round(values / 10), np.round(values)).astype(float)
        told += endings(shown, np.round(chance.normal(82, 5.8, 112)))[0].rounded

    assert told / 300 >= least
