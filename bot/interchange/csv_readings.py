"""Readings as CSV: `at,systolic,diastolic,pulse`, one reading a line.

Pressures in mmHg, pulse in beats per minute or empty. Lines end with LF or CRLF; fields may
be quoted as in RFC 4180.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final
from zoneinfo import ZoneInfo

from bot.interchange.rows import (
    BadRow,
    BadRowError,
    GoodRow,
    OutgoingReading,
    Rows,
    UnreadableInputError,
    imported_reading,
    read_moment,
    written_moment,
)

HEADER: Final = ("at", "systolic", "diastolic", "pulse")

_FIELD: Final = re.compile(
    r"""(?: [ \t]* "(?P<quoted> (?: [^"]++ | "" )*+ )" [ \t]*
          | (?! [ \t]* ") (?P<plain> [^,\n]*? ) )
        (?P<end> , | \r?\n | \Z )""",
    re.VERBOSE,
)
_NUMBER: Final = re.compile(r"[0-9]{1,3}")


def read_csv(text: str, zone: ZoneInfo | None) -> Rows:
    """The readings of a CSV text.

    Args:
        text: without a byte order mark.
        zone: what a moment without offset is local in; None: such a row is bad.

    Raises:
        UnreadableInputError: there is nothing, or the first line is not the header.
    """
    if not text:
        raise UnreadableInputError("no input: readings are expected on standard input")
    lines = _split(text)
    if next(lines)[1] != HEADER:
        raise UnreadableInputError(f"the first line must be {','.join(HEADER)}")
    good: list[GoodRow] = []
    bad: list[BadRow] = []
    for number, fields in lines:
        try:
            good.append(_row(fields, zone))
        except BadRowError as error:
            bad.append(BadRow(f"line {number}", str(error)))
    return Rows(tuple(good), tuple(bad))


def write_csv(readings: Iterable[OutgoingReading]) -> str:
    """The readings as a CSV text that `read_csv` reads back, in the order passed."""
    lines = [",".join(HEADER)]
    for one in readings:
        pulse = "" if one.pulse is None else one.pulse
        lines.append(f"{written_moment(one.at)},{one.systolic},{one.diastolic},{pulse}")
    return "\n".join(lines) + "\n"


def _split(text: str) -> Iterator[tuple[int, tuple[str, ...] | None]]:
    """The number of the line on which each row begins, and its fields without outer spaces.

    None instead of fields: the quotes of the row do not close, or something follows them.
    Then only that line is given up and the next one begins a row, so that one stray quote
    does not swallow the readings after it. Blank lines after the first are left out.
    """
    begin, number = 0, 1
    while begin < len(text):
        line_end = text.find("\n", begin) + 1 or len(text)
        fields, end = _fields(text, begin)
        if fields is None:
            end = line_end
        if number == 1 or text[begin:end].strip():
            yield number, fields
        number += text.count("\n", begin, end)
        begin = end


def _fields(text: str, begin: int) -> tuple[tuple[str, ...] | None, int]:
    """The fields of the row that begins there, and where the next row begins."""
    found: list[str] = []
    while match := _FIELD.match(text, begin):
        quoted = match["quoted"]
        field = match["plain"] if quoted is None else quoted.replace('""', '"')
        found.append(field.strip(" \t"))
        begin = match.end()
        if match["end"] != ",":
            return tuple(found), begin
    return None, begin


def _row(fields: tuple[str, ...] | None, zone: ZoneInfo | None) -> GoodRow:
    if fields is None:
        raise BadRowError("a quoted field does not end where it should")
    if len(fields) != len(HEADER):
        raise BadRowError(f"there must be {len(HEADER)} fields: {','.join(HEADER)}")
    at, systolic, diastolic, pulse = fields
    reading = imported_reading(
        read_moment(at, zone),
        _number("systolic", systolic),
        _number("diastolic", diastolic),
        _number("pulse", pulse) if pulse else None,
    )
    return GoodRow(at, reading)


def _number(name: str, text: str) -> int:
    if _NUMBER.fullmatch(text) is None:
        raise BadRowError(f"{name} must be a whole number of one to three digits")
    return int(text)
