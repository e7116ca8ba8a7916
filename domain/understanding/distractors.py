"""Numbers that are no blood pressure: doses, weights, prices, houses, ages, ordinals.

Which words count things and which stand before a number of their own is in the lexicon; the
shapes are here. Telephones and pages: `phones.py`; scores and dates with a stroke:
`strokes.py`; clock times and other dates: `mentions.py`.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from typing import Final

from domain.understanding.grouping import plausible
from domain.understanding.labels import label_of
from domain.understanding.links import STRONG, is_stroke, link_between
from domain.understanding.phones import claim_addresses, claim_phones
from domain.understanding.pieces import Claim, Piece
from domain.understanding.strokes import claim_fractions, ends_stroke_pair, starts_stroke_pair
from domain.understanding.vocabulary import Vocabulary

_YEAR_DIGITS: Final = 4
_LONGEST_READABLE: Final = 6  #: digits in one run; longer ones are numbers of something
_LONGEST_SHORTENED: Final = 3  #: letters of a word shortened with a point
_BEFORE_NUMBER: Final = frozenset(":=-('\"#")
_BODY: Final = (34, 42)  #: degrees Celsius of a body (common practice)
_BEFORE_NAMED: Final = _BEFORE_NUMBER | {"."}
_MONEY: Final = frozenset("£$€¥₹")
_THING_REACH: Final = 5
_NAME_REACH: Final = 2
_MARKS_AFTER: Final = frozenset("%°℃℉")


def claim_others(pieces: Sequence[Piece], vocabulary: Vocabulary, roles: Set[str]) -> None:
    """Claims every number that is found to be something other than a pressure or a pulse.

    `roles` are those of all pieces: what none of them has is not looked for beside each number.
    """
    numbers = [place for place, piece in enumerate(pieces) if piece.free]
    claim_phones(pieces, numbers)
    claim_addresses(pieces, numbers)
    ordinals, totals, ages = (r in roles for r in ("ordinal_suffix", "of_word", "age_before"))
    heights = any(piece.text == "'" for piece in pieces)
    for place in numbers:
        piece = pieces[place]
        if piece.free and (
            (ordinals and _is_ordinal(pieces, place))
            or is_counted(pieces, place)
            or _belongs_to_thing(pieces, place, vocabulary)
            or (piece.glued and _ends_range(pieces, place))
            or (heights and _is_height(pieces, place))
            or len(piece.digits) > _LONGEST_READABLE
            or (len(piece.digits) == _YEAR_DIGITS and _is_year(pieces, place))
            or (totals and _is_of_total(pieces, place))
            or (piece.fraction and _is_temperature(pieces, place))
            or (ages and _is_age(pieces, place))
        ):
            _claim_with_partner(pieces, place)
    claim_fractions(pieces, numbers, vocabulary)


def _claim_with_partner(pieces: Sequence[Piece], place: int) -> None:
    """Claims the number, and what a stroke joins to it from before ("8/500 mg", "6/10")."""
    pieces[place].take(Claim.OTHER)
    if (
        place + 2 < len(pieces)
        and is_stroke(pieces[place + 1])
        and pieces[place + 2].free
        and pieces[place + 2].glued
        and (_is_named_so(pieces, place) or not starts_stroke_pair(pieces, place))
    ):
        pieces[place + 2].take(Claim.OTHER)
    if (
        place >= 2
        and pieces[place - 2].free
        and "range_link" in pieces[place - 1].roles
        and not ends_stroke_pair(pieces, place - 2)
    ):
        pieces[place - 2].take(Claim.OTHER)
    if (
        place >= 2
        and is_stroke(pieces[place - 1])
        and pieces[place - 2].free
        and pieces[place].glued
    ):
        pieces[place - 2].take(Claim.OTHER)


def _is_ordinal(pieces: Sequence[Piece], place: int) -> bool:
    after = place + 1
    return after < len(pieces) and pieces[after].glued and "ordinal_suffix" in pieces[after].roles


def is_counted(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a unit or a counted thing follows ("25 mg", "4,000 steps", "97 %")."""
    after = place + 1
    if after < len(pieces) and pieces[after].text == "-" and pieces[after].glued:
        after += 1
    if after >= len(pieces):
        return False
    if place and pieces[place - 1].text in _MONEY:
        return True
    follower = pieces[after]
    if follower.text[:1] in _MARKS_AFTER:
        return True
    if "unit" not in follower.roles:
        return False
    before = place - 1
    while before > 0 and pieces[before].text in _BEFORE_NUMBER:
        before -= 1
    if label_of(follower) and before >= 0 and label_of(pieces[before]):
        return False  # "max 142 min 91"
    if ends_stroke_pair(pieces, place):
        return "unit_sure" in follower.roles
    # "142/91 am" and "top 142 c": one letter is a unit only when it touches or is alone.
    return not (
        len(follower.text) == 1 and not follower.glued and "touching_unit" not in follower.roles
    )


def _belongs_to_thing(pieces: Sequence[Piece], place: int, vocabulary: Vocabulary) -> bool:
    """Whether a thing with a number of its own stands before ("sugar was 6.1", "room 112")."""
    before = pieces[place - 1] if place else None
    if before is None or not (before.roles or before.is_word or before.text in _BEFORE_NAMED):
        return False  # at the beginning, behind a stroke or another number
    if _is_named_so(pieces, place):
        return True
    if not _stands_after_thing(pieces, place, vocabulary):
        return False
    return _is_drug_before(pieces, place, vocabulary) or not starts_stroke_pair(pieces, place)


