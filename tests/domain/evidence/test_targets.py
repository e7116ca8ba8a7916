"""Targets: by guideline and age, the practitioner's own within bounds, and levels beside them.

The guidelines' numbers are checked in tests/outside/test_target_tables.py.
"""

from __future__ import annotations

import pytest

from domain.bands import Guideline
from domain.danger import STILL_HIGH
from domain.evidence.intervals import Interval
from domain.evidence.targets import (
    BOUNDS,
    TARGETS,
    Beside,
    UnsafeTargetError,
    beside,
    target,
)
from domain.shown import Pair


@pytest.mark.parametrize("guideline", Guideline)
def test_every_guideline_has_targets_with_sources_that_may_also_be_chosen(
    guideline: Guideline,
) -> None:
    groups = TARGETS[guideline]
    ages = [group.from_age for group in groups]
    assert ages[0] == 18
    assert ages == sorted(set(ages))
    for group in groups:
        if group.target is not None:
            assert group.target.source
            chosen = target(guideline, group.from_age, group.target.pair)
            assert chosen is not None
            assert chosen.pair == group.target.pair


def test_the_practitioners_choice_overrides_the_table() -> None:
    chosen = target(Guideline.JSH_2019, 80, Pair(150, 90))

    assert chosen is not None
    assert chosen.pair == Pair(150, 90)


@pytest.mark.parametrize(
    ("chosen", "safe"),
    [
        (Pair(120, 70), True),
        (Pair(119, 70), False),
        (Pair(120, 69), False),
        (Pair(159, 99), True),
        (Pair(160, 99), False),
        (Pair(159, 100), False),
    ],
)
def test_a_choice_outside_the_bounds_is_refused(chosen: Pair, safe: bool) -> None:
    if safe:
        assert target(Guideline.NICE_NG136, 70, chosen) is not None
        return
    with pytest.raises(UnsafeTargetError, match="must lie between") as refused:
        target(Guideline.NICE_NG136, 70, chosen)
    assert str(chosen.systolic) not in str(refused.value).replace(
        str(BOUNDS.lowest.systolic), ""
    ).replace(str(BOUNDS.highest.systolic), "")


def test_nobody_at_a_chosen_target_is_still_high() -> None:
    assert not STILL_HIGH.reached_by(BOUNDS.highest.systolic, BOUNDS.highest.diastolic)


def test_there_are_no_targets_for_children() -> None:
    with pytest.raises(ValueError, match="under 18"):
        target(Guideline.NICE_NG136, 17)


def _about(estimate: float, arm: float = 2.0) -> Interval:
    return Interval(estimate, estimate - arm, estimate + arm)


@pytest.mark.parametrize(
    ("systolic", "diastolic", "where"),
    [
        (132.9, 82.9, Beside.BELOW),
        (133.0, 82.9, Beside.NOT_CLEAR),  # the interval ends on the target
        (132.9, 83.0, Beside.NOT_CLEAR),
        (136.9, 80.0, Beside.NOT_CLEAR),
        (137.0, 80.0, Beside.NOT_BELOW),
        (120.0, 87.0, Beside.NOT_BELOW),  # one number is enough
    ],
)
def test_a_level_is_beside_the_target_where_its_whole_interval_is(
    systolic: float, diastolic: float, where: Beside
) -> None:
    assert beside(_about(systolic), _about(diastolic), Pair(135, 85)) is where
