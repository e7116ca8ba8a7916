"""What stands around a place of a message: its sentence and its clause."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from domain.understanding.pieces import ENDS, PARTS, Piece
from domain.understanding.tokens import Kind

SENTENCE_REACH: Final = 60  #: pieces looked back over, so that long texts stay linear
QUESTION_OPENS: Final = "¿"


class Around:
    """Answers for one message. Places are indexes into its pieces."""

    def __init__(self, text: str, pieces: Sequence[Piece]) -> None:
        self.text = text
        self.pieces = pieces

    def at(self, place: int) -> Piece | None:
        return self.pieces[place] if 0 <= place < len(self.pieces) else None

    def sentence_start(self, place: int) -> int:
        """First piece of the sentence; lines after a colon belong to it."""
        at, least = place, max(0, place - SENTENCE_REACH)
        while at > least:
            before = self.pieces[at - 1]
            if before.text in ENDS and not self._joins_lines(at - 1):
                break
            at -= 1
        return at

    def _joins_lines(self, place: int) -> bool:
        piece = self.pieces[place]
        if piece.kind is Kind.LINE:
            before = self.at(place - 1)
            return before is not None and before.text in (":", ",", "-")
        return self._is_shortening(place)

    def _is_shortening(self, place: int) -> bool:
        """Whether the piece is the point of a shortened word ("diast. 74", "no. 1")."""
        before, after = self.at(place - 1), self.at(place + 1)
        return (
            self.pieces[place].text == "."
            and before is not None
            and after is not None
            and ("shortened" in before.roles and (after.is_number or after.kind is Kind.MARK))
        )

    def clause_start(self, place: int) -> int:
        """First piece of the clause, which no pair of numbers stands in."""
        at, least = place, max(0, place - SENTENCE_REACH)
        while at > least:
            before = self.pieces[at - 1]
            parts = before.text in ENDS or (before.text in PARTS and before.text != "(")
            parts = parts or before.text == QUESTION_OPENS
            if parts and not self._is_shortening(at - 1):
                break
            if before.is_number and before.claim is not None and before.claim.value == "pressure":
                break
            at -= 1
        return at
