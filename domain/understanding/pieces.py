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
    """A word, mark, line break or number. Mutable while a message is read, then dropped."""

    kind: Kind
    text: str
    start: int
    end: int
    glued: bool  #: touches the piece before it
    roles: Roles = NO_ROLES
    digits: str = ""  #: of a number: its whole part as typed, "" for other pieces
    fraction: str = ""  #: of a number: the digits after its point
    spoken: bool = False  #: the number was written in words
    slipped: bool = False  #: a letter stood for one of its digits
    hidden: tuple[int, ...] = ()  #: places in `digits` that could not be read
    claim: Claim | None = None
    is_number: bool = field(init=False)

    def __post_init__(self) -> None:
        self.is_number = self.kind is Kind.NUMBER

    @property
    def free(self) -> bool:
        """A number that nothing has claimed."""
        return self.is_number and self.claim is None

    @property
    def whole(self) -> int:
        """The whole part of the number; long runs of digits are only "very large"."""
        return int(self.digits[:9])

    @property
    def value(self) -> Fraction:
        return Fraction(f"{self.digits[:9]}.{self.fraction[:9] or 0}")
