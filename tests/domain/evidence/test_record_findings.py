"""What is worth a word in a record: around every threshold, and in which order."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest

from domain.evidence.days import Pressure
from domain.evidence.quality import THRESHOLDS, Finding, Kind, Strength, findings
from domain.evidence.record import record_of
from domain.readings import Arm, Bpm, Mmhg, Reading
from domain.record_quality import Cause

BEGAN = datetime(2026, 3, 2, 7, tzinfo=UTC)


def occasion(
    number: int,
    pause: float = 75,
    *,
    fall: int = 2,
    single: bool = False,
    arm: Arm | None = None,
    same: bool = False,
) -> list[Reading]:
    """One morning's readings, unlike those of the other mornings."""
    chance = random.Random(number)
    systolic, diastolic = 131 + chance.randrange(18), 78 + chance.randrange(9)
    at = BEGAN + timedelta(days=number)

    def one(top: int, low: int, seconds: float) -> Reading:
        moment = at + timedelta(seconds=seconds)
        return Reading(systolic=Mmhg(top), diastolic=Mmhg(low), at=moment, arm=arm)

    first = one(systolic, diastolic, 0)
    if single:
        return [first]
    second = (systolic, diastolic) if same else (systolic - fall, diastolic + 1)
    return [first, one(*second, pause)]


def found(*groups: Sequence[Reading], asked: int | None = None) -> tuple[Finding, ...]:
    return findings(record_of([r for group in groups for r in group], asked=asked))


def kinds(*groups: Sequence[Reading], asked: int | None = None) -> list[Kind]:
    return [one.kind for one in found(*groups, asked=asked)]


def test_a_good_record_has_no_findings() -> None:
    assert kinds(*map(occasion, range(14)), asked=14) == []


def test_no_readings_at_all_are_only_missing() -> None:
    assert found(asked=None) == ()
    (only,) = found(asked=14)
    assert (only.kind, only.count, only.of, only.strength) == (
        Kind.INCOMPLETE,
        0,
        14,
        Strength.MUCH,
    )
    assert only.effect == math.inf


@pytest.mark.parametrize(
    ("done", "strength"),
    [
        (22, None),  # 6 of 28 missing, 21 %
        (21, Strength.SOME),  # 25 %
        (13, Strength.SOME),  # 54 %
        (12, Strength.MUCH),  # 57 %: 12 of 28
        (30, None),  # more than asked for
    ],
)
def test_missing_occasions_are_told_from_a_quarter_on(done: int, strength: Strength | None) -> None:
    told = found(*map(occasion, range(done)), asked=28)

    assert [one.strength for one in told] == ([strength] if strength else [])
    assert all(one.count == done for one in told)


@pytest.mark.parametrize(
    ("pause", "told"),
    [(14.9, False), (15, True), (20, True), (59.9, True), (60, False), (75, False)],
)
def test_second_readings_before_a_full_minute_are_told_with_their_pause(
    pause: float, told: bool
) -> None:
    short = found(*(occasion(n, pause) for n in range(8)))

    assert [one.kind for one in short] == ([Kind.SHORT_PAUSES] if told else [])
    if told:
        assert short[0].seconds == pytest.approx(pause)
        assert short[0].cause is Cause.NO_FULL_MINUTE
        assert (short[0].count, short[0].of, short[0].strength) == (8, 8, Strength.MUCH)


@pytest.mark.parametrize(
    ("short", "of", "strength"),
    [
        (2, 4, None),  # too few of them
        (3, 16, None),  # 19 %
        (3, 15, Strength.SOME),  # 20 %
        (7, 15, Strength.SOME),  # 47 %
        (7, 14, Strength.MUCH),  # 50 %
    ],
)
def test_a_share_must_be_reached_and_a_count(
    short: int, of: int, strength: Strength | None
) -> None:
    pauses = [20.0] * short + [75.0] * (of - short)

    told = found(*(occasion(n, pause) for n, pause in enumerate(pauses)))

    assert [one.strength for one in told] == ([strength] if strength else [])


