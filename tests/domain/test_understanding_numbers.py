"""Readings, doubts and times in tables of invented messages, one file a subject.

A row is what is expected, a colon, and the message as a JSON string:

    142/91/68@-1/21:00 !swapped : "the message"

systolic, diastolic, pulse, then the local time it was measured with the days back from the
message; `!doubt`; `-` when nothing is found. `now` sets the moment of the rows that follow.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.result import Doubt
from domain.understanding.tokens import tokens

FOLDER = Path(__file__).with_name("understanding_numbers")


def read(text: str, now: datetime) -> NumbersRead:
    return read_numbers(text, tokens(text), now)


def shown(found: NumbersRead, now: datetime) -> str:
    """What was found, in the notation of the tables."""
    parts = []
    for reading in found.readings:
        part = f"{reading.systolic}/{reading.diastolic}"
        if reading.pulse is not None:
            part += f"/{reading.pulse}"
        if reading.at is not None:
            back = (now.date() - reading.at.date()).days
            part += "@" + (f"-{back}/" if back else "") + reading.at.strftime("%H:%M")
        parts.append(part)
    parts.extend(f"!{doubt}" for doubt in sorted(found.doubts))
    return " ".join(parts) or "-"


def rows(path: Path) -> Iterator[tuple[datetime, str, str]]:
    now: datetime | None = None
    for line in path.read_text("utf-8").splitlines():
        if not line or line.startswith(("#", "=")):
            continue
        if line.startswith("now "):
            now = datetime.fromisoformat(line.removeprefix("now "))
            continue
        expected, separator, text = line.partition(" : ")
        assert now is not None, f"{path.name}: no `now` before {line!r}"
        assert separator, f"{path.name}: no colon in {line!r}"
        yield now, expected, json.loads(text)


def all_rows() -> list[tuple[datetime, str, str]]:
    return [row for path in sorted(FOLDER.glob("*.txt")) for row in rows(path)]


def test_the_tables_are_many_and_hold_no_message_twice() -> None:
    asked = [(now, text) for now, _, text in all_rows()]

    assert len(asked) >= 300
    assert len(asked) == len(set(asked))


def test_every_doubt_has_rows() -> None:
    expected = {part for _, wanted, _ in all_rows() for part in wanted.split()}

    assert {f"!{doubt}" for doubt in Doubt} <= expected


@pytest.mark.parametrize(("now", "expected", "text"), all_rows())
def test_the_message_is_read_as_a_careful_nurse_would(
    now: datetime, expected: str, text: str
) -> None:
    found = read(text, now)

    assert shown(found, now) == expected


@pytest.mark.parametrize(("now", "expected", "text"), all_rows())
def test_spans_lie_in_the_text_and_doubts_keep_what_they_may_mean(
    now: datetime, expected: str, text: str
) -> None:
    found = read(text, now)

    assert all(0 <= start < end <= len(text) for start, end in found.spans)
    assert all(reading.at is None or reading.at <= now for reading in found.readings)
    kept_out = found.doubts & {Doubt.IMPLAUSIBLE, Doubt.AMBIGUOUS, Doubt.INCOMPLETE}
    assert bool(found.possible) or not kept_out
    assert found.mentions_reading == bool(found.readings or found.doubts)
