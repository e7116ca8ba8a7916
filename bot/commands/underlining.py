"""A text drawn for a terminal, with parts of it underlined and a label under each part.

What is underlined and why is not known here. Columns are those of a terminal that shows East
Asian wide characters and emoji in two columns and combining marks in none. Whatever could
move the cursor, hide or reorder characters is shown by its number (`<1B>`), and invisible
joiners and variation selectors are left out, so that the columns are the same everywhere.
A terminal that itself turns right-to-left scripts round moves those characters alone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

WIDTH: Final = 80  #: columns, the edge included
_EDGE: Final = "> "  #: begins a row of the text, so that no text looks like what is said of it
_BLANK: Final = " " * len(_EDGE)
_ROOM: Final = WIDTH - len(_EDGE)
_TAB: Final = "    "
_GOES_ON: Final = "…"  #: label of what began in an earlier row
_NOTHING_BELOW: Final = "◌"  #: carries a combining mark that follows no letter
#: Cc, Cf, Cs and so on: what a terminal may act on, or draw with a width of its own.
_SHOWN_BY_NUMBER: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_SKIN_TONES: Final = range(0x1F3FB, 0x1F400)
_JAMO_WITHIN_SYLLABLE: Final = range(0x1160, 0x1200)


@dataclass(frozen=True, slots=True)
class Mark:
    """A part of the text, half-open, with the sign to underline it and what is said of it."""

    start: int
    end: int
    sign: str
    label: str


@dataclass(frozen=True, slots=True)
class Cell:
    """One character of the text with all that is drawn on top of it. Half-open range."""

    start: int
    end: int
    shown: str
    width: int  #: columns


@dataclass(frozen=True, slots=True)
class _Line:
    """An underline in one row of the text: columns from `left` up to `right`."""

    left: int
    right: int
    mark: Mark
    label: str


def draw(text: str, marks: Iterable[Mark]) -> Iterator[str]:
    """Rows of the text, at most `WIDTH` columns wide, each with its underlines beneath."""
    wanted = sorted(marks, key=lambda mark: (mark.start, mark.end))
    for row in rows(text, wanted):
        yield (_EDGE + "".join(cell.shown for cell in row)).rstrip()
        if not row:
            continue
        start, end = row[0].start, row[-1].end
        here = [_line(row, mark) for mark in wanted if mark.start < end and start < mark.end]
        for below in _beneath(here):
            yield _BLANK + below


def rows(text: str, marks: Sequence[Mark] = ()) -> Iterator[tuple[Cell, ...]]:
    """The cells of the text, row by row: a row ends at a line break or where it is full."""
    inside = {place for mark in marks for place in range(mark.start + 1, mark.end)}
    row: list[Cell] = []
    width = 0
    for cell in cells(text):
        while row and width + cell.width > _ROOM:
            cut = _cut(row, inside)
            yield tuple(row[:cut])
            row = row[cut:]
            width = sum(left.width for left in row)
        row.append(cell)
        width += cell.width
        if text[cell.start] == "\n":
            yield tuple(row)
            row, width = [], 0
    if row:
        yield tuple(row)


def _cut(row: Sequence[Cell], inside: set[int]) -> int:
    """Where a full row is best cut: behind a space outside all marks, else behind any space."""
    behind = [place for place in range(1, len(row) + 1) if row[place - 1].shown in (" ", _TAB)]
    whole = [place for place in behind if row[place - 1].end not in inside]
    # Half a row of nothing looks worse than a mark that goes on in the next row.
    late = [place for place in whole if place > len(row) // 2]
    return (late or behind or [len(row)])[-1]


def cells(text: str) -> Iterator[Cell]:
    """The text cut into what stands in columns of its own, in order and without gaps."""
    at = 0
    while at < len(text):
        shown, width, carries = _shown(text, at)
        after = at + 1
        pieces = [shown]
        while carries and after < len(text) and (mark := _on_top(text[after])) is not None:
            pieces.append(mark)
            after += 1
        yield Cell(at, after, "".join(pieces), width)
        at = after


def _shown(text: str, at: int) -> tuple[str, int, bool]:
    """How the character at `at` is drawn, its columns, and whether marks may stand on it."""
    sign = text[at]
    if " " <= sign <= "~":
        return sign, 1, True
    if sign == "\n" or text[at : at + 2] == "\r\n":
        return "", 0, False
    if sign == "\t":
        return _TAB, len(_TAB), False
    on_top = _on_top(sign)
    if on_top is not None:
        return (_NOTHING_BELOW + on_top, 1, True) if on_top else ("", 0, False)
    category = unicodedata.category(sign)
    if category in _SHOWN_BY_NUMBER:
        number = f"<{ord(sign):02X}>"
        return number, len(number), False
    width = 2 if unicodedata.east_asian_width(sign) in "WF" else 1
    return (" " * width, width, False) if category == "Zs" else (sign, width, True)


def _on_top(sign: str) -> str | None:
    """What a character adds to the one before it, "" when it is left out; None: it stands alone."""
    if sign < "\u0300":
        return None
    if sign == "\u200d" or "\ufe00" <= sign <= "\ufe0f" or ord(sign) in _SKIN_TONES:
        return ""
    if ord(sign) in _JAMO_WITHIN_SYLLABLE or unicodedata.category(sign) in ("Mn", "Me"):
        return sign
    return None


def _line(row: Sequence[Cell], mark: Mark) -> _Line:
    """The underline of a mark that stands in the row at least in part, one column or more."""
    left = sum(cell.width for cell in row if cell.end <= mark.start)
    right = left + sum(c.width for c in row if c.end > mark.start and c.start < mark.end)
    return _Line(
        left, max(right, left + 1), mark, mark.label if mark.start >= row[0].start else _GOES_ON
    )


def _beneath(lines: Sequence[_Line]) -> Iterator[str]:
    """Rows of underlines and labels: side by side what fits so, the rest one after another."""
    left_over = list(lines)
    while left_over:
        first = left_over[0]
        if first.left + len(first.label) > _ROOM:
            yield from _alone(first)
            left_over = left_over[1:]
            continue
        together = _together(left_over)
        left_over = [line for line in left_over if line not in together]
        yield _underlines(together)
        yield from _labels(together)


def _together(lines: Sequence[_Line]) -> list[_Line]:
    """The first, and of the others those that fit beside it or stand exactly under it."""
    taken = [lines[0]]
    for line in lines[1:]:
        beside = line.left > taken[-1].right or (line.left, line.right) == (
            taken[-1].left,
            taken[-1].right,
        )
        if beside and line.left + len(line.label) <= _ROOM:
            taken.append(line)
    return taken


def _alone(line: _Line) -> Iterator[str]:
    """What has no room for its label to the right: beside its left end, or on a row of its own."""
    underline = line.mark.sign * (line.right - line.left)
    if len(line.label) < line.left:
        yield f"{line.label:>{line.left - 1}} {underline}"
        return
    yield " " * line.left + underline
    yield f"{line.label:>{_ROOM}}"


def _underlines(lines: Sequence[_Line]) -> str:
    row = ""
    for line in lines:
        row = row.ljust(line.left)
        row += line.mark.sign * (line.right - len(row))
    return row


def _labels(lines: Sequence[_Line]) -> Iterator[str]:
    """From the right to the left, so that bars lead down to those that are still to come."""
    for labelled in sorted(lines, key=lambda line: -line.left):
        row = ""
        for left in sorted({line.left for line in lines if line.left < labelled.left}):
            row = row.ljust(left) + "|"
        yield row.ljust(labelled.left) + labelled.label
