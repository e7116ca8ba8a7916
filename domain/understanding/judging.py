"""What a pair of numbers is worth: a reading, a reading in doubt, or a doubt alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from domain.understanding import centimetres, kilopascals
from domain.understanding.grouping import Amount, Pair, plausible
from domain.understanding.labels import LOW
from domain.understanding.links import STRONG
from domain.understanding.numbers import UNREADABLE
from domain.understanding.pieces import Piece
from domain.understanding.result import Doubt
from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import NO_ROLES, Vocabulary

#: The pressure habit of several languages: "13 over 8" for 130/80, in centimetres of mercury.
_CMHG: Final = ((5, 30), (3, 20))


#: Roles of words that stand in place of a digit that was not told, or not heard.
UNHEARD_ROLES: Final = frozenset({"homophone", "head_homophone", "some", "decade"})


@dataclass(slots=True)
class Verdict:
    """What a pair gives. Without a reading, `possible` holds what it may mean.

    Nothing changes one. It is not frozen, because that makes it three times as slow to make.
    """

    reading: tuple[int, int] | None  #: systolic, diastolic in mmHg
    doubts: frozenset[Doubt] = frozenset()
    possible: tuple[tuple[int | None, int | None], ...] = ()


def judge(
    pair: Pair, pieces: Sequence[Piece], vocabulary: Vocabulary, *, kpa_said: bool, unheard: bool
) -> Verdict:
    """What the pair gives.

    `kpa_said` tells that the message names kilopascals, `unheard` that words of
    `UNHEARD_ROLES` stand in it.
    """
    unsure = _unreadable(pair, pieces)
    if unsure is None and unheard:
        unsure = _unheard(pair, pieces, vocabulary.homophones)
    if unsure is not None:
        return unsure
    if pair.alternatives:
        return _ambiguous(pair.alternatives)
    short = not kpa_said and centimetres.spoken_in(vocabulary.lists)
    if short and (pair.first.is_whole != pair.second.is_whole):
        return _implausible(pair)
    other: tuple[tuple[int | None, int | None], ...] = ()
    if (kpa_said and not _clearly_mmhg(pair)) or kilopascals.looks_like_kpa(
        pair.first, pair.second
    ):
        first, second = kilopascals.to_mmhg(pair.first), kilopascals.to_mmhg(pair.second)
        doubts = frozenset({Doubt.KILOPASCAL})
        other = ((centimetres.in_mmhg(pair.first), centimetres.in_mmhg(pair.second)),) * short
    else:
        if not (pair.first.is_whole and pair.second.is_whole):
            return _implausible(pair)
        first, second = pair.first.whole, pair.second.whole
        doubts = frozenset()
    if pair.first_label == LOW:
        first, second = second, first
    if plausible(first, second):
        return Verdict((first, second), doubts, other)
    if plausible(second, first):
        return Verdict((second, first), doubts | {Doubt.SWAPPED}, _lost_hundred(first, second))
    return _implausible(pair)


def _clearly_mmhg(pair: Pair) -> bool:
    return plausible(pair.first.whole, pair.second.whole) and pair.second.whole >= 40


def _lost_hundred(first: int, second: int) -> tuple[tuple[int | None, int | None], ...]:
    """ "35/85" may be 135/85 with a digit lost, when turned round it would be very low."""
    if second < 100 and plausible(first + 100, second):
        return ((second, first), (first + 100, second))
    return ((second, first),)


def _ambiguous(possible: tuple[tuple[int | None, int | None], ...]) -> Verdict:
    return Verdict(None, frozenset({Doubt.AMBIGUOUS}), possible)


def _implausible(pair: Pair) -> Verdict:
    typed = (pair.first.whole, pair.second.whole)
    if pair.first_label == LOW:
        typed = typed[::-1]
    possible: list[tuple[int | None, int | None]] = [typed]
    (least_first, most_first), (least_second, most_second) = _CMHG
    if least_first <= typed[0] <= most_first and least_second <= typed[1] <= most_second:
        tens = (centimetres.in_mmhg(pair.first), centimetres.in_mmhg(pair.second))
        possible.append(tens[::-1] if pair.first_label == LOW else tens)
    return Verdict(None, frozenset({Doubt.IMPLAUSIBLE}), tuple(possible))


def _unreadable(pair: Pair, pieces: Sequence[Piece]) -> Verdict | None:
    """The verdict when a digit could not be read."""
    if pair.first.hidden or pair.second.hidden:
        return _ambiguous(((_worst(pair.first), _worst(pair.second)),))
    if _dangling_digit(pair, pieces):
        return _ambiguous(((pair.first.whole, pair.second.whole * 10 + 9),))
    if len(pair.first.digits) <= 2 and _sign_touches(pieces, pair.first.places[-1]):
        return _ambiguous(((pair.first.whole * 10 + 9, pair.second.whole),))
    return None


def _unheard(pair: Pair, pieces: Sequence[Piece], homophones: Mapping[str, int]) -> Verdict | None:
    """The verdict when a word stands in place of a digit."""
    if pair.first_label is not None:
        return None
    if _is_rough(pieces, pair.first.places[-1]) or _is_rough(pieces, pair.second.places[-1]):
        return _ambiguous(((_roughest(pair.first), _roughest(pair.second)),))
    heard = _heard_digit(pair, pieces, homophones)
    if heard is None:
        return None
    return _ambiguous(((pair.first.whole, pair.second.whole), *heard))


def _is_rough(pieces: Sequence[Piece], place: int) -> bool:
    """Whether "something", "-odd" or "s" follows: "130 something", "the 140s"."""
    after = pieces[place + 1] if place + 1 < len(pieces) else None
    if after is not None and after.text == "-" and place + 2 < len(pieces):
        after = pieces[place + 2]
    if after is None:
        return False
    tens = pieces[place].digits.endswith("0")
    if "some" in after.roles:
        # "140/82 y algo mareada": somewhat dizzy, and no digit that was not told
        behind = next((p for p in pieces[place + 2 : place + 4] if p is not after), None)
        return behind is None or not behind.is_word or behind.roles != NO_ROLES
    return tens and "decade" in after.roles and after.glued


def _roughest(amount: Amount) -> int:
    return amount.whole + 9 if amount.digits.endswith("0") else amount.whole


def _worst(amount: Amount) -> int:
    """The highest plausible filling of the digits that could not be read."""
    digits = list(amount.digits)
    for place in amount.hidden:
        digits[place] = "2" if place == 0 and len(digits) == 3 else "9"
    return int("".join(digits))


def _dangling_digit(pair: Pair, pieces: Sequence[Piece]) -> bool:
    """ "142/9?": one digit and a sign for the one that could not be read."""
    return len(pair.second.digits) == 1 and _sign_touches(pieces, pair.second.places[-1])


def _sign_touches(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a sign for an unreadable digit stands right behind the number at `place`."""
    after = pieces[place + 1] if place + 1 < len(pieces) else None
    if after is None or not after.glued or after.text not in UNREADABLE - {"-"}:
        return False
    # "**91** / **37**" is bold, not unreadable.
    marked = place > 0 and pieces[place].glued and pieces[place - 1].text == after.text
    return not (marked and after.text in "*_")


