"""Daily values: what a day is, what belongs to its halves, and which days are comparable."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from domain.averaging import LocalOccasion
from domain.evidence.days import Days, Means, Part, Pressure, daily_values
from domain.readings import Bpm, Half, Mmhg, Reading
from domain.shown import local_occasions

_MADRID = ZoneInfo("Europe/Madrid")


def _reading(at: str, systolic: int = 130, diastolic: int = 80, pulse: int = 0) -> Reading:
    """A reading at a clock time in Madrid."""
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(diastolic),
        pulse=Bpm(pulse) if pulse else None,
        at=datetime.fromisoformat(at).replace(tzinfo=_MADRID),
    )


def _months(mornings: range, evenings: range) -> Days:
    """Days of May with a morning, an evening or both."""
    readings = [_reading(f"2026-05-{day:02d}T08:00") for day in mornings]
    readings += [_reading(f"2026-05-{day:02d}T20:00", 120) for day in evenings]
    return daily_values(readings, _MADRID)


def test_a_day_is_the_mean_of_its_readings() -> None:
    days = daily_values(
        [
            _reading("2026-05-04T08:00", 140, 90),
            _reading("2026-05-04T08:02", 138, 88),
            _reading("2026-05-04T20:00", 130, 80),
            _reading("2026-05-04T14:00", 132, 82),
            _reading("2026-05-06T08:00", 120, 70),
        ],
        _MADRID,
    )
    assert days.days.tolist() == [date(2026, 5, d).toordinal() for d in (4, 6)]
    assert days.whole.systolic.tolist() == [135, 120]
    assert days.whole.diastolic.tolist() == [85, 70]
    assert days.whole.readings.tolist() == [4, 1]
    assert days.whole.occasions.tolist() == [3, 1]
    assert days.morning.systolic.tolist() == [139, 120]
    assert days.evening.systolic[0] == 130
    assert np.isnan(days.evening.systolic[1])
    assert days.series(Pressure.PULSE_PRESSURE).values.tolist() == [50, 50]
    assert days.series(Pressure.SYSTOLIC, Part.EVENING).days.tolist() == days.days[:1].tolist()


def test_no_readings_are_no_days() -> None:
    days = daily_values([], _MADRID)
    assert len(days) == 0
    assert len(days.series(Pressure.SYSTOLIC, days.comparable_part())) == 0
    assert len(days.between(date(2026, 5, 1), None)) == 0


@pytest.mark.parametrize(
    ("again", "readings"),
    [
        (_reading("2026-05-04T08:00", 140, 90, 70), 1),
        (_reading("2026-05-04T08:00", 140, 90, 71), 2),
        (_reading("2026-05-04T08:00", 140, 91, 70), 2),
        (_reading("2026-05-04T08:00:01", 140, 90, 70), 2),
    ],
)
def test_only_an_equal_reading_of_the_same_moment_is_a_repeat(
    again: Reading, readings: int
) -> None:
    first = _reading("2026-05-04T08:00", 140, 90, 70)
    days = daily_values([first, _reading("2026-05-04T08:00", 120, 80), again], _MADRID)
    assert days.whole.readings.tolist() == [readings + 1]


@pytest.mark.parametrize(
    ("clocks", "days", "occasions"),
    [
        (("23:55", "00:05"), [4], [1]),
        (("23:54:59", "00:05"), [4, 5], [1, 1]),
    ],
)
def test_an_occasion_over_midnight_belongs_to_the_day_of_its_first_reading(
    clocks: tuple[str, str], days: list[int], occasions: list[int]
) -> None:
    late, early = clocks
    found = daily_values([_reading(f"2026-05-05T{early}"), _reading(f"2026-05-04T{late}")], _MADRID)
    assert found.days.tolist() == [date(2026, 5, d).toordinal() for d in days]
    assert found.evening.occasions.tolist() == occasions


@pytest.mark.parametrize(
    ("clock", "half"),
    [
        ("03:59:59", Half.EVENING),
        ("04:00", Half.MORNING),
        ("11:59:59", Half.MORNING),
        ("12:00", Half.AFTERNOON),
        ("16:59:59", Half.AFTERNOON),
        ("17:00", Half.EVENING),
        ("00:00", Half.EVENING),
    ],
)
def test_halves_begin_where_the_program_says(clock: str, half: Half) -> None:
    days = daily_values([_reading(f"2026-05-04T{clock}")], _MADRID)
    assert (days.morning.readings[0] == 1) == (half is Half.MORNING)
    assert (days.evening.readings[0] == 1) == (half is Half.EVENING)


@pytest.mark.parametrize("zone", ["Europe/Madrid", "America/New_York", "Asia/Kathmandu"])
def test_daily_values_agree_with_the_occasions_of_the_averages(zone: str) -> None:
    home, chance = ZoneInfo(zone), random.Random(zone)
    begin = datetime(2026, 3, 20, tzinfo=UTC)
    readings = [
        Reading(
            systolic=Mmhg(chance.randrange(110, 170)),
            diastolic=Mmhg(chance.randrange(60, 95)),
            at=(begin + timedelta(minutes=chance.randrange(20_000))).astimezone(
                chance.choice([UTC, home, _MADRID])
            ),
        )
        for _ in range(1500)
    ]
    readings += readings[:40]
    chance.shuffle(readings)
    days = daily_values(readings, home)
    found = local_occasions(readings, home)
    assert days.days.tolist() == sorted({one.day.toordinal() for one in found})
    for place, ordinal in enumerate(days.days.tolist()):
        today = [one for one in found if one.day.toordinal() == ordinal]
        _check(days.whole, place, today)
        _check(days.morning, place, [one for one in today if one.half is Half.MORNING])
        _check(days.evening, place, [one for one in today if one.half is Half.EVENING])


def _check(means: Means, place: int, found: list[LocalOccasion]) -> None:
    readings = [reading for one in found for reading in one.occasion.readings]
    assert means.occasions[place] == len(found)
    assert means.readings[place] == len(readings)
    if readings:
        mean = sum(r.systolic for r in readings) / len(readings)
        assert means.systolic[place] == pytest.approx(mean)
        mean = sum(r.diastolic for r in readings) / len(readings)
        assert means.diastolic[place] == pytest.approx(mean)
    else:
        assert np.isnan(means.systolic[place])


@pytest.mark.parametrize(
    ("mornings", "evenings", "part"),
    [
        (range(1, 11), range(1, 11), Part.BOTH),
        (range(1, 11), range(1, 9), Part.BOTH),
        (range(1, 11), range(1, 8), Part.MORNING),
        (range(1, 4), range(1, 11), Part.EVENING),
        (range(1, 6), range(6, 11), Part.MORNING),
    ],
)
def test_days_are_compared_by_the_part_that_most_of_them_have(
    mornings: range, evenings: range, part: Part
) -> None:
    assert _months(mornings, evenings).comparable_part() is part


def test_days_that_have_mostly_afternoons_are_compared_as_they_are() -> None:
    readings = [_reading(f"2026-05-{day:02d}T14:00") for day in range(1, 11)]
    readings.append(_reading("2026-05-01T08:00"))
    assert daily_values(readings, _MADRID).comparable_part() is Part.WHOLE


@pytest.mark.parametrize(
    ("first", "last", "kept"),
    [(None, None, 10), (3, None, 8), (None, 3, 3), (3, 3, 1), (11, None, 0)],
)
def test_days_are_cut_with_both_ends_included(
    first: int | None, last: int | None, kept: int
) -> None:
    days = _months(range(1, 11), range(1, 11))
    cut = days.between(
        date(2026, 5, first) if first else None, date(2026, 5, last) if last else None
    )
    assert len(cut) == kept
    assert len(cut.series(Pressure.SYSTOLIC, Part.BOTH)) == kept
