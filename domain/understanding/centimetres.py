"""Pressures said in centimetres of mercury: "14 con 9" for 140/90, a habit of several languages.

Whether a language has the habit, and what it says between the two numbers, is in its lexicon
(`centimetre_links`). Such a pair is never reported, for nobody can be sure of it; what it may
mean in mmHg is kept. Limits are common practice.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final

from domain.understanding.grouping import Amount, Pair, amount
from domain.understanding.links import STRONG
from domain.understanding.pieces import Piece

_SYSTOLIC: Final = (7, 26)
_DIASTOLIC: Final = (4, 15)
_LEAST_DIFFERENCE: Final = 2
_MMHG: Final = 10
_FEW_WORDS: Final = 2
#: Roles of what may come right before or behind such a pair that is parted from it by nothing.
_GOES_ON: Final = frozenset({"over"})
Lists = Mapping[str, tuple[str, ...]]


def spoken_in(lists: Lists) -> bool:
    """Whether people who write this language say pressures in centimetres."""
    return bool(lists.get("centimetre_links"))


def may_be(first: Fraction | int, second: Fraction | int) -> bool:
    """Whether two numbers are a pressure in centimetres of mercury."""
    return (
        _SYSTOLIC[0] <= first <= _SYSTOLIC[1]
        and _DIASTOLIC[0] <= second <= _DIASTOLIC[1]
        and first - second >= _LEAST_DIFFERENCE
    )


def may_be_half(number: int, lists: Lists) -> bool:
    """Whether a lone number may be half such a pressure ("la alta 18")."""
    return spoken_in(lists) and _DIASTOLIC[0] <= number <= _SYSTOLIC[1]


def in_mmhg(found: Amount) -> int:
    """The number as centimetres of mercury, in mmHg."""
    return int(Fraction(f"{found.digits[:9]}.{found.fraction[:9] or 0}") * _MMHG)


def centimetre_pairs(pieces: Sequence[Piece], lists: Lists) -> list[Pair]:
    """Pairs of free numbers that can only be centimetres: "catorce nueve", "14 y 9"."""
    if not spoken_in(lists) or not _speaks_of_pressure(pieces):
        return []
    numbers = [place for place, piece in enumerate(pieces) if piece.is_number]
    found: list[Pair] = []
    for left, right in itertools.pairwise(numbers):
        between = pieces[left + 1 : right]
        links = lists["centimetre_links"]
        if len(between) > 1 or "".join(p.text for p in between) not in links:
            continue
        first, second = pieces[left], pieces[right]
        free = first.free and second.free and not (first.hidden or second.hidden)
        if free and may_be(first.value, second.value) and _stands_alone(pieces, left, right):
            found.append(Pair(amount(pieces, (left,)), amount(pieces, (right,)), STRONG))
    return found


def _stands_alone(pieces: Sequence[Piece], left: int, right: int) -> bool:
    """Whether no other number goes on with the two ("14 2 91", "catorce dos sobre noventa")."""
    before = pieces[left - 1] if left else None
    after = pieces[right + 1] if right + 1 < len(pieces) else None
    if before is not None and (before.is_number or _GOES_ON & before.roles):
        return False
    if after is None or not (after.is_number or _GOES_ON & after.roles or after.text in "/\\|"):
        return True
    return not after.is_number and not (right + 2 < len(pieces) and pieces[right + 2].is_number)


def _speaks_of_pressure(pieces: Sequence[Piece]) -> bool:
    words = sum(piece.is_word for piece in pieces)
    return words <= _FEW_WORDS or any("pressure_word" in piece.roles for piece in pieces)