@pytest.mark.parametrize(("single", "told"), [(2, False), (3, True)])
def test_single_readings_are_told(single: int, told: bool) -> None:
    groups = [occasion(n, single=n < single) for n in range(10)]

    assert kinds(*groups) == ([Kind.SINGLE] if told else [])


@pytest.mark.parametrize(
    ("fall", "strength"),
    [(2, None), (3, None), (6, Strength.SOME), (10, Strength.SOME), (11, Strength.MUCH)],
)
def test_a_second_reading_lower_than_usual_speaks_of_a_short_rest(
    fall: int, strength: Strength | None
) -> None:
    told = found(*(occasion(n, fall=fall) for n in range(10)))

    assert [one.strength for one in told] == ([strength] if strength else [])
    for one in told:
        assert one.kind is Kind.FALLING
        assert one.fall is not None
        assert 3 < one.fall.low < one.fall.estimate == pytest.approx(fall)


def test_a_fall_that_differs_much_from_day_to_day_is_not_told() -> None:
    falls = [20, -9, 18, -8, 16, -6]

    assert Kind.FALLING not in kinds(*(occasion(n, fall=fall) for n, fall in enumerate(falls)))


def test_a_fall_after_too_short_a_pause_says_nothing_of_the_rest() -> None:
    assert kinds(*(occasion(n, 20, fall=9) for n in range(10))) == [Kind.SHORT_PAUSES]


@pytest.mark.parametrize(
    ("arms", "told"),
    [
        ("LRRRRRRRRR", False),  # both were compared at the start
        ("LRLLLLLLLL", True),
        ("LLLLLLLLLL", False),
        ("LRLRLRLRLR", True),
        ("..........", False),
    ],
)
def test_changes_of_the_arm_are_told_but_not_the_first_one(arms: str, told: bool) -> None:
    names = {"L": Arm.LEFT, "R": Arm.RIGHT, ".": None}

    groups = [occasion(n, arm=names[arm]) for n, arm in enumerate(arms)]

    assert kinds(*groups) == ([Kind.ARM_CHANGES] if told else [])


@pytest.mark.parametrize(("same", "told"), [(3, False), (4, True)])
def test_equal_readings_one_after_the_other_are_told(same: int, told: bool) -> None:
    groups = [occasion(n, same=n < same) for n in range(12)]

    assert kinds(*groups) == ([Kind.REPEATED] if told else [])


def test_equal_numbers_with_another_pulse_are_no_repetition() -> None:
    groups = [
        [
            Reading(systolic=one.systolic, diastolic=one.diastolic, pulse=Bpm(pulse), at=one.at)
            for one, pulse in zip(occasion(n, same=True), (61, 64), strict=True)
        ]
        for n in range(12)
    ]

    assert record_of([r for group in groups for r in group], asked=None).same == 0


def test_rounded_numbers_are_told_of_both_and_their_repetitions_are_not() -> None:
    groups = [
        [
            Reading(systolic=Mmhg(120 + 10 * (n % 3)), diastolic=Mmhg(80 + 10 * (n % 2)), at=r.at)
            for r in occasion(n)
        ]
        for n in range(40)
    ]

    told = found(*groups)

    assert [(one.kind, one.pressure) for one in told] == [
        (Kind.ROUNDED, Pressure.SYSTOLIC),
        (Kind.ROUNDED, Pressure.DIASTOLIC),
    ]
    assert {one.strength for one in told} == {Strength.MUCH}


def test_what_may_move_the_average_most_stands_first() -> None:
    groups = [occasion(n, 20, arm=(Arm.LEFT, Arm.RIGHT)[n % 2]) for n in range(6)]

    told = found(*groups, asked=28)

    assert [one.kind for one in told] == [Kind.INCOMPLETE, Kind.ARM_CHANGES, Kind.SHORT_PAUSES]
    effects = [one.effect for one in told]
    assert effects == sorted(effects, reverse=True)


def test_every_threshold_has_a_source_and_rises() -> None:
    for row in THRESHOLDS.values():
        assert row.source
        assert 0 < row.some < row.much <= 1
