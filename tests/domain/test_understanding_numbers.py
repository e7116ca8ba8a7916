"""Readings, doubts and times in tables of invented messages, one file a subject.

The notation of the rows is explained in message_tables.py.
"""

from __future__ import annotations

from datetime import datetime

import pytest

from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.result import Doubt
from domain.understanding.tokens import tokens
from tests.domain.message_tables import all_number_rows, shown


def read(text: str, now: datetime) -> NumbersRead:
    return read_numbers(text, tokens(text), now)


def test_the_tables_are_many_and_hold_no_message_twice() -> None:
    asked = [(now, text) for now, _, text in all_number_rows()]

    assert len(asked) >= 300
    assert len(asked) == len(set(asked))


def test_every_doubt_has_rows() -> None:
    expected = {part for _, wanted, _ in all_number_rows() for part in wanted.split()}

    assert {f"!{doubt}" for doubt in Doubt} <= expected


@pytest.mark.parametrize(("now", "expected", "text"), all_number_rows())
def test_the_message_is_read_as_a_careful_nurse_would(
    now: datetime, expected: str, text: str
) -> None:
    found = read(text, now)

    assert shown(found, now) == expected


@pytest.mark.parametrize(("now", "expected", "text"), all_number_rows())
def test_spans_lie_in_the_text_and_doubts_keep_what_they_may_mean(
    now: datetime, expected: str, text: str
) -> None:
    found = read(text, now)

    assert all(0 <= start < end <= len(text) for start, end in found.spans)
    assert all(reading.at is None or reading.at <= now for reading in found.readings)
    kept_out = found.doubts & {Doubt.IMPLAUSIBLE, Doubt.AMBIGUOUS, Doubt.INCOMPLETE}
    assert bool(found.possible) or not kept_out
    assert found.mentions_reading == bool(found.readings or found.doubts)
