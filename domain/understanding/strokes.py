"""Two numbers with a stroke between: a pressure, or a score, a date, a saying."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

from domain.understanding import centimetres
from domain.understanding.grouping import either_way, plausible
from domain.understanding.links import STRONG, is_stroke, link_between
from domain.understanding.pieces import Claim, Piece
from domain.understanding.vocabulary import Vocabulary

_LARGEST_SCORE: Final = 31  #: or day; above it a number before a stroke is no score and no date
_MOST_ALONE: Final = 3  #: numbers of a message that is one pair and its pulse


def starts_stroke_pair(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a stroke or "over" joins the number to a next one, and both can be a pressure."""
    for after in range(place + 1, min(len(pieces), place + 5)):
        if pieces[after].is_number:
            return link_between(pieces, place, after) is STRONG and either_way(
                pieces[place].whole, pieces[after].whole
            )
    return False


def ends_stroke_pair(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a stroke or "over" joins the number to the one before, as a pressure."""
    before = next(
        (p for p in range(place - 1, max(-1, place - 5), -1) if pieces[p].is_number), None
    )
    return (
        before is not None
        and pieces[before].free
        and link_between(pieces, before, place) is STRONG
        and either_way(pieces[before].whole, pieces[place].whole)
    )


def claim_fractions(
    pieces: Sequence[Piece], numbers: Sequence[int], vocabulary: Vocabulary
) -> None:
    """Claims both numbers of every score, date and saying with a stroke in it."""
    speaks: bool | None = None
    for left, right in itertools.pairwise(numbers):
        first, second = pieces[left], pieces[right]
        if right - left != 2 or not (first.free and second.free):
            continue
        if not is_stroke(pieces[left + 1]):
            continue
        if first.whole > _LARGEST_SCORE and not _is_saying(first, second, vocabulary):
            continue
        if speaks is None:
            speaks = _may_be_pressure(pieces)
        if _is_fraction(pieces, left, right, vocabulary, may_be_pressure=speaks):
            first.take(Claim.OTHER)
            second.take(Claim.OTHER)


def _is_fraction(
    pieces: Sequence[Piece],
    left: int,
    right: int,
    vocabulary: Vocabulary,
    *,
    may_be_pressure: bool,
) -> bool:
    """Whether two numbers with a stroke are a fraction, a score or a fixed saying."""
    first, second = pieces[left], pieces[right]
    if _is_spaced_out(pieces, left, right):
        return False
    ends_three = left >= 2 and is_stroke(pieces[left - 1]) and pieces[left - 2].is_number
    if not ends_three and _is_saying(first, second, vocabulary):
        return True
    if right + 2 < len(pieces) and is_stroke(pieces[right + 1]) and pieces[right + 2].is_number:
        return False
    if (
        first.whole <= _LARGEST_SCORE
        and second.whole <= 12
        and _is_written_as_date(pieces, left, right)
    ):
        return True
    if first.fraction or second.fraction or (first.whole == second.whole == 0):
        return False
    if first.whole <= _LARGEST_SCORE and second.whole <= 12 and not may_be_pressure:
        return True
    if centimetres.spoken_in(vocabulary.lists) and centimetres.may_be(first.value, second.value):
        return False
    small = first.whole <= 12 and second.whole <= 16 and not first.fraction
    return small and not plausible(first.whole, second.whole)


def _is_saying(first: Piece, second: Piece, vocabulary: Vocabulary) -> bool:
    return f"{first.text}/{second.text}" in vocabulary.lists["fixed_pairs"]


def _is_spaced_out(pieces: Sequence[Piece], left: int, right: int) -> bool:
    """Whether the two digits beside the stroke belong to a spaced-out pair ("15 3/8 9")."""
    before = pieces[left - 1] if left else None
    after = pieces[right + 1] if right + 1 < len(pieces) else None
    if before is not None and before.free:
        short = len(before.digits) + len(pieces[left].digits) <= 3
        return short and not ends_stroke_pair(pieces, left - 1)
    return (
        after is not None
        and after.free
        and len(after.digits) + len(pieces[right].digits) == 2
        and pieces[left].whole >= 50
    )


def _is_written_as_date(pieces: Sequence[Piece], left: int, right: int) -> bool:
    """Day and month: the month with a zero before it, or after a word for a day."""
    before = pieces[left - 1] if left else None
    return (len(pieces[right].digits) == 2 and pieces[right].digits.startswith("0")) or (
        before is not None and "date_before" in before.roles
    )


def _may_be_pressure(pieces: Sequence[Piece]) -> bool:
    """Whether a small pair may be a pressure in other units: it stands alone or is called so."""
    alone = not any(piece.is_word for piece in pieces)
    if alone and sum(piece.is_number for piece in pieces) <= _MOST_ALONE:
        return True
    return any("pressure_word" in p.roles or "kpa" in p.roles for p in pieces)
