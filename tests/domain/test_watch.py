"""What is no alarm: readings far from the person's own, a series that rises, repeated marks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain import watch
from domain.readings import Bpm, Mmhg, Reading, Setting
from domain.watch import Heading, findings

ZONE = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 3, 30, 7, tzinfo=UTC)


def reading(systolic: int, diastolic: int = 78, *, days: int = 0, minutes: int = 0) -> Reading:
    at = NOW - timedelta(days=days, minutes=minutes)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at)


def earlier(count: int = 12, days: int = 3) -> list[Reading]:
    """So many readings of 130/78, spread over so many days before today."""
    return [reading(130, days=1 + n % days, minutes=n) for n in range(count)]


# --- far from the own


@pytest.mark.parametrize(
    ("pair", "far"),
    [
        ((170, 78), False),
        ((171, 78), True),
        ((90, 78), False),
        ((89, 78), True),
        ((130, 103), False),
        ((130, 104), True),
        ((130, 53), False),
        ((130, 52), True),
    ],
)
def test_far_is_more_than_40_or_25_from_the_own_median(pair: tuple[int, int], far: bool) -> None:
    own = watch.usual(earlier(), NOW, ZONE)
    assert own == (130, 78)
    assert watch.is_far(*pair, own) is far


@pytest.mark.parametrize(
    ("count", "days", "known"), [(12, 3, True), (11, 3, False), (12, 2, False), (40, 4, True)]
)
def test_what_is_usual_is_known_from_twelve_readings_of_three_days_on(
    count: int, days: int, known: bool
) -> None:
    assert (watch.usual(earlier(count, days), NOW, ZONE) is not None) is known


def test_clinic_readings_old_ones_and_the_occasion_itself_are_not_usual() -> None:
    clinic = Reading(
        systolic=Mmhg(190),
        diastolic=Mmhg(100),
        at=NOW - timedelta(days=1),
        setting=Setting.CLINIC,
    )
    others = [clinic, reading(200, days=29), reading(210)]
    assert watch.usual([*earlier(), *others * 9], NOW, ZONE) == (130, 78)


# --- a series that rises


def series(*means: int) -> list[Reading]:
    """A reading a day, the last one today."""
    return [reading(mean, days=len(means) - 1 - n) for n, mean in enumerate(means)]


FLAT = (130,) * 7


@pytest.mark.parametrize(
    ("newest", "rise"),
    [
        ((140,) * 7, 10),
        ((140, 140, 140, 140, 140, 140, 139), None),
        ((136, 138, 140, 142, 144, 146, 148), 12),
        ((150, 150, 150, 150, 150, 150, 130), None),
        ((150, 150, 150, 150, 129, 150, 150), None),
        ((150, 150, 150, 129, 150, 150, 150), 17),
    ],
)
def test_a_rise_is_ten_from_week_to_week_and_three_days_in_a_row(
    newest: tuple[int, ...], rise: int | None
) -> None:
    assert watch.rises(series(*FLAT, *newest), 135, NOW.date(), ZONE) == rise


def test_a_rise_below_the_target_is_none() -> None:
    readings = series(*(120,) * 7, *(134,) * 7)
    assert watch.rises(readings, 135, NOW.date(), ZONE) is None
    assert watch.rises(readings, 134, NOW.date(), ZONE) == 14


def test_fewer_than_two_weeks_of_days_show_no_rise() -> None:
    assert watch.rises(series(*FLAT[1:], *(150,) * 7), 135, NOW.date(), ZONE) is None


def test_days_of_more_than_four_weeks_ago_are_no_part_of_a_rise() -> None:
    readings = [
        *(reading(130, days=28 + n) for n in range(7)),
        *(reading(150, days=n) for n in range(7)),
    ]
    assert watch.rises(readings, 135, NOW.date(), ZONE) is None


def test_many_readings_of_one_day_are_one_day() -> None:
    readings = [*series(*FLAT, *(140,) * 7), *[reading(200, days=13, minutes=n) for n in range(9)]]
    assert watch.rises(readings, 135, NOW.date(), ZONE) is None


# --- the mark


TODAY = date(2026, 3, 30)


@pytest.mark.parametrize(
    ("marked", "days_ago", "repeated"),
    [
        (1, (0,), False),
        (2, (0,), True),
        (3, (0,), True),
        (1, (0, 0), False),
        (1, (0, 1), True),
        (1, (0, 6), True),
        (1, (0, 7), False),
    ],
)
def test_a_mark_on_two_readings_or_two_days_of_a_week_is_repeated(
    marked: int, days_ago: tuple[int, ...], repeated: bool
) -> None:
    days = [TODAY - timedelta(days=ago) for ago in days_ago]
    assert watch.is_irregular(marked, days, TODAY) is repeated


# --- in general

_READINGS = st.lists(
    st.builds(
        lambda s, pulse_pressure, p: Reading(
            systolic=Mmhg(s),
            diastolic=Mmhg(max(20, s - pulse_pressure)),
            pulse=None if p is None else Bpm(p),
            at=NOW,
        ),
        st.integers(50, 200),
        st.integers(10, 60),
        st.none() | st.integers(20, 250),
    ),
    min_size=1,
    max_size=3,
)
_SIGNS = st.sets(st.sampled_from(["dizziness", "weakness", "palpitations", "cough", "x_fall"]))


@given(_READINGS, _SIGNS, _SIGNS, st.booleans())
def test_telling_more_signs_never_lowers_the_heading(
    readings: list[Reading], signs: set[str], more: set[str], takes: bool
) -> None:
    def strongest(told: set[str]) -> Heading:
        found = findings(readings, told, on_medicine=takes)
        return max((f.row.heading for f in found), default=Heading.NOTHING)

    assert strongest(signs | more) >= strongest(signs)


@given(_READINGS, _SIGNS)
def test_nothing_is_an_emergency_without_a_sign(readings: list[Reading], signs: set[str]) -> None:
    for found in findings(readings, signs, on_medicine=True):
        assert found.row.heading < Heading.CALL or found.row.with_any & signs