def _stands_after_thing(pieces: Sequence[Piece], place: int, vocabulary: Vocabulary) -> bool:
    """Whether nothing but small words parts the number from a thing or a medicine."""
    back = place - 1
    for _ in range(_THING_REACH):
        if back < 0:
            return False
        piece = pieces[back]
        if "thing" in piece.roles:
            heard = "homophone" in piece.roles and back + 1 < place  # "one fifty won over ninety"
            return not heard and _is_thing(pieces, back)
        if piece.is_number or (label_of(piece) and "high_sure" in piece.roles):
            return False
        if piece.is_word and "thing_link" not in piece.roles:
            return _is_drug(piece, vocabulary) or _is_named_thing(pieces, back)
        if piece.text == ".":
            # Only behind a shortened word ("tel. 020 …"); otherwise a sentence ends.
            if not back or len(pieces[back - 1].text) > _LONGEST_SHORTENED:
                return False
        elif not piece.is_word and piece.text not in _BEFORE_NUMBER:
            return False
        back -= 1
    return False


def _is_height(pieces: Sequence[Piece], place: int) -> bool:
    """Whether the number is one of the feet and inches of "5'7"."""
    for mark in (place - 1, place + 1):
        if not 0 < mark < len(pieces) - 1 or pieces[mark].text != "'" or not pieces[mark].glued:
            continue
        feet, inches = pieces[mark - 1], pieces[mark + 1]
        if feet.is_number and inches.is_number and inches.glued:
            return 3 <= feet.whole <= 7 and inches.whole <= 11
    return False


def _ends_range(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a dash joins the number to one that was no pressure ("pages 112-130")."""
    return (
        place >= 2
        and pieces[place].glued
        and pieces[place - 1].glued
        and pieces[place - 1].text in ("-", "–")
        and pieces[place - 2].claim is Claim.OTHER
        and not starts_stroke_pair(pieces, place)
    )


def _is_thing(pieces: Sequence[Piece], back: int) -> bool:
    """Not so after a word that makes the thing a label ("big number", "top number")."""
    return not (back and label_of(pieces[back - 1]) is not None)


def _is_named_thing(pieces: Sequence[Piece], back: int) -> bool:
    """Whether the word is the name of a thing that has one: "calle Mayor 142"."""
    before = pieces[max(0, back - _NAME_REACH) : back]
    return any("named_thing" in piece.roles for piece in before)


def _is_drug(piece: Piece, vocabulary: Vocabulary) -> bool:
    if "drug" in piece.roles:
        return True
    return len(piece.text) > 6 and piece.text.endswith(vocabulary.lists["drug_endings"])


def _is_drug_before(pieces: Sequence[Piece], place: int, vocabulary: Vocabulary) -> bool:
    if not place or not pieces[place - 1].is_word:
        return False
    before = pieces[place - 1]
    return "drug_name" in before.roles or (
        "drug" not in before.roles and _is_drug(before, vocabulary)
    )


def _is_named_so(pieces: Sequence[Piece], place: int) -> bool:
    """Whether the stroke is one inside a name: "ref. 142/91", "order 142/91"."""
    back = place - 1
    while back >= 0 and place - back <= 2 and pieces[back].text in _BEFORE_NAMED:
        back -= 1
    return back >= 0 and "names_pair" in pieces[back].roles


def _is_age(pieces: Sequence[Piece], place: int) -> bool:
    """ "I am 79 and 142, 91": two digits after "I am" that begin no pair of their own."""
    piece = pieces[place]
    if not place or "age_before" not in pieces[place - 1].roles or len(piece.digits) != 2:
        return False
    after = next((p for p in range(place + 1, len(pieces)) if pieces[p].is_number), None)
    if after is None or piece.fraction:
        return True
    link = link_between(pieces, place, after)
    pairs_up = plausible(piece.whole, pieces[after].whole) or link is STRONG
    return not (pairs_up and link is not None)


def _is_temperature(pieces: Sequence[Piece], place: int) -> bool:
    """ "134/82 66 36.7": degrees Celsius of a body behind whole numbers."""
    piece = pieces[place]
    if not piece.fraction or not _BODY[0] <= piece.whole <= _BODY[1] or not place:
        return False
    before = pieces[place - 1]
    return before.is_number and not before.fraction


def _is_of_total(pieces: Sequence[Piece], place: int) -> bool:
    """ "page 88 of 120": the second number of two, of which the first is no pressure."""
    return (
        place >= 2
        and "of_word" in pieces[place - 1].roles
        and pieces[place - 2].claim is Claim.OTHER
    )


def _is_year(pieces: Sequence[Piece], place: int) -> bool:
    piece = pieces[place]
    if piece.fraction or len(piece.digits) != 4 or piece.digits[:2] not in ("19", "20"):
        return False
    follower = pieces[place + 2] if place + 2 < len(pieces) else piece
    if follower.is_number and follower.whole == (piece.whole + 1) % 100:
        follower.take(Claim.OTHER)  # "2025/26"
        return True
    return not _touches_stroke(pieces, place)


def _touches_stroke(pieces: Sequence[Piece], place: int) -> bool:
    before = place > 0 and (is_stroke(pieces[place - 1]) or "over" in pieces[place - 1].roles)
    after = place + 1 < len(pieces) and (
        is_stroke(pieces[place + 1]) or "over" in pieces[place + 1].roles
    )
    return (before and place > 1 and pieces[place - 2].is_number) or (
        after and place + 2 < len(pieces) and pieces[place + 2].is_number
    )
