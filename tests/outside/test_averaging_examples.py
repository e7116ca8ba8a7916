"""Worked examples of the averaging rules, with all the readings and all the answers.

Source: the seven worked examples computed by hand for this project from the published rules
(NICE NG136 1.2.7; Stergiou 2018; ESH 2021; AHA/AMA 2020; ESC 2024, JSH 2019, ISH 2020 as far as
they could be read; TSOC/THS 2020). The readings are invented. Example 7's two ways of counting
three readings are the office habit of ESH 2021 (secondary) and ours; the home guidelines that
were read do not settle it.

The examples show one decimal rounded as one does by hand. What the program prints goes half to
even, so that 85.25 is 85.2 where example 2 shows 85.3. Exact means are compared here as well.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest

from domain.averaging import Average, Least, Mean, average, printed
from domain.averaging_rules import RULES
from domain.readings import Mmhg, Reading, whole

_WEEK = """\
    148/92 144/90 | 146/88 142/86
    140/88 136/86 | 134/84 132/82
    138/86 134/84 | 136/84 132/82
    142/88 138/86 | 130/80 128/80
    136/86 134/84 | 132/82 130/82
    140/88 136/86 | 134/84 130/80
    138/86 136/84 | 132/82 130/82"""
_EVENINGS_MISSING = """\
    150/94 146/92 | 144/90 140/88
    142/88 138/86 |
    140/88 136/84 | 134/84 130/82
    138/86 134/84 |"""
_DAY_ONE_ONLY = "158/96 152/94 | 150/92 148/90"
_THREE_DAYS = """\
    140/86 136/84 | 138/86 134/84
    134/84 132/82 | 130/82 128/80
    136/86 132/84 | 132/82 128/80"""
_MORNINGS_ONLY = """\
    138/84 |
    134/82 |
    136/88 |
    132/82 |
    134/86 |
    130/84 |
    136/86 |"""
_AT_THE_LIMIT = """\
    139/87 137/85 | 135/85 133/83
    137/86 135/85 | 134/84 132/83
    136/86 134/85 | 135/85 133/84
    137/87 135/85 | 134/84 133/83"""
_THREE_IN_ONE = "152/90 138/84 136/84 |"


_CLOCKS = (timedelta(hours=7, minutes=40), timedelta(hours=20, minutes=10))


def _readings(table: str) -> list[Reading]:
    """Days as lines, mornings left of the bar, evenings right of it, readings a minute apart."""
    return [
        _reading(pair, day=day, clock=clock + timedelta(minutes=minute))
        for day, line in enumerate(table.splitlines())
        for half, clock in zip(line.split("|"), _CLOCKS, strict=True)
        for minute, pair in enumerate(half.split())
    ]


def _reading(pair: str, *, day: int, clock: timedelta) -> Reading:
    systolic, diastolic = map(int, pair.split("/"))
    at = datetime(2026, 3, 2, tzinfo=UTC) + timedelta(days=day) + clock
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at)


def _of(table: str, rule: str) -> Average:
    return average(_readings(table), RULES[rule])


def _shown(mean: Mean) -> tuple[float, float]:
    assert mean.systolic is not None
    assert mean.diastolic is not None
    return float(printed(mean.systolic)), float(printed(mean.diastolic))


@pytest.mark.parametrize("rule", ["nice", "esh", "stergiou-2018", "ish"])
def test_example_1_a_full_week_without_its_first_day_is_at_the_limit_as_shown(rule: str) -> None:
    result = _of(_WEEK, rule)
    assert result.overall.readings == 24
    assert result.overall.systolic == Fraction(3228, 24)
    assert result.overall.diastolic == Fraction(2016, 24)
    assert _shown(result.overall) == (134.5, 84.0)
    assert whole(Fraction(3228, 24)) == 135
    assert result.overall.band is not None
    assert result.overall.band.least_systolic == 135
    assert result.enough


@pytest.mark.parametrize("rule", ["aha-ama", "esc", "aha-acc-2025"])
def test_example_1_a_full_week_with_its_first_day_is_high(rule: str) -> None:
    result = _of(_WEEK, rule)
    assert result.overall.readings == 28
    assert result.overall.systolic == Fraction(3808, 28)
    assert result.overall.diastolic == Fraction(2372, 28)
    assert _shown(result.overall) == (136.0, 84.7)
    assert result.overall.band is not None
    assert result.overall.band.least_systolic == 135
    assert result.enough


def test_example_1_by_halves_of_japan_the_morning_is_high_and_the_evening_is_not() -> None:
    result = _of(_WEEK, "jsh")
    assert (result.morning.occasions, result.evening.occasions) == (7, 7)
    assert result.morning.systolic == Fraction(1940, 14)
    assert result.morning.diastolic == Fraction(1214, 14)
    assert _shown(result.morning) == (138.6, 86.7)
    assert result.evening.systolic == Fraction(1868, 14)
    assert result.evening.diastolic == Fraction(1158, 14)
    assert _shown(result.evening) == (133.4, 82.7)
    assert _bands(result) == ("grade_1", "elevated", "grade_1")


def test_example_1_by_halves_of_taiwan_the_morning_is_high_and_the_evening_is_not() -> None:
    result = _of(_WEEK, "722")
    assert (result.morning.readings, result.evening.readings) == (12, 12)
    assert result.morning.systolic == Fraction(1648, 12)
    assert result.morning.diastolic == Fraction(1032, 12)
    assert _shown(result.morning) == (137.3, 86.0)
    assert result.evening.systolic == Fraction(1580, 12)
    assert result.evening.diastolic == Fraction(984, 12)
    assert _shown(result.evening) == (131.7, 82.0)
    assert _bands(result) == ("hypertension", "not_hypertension", "hypertension")


def _bands(result: Average) -> tuple[str | None, ...]:
    """Of morning, evening and whole."""
    means = (result.morning, result.evening, result.overall)
    return tuple(None if mean.band is None else mean.band.name for mean in means)


@pytest.mark.parametrize("rule", ["nice", "stergiou-2018", "esh"])
def test_example_2_missing_evenings_leave_eight_readings_which_is_too_few(rule: str) -> None:
    result = _of(_EVENINGS_MISSING, rule)
    assert result.overall.readings == 8
    assert result.overall.systolic == Fraction(1092, 8)
    assert result.overall.diastolic == Fraction(682, 8)
    assert _shown(result.overall) == (136.5, 85.2)  # exactly 85.25; by hand 85.3
    assert [(lack.least, lack.found) for lack in result.lacks] == [(Least.READINGS, 8)]


@pytest.mark.parametrize("rule", ["aha-ama", "esc"])
def test_example_2_with_the_first_day_there_are_just_enough(rule: str) -> None:
    result = _of(_EVENINGS_MISSING, rule)
    assert result.overall.readings == 12
    assert result.overall.systolic == Fraction(1672, 12)
    assert result.overall.diastolic == Fraction(1046, 12)
    assert _shown(result.overall) == (139.3, 87.2)
    assert result.morning.readings == 8
    assert result.enough


def test_example_2_by_halves_four_mornings_and_two_evenings_are_too_few() -> None:
    result = _of(_EVENINGS_MISSING, "jsh")
    assert (result.morning.occasions, result.evening.occasions) == (4, 2)
    assert result.morning.systolic == Fraction(1124, 8)
    assert result.morning.diastolic == Fraction(702, 8)
    assert _shown(result.morning) == (140.5, 87.8)
    assert result.evening.systolic == Fraction(548, 4)
    assert result.evening.diastolic == Fraction(344, 4)
    assert _shown(result.evening) == (137.0, 86.0)
    assert Least.MORNINGS_OR_EVENINGS in {lack.least for lack in result.lacks}


@pytest.mark.parametrize("rule", ["nice", "esh", "stergiou-2018", "ish", "722"])
def test_example_3_the_first_day_alone_gives_no_average_where_it_is_left_out(rule: str) -> None:
    result = _of(_DAY_ONE_ONLY, rule)
    assert result.overall == Mean(0, 0, None, None, None, None)
    assert not result.enough


@pytest.mark.parametrize("rule", ["aha-ama", "esc", "jsh"])
def test_example_3_the_first_day_alone_is_too_little_where_it_is_kept(rule: str) -> None:
    result = _of(_DAY_ONE_ONLY, rule)
    assert result.overall.readings == 4
    assert _shown(result.overall) == (152.0, 93.0)
    assert not result.enough


@pytest.mark.parametrize("rule", ["aha-ama", "esc"])
def test_example_4_three_full_days_are_the_exact_least_where_day_one_is_kept(rule: str) -> None:
    result = _of(_THREE_DAYS, rule)
    assert result.overall.readings == 12
    assert result.overall.systolic == Fraction(1600, 12)
    assert result.overall.diastolic == Fraction(1000, 12)
    assert _shown(result.overall) == (133.3, 83.3)
    assert result.enough


@pytest.mark.parametrize(
    ("rule", "lacking"),
    [
        ("esh", {Least.READINGS}),
        ("ish", {Least.READINGS}),
        ("stergiou-2018", {Least.DAYS, Least.READINGS}),
        ("nice", {Least.DAYS, Least.READINGS}),
    ],
)
def test_example_4_three_full_days_are_too_little_without_day_one(
    rule: str, lacking: set[Least]
) -> None:
    result = _of(_THREE_DAYS, rule)
    assert result.overall.systolic == Fraction(1052, 8)
    assert result.overall.diastolic == Fraction(660, 8)
    assert _shown(result.overall) == (131.5, 82.5)
    assert {lack.least for lack in result.lacks} == lacking


def test_example_4_three_days_are_too_few_for_japan() -> None:
    assert not _of(_THREE_DAYS, "jsh").enough


@pytest.mark.parametrize("rule", ["nice", "esh"])
def test_example_5_single_mornings_without_day_one_are_too_few(rule: str) -> None:
    result = _of(_MORNINGS_ONLY, rule)
    assert result.overall.readings == 6
    assert result.overall.systolic == Fraction(802, 6)
    assert result.overall.diastolic == Fraction(508, 6)
    assert _shown(result.overall) == (133.7, 84.7)
    assert not result.enough


def test_example_5_single_mornings_are_too_few_for_america() -> None:
    result = _of(_MORNINGS_ONLY, "aha-ama")
    assert result.overall.systolic == Fraction(940, 7)
    assert result.overall.diastolic == Fraction(592, 7)
    assert _shown(result.overall) == (134.3, 84.6)
    assert not result.enough


def test_example_5_seven_mornings_are_enough_for_japan_though_no_evening_is_there() -> None:
    result = _of(_MORNINGS_ONLY, "jsh")
    assert result.morning.systolic == Fraction(940, 7)
    assert result.morning.diastolic == Fraction(592, 7)
    assert result.evening.occasions == 0
    assert result.enough


@pytest.mark.parametrize(
    ("rule", "readings", "systolic", "diastolic"),
    [
        ("nice", 12, Fraction(1615, 12), Fraction(1017, 12)),
        ("stergiou-2018", 12, Fraction(1615, 12), Fraction(1017, 12)),
        ("aha-ama", 16, Fraction(2159, 16), Fraction(1357, 16)),
        ("esc", 16, Fraction(2159, 16), Fraction(1357, 16)),
    ],
)
def test_example_6_just_below_the_limit_is_shown_at_it_and_counts_as_high(
    rule: str, readings: int, systolic: Fraction, diastolic: Fraction
) -> None:
    result = _of(_AT_THE_LIMIT, rule)
    assert result.overall.readings == readings
    assert (result.overall.systolic, result.overall.diastolic) == (systolic, diastolic)
    assert systolic < 135
    assert (whole(systolic), whole(diastolic)) == (135, 85)
    assert result.overall.band is not None
    assert result.overall.band.least_systolic == 135
    assert result.enough


def test_example_7_all_three_readings_of_an_occasion_count() -> None:
    result = _of(_THREE_IN_ONE, "all")
    assert result.overall.occasions == 1
    assert result.overall.systolic == Fraction(426, 3) == 142
    assert result.overall.diastolic == Fraction(258, 3) == 86
