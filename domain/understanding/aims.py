"""Whether a pair was not measured: a target, a limit, supposed, or only asked about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from domain.understanding.around import QUESTION_OPENS, SENTENCE_REACH, Around
from domain.understanding.pieces import ENDS, PARTS, Piece

_TARGET_REACH: Final = 7
_ASKING: Final = frozenset({"asking", "asked_verb", "supposing"})


class Aims(Around):
    """Answers for one message. Places are indexes into its pieces."""

    def is_target(self, start: int, end: int) -> bool:
        """Whether the pair whose first piece is at `start` and last at `end` is only aimed at."""
        for place in range(start - 1, max(-1, start - 1 - _TARGET_REACH), -1):
            piece = self.pieces[place]
            if piece.text in ("<", ">"):
                return self._is_sign_of_limit(place, end)
            if "moved_to" in piece.roles and self._has_moved(place):
                continue
            if "target_before" in piece.roles or "target_after" in piece.roles:
                return not ("limit_over" in piece.roles and not self._is_limit_over(place))
            if piece.text == "," and place == start - 1 and self._ends_question(end):
                continue  # "What should I aim for, 130/80?"
            if piece.is_number or piece.text in ENDS or piece.text in (",", ")"):
                break
            if piece.is_word and "target_link" not in piece.roles:
                break
        after = self.at(end + 1)
        if after is not None and "target_tail" in after.roles:
            return True
        for place in range(end + 1, min(len(self.pieces), end + 5)):
            piece = self.pieces[place]
            if "target_after" in piece.roles:
                return place > end + 1
            if "target_tail_link" not in piece.roles:
                break
        return False

    def _has_moved(self, place: int) -> bool:
        """Whether "up to" tells where it went ("it shot up to 178/99"), and is no limit."""
        before = self.at(place - 1)
        return before is not None and "moved" in before.roles

    def _ends_question(self, end: int) -> bool:
        after = self.at(end + 1)
        return after is not None and after.text == "?"

    def _is_sign_of_limit(self, place: int, end: int) -> bool:
        """ "<135/85" as a limit, not brackets around a reading."""
        before, after = self.at(place - 1), self.at(end + 1)
        closed = after is not None and after.text in ("<", ">")
        return before is not None and before.is_word and not closed

    def _is_limit_over(self, place: int) -> bool:
        """ "over 180/110" as a limit: something goes or is over it, or nothing stands before."""
        before = self.at(place - 1)
        return before is None or (before.is_word and "unreadable" not in before.roles)

    def is_asked(self, start: int, end: int) -> bool:
        """Whether the same pair is only asked about, or supposed."""
        begin = self.clause_start(start)
        words = [p for p in self.pieces[begin:start] if p.is_word]
        if words and all("clause_prep" in w.roles and "opener" not in w.roles for w in words):
            # "When should I worry, at 160/100?"
            begin = self.sentence_start(start)
            words = [p for p in self.pieces[begin:start] if p.is_word]
        after = self.at(end + 1)
        if not words:
            opens = self.at(start - 1)
            opens_question = opens is not None and opens.text == QUESTION_OPENS
            return opens_question and after is not None and "asked_after" in after.roles
        if after is not None and "asked_after" in after.roles:
            asked = any(not _ASKING.isdisjoint(w.roles) for w in words)
            if asked:
                return True
        own = any("measured_by_me" in w.roles for w in words)
        if any("asked_verb" in w.roles for w in words) and not own:
            return True
        if any("asking_marked" in w.roles for w in words) and self._is_marked(begin, end):
            return not own
        if self._tells_when(words) and not self._is_marked(begin, end):
            return False
        if any("supposing" in w.roles for w in words[:4]) and "clause_word" not in words[-1].roles:
            return not any("measured_verb" in w.roles for w in words) or any(
                "if_word" in w.roles for w in words[:4]
            )
        if self.pieces[begin].is_number:
            return False  # "no. 1 was 142/91"
        if "asking" not in words[0].roles and not (
            len(words) > 1 and "opener" in words[0].roles and "asking" in words[1].roles
        ):
            return False
        return not own and not self._only_states(words, end)

    def _tells_when(self, words: Sequence[Piece]) -> bool:
        """Whether the words before the pair tell what was done: "giddy when I stood up"."""
        for at, word in enumerate(words):
            if not _ASKING.isdisjoint(word.roles):
                after = words[at + 1 :]
                if "when_word" not in word.roles or not after or "asking" in after[0].roles:
                    return False
                told = [w for w in after if "past_verb" in w.roles]
                return bool(told) and (told[0] is not after[-1] or "states" not in told[0].roles)
        return False

    def _is_marked(self, begin: int, end: int) -> bool:
        """Whether the clause has marks of a question, before it or right behind it."""
        opens = self.at(begin - 1)
        if opens is not None and opens.text == QUESTION_OPENS:
            return True
        for piece in self.pieces[end + 1 : end + 1 + SENTENCE_REACH]:
            if piece.text in ENDS or piece.text in PARTS or piece.text == QUESTION_OPENS:
                return piece.text == "?"
        return False

    def _only_states(self, words: Sequence[Piece], end: int) -> bool:
        """ "Was 141/86 when I did it": no question, only the "it" before "was" left out."""
        if len(words) != 1 or "states" not in words[0].roles:
            return False
        for piece in self.pieces[end + 1 : end + 1 + SENTENCE_REACH]:
            if piece.text in ENDS:
                return piece.text != "?"
            if "judgement" in piece.roles:
                return False
        return True
