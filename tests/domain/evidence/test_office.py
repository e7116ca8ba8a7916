"""Office beside home: when it can be told, which pattern of numbers it is, and how sure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from domain.bands import Guideline
from domain.evidence.days import Days, daily_values
from domain.evidence.office import LIMITS, Pattern, compared, pattern
from domain.readings import Mmhg, Reading
from domain.shown import Pair

LISBON = ZoneInfo("Europe/Lisbon")
BEGAN = datetime(2026, 3, 2, 9, tzinfo=UTC)


def days(*pairs: tuple[int, int], readings: int = 2) -> Days:
    """One pair a day, each so many times."""
    return daily_values(
        [
            Reading(
                systolic=Mmhg(systolic),
                diastolic=Mmhg(diastolic),
                at=BEGAN + timedelta(days=day, minutes=minute),
            )
            for day, (systolic, diastolic) in enumerate(pairs)
            for minute in range(readings)
        ],
        LISBON,
    )


HOME = days((128, 78), (131, 80), (125, 76), (130, 81), (127, 79), (129, 80))


def test_the_effect_is_office_minus_home_with_an_interval() -> None:
    found = compared(days((152, 92)), HOME, Guideline.ESH_2021)

    assert found is not None
    assert (found.office, found.home, found.visits) == (Pair(152, 92), Pair(128, 79), 1)
    assert found.systolic.estimate == pytest.approx(152 - 128.33, abs=0.01)
    assert found.systolic.low < 5 < 40 < found.systolic.high
    assert found.pattern is Pattern.OFFICE_ONLY
    assert found.large
    assert found.clear


@pytest.mark.parametrize(
    ("office", "home", "told"),
    [
        (days(), HOME, False),
        (days((150, 90), readings=1), HOME, False),
        (days((150, 90), readings=2), HOME, True),
        (days((150, 90), (148, 88), readings=1), HOME, True),
        (days((150, 90)), days((128, 78), (131, 80)), False),
        (days((150, 90)), days((128, 78), (131, 80), (125, 76)), True),
    ],
)
def test_without_enough_readings_of_either_kind_nothing_is_said(
    office: Days, home: Days, told: bool
) -> None:
    assert (compared(office, home, Guideline.ESH_2021) is not None) == told


def test_the_pattern_does_not_contradict_the_average_that_stands_beside_it() -> None:
    found = compared(days((152, 92)), HOME, Guideline.ESH_2021, Pair(135, 80))

    assert found is not None
    assert found.pattern is Pattern.BOTH


@pytest.mark.parametrize(
    ("office", "home", "named"),
    [
        (Pair(139, 89), Pair(134, 84), Pattern.NEITHER),
        (Pair(140, 89), Pair(134, 84), Pattern.OFFICE_ONLY),
        (Pair(139, 90), Pair(134, 84), Pattern.OFFICE_ONLY),
        (Pair(139, 89), Pair(135, 84), Pattern.HOME_ONLY),
        (Pair(139, 89), Pair(134, 85), Pattern.HOME_ONLY),
        (Pair(140, 60), Pair(110, 85), Pattern.BOTH),
    ],
)
def test_of_each_pair_the_higher_number_decides(office: Pair, home: Pair, named: Pattern) -> None:
    assert pattern(office, home, LIMITS[Guideline.NICE_NG136]) is named


@pytest.mark.parametrize(
    ("office", "large"), [((148, 88), False), ((149, 85), True), ((140, 90), True)]
)
def test_an_effect_above_20_or_10_is_large(office: tuple[int, int], large: bool) -> None:
    found = compared(days(office), days(*[(128, 79)] * 5), Guideline.NICE_NG136)

    assert found is not None
    assert found.large == large


def test_more_visits_and_more_days_at_home_make_the_effect_surer() -> None:
    def width(visits: int, home: Days = HOME) -> float:
        found = compared(days(*[(150, 90)] * visits), home, Guideline.ESH_2021)
        assert found is not None
        assert found.systolic.estimate == pytest.approx(
            (found.systolic.high + found.systolic.low) / 2, abs=1e-3
        )
        return found.systolic.high - found.systolic.low

    assert width(1) > width(2) > width(8)
    # One visit alone: 2 times 1.96 times 10.8 mmHg, however sure the level at home is.
    assert width(1) > width(1, days(*[(128, 79)] * 28)) > 42.4
