"""What a rule keeps and leaves out, and how it weighs.

When there is enough is in test_enough_readings.py; the worked examples with their published
rules are in tests/outside/test_averaging_examples.py; random series against a slow second
implementation in test_averaging_by_reference.py.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from domain.averaging import (
    Average,
    Mean,
    Why,
    average,
    band_of_means,
    printed,
)
from domain.averaging_rules import RULES, Counted, MeanOf, Rule
from domain.bands import BAND_TABLES, Guideline
from domain.readings import Arm, Bpm, Mmhg, Reading, Setting
from domain.sources import Status

_NEW_YORK = ZoneInfo("America/New_York")
_LISBON = ZoneInfo("Europe/Lisbon")


def _reading(
    at: str, systolic: int = 130, diastolic: int = 80, pulse: int | None = None
) -> Reading:
    """A reading; `at` in UTC where no offset is written."""
    moment = datetime.fromisoformat(at)
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(diastolic),
        pulse=None if pulse is None else Bpm(pulse),
        at=moment if moment.tzinfo else moment.replace(tzinfo=UTC),
    )


def _on_days(days: list[int], *, pairs: bool = True, clocks: str = "07:40 20:10") -> list[Reading]:
    """Readings, two a minute apart or one, at each clock time on these days of May."""
    return [
        _reading(f"2026-05-{day:02d}T{clock}:{second:02d}")
        for day in days
        for clock in clocks.split()
        for second in ((0, 59) if pairs else (0,))
    ]


def _whys(result: Average) -> list[tuple[int, str]]:
    return [(out.place, out.why.value) for out in result.left_out]


# --- the rows


def test_the_rules_are_the_eleven_that_people_may_name() -> None:
    names = "nice esh stergiou-2018 esc aha-ama acc-aha-2017 aha-acc-2025 jsh ish 722 all"
    assert list(RULES) == names.split()


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.name)
def test_every_rule_has_a_source_a_status_and_a_guideline_with_bands(rule: Rule) -> None:
    assert rule.source
    assert rule.guideline in BAND_TABLES
    assert rule.remark or rule.status is Status.CONFIRMED


@pytest.mark.parametrize(
    ("name", "days", "consecutive", "first_day_left_out", "least_kept", "guideline"),
    [
        ("nice", 4, False, True, 12, "NICE NG136"),
        ("esh", 3, False, True, 12, "ESH 2021"),
        ("stergiou-2018", 4, False, True, 12, "ESH 2021"),
        ("esc", 3, False, False, 12, "ESC 2024"),
        ("aha-ama", 3, True, False, 12, "ACC/AHA 2017"),
        ("acc-aha-2017", 1, False, False, 2, "ACC/AHA 2017"),
        ("aha-acc-2025", 3, True, False, 12, "AHA/ACC 2025"),
        ("jsh", 5, False, False, 5, "JSH 2019"),
        ("ish", 3, False, True, 12, "ISH 2020"),
        ("722", 4, True, True, 12, "ISH 2020"),
        ("all", 1, False, False, 1, "ISH 2020"),
    ],
)
def test_the_numbers_of_each_rule(
    name: str,
    days: int,
    consecutive: bool,
    first_day_left_out: bool,
    least_kept: int,
    guideline: str,
) -> None:
    rule = RULES[name]
    assert (rule.least_days, rule.consecutive) == (days, consecutive)
    assert (rule.leave_out_first_day, rule.least_kept) == (first_day_left_out, least_kept)
    assert rule.guideline.value == guideline
    assert rule.week_days == (None if name == "all" else 7)
    assert rule.by_halves == (name in {"jsh", "722"})
    assert (rule.mean_of is MeanOf.OCCASIONS) == (name == "jsh")
    counted = {
        "jsh": Counted.MORNINGS_OR_EVENINGS,
        "acc-aha-2017": Counted.REPEATED_OCCASIONS,
    }
    assert rule.counted is counted.get(name, Counted.READINGS)


# --- duplicates


def test_the_same_moment_and_numbers_again_are_left_out_whatever_the_offset() -> None:
    readings = [
        _reading("2026-05-04T10:30:00+00:00", 138, 86),
        _reading("2026-05-04T07:30:00-03:00", 138, 86),
    ]
    result = average(readings, RULES["all"])
    assert _whys(result) == [(1, "duplicate")]
    assert result.left_out[0].reading is readings[1]


@pytest.mark.parametrize(
    "other",
    [
        _reading("2026-05-04T07:30:00", 139, 86, 60),
        _reading("2026-05-04T07:30:00", 138, 85, 60),
        _reading("2026-05-04T07:30:00", 138, 86, 61),
        _reading("2026-05-04T07:30:00", 138, 86),
        _reading("2026-05-04T07:30:00.000001", 138, 86, 60),
    ],
)
def test_what_differs_in_a_number_or_the_moment_is_another_reading(other: Reading) -> None:
    result = average([_reading("2026-05-04T07:30:00", 138, 86, 60), other], RULES["all"])
    assert result.overall.readings == 2


def test_a_missing_pulse_equals_a_missing_pulse() -> None:
    readings = [_reading("2026-05-04T07:30:00")] * 2
    assert _whys(average(readings, RULES["all"])) == [(1, "duplicate")]


def test_the_arm_does_not_make_another_reading() -> None:
    reading = _reading("2026-05-04T07:30:00")
    result = average([reading, replace(reading, arm=Arm.LEFT)], RULES["all"])
    assert _whys(result) == [(1, "duplicate")]


def test_a_duplicate_is_called_one_also_before_the_week_and_on_the_first_day() -> None:
    early = _reading("2026-05-01T07:30:00")
    first = _reading("2026-05-04T07:30:00")
    last = _reading("2026-05-10T07:30:00")
    result = average([last, first, first, early, early], RULES["nice"])
    assert _whys(result) == [
        (3, "before_week"),
        (4, "duplicate"),
        (1, "first_day"),
        (2, "duplicate"),
    ]


# --- occasions, days and halves


@pytest.mark.parametrize(
    ("second", "occasions"),
    [("07:40:00", 1), ("07:40:00.000001", 2), ("07:39:59", 1), ("07:40:01", 2)],
)
def test_exactly_ten_minutes_still_belong_together(second: str, occasions: int) -> None:
    readings = [_reading("2026-05-04T07:30:00"), _reading(f"2026-05-04T{second}", 131)]
    assert average(readings, RULES["all"]).overall.occasions == occasions


def test_a_chain_of_readings_may_last_longer_than_ten_minutes() -> None:
    readings = [_reading(f"2026-05-04T07:{minute}:00") for minute in (30, 39, 48, 57)]
    assert average(readings, RULES["all"]).overall.occasions == 1


@pytest.mark.parametrize(
    ("clock", "half"),
    [
        ("03:59:59.999999", "evening"),
        ("04:00:00", "morning"),
        ("11:59:59.999999", "morning"),
        ("12:00:00", None),
        ("16:59:59.999999", None),
        ("17:00:00", "evening"),
        ("23:59:59", "evening"),
        ("00:00:00", "evening"),
    ],
)
def test_the_halves_begin_at_their_hour_and_end_before_the_next(
    clock: str, half: str | None
) -> None:
    at = f"2026-05-04T{clock}+05:30"
    result = average([_reading(at)], RULES["all"])
    assert result.morning.readings == (half == "morning")
    assert result.evening.readings == (half == "evening")
    by_halves = average([_reading(at)], RULES["jsh"])
    assert [out.why for out in by_halves.left_out] == ([] if half else [Why.AFTERNOON])


def test_an_occasion_over_a_limit_belongs_whole_to_where_it_began() -> None:
    over_noon = [_reading("2026-05-04T11:59:00"), _reading("2026-05-04T12:01:00")]
    assert average(over_noon, RULES["jsh"]).morning.readings == 2
    over_midnight = [_reading("2026-05-04T23:55:00"), _reading("2026-05-05T00:01:00")]
    result = average(over_midnight, RULES["all"])
    assert [day.isoformat() for day in result.days] == ["2026-05-04"]


def test_an_occasion_after_midnight_is_evening_of_the_date_on_which_it_lies() -> None:
    result = average([_reading("2026-05-05T00:30:00")], RULES["all"])
    assert result.evening.readings == 1
    assert [day.isoformat() for day in result.days] == ["2026-05-05"]


def test_without_a_zone_each_reading_goes_by_its_own_offset() -> None:
    readings = [_reading("2026-05-04T23:30:00-03:00"), _reading("2026-05-05T08:00:00+01:00")]
    result = average(readings, RULES["all"])
    assert [day.isoformat() for day in result.days] == ["2026-05-04", "2026-05-05"]
    assert (result.morning.readings, result.evening.readings) == (1, 1)


def test_with_a_zone_the_moment_is_seen_from_there() -> None:
    readings = [_reading("2026-05-05T02:30:00+00:00")]
    result = average(readings, RULES["all"], ZoneInfo("America/Halifax"))
    assert [day.isoformat() for day in result.days] == ["2026-05-04"]
    assert result.used[0].local == datetime(2026, 5, 4, 23, 30)  # noqa: DTZ001


def test_an_occasion_over_a_change_of_clocks_is_measured_in_real_minutes() -> None:
    """01:58 and 03:02 summer time are four minutes apart, whatever the clock on the wall says."""
    before = datetime(2026, 3, 8, 1, 58, tzinfo=_NEW_YORK)
    after = datetime(2026, 3, 8, 3, 2, tzinfo=_NEW_YORK)
    readings = [replace(_reading("2026-05-04T07:30:00"), at=at) for at in (before, after)]
    assert average(readings, RULES["all"], _NEW_YORK).overall.occasions == 1
    assert average(readings, RULES["all"]).overall.occasions == 1


def test_the_hour_that_comes_twice_is_two_hours() -> None:
    first = datetime(2026, 10, 25, 1, 30, tzinfo=_LISBON)
    readings = [replace(_reading("2026-05-04T07:30:00"), at=first.replace(fold=f)) for f in (0, 1)]
    result = average(readings, RULES["all"], _LISBON)
    assert result.overall.occasions == 2
    assert result.left_out == ()


def test_a_time_in_the_gap_is_counted_with_the_offset_before_the_change() -> None:
    missing = datetime(2026, 3, 8, 2, 30, tzinfo=_NEW_YORK)
    result = average([replace(_reading("2026-05-04T07:30:00"), at=missing)], RULES["all"])
    assert result.used[0].local == datetime(2026, 3, 8, 3, 30)  # noqa: DTZ001


# --- week and first day


def test_the_week_is_the_seven_dates_that_end_with_the_last_one() -> None:
    result = average(_on_days([4, 5, 11], pairs=False, clocks="07:40"), RULES["esc"])
    assert _whys(result) == [(0, "before_week")]
    assert [day.day for day in result.days] == [5, 11]


def test_every_reading_has_no_week() -> None:
    readings = [_reading("2020-01-01T07:40:00"), _reading("2026-05-04T07:40:00")]
    assert average(readings, RULES["all"]).left_out == ()


def test_the_first_day_is_the_first_date_within_the_week_with_an_occasion() -> None:
    result = average(_on_days([4, 6, 11], pairs=False, clocks="07:40"), RULES["nice"])
    assert _whys(result) == [(0, "before_week"), (1, "first_day")]
    assert result.first_day is not None
    assert result.first_day.day == 6


def test_a_plan_begun_late_in_the_evening_still_loses_that_day() -> None:
    readings = [_reading("2026-05-04T23:59:00"), _reading("2026-05-05T07:40:00")]
    assert _whys(average(readings, RULES["nice"])) == [(0, "first_day")]


def test_readings_of_the_first_days_occasion_after_midnight_are_lost_with_it() -> None:
    readings = [_reading("2026-05-04T23:59:00"), _reading("2026-05-05T00:01:00", 131)]
    assert _whys(average(readings, RULES["nice"])) == [(0, "first_day"), (1, "first_day")]


def test_an_afternoon_can_be_the_first_day_of_a_rule_by_halves() -> None:
    readings = [_reading("2026-05-04T14:00:00"), *_on_days([5, 6, 7])]
    result = average(readings, RULES["722"])
    assert _whys(result)[0] == (0, "first_day")
    assert result.overall.readings == 12
    assert result.enough


def test_a_week_that_ends_in_the_first_days_of_the_calendar_has_no_earlier_date() -> None:
    at = datetime(1, 1, 3, 8, tzinfo=UTC)
    result = average([replace(_reading("2026-05-04T07:30:00"), at=at)], RULES["esc"])
    assert result.overall.readings == 1


def test_the_order_of_left_out_readings_is_that_of_their_moments_then_of_their_places() -> None:
    readings = [
        _reading("2026-05-04T08:00:00"),
        _reading("2026-05-04T07:00:00", 131),
        _reading("2026-05-04T07:00:00", 120),
    ]
    assert [place for place, _ in _whys(average(readings, RULES["nice"]))] == [1, 2, 0]


# --- means


def test_readings_weigh_the_same_but_for_japan_occasions_do() -> None:
    readings = [
        _reading("2026-05-04T07:30:00", 150, 90, 60),
        _reading("2026-05-04T07:31:00", 140, 80),
        _reading("2026-05-04T07:32:00", 130, 70, 80),
        _reading("2026-05-05T07:30:00", 120, 75, 90),
        _reading("2026-05-06T07:30:00", 121, 75),
    ]
    flat = average(readings, RULES["esc"]).overall
    assert (flat.systolic, flat.diastolic, flat.pulse) == (
        Fraction(661, 5),
        Fraction(390, 5),
        Fraction(230, 3),
    )
    by_occasion = average(readings, RULES["jsh"]).overall
    assert (by_occasion.systolic, by_occasion.diastolic, by_occasion.pulse) == (
        Fraction(381, 3),
        Fraction(230, 3),
        Fraction(160, 2),
    )


def test_a_pulse_is_none_when_no_reading_has_one() -> None:
    assert average([_reading("2026-05-04T07:30:00")], RULES["all"]).overall.pulse is None


def test_no_readings_give_no_means_and_never_enough() -> None:
    for rule in RULES.values():
        result = average([], rule)
        nothing = Mean(0, 0, None, None, None, None)
        assert (result.overall, result.morning, result.evening) == (nothing, nothing, nothing)
        assert result.days == ()
        assert not result.enough


@pytest.mark.parametrize(
    ("exact", "shown"),
    [
        (Fraction(13425, 100), 134.2),
        (Fraction(13435, 100), 134.4),
        (Fraction(13445, 100), 134.4),
        (Fraction(8525, 100), 85.2),
        (Fraction(134250001, 1000000), 134.3),
        (Fraction(1615, 12), 134.6),
        (Fraction(84), 84.0),
    ],
)
def test_one_decimal_is_shown_half_to_even_from_the_exact_value(
    exact: Fraction, shown: float
) -> None:
    assert float(printed(exact)) == shown


@pytest.mark.parametrize(
    ("systolic", "diastolic", "name"),
    [
        (Fraction(1345, 10), Fraction(80), "hypertension"),
        (Fraction(13445, 100), Fraction(80), "not_hypertension"),  # shown as 134.4
        (Fraction(134451, 1000), Fraction(80), "hypertension"),  # shown as 134.5
        (Fraction(1344, 10), Fraction(845, 10), "hypertension"),
        (Fraction(1344, 10), Fraction(8444, 100), "not_hypertension"),
    ],
)
def test_the_band_is_that_of_the_numbers_that_are_shown(
    systolic: Fraction, diastolic: Fraction, name: str
) -> None:
    assert band_of_means(Guideline.ISH_2020, systolic, diastolic).name == name


def test_by_halves_the_higher_half_decides_though_the_whole_is_lower() -> None:
    readings = [_reading("2026-05-04T07:30:00", 138), _reading("2026-05-04T20:00:00", 120)]
    result = average(readings, RULES["jsh"])
    assert result.overall.systolic == 129
    assert [m.band and m.band.name for m in (result.overall, result.morning, result.evening)] == [
        "grade_1",
        "grade_1",
        "elevated",
    ]


def test_a_used_occasion_shows_its_readings_and_their_places() -> None:
    later = _reading("2026-05-04T07:31:00-04:00", 131)
    sooner = _reading("2026-05-04T07:30:00-04:00")
    (used,) = average([later, sooner], RULES["all"]).used
    assert used.places == (1, 0)
    assert used.occasion.readings == (sooner, later)
    assert used.occasion.started - sooner.at == timedelta(0)


# --- taken at the clinic


def _at_clinic(at: str, systolic: int = 170, diastolic: int = 100) -> Reading:
    return replace(_reading(at, systolic, diastolic), setting=Setting.CLINIC)


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.name)
def test_what_was_taken_at_the_clinic_is_in_no_average_and_said_to_be_left_out(rule: Rule) -> None:
    home = _on_days([1, 2, 3, 4, 5, 6, 7])
    clinic = [_at_clinic("2026-05-03T07:40:30"), _at_clinic("2026-05-09T11:00")]

    found = average([clinic[0], *home, clinic[1]], rule)
    without = average(home, rule)

    assert (found.overall, found.morning, found.evening) == (
        without.overall,
        without.morning,
        without.evening,
    )
    assert (found.first_day, found.lacks, found.days) == (
        without.first_day,
        without.lacks,
        without.days,
    )
    assert [out.reading for out in found.left_out if out.why is Why.CLINIC] == clinic


def test_a_visit_to_the_clinic_makes_no_last_day_of_the_week() -> None:
    found = average([*_on_days([1]), _at_clinic("2026-05-20T11:00")], RULES["aha-ama"])

    assert _whys(found) == [(4, "clinic")]


def test_a_reading_at_home_is_no_repeat_of_one_at_the_clinic() -> None:
    found = average(
        [_at_clinic("2026-05-01T08:00", 140, 85), _reading("2026-05-01T08:00", 140, 85)],
        RULES["all"],
    )

    assert _whys(found) == [(0, "clinic")]
    assert found.overall.readings == 1


def test_from_the_clinic_alone_there_is_no_average() -> None:
    found = average([_at_clinic("2026-05-01T08:00")], RULES["all"])

    assert (found.overall.systolic, found.enough) == (None, False)
