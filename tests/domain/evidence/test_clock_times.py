"""Moments by arrays are what `datetime` makes of them one by one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.evidence.clock_times import utc_seconds, wall_seconds
from domain.readings import NaiveMomentError

#: Clock changes of an hour and of half an hour, twice a year, around Ramadan, none, a day lost.
ZONES = (
    "Europe/Madrid",
    "America/New_York",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "Asia/Kathmandu",
    "Pacific/Apia",
    "UTC",
)

_moments = st.integers(0, 2_100_000_000_000_000).map(
    lambda microseconds: datetime(1970, 1, 2, tzinfo=UTC) + timedelta(microseconds=microseconds)
)
_zones: st.SearchStrategy[tzinfo] = st.one_of(
    st.sampled_from(ZONES).map(ZoneInfo),
    st.just(UTC),
    st.sampled_from([-210, 345, 60]).map(lambda minutes: timezone(timedelta(minutes=minutes))),
)


@settings(deadline=None)  # the first question about a year of a zone takes longer than the rest
@given(st.lists(st.tuples(_moments, _zones), max_size=12), st.sampled_from(ZONES))
def test_many_moments_at_once_are_as_each_by_itself(
    given: list[tuple[datetime, tzinfo]], home: str
) -> None:
    zone = ZoneInfo(home)
    moments = [moment.astimezone(own) for moment, own in given]
    seconds = utc_seconds(moments)
    assert seconds.tolist() == pytest.approx([m.timestamp() for m in moments], abs=1e-5)
    wall = [m.astimezone(zone).replace(tzinfo=UTC).timestamp() for m in moments]
    assert wall_seconds(seconds, zone).tolist() == pytest.approx(wall, abs=1e-5)


@pytest.mark.parametrize("zone", ZONES)
def test_every_half_hour_around_every_change_of_the_clocks_is_right(zone: str) -> None:
    home = ZoneInfo(zone)
    begin = datetime(2025, 1, 1, tzinfo=UTC)
    moments = [begin + timedelta(minutes=30 * n) for n in range(365 * 48)]
    seconds = utc_seconds([moment.astimezone(home) for moment in moments])
    assert seconds.tolist() == [moment.timestamp() for moment in moments]
    local = [moment.astimezone(home).replace(tzinfo=UTC).timestamp() for moment in moments]
    assert wall_seconds(seconds, home).tolist() == local


@pytest.mark.parametrize("fold", [0, 1])
@pytest.mark.parametrize("clock", ["2026-03-29T02:30", "2026-10-25T02:30"])
def test_a_clock_time_that_is_missing_or_comes_twice_is_read_as_python_reads_it(
    clock: str, fold: int
) -> None:
    moment = datetime.fromisoformat(clock).replace(tzinfo=ZoneInfo("Europe/Madrid"), fold=fold)
    assert utc_seconds([moment]).tolist() == [moment.timestamp()]


@pytest.mark.parametrize("year", [1, 1900, 2150, 9999])
def test_a_year_that_is_a_slip_is_no_error(year: int) -> None:
    moment = datetime(year, 6, 1, 12, tzinfo=UTC)
    seconds = utc_seconds([moment])
    assert np.abs(wall_seconds(seconds, ZoneInfo("Europe/Madrid")) - seconds).max() <= 7200


def test_no_moments_are_no_seconds() -> None:
    assert utc_seconds([]).size == 0
    assert wall_seconds(np.array([]), ZoneInfo("Europe/Madrid")).size == 0


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(NaiveMomentError):
        utc_seconds([datetime(2026, 5, 4, 8, tzinfo=UTC).replace(tzinfo=None)])
