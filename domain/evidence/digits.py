"""The last digits of readings: are they even, and by how much not.

A cuff shows every ending about as often as any other. Where far too many numbers end in 0,
they may have been rounded on their way. Two things must agree before that is said: a
chi-square test (Holm's rule over systolic and diastolic) and the size of the excess. With
thousands of readings the test alone speaks of trifles, with fifty the excess alone is chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from domain.evidence.taken import Floats, Ints

#: So that each of ten endings is expected five times (clinical custom of the chi-square test).
LEAST_READINGS: Final = 50

#: Chance of a false word about either of the two numbers. Common practice.
SIGNIFICANCE: Final = 0.05

#: Zeros above their even share. Own choice: small, because few rounded readings are worth a
#: word where they are sure; 12.9 % in the NHEFS survey (diastolic, 1,548 people), 64 % and 59 % in
#: clinic records (de Lusignan, J Hum Hypertens 2004, confirmed).
LEAST_EXCESS: Final = 0.02

#: From this excess on the record is poor: every third reading rounded to ten leaves 0.3 of
#: them too many. Own choice.
LARGE_EXCESS: Final = 0.3

#: Readings all within a few mmHg end in few digits without any rounding. From this SD on the
#: most frequent ending of a bell curve is expected at most 1.04 times too often
#: (1 + 2 exp(-2 pi² SD² / 100)), far less than `LEAST_EXCESS`.
LEAST_SD: Final = 4.5

#: No bell curve of whole numbers with an SD of 1 mmHg or more has half of them on one.
BEYOND_CHANCE: Final = 0.5

#: Some monitors show even numbers only (common practice). A slip of the finger is allowed.
MOST_ODD: Final = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Endings:
    """The last digits of one of the two numbers."""

    readings: int
    zeros: int
    even_only: bool  #: the monitor shows even numbers only: five endings, not ten
    chi_square: float
    freedom: int
    p: float  #: of this test alone
    adjusted_p: float  #: under Holm's rule together with the other number's
    sd: float  #: of the readings, mmHg

    @property
    def expected(self) -> float:
        """Share of zeros among numbers that nobody rounded."""
        return 1 / (self.freedom + 1)

    @property
    def share(self) -> float:
        return self.zeros / self.readings if self.readings else 0.0

    @property
    def excess(self) -> float:
        """Share of zeros above the expected one."""
        return self.share - self.expected

    @property
    def rounded(self) -> bool:
        """Whether test and size both say that readings may have been rounded."""
        if self.readings < LEAST_READINGS:
            return False
        could_be_even = self.sd >= LEAST_SD or self.share >= BEYOND_CHANCE
        return could_be_even and self.adjusted_p < SIGNIFICANCE and self.excess >= LEAST_EXCESS


def endings(systolic: Floats, diastolic: Floats) -> tuple[Endings, Endings]:
    """The last digits of both numbers (whole mmHg) of some readings, however few."""
    numbers = (systolic, diastolic)
    tests = [chi_square(np.bincount(column.astype(int) % 10, minlength=10)) for column in numbers]
    adjusted = holm([p for _, _, p in tests])
    first, second = (
        Endings(
            readings=len(column),
            zeros=int((column % 10 == 0).sum()),
            even_only=freedom == _EVEN_FREEDOM,
            chi_square=statistic,
            freedom=freedom,
            p=p,
            adjusted_p=least,
            sd=float(np.std(column, ddof=1)) if len(column) > 1 else 0.0,
        )
        for column, (statistic, freedom, p), least in zip(numbers, tests, adjusted, strict=True)
    )
    return first, second


_EVEN_FREEDOM: Final = 4


def chi_square(counts: Sequence[int] | Ints) -> tuple[float, int, float]:
    """Chi-square, degrees of freedom and p of the ten endings against an even share of each.

    Where nearly all are even, the five even endings alone are tested. Without any reading
    nothing speaks against evenness: 0, 9 and 1.
    """
    seen = np.asarray(counts, dtype=float)
    if seen.sum() == 0:
        return 0.0, 9, 1.0
    if seen[1::2].sum() <= MOST_ODD * seen.sum():
        seen = seen[::2]
    expected = seen.sum() / len(seen)
    statistic = float(((seen - expected) ** 2).sum() / expected)
    freedom = len(seen) - 1
    return statistic, freedom, float(special.chdtrc(freedom, statistic))


def holm(chances: Sequence[float]) -> list[float]:
    """The p of each test under Holm's rule (Scand J Statist 1979;6:65, from memory)."""
    found, highest = [0.0] * len(chances), 0.0
    for rank, place in enumerate(sorted(range(len(chances)), key=lambda i: chances[i])):
        highest = max(highest, min(1.0, (len(chances) - rank) * chances[place]))
        found[place] = highest
    return found
