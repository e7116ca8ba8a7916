"""Whether a pair is a reading of the writer's own, measured and meant as such.

Not so: somebody else's, a target or limit, a pair only asked about or supposed, a pair that
the message itself calls wrong. Which words tell is in the lexicon.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from enum import StrEnum
from typing import Final

from domain.understanding.pieces import ENDS, PARTS, Piece
from domain.understanding.tokens import Kind

_SENTENCE_REACH: Final = 60  #: pieces looked back over, so that long texts stay linear
_TARGET_REACH: Final = 7
_AFTER_REACH: Final = 6
_TAKEN_BACK_REACH: Final = 4
#: Marks that may stand between a pair and the words that take it back.
_AFTER_PAIR: Final = frozenset({",", "-", "(", "–", "—", ".", "!", ":", "\n"})
_QUESTION_ROLES: Final = frozenset(
    {"asking", "asking_marked", "supposing", "asked_verb", "asked_after"}
)
_QUESTION_OPENS: Final = "¿"
_NO_READING: Final = frozenset({"device", "home"})
_ASKING: Final = frozenset({"asking", "asked_verb", "supposing"})
#: Roles of words that may be, or tell of, what somebody has.
_OWNED: Final = frozenset({"own_object", "named_owner_verb", "is_or_got", "pressure_word", "time"})
#: Roles of words that need nothing between the pair and them: "150/90 my wife's", "150/90 him".
_LINKED: Final = frozenset({"possessor", "other_object_pronoun"})
_ONLY_OWNS: Final = frozenset({"possessor"})
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


class Judge:
    """Answers for one message. Places are indexes into its pieces."""

    def __init__(self, text: str, pieces: Sequence[Piece], roles: Set[str]) -> None:
        """`roles` are those of all pieces."""
        self._text = text
        self._pieces = pieces
        self._has_others = not _OTHERS.isdisjoint(roles)
        self._has_targets = not _TARGET_ROLES.isdisjoint(roles) or "<" in text or ">" in text
        self._has_questions = not _QUESTION_ROLES.isdisjoint(roles)
        self._has_negation = not _WRONG_ROLES.isdisjoint(roles)

    def standing(self, start: int, end: int) -> Standing:
        """What the pair is whose first piece is at `start` and whose last is at `end`."""
        if self._has_negation and self._is_wrong(start, end):
            return WRONG
        if self._has_others and self._is_others(start, end):
            return OTHERS
        if self._has_targets and self._is_target(start, end):
            return AIMED
        if self._has_questions and self._is_asked(start, end):
            return AIMED
        return OWN

    def _at(self, place: int) -> Piece | None:
        return self._pieces[place] if 0 <= place < len(self._pieces) else None

    def _sentence_start(self, place: int) -> int:
        """First piece of the sentence; lines after a colon belong to it."""
        at, least = place, max(0, place - _SENTENCE_REACH)
        while at > least:
            before = self._pieces[at - 1]
            if before.text in ENDS and not self._joins_lines(at - 1):
                break
            at -= 1
        return at

    def _joins_lines(self, place: int) -> bool:
        piece = self._pieces[place]
        if piece.kind is Kind.LINE:
            before = self._at(place - 1)
            return before is not None and before.text in (":", ",", "-")
        return self._is_shortening(place)

    def _is_shortening(self, place: int) -> bool:
        """Whether the piece is the point of a shortened word ("diast. 74", "no. 1")."""
        before, after = self._at(place - 1), self._at(place + 1)
        return (
            self._pieces[place].text == "."
            and before is not None
            and after is not None
            and ("shortened" in before.roles and (after.is_number or after.kind is Kind.MARK))
        )

    def _clause_start(self, place: int) -> int:
        at, least = place, max(0, place - _SENTENCE_REACH)
        while at > least:
            before = self._pieces[at - 1]
            parts = before.text in ENDS or (before.text in PARTS and before.text != "(")
            parts = parts or before.text == _QUESTION_OPENS
            if parts and not self._is_shortening(at - 1):
                break
            if before.is_number and before.claim is not None and before.claim.value == "pressure":
                break
            at -= 1
        return at

    def _is_wrong(self, start: int, end: int) -> bool:
        at = start - 1
        while at >= 0 and start - at <= 4:
            piece = self._pieces[at]
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
        while (piece := self._at(at)) is not None and at <= end + _TAKEN_BACK_REACH:
            if "was_wrong" in piece.roles:
                after = self._at(at + 1)
                return after is None or "earlier_one" not in after.roles
            if "taken_back" in piece.roles:
                return all("courtesy" in p.roles for p in self._pieces[at + 1 :] if p.text != ".")
            if piece.text not in _AFTER_PAIR and "courtesy" not in piece.roles:
                return False
            at += 1
        return False

    def _is_others(self, start: int, end: int) -> bool:
        after = self._owner_after(end)
        if after is not None:
            return after
        return self._owner_before(start)

    def _owner_after(self, end: int) -> bool | None:
        """Whether the words right after the pair give it to somebody: True, mine: False."""
        linked = False
        for place in range(end + 1, min(len(self._pieces), end + 1 + _AFTER_REACH)):
            piece = self._pieces[place]
            if piece.is_number or piece.kind is Kind.LINE:
                return None
            if piece.text == "." and self._points_back(place + 1):
                continue
            if "owner_link" in piece.roles or piece.text in ("(", "-", "–"):
                linked = True
            elif "own" in piece.roles and linked and "own_object_pronoun" in piece.roles:
                return False
            elif "person" in piece.roles or "other_object_pronoun" in piece.roles:
                if not linked and _LINKED.isdisjoint(piece.roles):
                    return None
                return self._ends_owner(place)
            elif "owner_skip" not in piece.roles and piece.text not in (",",):
                return None
        return None

    def _points_back(self, place: int) -> bool:
        """Whether a new sentence speaks of the pair before: "That was my wife's"."""
        piece = self._at(place)
        return piece is not None and "points_back" in piece.roles

    def _ends_owner(self, place: int) -> bool | None:
        """Somebody, then nothing or a pause or "not me": "160/95 for my wife, not me"."""
        after = self._at(place + 1)
        if after is not None and (
            after.is_number or ("is_or_got" in after.roles or after.text in (":",))
        ):
            return None
        if after is None or not after.is_word or "owner_end" in after.roles:
            return True
        if "reporter" in after.roles:
            return None
        return "possessor" in self._pieces[place].roles

    def _owner_before(self, start: int) -> bool:
        """Whether the nearest person named before the pair, in its sentence, is another."""
        begin = self._sentence_start(start)
        for place in range(start - 1, begin - 1, -1):
            piece = self._pieces[place]
            roles = piece.roles
            if "own" in roles:
                return False
            if "own_possessive" in roles:
                follower = self._at(place + 1)
                if follower is not None and "own_object" in follower.roles:
                    return False
            elif self._owns_device(place) or self._is_place(place) or self._is_simile(place):
                continue
            elif "person" in roles:
                if not self._only_reports(place, start) and not self._turns(place, start):
                    return True
            elif "other_pronoun" in roles:
                if (
                    not self._is_professional(begin, place)
                    and not self._only_reports(place, start)
                    and not self._owns_something_else(place)
                ):
                    return True
            elif self._is_named_owner(place):
                return True
        return False

    def _owns_device(self, place: int) -> bool:
        """Whether somebody only owns the monitor: "with my brother's cuff"."""
        piece, after = self._pieces[place], self._at(place + 1)
        if "person" in piece.roles and self._is_after_device(place):
            return True
        if after is None or "device" not in after.roles:
            return False
        return "other_pronoun" in piece.roles or (
            "person" in piece.roles and "possessor" in piece.roles
        )

    def _is_after_device(self, place: int) -> bool:
        """The same with the owner last: "con el aparato de mi hermana", "en casa de mi hija"."""
        at = place - 1
        while at > 0 and "own_possessive" in self._pieces[at].roles:
            at -= 1
        of, device = self._at(at), self._at(at - 1)
        return (
            of is not None
            and device is not None
            and ("of_word" in of.roles and not _NO_READING.isdisjoint(device.roles))
        )

    def _is_simile(self, place: int) -> bool:
        """Whether somebody is only compared to: "like somebody sitting on my chest"."""
        before = self._at(place - 1)
        return before is not None and "simile" in before.roles

    def _is_place(self, place: int) -> bool:
        """Whether somebody's is where the writer is: "at my sister's", "my son's house"."""
        piece, after = self._pieces[place], self._at(place + 1)
        if "possessor" not in piece.roles or "person" not in piece.roles:
            return False
        if after is not None and "home" in after.roles:
            return True
        before = self._at(place - 1)
        if before is not None and "own_possessive" in before.roles:
            before = self._at(place - 2)
        return before is not None and "at_word" in before.roles

    def _turns(self, place: int, start: int) -> bool:
        """Whether the words turn away from the person: "my husband is asleep so 142/91"."""
        between = self._pieces[place + 1 : start]
        if len(between) == 2 and between[1].text in PARTS and between[0].is_word:
            # "my wife's asleep, 142/91", not "my wife's today, 142/91"
            return _OWNED.isdisjoint(between[0].roles)
        if len(between) > 2 and between[-1].text == "," and "is_or_got" in between[0].roles:
            # "my grandson is 7 today, 142/91": another number is told of the person
            return any(p.is_number for p in between)
        return any("turning_word" in p.roles for p in between) and not any(
            p.is_number for p in between
        )

    def _owns_something_else(self, place: int) -> bool:
        """Whether "her" or "his" goes with a thing that is no reading: "her next visit"."""
        piece, after = self._pieces[place], self._at(place + 1)
        if "possessive" not in piece.roles or after is None or not after.is_word:
            return False
        return not ({"own_object", "named_owner_verb", "is_or_got", "time"} & after.roles)

    def _only_reports(self, place: int, start: int) -> bool:
        """Whether the person at `place` only took or told the reading of the writer."""
        if any("tells" in piece.roles for piece in self._pieces[place + 1 : start]):
            return True
        at = place - 1
        while at > 0 and "own_possessive" in self._pieces[at].roles:
            at -= 1
        if at >= 0 and "reporter_before" in self._pieces[at].roles:
            return True
        for ahead in range(place + 1, min(place + 4, start)):
            piece = self._pieces[ahead]
            if "reporter" in piece.roles:
                return True
            if piece.is_word and "reporter_skip" not in piece.roles:
                return False
            if piece.text in (":",):
                return False
        nearest = self._at(place + 1)
        return (
            nearest is not None
            and nearest.text in (",", ".", "-")
            and place + 1 < start
            and "possessor" not in self._pieces[place].roles
        )

    def _is_professional(self, begin: int, place: int) -> bool:
        return any("professional" in self._pieces[p].roles for p in range(begin, place))

    def _is_named_owner(self, place: int) -> bool:
        """A name and what it has: "Doreen got 160/95", "Morwenna's was 160/95"."""
        piece = self._pieces[place]
        verb = self._at(place + 1)
        if "first_name" in piece.roles and verb is not None:
            before = self._at(place - 1)
            named = "is_or_got" in verb.roles or (verb.is_number and self._tells_me_apart())
            named = named or (before is not None and "on_behalf" in before.roles)
            if named:
                return self._text[piece.start : piece.start + 1].isupper()
        if piece.roles != _ONLY_OWNS or not piece.is_word:
            return False
        if not self._text[piece.start : piece.start + 1].isupper():
            return False
        after = self._at(place + 1)
        return (
            after is not None
            and (
                after.is_number
                or ("named_owner_verb" in after.roles or after.text in (":",))
                or "own_object" in after.roles
            )
            and len(piece.text) > 3
            and "contraction" not in piece.roles
        )

    def _tells_me_apart(self) -> bool:
        """Whether "me" stands beside a number somewhere: "Fred 150/90, me 134/82"."""
        return any(
            "own_object_pronoun" in piece.roles
            and any(p is not None and p.is_number for p in (self._at(at - 1), self._at(at + 1)))
            for at, piece in enumerate(self._pieces)
        )

    def _is_target(self, start: int, end: int) -> bool:
        for place in range(start - 1, max(-1, start - 1 - _TARGET_REACH), -1):
            piece = self._pieces[place]
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
        after = self._at(end + 1)
        if after is not None and "target_tail" in after.roles:
            return True
        for place in range(end + 1, min(len(self._pieces), end + 5)):
            piece = self._pieces[place]
            if "target_after" in piece.roles:
                return place > end + 1
            if "target_tail_link" not in piece.roles:
                break
        return False

    def _has_moved(self, place: int) -> bool:
        """Whether "up to" tells where it went ("it shot up to 178/99"), and is no limit."""
        before = self._at(place - 1)
        return before is not None and "moved" in before.roles

    def _ends_question(self, end: int) -> bool:
        after = self._at(end + 1)
        return after is not None and after.text == "?"

    def _is_sign_of_limit(self, place: int, end: int) -> bool:
        """ "<135/85" as a limit, not brackets around a reading."""
        before, after = self._at(place - 1), self._at(end + 1)
        closed = after is not None and after.text in ("<", ">")
        return before is not None and before.is_word and not closed

    def _is_limit_over(self, place: int) -> bool:
        """ "over 180/110" as a limit: something goes or is over it, or nothing stands before."""
        before = self._at(place - 1)
        return before is None or (before.is_word and "unreadable" not in before.roles)

    def _is_asked(self, start: int, end: int) -> bool:
        begin = self._clause_start(start)
        words = [p for p in self._pieces[begin:start] if p.is_word]
        if words and all("clause_prep" in w.roles and "opener" not in w.roles for w in words):
            # "When should I worry, at 160/100?"
            begin = self._sentence_start(start)
            words = [p for p in self._pieces[begin:start] if p.is_word]
        after = self._at(end + 1)
        if not words:
            opens = self._at(start - 1)
            opens_question = opens is not None and opens.text == _QUESTION_OPENS
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
        if self._pieces[begin].is_number:
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
        opens = self._at(begin - 1)
        if opens is not None and opens.text == _QUESTION_OPENS:
            return True
        for piece in self._pieces[end + 1 : end + 1 + _SENTENCE_REACH]:
            if piece.text in ENDS or piece.text in PARTS or piece.text == _QUESTION_OPENS:
                return piece.text == "?"
        return False

    def _only_states(self, words: Sequence[Piece], end: int) -> bool:
        """ "Was 141/86 when I did it": no question, only the "it" before "was" left out."""
        if len(words) != 1 or "states" not in words[0].roles:
            return False
        for piece in self._pieces[end + 1 : end + 1 + _SENTENCE_REACH]:
            if piece.text in ENDS:
                return piece.text != "?"
            if "judgement" in piece.roles:
                return False
        return True
