"""When a rule has enough, and what is missing otherwise, as numbers."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.averaging import Lack, Least, average
from domain.averaging_rules import RULES
from domain.readings import Mmhg, Reading


def _reading(at: str) -> Reading:
    """A reading at a moment in UTC."""
    return Reading(
        systolic=Mmhg(130), diastolic=Mmhg(80), at=datetime.fromisoformat(at).replace(tzinfo=UTC)
    )


def _on_days(days: list[int], *, pairs: bool = True, clocks: str = "07:40 20:10") -> list[Reading]:
    """Readings, two a minute apart or one, at each clock time on these days of May."""
    return [
        _reading(f"2026-05-{day:02d}T{clock}:{second:02d}")
        for day in days
        for clock in clocks.split()
        for second in ((0, 59) if pairs else (0,))
    ]


@pytest.mark.parametrize(
    ("rule", "days", "clocks", "pairs", "lacks"),
    [
        ("nice", [4, 5, 6, 7], "07:40 20:10", True, []),
        ("nice", [4, 5, 6], "07:40 13:00 20:10", True, [(Least.DAYS, 4, 3)]),
        ("nice", [4, 5, 6, 7, 8], "07:40 20:10", False, [(Least.READINGS, 12, 8)]),
        ("esh", [4, 6, 8], "07:40 13:00 20:10", True, []),
        ("aha-ama", [4, 5, 6], "07:40 20:10", True, []),
        ("aha-ama", [4, 5, 7], "07:40 20:10", True, [(Least.CONSECUTIVE_DAYS, 3, 2)]),
        ("esc", [4, 5, 7], "07:40 20:10", True, []),
        ("aha-acc-2025", [4, 6, 7, 8], "07:40 20:10", True, []),
        ("722", [4, 5, 6, 7], "07:40 20:10", True, []),
        ("722", [4, 6, 7, 8, 9], "07:40 20:10", True, []),
        ("722", [4, 5, 7, 8], "07:40 20:10", True, [(Least.CONSECUTIVE_DAYS, 4, 2)]),
        ("acc-aha-2017", [4], "07:40 20:10", True, []),
        ("acc-aha-2017", [4], "07:40", True, [(Least.REPEATED_OCCASIONS, 2, 1)]),
        ("acc-aha-2017", [4, 5, 6], "07:40", False, [(Least.REPEATED_OCCASIONS, 2, 0)]),
        ("jsh", [4, 5, 6, 7, 8], "20:10", False, []),
        ("all", [4], "13:00", False, []),
    ],
)
def test_enough_is_every_least_number_of_the_rule(
    rule: str, days: list[int], clocks: str, pairs: bool, lacks: list[tuple[Least, int, int]]
) -> None:
    result = average(_on_days(days, clocks=clocks, pairs=pairs), RULES[rule])
    assert list(result.lacks) == [Lack(*lack) for lack in lacks]
    assert result.enough == (not lacks)


def test_four_mornings_and_four_evenings_on_eight_dates_are_not_five_of_either() -> None:
    readings = [
        *_on_days([4, 5, 6], clocks="07:40"),
        *_on_days([7, 8, 9, 10], clocks="20:10"),
    ]
    result = average(readings, RULES["jsh"])
    assert result.lacks == (Lack(Least.MORNINGS_OR_EVENINGS, 5, 4),)


def test_two_morning_occasions_of_one_date_are_one_morning() -> None:
    result = average(_on_days([4, 5, 6, 7], clocks="07:40 09:00"), RULES["jsh"])
    assert Lack(Least.MORNINGS_OR_EVENINGS, 5, 4) in result.lacks


def test_a_repeated_reading_does_not_make_an_occasion_of_two() -> None:
    readings = _on_days([4, 5], pairs=False, clocks="07:40") * 2
    assert not average(readings, RULES["acc-aha-2017"]).enough


def test_the_day_left_out_counts_among_the_days_but_its_readings_do_not() -> None:
    result = average(_on_days([4, 5, 6, 7]), RULES["nice"])
    assert result.enough
    assert len(result.days) == 3
    assert result.overall.readings == 12


def test_an_afternoon_day_counts_for_no_rule_by_halves() -> None:
    readings = [
        *_on_days([4, 5, 7]),
        *_on_days([6], clocks="13:00"),
    ]
    result = average(readings, RULES["722"])
    assert result.lacks[0] == Lack(Least.CONSECUTIVE_DAYS, 4, 2)
