"""Numbers in words: "a hundred and forty-two", "ciento cuarenta y dos", "142 point five".

They follow everyday speech: "one" and "forty-two" of "one forty-two" are still two numbers
here; they are joined where a pair is looked for (`grouping.py`), in the same way as digits
that dictation has spaced out. Which words have which value or part is in the lexicon.
"""

from __future__ import annotations

from typing import Final

from domain.understanding.links import is_stroke
from domain.understanding.pieces import Piece, number_piece
from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import TYPED_HUNDREDS, Vocabulary

_NUMBER: Final = Kind.NUMBER
_WORD: Final = Kind.WORD
_HUNDRED: Final = 100
#: Roles of words that lead to a clock time.
_BEFORE_HOUR: Final = frozenset({"time_before", "to_word"})
_SHORTEST_RUN: Final = 6  #: letters of two number words that are run together


def with_spoken_numbers(pieces: list[Piece], vocabulary: Vocabulary) -> list[Piece]:
    """The pieces with every number in words as one number."""
    texts = [piece.text for piece in pieces]
    if vocabulary.number_parts.isdisjoint(texts):
        return pieces
    pieces = _unjoined(pieces, vocabulary)
    found: list[Piece] = []
    at = 0
    while at < len(pieces):
        piece, at = _spoken_number(pieces, at, found, vocabulary)
        if piece.spoken and len(found) > 1 and found[-1].text == "-" and found[-2].spoken:
            found.pop()  # "one-forty-two" is spelt with hyphens that part nothing
        found.append(piece)
    return found


def _ends_pair(before: list[Piece]) -> bool:
    """Whether a stroke or "over" leads to the number: "112/100 90/50" are two readings."""
    return bool(before) and ("over" in before[-1].roles or is_stroke(before[-1]))


def _unjoined(pieces: list[Piece], vocabulary: Vocabulary) -> list[Piece]:
    """With number words that are run together as pieces of their own ("onethirtyfour")."""
    found: list[Piece] = []
    for piece in pieces:
        if len(piece.text) < _SHORTEST_RUN or not piece.is_word or piece.roles:
            found.append(piece)
            continue
        parts = vocabulary.unjoined(piece.text)
        at = piece.start
        for part in parts:
            end = piece.end if part is parts[-1] else min(at + len(part), piece.end)
            roles = vocabulary.roles_of(part)
            found.append(
                Piece(_WORD, part, at, end, piece.glued and at == piece.start, roles, True)
            )
            at = end
        if not parts:
            found.append(piece)
    return found


def _spoken_number(
    pieces: list[Piece], at: int, before: list[Piece], vocabulary: Vocabulary
) -> tuple[Piece, int]:
    """The spoken number that begins at `at`, or the piece there as it is."""
    piece = pieces[at]
    if piece.is_number and at + 2 < len(pieces) and "point" in pieces[at + 1].roles:
        return _with_point(pieces, at, at + 1, piece.digits, vocabulary)
    if piece.text in TYPED_HUNDREDS and not _ends_pair(before):
        return _typed_hundred(pieces, at, vocabulary)
    if "double" in piece.roles and at + 1 < len(pieces):
        digit = _digit(pieces[at + 1], vocabulary)
        return (_spoken(pieces, at, at + 2, digit * 2), at + 2) if digit else (piece, at + 1)
    if "article_one" in piece.roles and not (before and before[-1].roles & _BEFORE_HOUR):
        return piece, at + 1
    value, after = _below_hundred(pieces, at, vocabulary)
    if value is None and not _begins_hundred(pieces, at, vocabulary):
        if _is_spoken_zero(pieces, at, before, vocabulary):
            return _spoken(pieces, at, at + 1, "0"), at + 1
        return piece, at + 1
    hundreds, rest = _hundreds(pieces, at, value, after)
    if hundreds is not None:
        tail, end = _below_hundred(pieces, _skip_and(pieces, rest), vocabulary)
        if tail is None or tail >= _HUNDRED:
            tail, end = _typed_tail(pieces, _skip_and(pieces, rest))
        if tail is None:
            tail, end = 0, rest
        return _with_point(pieces, at, end, str(hundreds * 100 + tail), vocabulary)
    if value is None or piece.kind is _NUMBER:
        return piece, at + 1
    return _with_point(pieces, at, after, str(value), vocabulary)


def _digit(piece: Piece, vocabulary: Vocabulary) -> str:
    """The one digit that a piece is, in figures or in words, or nothing."""
    if piece.is_number:
        return piece.digits if len(piece.digits) == 1 and not piece.fraction else ""
    value = vocabulary.values.get(piece.text, -1)
    return str(value) if 0 <= value <= 9 else ""


def _typed_hundred(pieces: list[Piece], at: int, vocabulary: Vocabulary) -> tuple[Piece, int]:
    """ "100 and 34 over 82", as dictation writes it: one number before a stroke; else as it is."""
    piece = pieces[at]
    rest = _skip_and(pieces, at + 1)
    tail, end = _below_hundred(pieces, rest, vocabulary)
    if tail is None:
        tail, end = _typed_tail(pieces, rest)
    after = pieces[end] if end < len(pieces) else piece
    joins = "over" in after.roles or is_stroke(after)
    if tail is None or not 0 < tail < _HUNDRED or not joins:
        return piece, at + 1
    return _spoken(pieces, at, end, str(piece.whole + tail)), end


