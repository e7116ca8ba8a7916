"""Bands as data: every table is whole, sourced and in order; two bands compare by their place.

The tables' numbers are checked against the guidelines in tests/outside/test_band_tables.py.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.bands import BAND_TABLES, Guideline, band, higher_band
from domain.sources import Status

_PRESSURES = st.integers(min_value=20, max_value=300)


@pytest.mark.parametrize("guideline", Guideline)
def test_every_table_has_a_source_and_a_status_for_each_band(guideline: Guideline) -> None:
    table = BAND_TABLES[guideline]
    assert table.guideline is guideline
    assert table.source
    assert all(isinstance(one.status, Status) for one in table.bands)
    assert len({one.name for one in table.bands}) == len(table.bands)


@pytest.mark.parametrize("guideline", Guideline)
def test_only_the_lowest_band_begins_nowhere_and_the_others_rise(guideline: Guideline) -> None:
    lowest, *others = BAND_TABLES[guideline].bands
    assert (lowest.least_systolic, lowest.least_diastolic) == (None, None)
    systolics = [one.least_systolic for one in others if one.least_systolic is not None]
    diastolics = [one.least_diastolic for one in others if one.least_diastolic is not None]
    assert len(systolics) == len(others)
    assert systolics == sorted(set(systolics))
    assert diastolics == sorted(set(diastolics))


@pytest.mark.parametrize("guideline", Guideline)
def test_every_guideline_calls_135_or_85_higher_than_134_over_84(guideline: Guideline) -> None:
    below = band(guideline, 134, 84)
    for systolic, diastolic in ((135, 84), (134, 85), (135, 60), (110, 85)):
        high = band(guideline, systolic, diastolic)
        assert high != below
        assert higher_band(guideline, below, high) == high


@given(guideline=st.sampled_from(Guideline), systolic=_PRESSURES, diastolic=_PRESSURES)
def test_the_higher_of_the_two_numbers_decides(
    guideline: Guideline, systolic: int, diastolic: int
) -> None:
    by_systolic = band(guideline, systolic, 0)
    by_diastolic = band(guideline, 0, diastolic)
    assert band(guideline, systolic, diastolic) == higher_band(guideline, by_systolic, by_diastolic)


@given(guideline=st.sampled_from(Guideline), systolic=_PRESSURES, diastolic=_PRESSURES)
def test_a_higher_number_never_gives_a_lower_band(
    guideline: Guideline, systolic: int, diastolic: int
) -> None:
    order = BAND_TABLES[guideline].bands
    here = order.index(band(guideline, systolic, diastolic))
    assert order.index(band(guideline, systolic + 1, diastolic)) >= here
    assert order.index(band(guideline, systolic, diastolic + 1)) >= here


def test_no_average_is_below_every_band() -> None:
    guideline = Guideline.JSH_2019
    normal = band(guideline, 100, 60)
    assert higher_band(guideline, None, normal) == normal
    assert higher_band(guideline, normal, None) == normal
    assert higher_band(guideline, None, None) is None
