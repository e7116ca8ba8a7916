"""Pairs that stand against each other: one or the other, one instead of the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from domain.understanding.grouping import Amount, Pair
from domain.understanding.links import STRONG
from domain.understanding.pieces import Piece

_LONGEST_GAP: Final = 12
_LONGEST_TOLD: Final = 3  #: pieces of ", it was" between two pairs
_LONGEST_TYPED: Final = 5  #: pieces of " it is, I put" between two pairs
_LONGEST_RANGE: Final = 20  #: mmHg between the ends of a range of one number
_SENTENCE_ENDS: Final = frozenset({".", "!", ";", "\n"})

#: Without a word of one of these roles, or one of these signs, no number is an alternative.
OFFERING_ROLES: Final = frozenset({"alternative", "between", "range_mark"})
OFFERING_SIGNS: Final = frozenset({"-", "–"})
#: Without a word of one of these no pair is given instead of another.
REPLACING_ROLES: Final = frozenset({"replaces", "no_word", "change_verb", "told_before"})

Possibilities = tuple[tuple[int | None, int | None], ...]


def _gap(pieces: Sequence[Piece], left: Pair, right: Pair) -> Sequence[Piece]:
    return pieces[left.end + 1 : right.start]


def are_alternatives(pieces: Sequence[Piece], left: Pair, right: Pair) -> bool:
    """Whether two neighbouring pairs are two ways to read one: "or", "between … and"."""
    gap = _gap(pieces, left, right)
    if len(gap) > _LONGEST_GAP or any(p.text in _SENTENCE_ENDS for p in gap):
        return False
    if any("alternative" in p.roles for p in gap):
        return True
    return any("and_word" in p.roles for p in gap) and _after_between(pieces, left.start)


def _after_between(pieces: Sequence[Piece], start: int) -> bool:
    return any("between" in p.roles for p in pieces[max(0, start - 3) : start])


def replaces(pieces: Sequence[Piece], left: Pair, right: Pair) -> bool:
    """Whether the second of two neighbouring pairs is given instead of the first."""
    gap = _gap(pieces, left, right)
    if len(gap) > _LONGEST_GAP:
        return False
    if _is_change(pieces, left, gap) or _was_told(pieces, left, gap):
        return True
    for piece in reversed(gap):
        if "replaces" in piece.roles or "no_word" in piece.roles:
            return True
        if not (
            "connector" in piece.roles
            or (
                "replaces_link" in piece.roles
                or piece.text in (",", "-", ".", ":", "!", "…", "(", ";", "–")
            )
        ):
            return False
    return False


def _is_change(pieces: Sequence[Piece], left: Pair, gap: Sequence[Piece]) -> bool:
    before = pieces[max(0, left.start - 4) : left.start]
    return (
        any("change_verb" in p.roles for p in before)
        and bool(gap)
        and all("change_link" in p.roles or p.text == "," for p in gap)
    )


def _was_told(pieces: Sequence[Piece], left: Pair, gap: Sequence[Piece]) -> bool:
    """Whether the first was only told ("I put 143/82, it was 134/82")."""
    told = any("told_before" in p.roles for p in pieces[max(0, left.start - 3) : left.start])
    return told and any("is_really" in p.roles for p in gap) and len(gap) <= _LONGEST_TOLD


def was_mistyped(pieces: Sequence[Piece], left: Pair, right: Pair) -> bool:
    """Whether the second pair is the first as it was typed ("134/82 it is, I put 143/82")."""
    gap = _gap(pieces, left, right)
    if not 0 < len(gap) <= _LONGEST_TYPED or "mistyped" not in gap[-1].roles:
        return False
    halves = ((left.first, right.first), (left.second, right.second))
    return all(sorted(a.digits) == sorted(b.digits) for a, b in halves) or any(
        a.whole == b.whole for a, b in halves
    )


def only_maybe(pieces: Sequence[Piece], pair: Pair) -> bool:
    """Whether the pair itself is only "maybe"."""
    at = pair.start - 1
    for _ in range(3):
        if at < 0:
            break
        if "maybe" in pieces[at].roles:
            return True
        if "maybe_link" not in pieces[at].roles:
            break
        at -= 1
    after = pieces[pair.end + 1 : pair.end + 4]
    if after and after[0].text in (",", "(", "-"):
        after = after[1:]
    return (
        bool(after)
        and "maybe" in after[0].roles
        and (len(after) == 1 or after[1].text in (".", ",", ")", "?", "!", "\n"))
    )


def number_instead(pieces: Sequence[Piece], pair: Pair) -> Possibilities:
    """Both readings when "or" or a range offers another number for one half of the pair."""
    first, second = pair.first.whole, pair.second.whole
    if pair.pulse is not None and _goes_up(pieces, pair, pair.pulse):
        return ((first, second), (first, pair.pulse.whole))
    inside = _inside(pieces, pair)
    if inside is not None:
        return ((first, second), (pieces[inside].whole, second))
    before = _near_number(pieces, pair.start, -1)
    if before is not None and pieces[before].whole >= 20:
        gap = pieces[before + 1 : pair.start]
        ranged = len(gap) == 1 and ("range_mark" in gap[0].roles or gap[0].text in ("-", "–"))
        between = any("and_word" in p.roles for p in gap) and _after_between(pieces, before)
        if (
            between
            or any("alternative" in p.roles for p in gap)
            or (ranged and 0 < first - pieces[before].whole <= 60)
        ):
            return ((pieces[before].whole, second), (first, second))
    after = _near_number(pieces, pair.end, 1)
    if after is not None and pieces[after].whole >= 20:
        gap = pieces[pair.end + 1 : after]
        if any("alternative" in p.roles for p in gap):
            other = pieces[after].whole
            swapped_half = (first, other) if other < first - 9 and other < 130 else (other, second)
            return ((first, second), swapped_half)
    return ()


def _goes_up(pieces: Sequence[Piece], pair: Pair, third: Amount) -> bool:
    """Whether the third number ends a range of the second ("142/90-95"), and is no pulse."""
    gap = pieces[pair.second.places[-1] + 1 : third.places[0]]
    if pair.link is not STRONG or len(gap) != 1:
        return False
    dash = gap[0].text in ("-", "–") and gap[0].glued and pieces[third.places[0]].glued
    ranged = dash or "range_mark" in gap[0].roles
    return ranged and 0 < third.whole - pair.second.whole <= _LONGEST_RANGE


def _inside(pieces: Sequence[Piece], pair: Pair) -> int | None:
    """The other number for the first half, before the second: "top 141 or 147, bottom 80"."""
    last = pair.first.places[-1]
    for place in range(last + 1, min(pair.second.places[0], last + 5)):
        if pieces[place].is_number:
            offered = any("alternative" in p.roles for p in pieces[last + 1 : place])
            return place if offered and pieces[place].free else None
    return None


def _near_number(pieces: Sequence[Piece], place: int, step: int) -> int | None:
    """The free number before or after a place, with at most six other pieces between."""
    for ahead in range(1, 8):
        at = place + step * ahead
        if not 0 <= at < len(pieces) or pieces[at].text in _SENTENCE_ENDS:
            return None
        if pieces[at].is_number:
            return at if pieces[at].free and not pieces[at].fraction else None
    return None