def _begins_hundred(pieces: list[Piece], at: int, vocabulary: Vocabulary) -> bool:
    piece = pieces[at]
    if "hundred" in piece.roles or _is_heard_hundred(pieces, at, vocabulary):
        return True
    begins = "a_word" in piece.roles or (piece.is_number and len(piece.digits) == 1)
    return begins and at + 1 < len(pieces) and "hundred" in pieces[at + 1].roles


def _is_heard_hundred(pieces: list[Piece], at: int, vocabulary: Vocabulary) -> bool:
    """Whether a word of its own stands for a hundred: tens follow it in words."""
    if "hundred_heard" not in pieces[at].roles or at + 1 >= len(pieces):
        return False
    return 10 <= vocabulary.values.get(pieces[at + 1].text, 0) < _HUNDRED


def _hundreds(
    pieces: list[Piece], at: int, value: int | None, after: int
) -> tuple[int | None, int]:
    """How many hundreds begin at `at`, and the index after the word for them."""
    if "hundred" in pieces[at].roles or "hundred_heard" in pieces[at].roles:
        return 1, at + 1
    if value is not None and value >= _HUNDRED and value % _HUNDRED == 0:
        return value // _HUNDRED, after
    if not (after < len(pieces) or at + 1 < len(pieces)):
        return None, at
    word = _skip_hyphen(pieces, after if value is not None else at + 1)
    if word >= len(pieces) or "hundred" not in pieces[word].roles:
        return None, at
    if value is not None:
        return (value, word + 1) if 1 <= value <= 9 else (None, at)
    if pieces[at].is_number:
        return int(pieces[at].digits[:1]), word + 1
    return 1, word + 1


def _below_hundred(pieces: list[Piece], at: int, vocabulary: Vocabulary) -> tuple[int | None, int]:
    """A spoken number below a hundred at `at`: a digit, a teen, tens, tens and a digit."""
    if at >= len(pieces) or not pieces[at].is_word:
        return None, at
    value = vocabulary.values.get(pieces[at].text)
    if value is None:
        return None, at
    if value % 10 == 0 and value % _HUNDRED:
        after = _skip_hyphen(pieces, at + 1)
        joined = after < len(pieces) and "tens_and" in pieces[after].roles
        if joined:
            after = _skip_hyphen(pieces, after + 1)
        # "diez y seis" is sixteen, "diez y dos" nothing; without "and" ten takes no digit.
        least = 1 if value % _HUNDRED >= 20 else 6 if joined else 10
        if after < len(pieces) and pieces[after].is_word:
            digit = vocabulary.values.get(pieces[after].text)
            if digit is not None and least <= digit <= 9:
                return value + digit, after + 1
    return value, at + 1


def _typed_tail(pieces: list[Piece], at: int) -> tuple[int | None, int]:
    """Digits that finish a hundred begun in words: "a hundred and 42"."""
    if at < len(pieces) and pieces[at].is_number and len(pieces[at].digits) <= 2:
        return int(pieces[at].digits), at + 1
    return None, at


def _skip_hyphen(pieces: list[Piece], at: int) -> int:
    joined = at + 1 < len(pieces) and pieces[at].text == "-" and pieces[at].glued
    return at + 1 if joined and pieces[at + 1].glued else at


def _skip_and(pieces: list[Piece], at: int) -> int:
    if at < len(pieces) and ("hundred_and" in pieces[at].roles or pieces[at].text in ("&",)):
        return at + 1
    return _skip_hyphen(pieces, at)


def _is_spoken_zero(
    pieces: list[Piece], at: int, before: list[Piece], vocabulary: Vocabulary
) -> bool:
    """Whether "oh" at `at` is a zero: a one-digit number goes before, a number or pair goes on."""
    if "zero_spoken" not in pieces[at].roles or not before:
        return False
    last = before[-1] if before[-1].text != "-" or len(before) < 2 else before[-2]
    if not last.is_number or len(last.digits) > 2:
        return False
    after = _skip_hyphen(pieces, at + 1)
    if after >= len(pieces):
        return True
    follower = pieces[after]
    return not follower.is_word or follower.text in vocabulary.values or "over" in follower.roles


def _with_point(
    pieces: list[Piece], at: int, end: int, digits: str, vocabulary: Vocabulary
) -> tuple[Piece, int]:
    """The spoken number, with its decimals if "point" and digits follow."""
    fraction = ""
    if end + 1 < len(pieces) and "point" in pieces[end].roles:
        place = end + 1
        while place < len(pieces):
            digit = vocabulary.values.get(pieces[place].text)
            if pieces[place].is_number and len(pieces[place].digits) <= 2:
                fraction += pieces[place].digits
            elif digit is not None and digit <= 9:
                fraction += str(digit)
            else:
                break
            place += 1
        if fraction:
            end = place
    return _spoken(pieces, at, end, digits, fraction), end


def _spoken(pieces: list[Piece], at: int, end: int, digits: str, fraction: str = "") -> Piece:
    first, last = pieces[at], pieces[end - 1]
    return number_piece(first.start, last.end, first.glued, digits, fraction, spoken=True)
