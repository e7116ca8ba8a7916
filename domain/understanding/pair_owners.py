"""Whether a pair is somebody else's: who is named before it or behind, and what they do there.

Whoever only takes or tells a reading, or owns the monitor, does not have it.
"""

from __future__ import annotations

from typing import Final

from domain.understanding.around import Around
from domain.understanding.pieces import PARTS
from domain.understanding.tokens import Kind

_AFTER_REACH: Final = 6
_NO_READING: Final = frozenset({"device", "home"})
#: Roles of words that may be, or tell of, what somebody has.
_OWNED: Final = frozenset({"own_object", "named_owner_verb", "is_or_got", "pressure_word", "time"})
#: Roles of words that need nothing between the pair and them: "150/90 my wife's", "150/90 him".
_LINKED: Final = frozenset({"possessor", "other_object_pronoun"})
_ONLY_OWNS: Final = frozenset({"possessor"})


class OwnersOfPairs(Around):
    """Answers for one message. Places are indexes into its pieces."""

    def is_others(self, start: int, end: int) -> bool:
        """Whether the pair whose first piece is at `start` and last at `end` is another's."""
        after = self._owner_after(end)
        if after is not None:
            return after
        return self._owner_before(start)

    def _owner_after(self, end: int) -> bool | None:
        """Whether the words right after the pair give it to somebody: True, mine: False."""
        linked = False
        for place in range(end + 1, min(len(self.pieces), end + 1 + _AFTER_REACH)):
            piece = self.pieces[place]
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
        piece = self.at(place)
        return piece is not None and "points_back" in piece.roles

    def _ends_owner(self, place: int) -> bool | None:
        """Somebody, then nothing or a pause or "not me": "160/95 for my wife, not me"."""
        after = self.at(place + 1)
        if after is not None and (
            after.is_number or ("is_or_got" in after.roles or after.text in (":",))
        ):
            return None
        if after is None or not after.is_word or "owner_end" in after.roles:
            return True
        if "reporter" in after.roles:
            return None
        return "possessor" in self.pieces[place].roles

    def _owner_before(self, start: int) -> bool:
        """Whether the nearest person named before the pair, in its sentence, is another."""
        begin = self.sentence_start(start)
        for place in range(start - 1, begin - 1, -1):
            piece = self.pieces[place]
            roles = piece.roles
            if "own" in roles:
                return False
            if "own_possessive" in roles:
                follower = self.at(place + 1)
                if follower is not None and "own_object" in follower.roles:
                    return False
            elif self._is_no_owner(place, start):
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

    def _is_no_owner(self, place: int, start: int) -> bool:
        """Whether the reading behind is not of the one named here, who is only there."""
        return (
            self._owns_device(place)
            or self._is_place(place)
            or self._is_simile(place)
            or self._is_met(place, start)
        )

    def _owns_device(self, place: int) -> bool:
        """Whether somebody only owns the monitor: "with my brother's cuff"."""
        piece, after = self.pieces[place], self.at(place + 1)
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
        while at > 0 and "own_possessive" in self.pieces[at].roles:
            at -= 1
        of, device = self.at(at), self.at(at - 1)
        return (
            of is not None
            and device is not None
            and ("of_word" in of.roles and not _NO_READING.isdisjoint(device.roles))
        )

    def _is_simile(self, place: int) -> bool:
        """Whether somebody is only compared to: "like somebody sitting on my chest"."""
        before = self.at(place - 1)
        return before is not None and "simile" in before.roles

    def _is_met(self, place: int, start: int) -> bool:
        """Whether the writer only did something to them, or with them, and measured later:
        "fed the cat, 127/75", "had tea with my sister then measured 127/75".
        """
        if "possessor" in self.pieces[place].roles:
            return False
        at = place - 1
        while at > 0 and "met_link" in self.pieces[at].roles and "met" not in self.pieces[at].roles:
            at -= 1
        before = self.at(at)
        if before is None:
            return False
        between = self.pieces[place + 1 : start]
        later = any("afterwards" in piece.roles for piece in between) and not any(
            "other_pronoun" in piece.roles for piece in between
        )
        return "handled" in before.roles or ("met" in before.roles and later)

    def _is_place(self, place: int) -> bool:
        """Whether somebody's is where the writer is: "at my sister's", "my son's house"."""
        piece, after = self.pieces[place], self.at(place + 1)
        if "possessor" not in piece.roles or "person" not in piece.roles:
            return False
        if after is not None and "home" in after.roles:
            return True
        before = self.at(place - 1)
        if before is not None and "own_possessive" in before.roles:
            before = self.at(place - 2)
        return before is not None and "at_word" in before.roles

    def _turns(self, place: int, start: int) -> bool:
        """Whether the words turn away from the person: "my husband is asleep so 142/91"."""
        between = self.pieces[place + 1 : start]
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
        piece, after = self.pieces[place], self.at(place + 1)
        if "possessive" not in piece.roles or after is None or not after.is_word:
            return False
        return not ({"own_object", "named_owner_verb", "is_or_got", "time"} & after.roles)

    def _only_reports(self, place: int, start: int) -> bool:
        """Whether the person at `place` only took or told the reading of the writer."""
        if any("tells" in piece.roles for piece in self.pieces[place + 1 : start]):
            return True
        at = place - 1
        while at > 0 and "own_possessive" in self.pieces[at].roles:
            at -= 1
        if at >= 0 and "reporter_before" in self.pieces[at].roles:
            return True
        for ahead in range(place + 1, min(place + 4, start)):
            piece = self.pieces[ahead]
            if "reporter" in piece.roles:
                return True
            if piece.is_word and "reporter_skip" not in piece.roles:
                return False
            if piece.text in (":",):
                return False
        nearest = self.at(place + 1)
        return (
            nearest is not None
            and nearest.text in (",", ".", "-")
            and place + 1 < start
            and "possessor" not in self.pieces[place].roles
        )

    def _is_professional(self, begin: int, place: int) -> bool:
        return any("professional" in self.pieces[p].roles for p in range(begin, place))

    def _is_named_owner(self, place: int) -> bool:
        """A name and what it has: "Doreen got 160/95", "Morwenna's was 160/95"."""
        piece = self.pieces[place]
        verb = self.at(place + 1)
        if "first_name" in piece.roles and verb is not None:
            before = self.at(place - 1)
            named = "is_or_got" in verb.roles or (verb.is_number and self._tells_me_apart())
            named = named or (before is not None and "on_behalf" in before.roles)
            if named:
                return self.text[piece.start : piece.start + 1].isupper()
        if piece.roles != _ONLY_OWNS or not piece.is_word:
            return False
        if not self.text[piece.start : piece.start + 1].isupper():
            return False
        after = self.at(place + 1)
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
            and any(p is not None and p.is_number for p in (self.at(at - 1), self.at(at + 1)))
            for at, piece in enumerate(self.pieces)
        )
