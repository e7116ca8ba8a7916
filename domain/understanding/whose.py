"""Whether a pair is a reading of the writer's own, measured and meant as such.

Not so: somebody else's (`pair_owners.py`), a target or limit, a pair only asked about or
supposed (`aims.py`), a pair that the message itself calls wrong. Which words tell is in the
lexicon.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from enum import StrEnum
from typing import Final

from domain.understanding.aims import Aims
from domain.understanding.pair_owners import OwnersOfPairs
from domain.understanding.pieces import Piece

_TAKEN_BACK_REACH: Final = 4
#: Marks that may stand between a pair and the words that take it back.
_AFTER_PAIR: Final = frozenset({",", "-", "(", "–", "—", ".", "!", ":", "\n"})
_QUESTION_ROLES: Final = frozenset(
    {"asking", "asking_marked", "supposing", "asked_verb", "asked_after"}
)
_OTHERS: Final = frozenset({"person", "other_pronoun", "first_name", "possessor"})
_WRONG_ROLES: Final = frozenset({"negation", "was_wrong", "taken_back"})
_TARGET_ROLES: Final = frozenset({"target_before", "target_after", "target_tail"})


class Standing(StrEnum):
    OWN = "own"
    OTHERS = "others"  #: somebody else's
    AIMED = "aimed"  #: a target, a limit, what is usual, or only asked about
    WRONG = "wrong"  #: named as the wrong one


#: Bound here, because a look-up in the enumeration takes ten times as long as a comparison.
OWN: Final = Standing.OWN
OTHERS: Final = Standing.OTHERS
AIMED: Final = Standing.AIMED
WRONG: Final = Standing.WRONG


class Judge(OwnersOfPairs, Aims):
    """Answers for one message. Places are indexes into its pieces."""

    def __init__(self, text: str, pieces: Sequence[Piece], roles: Set[str]) -> None:
        """`roles` are those of all pieces."""
        super().__init__(text, pieces)
        self._has_others = not _OTHERS.isdisjoint(roles)
        self._has_targets = not _TARGET_ROLES.isdisjoint(roles) or "<" in text or ">" in text
        self._has_questions = not _QUESTION_ROLES.isdisjoint(roles)
        self._has_negation = not _WRONG_ROLES.isdisjoint(roles)

    def standing(self, start: int, end: int) -> Standing:
        """What the pair is whose first piece is at `start` and whose last is at `end`."""
        if self._has_negation and self._is_wrong(start, end):
            return WRONG
        if self._has_others and self.is_others(start, end):
            return OTHERS
        if self._has_targets and self.is_target(start, end):
            return AIMED
        if self._has_questions and self.is_asked(start, end):
            return AIMED
        return OWN

    def _is_wrong(self, start: int, end: int) -> bool:
        at = start - 1
        while at >= 0 and start - at <= 4:
            piece = self.pieces[at]
            if "negation" in piece.roles:
                return True
            if not (
                "target_link" in piece.roles
                or ("wrong_link" in piece.roles or piece.text in ('"', "'", "("))
            ):
                return False
            at -= 1
        return self._is_taken_back(end)

    def _is_taken_back(self, end: int) -> bool:
        """Whether the words after the pair call it wrong, or take it back ("140/90, delete that").

        "Delete that last one" speaks of an earlier pair.
        """
        at = end + 1
        while (piece := self.at(at)) is not None and at <= end + _TAKEN_BACK_REACH:
            if "was_wrong" in piece.roles:
                after = self.at(at + 1)
                return after is None or "earlier_one" not in after.roles
            if "taken_back" in piece.roles:
                return all("courtesy" in p.roles for p in self.pieces[at + 1 :] if p.text != ".")
            if piece.text not in _AFTER_PAIR and "courtesy" not in piece.roles:
                return False
            at += 1
        return False