def _heard_digit(
    pair: Pair, pieces: Sequence[Piece], homophones: Mapping[str, int]
) -> tuple[tuple[int | None, int | None], ...] | None:
    """Other readings when a homophone stands where a digit may have been spoken, else None."""
    first, second = pair.first, pair.second
    start, end = first.places[0], second.places[-1]
    between = pieces[first.places[-1] + 1 : second.places[0]]
    for word in between:
        if "homophone" in word.roles:
            digit = str(homophones[word.text])
            before_stroke = word is between[0]
            if before_stroke:
                return ((_with_digit(first.digits, digit), second.whole),)
            return ((first.whole, int((digit + second.digits)[:3])),)
    before = pieces[start - 1] if start else None
    if before is not None and "head_homophone" in before.roles and pieces[start].spoken:
        return ((first.whole, second.whole),)
    if before is not None and "some" in before.roles and start >= 2 and pieces[start - 2].is_number:
        return ((int(f"{pieces[start - 2].digits}9{first.digits}"[:3]), second.whole),)
    if before is not None and "homophone" in before.roles and len(first.digits) <= 2:
        spaced = start >= 2 and pieces[start - 2].is_number and pieces[start - 2].free
        if spaced or ("head_homophone" in before.roles):
            digit = str(homophones[before.text])
            lead = pieces[start - 2].digits if spaced else ""
            return ((int((lead + digit + first.digits)[:3]), second.whole),)
    after = pieces[end + 1] if end + 1 < len(pieces) else None
    if after is not None and "homophone" in after.roles and _ends_number(pair, pieces, end):
        return ((first.whole, _with_digit(second.digits, str(homophones[after.text]))),)
    return None


def _with_digit(digits: str, heard: str) -> int:
    """The number with the digit that was heard: 140 and "to" give 142, 14 and "to" 142."""
    if digits.endswith("0") and len(digits) > 1:
        return int(digits[:-1] + heard)
    return int((digits + heard)[:3])


def _ends_number(pair: Pair, pieces: Sequence[Piece], end: int) -> bool:
    """Whether the homophone after the pair can only be a digit: it leads to no other word."""
    if len(pair.second.digits) > 2 or pair.pulse is not None or pair.link is not STRONG:
        return False
    after = pieces[end + 2] if end + 2 < len(pieces) else None
    at_end = after is None or (not after.is_word and not after.is_number)
    if len(pair.second.digits) == 1:
        return True
    round_number = pair.second.digits.endswith("0")
    stroke_typed = any(
        p.kind is Kind.MARK for p in pieces[pair.first.places[-1] + 1 : pair.second.places[0]]
    )
    return at_end and round_number and not stroke_typed
