"""What a reading can be, which readings are taken together, and how means are rounded."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.readings import (
    Bpm,
    Half,
    ImpossibleReadingError,
    Mmhg,
    NaiveMomentError,
    Reading,
    half_of,
    local_day,
    occasions,
    spread_over_seconds,
    whole,
)

NOON = datetime(2026, 3, 10, 12, tzinfo=UTC)


def reading(
    systolic: int = 142,
    diastolic: int = 91,
    pulse: int | None = None,
    at: datetime = NOON,
) -> Reading:
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(diastolic),
        pulse=None if pulse is None else Bpm(pulse),
        at=at,
    )


@pytest.mark.parametrize(
    ("systolic", "diastolic", "pulse"),
    [
        (50, 20, None),
        (300, 200, None),
        (300, 20, None),
        (90, 80, None),
        (210, 200, None),
        (120, 80, 20),
        (120, 80, 250),
    ],
)
def test_the_ends_of_each_limit_can_be_a_reading(
    systolic: int, diastolic: int, pulse: int | None
) -> None:
    kept = reading(systolic, diastolic, pulse)
    assert (kept.systolic, kept.diastolic, kept.pulse) == (systolic, diastolic, pulse)


@pytest.mark.parametrize(
    ("systolic", "diastolic", "pulse", "named"),
    [
        (49, 20, None, "systolic"),
        (301, 90, None, "systolic"),
        (120, 19, None, "diastolic"),
        (300, 201, None, "diastolic"),
        (89, 80, None, "above diastolic"),
        (80, 120, None, "above diastolic"),
        (120, 80, 19, "pulse"),
        (120, 80, 251, "pulse"),
    ],
)
def test_one_beyond_a_limit_is_no_reading_and_the_error_names_the_limit(
    systolic: int, diastolic: int, pulse: int | None, named: str
) -> None:
    with pytest.raises(ImpossibleReadingError, match=named) as caught:
        reading(systolic, diastolic, pulse)
    assert f" {systolic} " not in str(caught.value), "a health value would reach the log"


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(NaiveMomentError):
        reading(at=datetime(2026, 3, 10, 12))  # noqa: DTZ001


@pytest.mark.parametrize(("seconds", "together"), [(0, 1), (599, 1), (600, 1), (601, 2), (3600, 2)])
def test_readings_up_to_exactly_ten_minutes_apart_are_one_occasion(
    seconds: int, together: int
) -> None:
    later = reading(138, 88, at=NOON + timedelta(seconds=seconds))
    assert len(occasions([later, reading()])) == together


def test_a_chain_of_short_gaps_is_one_occasion_however_long_it_lasts() -> None:
    chain = [reading(at=NOON + timedelta(minutes=10 * n)) for n in range(6)]
    assert [len(occasion.readings) for occasion in occasions(chain)] == [6]


def test_an_occasion_has_the_exact_mean_of_all_its_readings() -> None:
    three = [reading(152, 90, 70), reading(138, 84), reading(137, 85, 75)]
    (occasion,) = occasions(three)
    assert (occasion.systolic, occasion.diastolic) == (Fraction(427, 3), Fraction(259, 3))
    assert occasion.pulse == Fraction(145, 2)


def test_an_occasion_without_any_pulse_has_none() -> None:
    assert occasions([reading()])[0].pulse is None


def test_readings_of_one_moment_keep_their_order() -> None:
    first, second = reading(150, 90), reading(140, 80)
    assert occasions([first, second])[0].readings == (first, second)
    assert occasions([second, first])[0].readings == (second, first)


@given(st.lists(st.integers(0, 7200), max_size=30))
def test_every_reading_is_in_exactly_one_occasion_and_gaps_divide_them(offsets: list[int]) -> None:
    readings = [reading(at=NOON + timedelta(seconds=offset)) for offset in offsets]
    found = occasions(readings)
    assert sorted(r.at for o in found for r in o.readings) == sorted(r.at for r in readings)
    for before, after in itertools.pairwise(found):
        assert after.started - before.readings[-1].at > timedelta(minutes=10)


@pytest.mark.parametrize(
    ("clock", "half"),
    [
        ("03:59", Half.EVENING),
        ("04:00", Half.MORNING),
        ("11:59", Half.MORNING),
        ("12:00", Half.AFTERNOON),
        ("16:59", Half.AFTERNOON),
        ("17:00", Half.EVENING),
        ("00:00", Half.EVENING),
    ],
)
def test_halves_of_the_day_begin_at_four_twelve_and_seventeen(clock: str, half: Half) -> None:
    hour, minute = map(int, clock.split(":"))
    local = NOON.replace(hour=hour, minute=minute)
    assert half_of(local) is half


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (Fraction(269, 2), 135),
        (Fraction(1344, 10), 134),
        (Fraction(1349, 10), 135),
        (84, 84),
        (Fraction(1, 2), 1),
        (Fraction(0), 0),
    ],
)
def test_means_are_shown_rounded_half_up(value: Fraction | int, shown: int) -> None:
    assert whole(value) == shown


def test_a_day_is_the_date_on_the_persons_own_calendar() -> None:
    late = datetime(2026, 3, 10, 23, 30, tzinfo=UTC)
    assert local_day(late, ZoneInfo("Asia/Kolkata")).day == 11
    assert local_day(late, ZoneInfo("America/Halifax")).day == 10


def test_readings_of_one_message_are_spread_so_that_their_order_survives() -> None:
    three = spread_over_seconds([reading(150), reading(145), reading(140)], NOON)
    assert [r.systolic for r in three] == [150, 145, 140]
    assert [(NOON - r.at).seconds for r in three] == [2, 1, 0]
