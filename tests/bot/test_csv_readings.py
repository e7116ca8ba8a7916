"""Readings as CSV: which rows are good, which line a bad one is named by, and what is written."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.interchange.csv_readings import read_csv, write_csv
from bot.interchange.incoming import read_rows
from bot.interchange.rows import OutgoingReading, Rows

_HEADER = "at,systolic,diastolic,pulse\n"
_GOOD = "2026-05-04T07:30:00+01:00,138,86,66\n"


def _read(data: str, zone: str | None = None) -> Rows:
    return read_rows(data.encode(), None if zone is None else ZoneInfo(zone))


def _bad(rows: Rows) -> list[str]:
    return [row.where for row in rows.bad]


@pytest.mark.parametrize(
    "at",
    [
        "2026-05-04T07:30:00+01:00",
        "2026-05-04 07:30:00+01:00",
        "2026-05-04T07:30+01:00",
        "2026-05-04T07:30Z",
        "2026-05-04T07:30:00.5Z",
        "2026-05-04T07:30:00.123456789012345678901Z",
        "2026-05-04T07:30:00-00:00",
        "2026-05-04T07:30:00+14:00",
        "2026-05-04T07:30:00-14:00",
        "2026-05-04T07:30:00+05:45",
        "0001-01-02T00:00:00+14:00",
        "9999-12-30T23:59:59-14:00",
        "2028-02-29T23:59:59Z",
    ],
)
def test_a_moment_may_be_written_so(at: str) -> None:
    rows = _read(f"{_HEADER}{at},138,86,\n")
    assert rows.bad == ()
    assert [row.at for row in rows.good] == [at]


@pytest.mark.parametrize(
    "at",
    [
        "",
        "yesterday",
        "2026-05-04",
        "2026-05-04T07:30:00",
        "2026-05-04T07",
        "2026-05-04T07:30.5Z",
        "2026-05-04T07:30:00.Z",
        "2026-05-04T24:00:00Z",
        "2026-05-04T23:59:60Z",
        "2026-05-04T07:60:00Z",
        "2026-02-29T07:30:00Z",
        "2026-13-01T07:30:00Z",
        "2026-00-01T07:30:00Z",
        "2026-05-00T07:30:00Z",
        "0000-05-04T07:30:00Z",
        "26-05-04T07:30:00Z",
        "2026-05-04T07:30:00+14:01",
        "2026-05-04T07:30:00+01:60",
        "2026-05-04T07:30:00+24:00",
        "2026-05-04T07:30:00+99:99",
        "2026-05-04T07:30:00 +01:00",
        "2026-05-04T07:30:00+01:00\x00",
        "2026-05-04T07:30:00\N{MINUS SIGN}01:00",
        "２０２６-05-04T07:30:00Z",
        "2026-05-04T07:30:0٠Z",
        "0001-01-01T00:00:00+00:01",
        "9999-12-31T23:59:59-00:01",
    ],
)
def test_a_row_with_another_moment_is_bad(at: str) -> None:
    rows = _read(f"{_HEADER}{_GOOD}{at},138,86,\n")
    assert (len(rows.good), _bad(rows)) == (1, ["line 3"])


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"])
def test_a_moment_that_has_no_date_in_the_zone_is_bad(at: str) -> None:
    zone = "America/Halifax" if at.startswith("0001") else "Asia/Kolkata"
    data = f"{_HEADER}{at},138,86,\n"
    assert _bad(_read(data, zone)) == ["line 2"]
    assert _bad(_read(data, "UTC")) == []


@pytest.mark.parametrize(
    "numbers",
    ["50,40,", "300,200,", "060,50,20", "120,20,250", "120,110,", '"120"," 80 ",', " 120 ,80 , "],
)
def test_numbers_within_the_limits_are_good(numbers: str) -> None:
    rows = _read(f"{_HEADER}2026-05-04T07:30:00Z,{numbers}\n")
    assert (len(rows.good), rows.bad) == (1, ())


@pytest.mark.parametrize(
    "numbers",
    [
        "49,20,",
        "301,100,",
        "120,19,",
        "220,201,",
        "120,111,",
        "80,120,",
        "120,80,19",
        "120,80,251",
        "120,80,0",
        "+120,80,",
        "-120,80,",
        "120.0,80,",
        "1e2,80,",
        "1_20,80,",
        "0120,80,",
        "1 20,80,",
        "",
        ",,",
        ",80,",
        "120,,",
        "120,80",
        "120,80,60,",
        "120,80,60,left",
        "１２０,80,",
        "١٢٠,80,",
        "120,80,²",
        "120,80,NaN",
        "120,80,\N{NO-BREAK SPACE}",
        "120,80,60\r\r",
        "120\r,80,60",
        "120,80,\x00",
        '12"0,80,',
    ],
)
def test_other_numbers_or_another_count_of_fields_make_the_row_bad(numbers: str) -> None:
    rows = _read(f"{_HEADER}{_GOOD}2026-05-04T07:31:00Z,{numbers}\n{_GOOD}")
    assert (len(rows.good), _bad(rows)) == (2, ["line 3"])


@pytest.mark.parametrize(
    "data",
    [
        "\ufeff" + _HEADER + _GOOD,
        (_HEADER + _GOOD).replace("\n", "\r\n"),
        _HEADER + _GOOD.rstrip("\n"),
        '"at","systolic",diastolic, pulse\n' + _GOOD,
        _HEADER + "\n  \n\r\n" + _GOOD + "\n\n",
        _HEADER + ' "2026-05-04T07:30:00+01:00" , "138","86" ,"66"\r\n',
        _HEADER + '2026-05-04T07:30:00+01:00,138,86,"66"',
    ],
)
def test_a_spreadsheets_way_of_writing_the_same_is_the_same(data: str) -> None:
    rows = _read(data)
    assert rows.bad == ()
    assert rows == _read(_HEADER + _GOOD)


def test_blank_lines_and_lines_within_quotes_count_as_lines() -> None:
    rows = f'{_GOOD}\n\nbad\n{_GOOD}"2026-05-04T07:31:00Z\n",138,86,\n{_GOOD}worse\n'
    assert _bad(_read(_HEADER + rows)) == ["line 5", "line 7", "line 10"]


@pytest.mark.parametrize("stray", ['"138,86,66', '"138"x,86,66'])
def test_a_stray_quote_spoils_its_own_line_only(stray: str) -> None:
    bad = f"2026-05-04T07:31:00Z,{stray}\n"
    rows = _read(_HEADER + bad + _GOOD + bad + _GOOD)
    assert (len(rows.good), _bad(rows)) == (2, ["line 2", "line 4"])


def test_bytes_that_are_not_utf_8_spoil_their_own_row_only() -> None:
    data = (_HEADER + _GOOD).encode() + b"2026-05-04T07:31:00Z,138,86,\xff\n"
    rows = read_rows(data, None)
    assert (len(rows.good), _bad(rows)) == (1, ["line 3"])


def test_the_reason_names_no_value_of_the_row() -> None:
    rows = _read(_HEADER + "2026-05-04T07:31:00Z,84,134,\nHollis,138,86,66\n")
    words = {word for row in rows.bad for word in row.reason.split()}
    assert len(rows.bad) == 2
    assert not words & {"84", "134", "Hollis", "138", "86", "66"}


_OFFSETS = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
_OUTGOING = st.builds(
    OutgoingReading,
    person=st.just("p-1"),
    reading=st.just("r-1"),
    at=st.datetimes(
        min_value=datetime(1900, 1, 1),  # noqa: DTZ001
        max_value=datetime(2100, 1, 1),  # noqa: DTZ001
        timezones=_OFFSETS,
    ),
    systolic=st.integers(210, 300),
    diastolic=st.integers(20, 200),
    pulse=st.none() | st.integers(20, 250),
)


@given(st.lists(_OUTGOING, max_size=5))
def test_what_is_written_reads_back_as_it_was(outgoing: list[OutgoingReading]) -> None:
    rows = read_csv(write_csv(outgoing), None)
    assert rows.bad == ()
    assert [
        (row.reading.at, row.reading.systolic, row.reading.diastolic, row.reading.pulse)
        for row in rows.good
    ] == [(one.at, one.systolic, one.diastolic, one.pulse) for one in outgoing]
    assert [row.reading.at.utcoffset() for row in rows.good] == [
        one.at.utcoffset() for one in outgoing
    ]


def test_a_written_line_is_the_moment_with_its_offset_and_the_three_numbers() -> None:
    at = datetime(2026, 3, 10, 7, 42, tzinfo=ZoneInfo("Europe/Lisbon"))
    outgoing = [
        OutgoingReading(person="p", reading="r", at=at, systolic=142, diastolic=91, pulse=pulse)
        for pulse in (72, None)
    ]
    assert write_csv(outgoing).splitlines() == [
        "at,systolic,diastolic,pulse",
        "2026-03-10T07:42:00+00:00,142,91,72",
        "2026-03-10T07:42:00+00:00,142,91,",
    ]


def test_an_old_offset_with_seconds_is_written_in_utc() -> None:
    at = datetime(1890, 1, 1, 12, tzinfo=ZoneInfo("Europe/Lisbon"))
    one = OutgoingReading(person="p", reading="r", at=at, systolic=142, diastolic=91, pulse=None)
    (row,) = read_csv(write_csv([one]), None).good
    assert row.reading.at == at
    assert row.at.endswith("+00:00")
