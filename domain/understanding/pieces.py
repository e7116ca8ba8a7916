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
_WORD: Final = Kind.WORD
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


@dataclass(eq=False)
class Piece:
    """A word, mark or line break. Mutable while a message is read, then dropped.

    What only a number has is the same for all others, and so stands on the class: a message
    has many pieces and few numbers.
    """

    kind: Kind
    text: str
    start: int
    end: int
    glued: bool  #: touches the piece before it
    roles: Roles = NO_ROLES
    is_word: bool = field(init=False)
    is_number: bool = field(default=False, init=False)
    free: bool = field(default=False, init=False)  #: a number that nothing has claimed
    claim: Claim | None = field(default=None, init=False)
    digits: str = field(default="", init=False)  #: of a number: its whole part as typed
    #: The whole part of a number; long runs of digits are only "very large".
    whole: int = field(default=0, init=False)
    fraction: str = field(default="", init=False)  #: of a number: the digits after its point
    spoken: bool = field(default=False, init=False)  #: the number was written in words
    slipped: bool = field(default=False, init=False)  #: a letter stood for one of its digits
    #: Places in `digits` that could not be read.
    hidden: tuple[int, ...] = field(default=(), init=False)

    def __post_init__(self) -> None:
        self.is_word = self.kind is _WORD

    def take(self, claim: Claim) -> None:
        """Claims the number for what it was found to be."""
        self.claim = claim
        self.free = False

    @property
    def value(self) -> Fraction:
        return Fraction(f"{self.digits[:9]}.{self.fraction[:9] or 0}")


@dataclass(eq=False, kw_only=True)
class Number(Piece):
    """A number, typed or spoken."""

    kind: Kind = field(default=Kind.NUMBER, init=False)
    is_word: bool = field(default=False, init=False)
    is_number: bool = field(default=True, init=False)
    free: bool = field(default=True, init=False)
    digits: str
    fraction: str = ""
    spoken: bool = False
    slipped: bool = False
    hidden: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        self.whole = int(self.digits[:9])
