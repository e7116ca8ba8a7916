"""Pressures that were given in kilopascals.

1 kPa = 7.50062 mmHg: the conventional millimetre of mercury is 133.322387 Pa (BIPM, SI
brochure, non-SI units, from memory; UCUM's rounded 133.322 Pa gives 7.50064). Both factors
give the same whole mmHg over the range that a cuff can show; a test compares them.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from domain.readings import whole
from domain.understanding.grouping import Amount
from domain.understanding.pieces import Piece

MMHG_PER_KPA: Final = Fraction("7.50062")

#: A systolic and a diastolic in kPa lie between these (common practice: 5 to 40).
_RANGE: Final = (Fraction(5), Fraction(40))
_LEAST_SYSTOLIC: Final = Fraction(8)


def said(pieces: Sequence[Piece]) -> bool:
    """Whether the message names the unit, and not to deny it."""
    for place, piece in enumerate(pieces):
        if "kpa" in piece.roles:
            before = pieces[max(0, place - 2) : place]
            if not any("negation" in p.roles for p in before):
                return True
    return False


def kpa(amount: Amount) -> Fraction:
    return Fraction(f"{amount.digits[:9]}.{amount.fraction[:9] or 0}")


def looks_like_kpa(first: Amount, second: Amount) -> bool:
    """Whether a pair with decimals lies in the range of kPa, in either order."""
    if not (first.fraction or second.fraction):
        return False
    low, high = sorted((kpa(first), kpa(second)))
    return _RANGE[0] <= low and high <= _RANGE[1] and high >= _LEAST_SYSTOLIC


def to_mmhg(amount: Amount) -> int:
    """The pressure in mmHg, rounded to the nearest whole number."""
    return whole(kpa(amount) * MMHG_PER_KPA)
