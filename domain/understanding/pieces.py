"""The message as the number half works on it: words with roles, and numbers with claims.

Made from tokens: phrases become one word, digits with their slips become one number, spoken
numbers become numbers. Which number is what is decided by the files that claim them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import Final

from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import NO_ROLES, Roles

#: Bound here, because a look-up in the enumeration takes longer than all else about a piece.
_NUMBER: Final = Kind.NUMBER
#: Marks that end a sentence, as far as a number and its words are concerned.
ENDS: Final = frozenset({".", "!", "?", ";", "\n", "…", "。"})
#: Marks that part two clauses without ending the sentence.
PARTS: Final = frozenset({",", "-", "–", "—", "(", ")", ":"})


class Claim(StrEnum):
    """What a number was found to be. A number without a claim may be a pressure."""

    OTHER = "other"  #: no blood pressure: a dose, a weight, a price, a house
    TIME = "time"
    PULSE = "pulse"
    WRONG = "wrong"  #: named as the wrong one ("not 138")
    PRESSURE = "pressure"


@dataclass(slots=True, eq=False)
class Piece:
    """A word, number, mark or line break. Mutable while a message is read, then dropped.

    One class for all of them, because Python reads the fields of one class fastest, and they
    are read more often than anything else. What only a number has is empty in the others.
    """

    kind: Kind
    text: str
    start: int
    end: int
    glued: bool  #: touches the piece before it
    roles: Roles = NO_ROLES
    is_word: bool = False
    is_number: bool = False
    free: bool = False  #: a number that nothing has claimed
    digits: str = ""  #: of a number: its whole part as typed
    whole: int = 0  #: the whole part of a number; long runs of digits are only "very large"
    fraction: str = ""  #: of a number: the digits after its point
    spoken: bool = False  #: the number was written in words
    slipped: bool = False  #: a letter stood for one of its digits
    hidden: tuple[int, ...] = ()  #: places in `digits` that could not be read
    claim: Claim | None = field(default=None, init=False)

    def take(self, claim: Claim) -> None:
        """Claims the number for what it was found to be."""
        self.claim = claim
        self.free = False

    @property
    def value(self) -> Fraction:
        return Fraction(f"{self.digits[:9]}.{self.fraction[:9] or 0}")


def number_piece(
    start: int,
    end: int,
    glued: bool,
    digits: str,
    fraction: str = "",
    spoken: bool = False,
    slipped: bool = False,
    hidden: tuple[int, ...] = (),
) -> Piece:
    """A number that nothing has claimed yet."""
    text = digits + ("." + fraction if fraction else "")
    return Piece(
        _NUMBER, text, start, end, glued, NO_ROLES, False, True, True,
        digits, int(digits[:9]), fraction, spoken, slipped, hidden,
    )  # fmt: skip
