"""From tokens to pieces: numbers in digits, in words, with slips and with unreadable digits.

A letter O, l or I that touches digits is 0 or 1. Spoken numbers follow everyday speech: here
"one" and "forty-two" of "one forty-two" are still two numbers; they are joined where a pair
is looked for (`grouping.py`), in the same way as digits that dictation has spaced out.
"""

from __future__ import annotations

from typing import Final

from domain.understanding.links import is_stroke
from domain.understanding.pieces import Number, Piece
from domain.understanding.tokens import Kind, Token
from domain.understanding.vocabulary import NO_ROLES, Vocabulary

_SLIPS: Final = str.maketrans({"o": "0", "l": "1", "i": "1"})
_POSSESSOR: Final = frozenset({"possessor"})
_SLIP_LETTERS: Final = frozenset("oli")
#: One or two of these letters: a longer run of them is a word.
_SHORT_SLIPS: Final = frozenset(a + b for a in _SLIP_LETTERS for b in ("", *_SLIP_LETTERS))
_POINTS: Final = frozenset(".·,")
#: Bound here, because a look-up in the enumeration takes longer than what is asked of a token.
_NUMBER: Final = Kind.NUMBER
_WORD: Final = Kind.WORD
_TAG: Final = Kind.TAG
_HUNDRED: Final = 100
#: Roles of words that lead to a clock time.
_BEFORE_HOUR: Final = frozenset({"time_before", "to_word"})
_RARE_DIASTOLIC: Final = 40  #: mmHg
_TYPED_HUNDREDS: Final = frozenset({"100", "200"})
_SPOKEN_ROLES: Final = frozenset({"hundred", "point", "double"})
_SHORTEST_RUN: Final = 6  #: letters of two number words that are run together
#: Signs that people put where they cannot read a digit.
UNREADABLE: Final = frozenset("?*_#x•□☐…·-�▢■●○◯▯❓")


def to_pieces(toks: list[Token], vocabulary: Vocabulary) -> list[Piece]:
    """The tokens as pieces, in order; tags fall away."""
    pieces: list[Piece] = []
    at, count = 0, len(toks)
    end_before = -1
    while at < count:
        token = toks[at]
        kind = token.kind
        if kind is _TAG:
            end_before = -1
            at += 1
            continue
        glued = token.start == end_before
        if kind is _WORD and not _slip_before_digit(toks, at):
            piece, at = _word(toks, at, glued, vocabulary)
        elif token.text == "0" and _begins_over(toks, at, vocabulary):
            over = "o" + toks[at + 1].text
            piece, at = _said(over, token.start, toks[at + 1].end, glued, vocabulary), at + 2
        elif kind is _NUMBER or kind is _WORD or _hides_first_digit(toks, at):
            piece, at = _typed_number(toks, at, glued)
        else:
            roles = vocabulary.roles_of(token.text)
            piece = Piece(kind, token.text, token.start, token.end, glued, roles)
            at += 1
        end_before = piece.end
        pieces.append(piece)
    return _with_spoken_numbers(pieces, vocabulary)


def _begins_over(toks: list[Token], at: int, vocabulary: Vocabulary) -> bool:
    """Whether the nought at `at` is the first letter of "over"."""
    return _touch(toks, at + 1) and "over" in vocabulary.roles_of("o" + toks[at + 1].text)


def _touch(toks: list[Token], at: int) -> bool:
    """Whether the token at `at` exists and touches the one before it."""
    return 0 < at < len(toks) and toks[at - 1].end == toks[at].start


def _slip_before_digit(toks: list[Token], at: int) -> bool:
    return (
        toks[at].text in _SHORT_SLIPS
        and _touch(toks, at + 1)
        and toks[at + 1].kind is _NUMBER
        and not (at and toks[at - 1].text == "'")
    )


def _typed_number(toks: list[Token], at: int, glued: bool) -> tuple[Piece, int]:
    first = at
    digits = ""
    hidden: list[int] = []
    slipped = False
    while at < len(toks) and (at == first or _touch(toks, at)):
        token = toks[at]
        if token.kind is _NUMBER:
            digits += token.text
        elif token.text in _SHORT_SLIPS:
            slipped = True
            digits += token.text.translate(_SLIPS)
        elif (at == first and not digits) or _hides_digit(toks, at, digits):
            hidden.append(len(digits))
            digits += "0"
        else:
            break
        at += 1
    fraction, at = _fraction(toks, at, digits, hidden)
    text = digits + ("." + fraction if fraction else "")
    piece = Number(
        text, toks[first].start, toks[at - 1].end, glued,
        digits=digits, fraction=fraction, slipped=slipped, hidden=tuple(hidden),
    )  # fmt: skip
    return piece, at


def _hides_digit(toks: list[Token], at: int, digits: str) -> bool:
    """Whether the sign at `at`, which touches digits before it, stands for a digit.

    It must be one sign, inside or at the end of a number of at most three digits, with digits
    or the stroke of a pair touching it from behind.
    """
    if toks[at].text not in UNREADABLE or not 1 <= len(digits) <= 2 or not _touch(toks, at + 1):
        return False
    after = toks[at + 1]
    if after.kind is _NUMBER and toks[at].text != "-":
        return len(digits) + len(after.text) <= 2
    return after.text in "/\\|"


def _fraction(toks: list[Token], at: int, digits: str, hidden: list[int]) -> tuple[str, int]:
    """Digits after a point that touches on both sides; none in a chain such as 12.05.26."""
    if at >= len(toks) or toks[at].text not in _POINTS:
        return "", at
    if (
        not hidden
        and _touch(toks, at + 1)
        and _touch(toks, at)
        and (toks[at].text != "," or _is_decimal_comma(toks, at, digits))
        and toks[at + 1].kind is _NUMBER
    ):
        chained = (
            _touch(toks, at + 3)
            and _touch(toks, at + 2)
            and (toks[at + 2].text == "." and toks[at + 3].kind is _NUMBER)
        )
        chained = chained or (at >= 2 and toks[at - 2].text == "." and _touch(toks, at - 1))
        if not chained and not _is_pair_with_point(digits, toks[at + 1].text):
            return toks[at + 1].text, at + 2
    return "", at


def _hides_first_digit(toks: list[Token], at: int) -> bool:
    """ "?42/91", "142/?1": a sign for a digit behind a space or stroke, two or one to follow."""
    if toks[at].text not in "?_□☐•" or not _touch(toks, at + 1):
        return False
    digits = toks[at + 1]
    if digits.kind is not _NUMBER or len(digits.text) > 2:
        return False
    if _touch(toks, at) and toks[at - 1].text not in "/\\|":
        return False
    ends_pair = at > 0 and toks[at - 1].text in "/\\|"
    if ends_pair:
        return len(digits.text) == 1
    return _touch(toks, at + 2) and toks[at + 2].text in "/\\|"


def _is_decimal_comma(toks: list[Token], at: int, digits: str) -> bool:
    """ "17,1/10,4": one digit behind a comma, after at most two; not "87,4O"."""
    if len(digits) == 1 and len(toks[at + 1].text) == 2:
        return not (_touch(toks, at + 2) and toks[at + 2].text in ",/\\|")  # "1,65 m"
    if len(digits) > 2 or len(toks[at + 1].text) != 1:
        return False
    return not (_touch(toks, at + 2) and _SLIP_LETTERS.issuperset(toks[at + 2].text))


def _is_pair_with_point(digits: str, decimals: str) -> bool:
    """ "142.91" is no decimal number but a pair with a point for a stroke."""
    return len(digits) == 3 and len(decimals) in (2, 3) and 30 <= int(decimals) < int(digits)


def _word(toks: list[Token], at: int, glued: bool, vocabulary: Vocabulary) -> tuple[Piece, int]:
    """The word at `at`, or the longest phrase that begins there."""
    token = toks[at]
    second = toks[at + 1].text if at + 1 < len(toks) else ""
    if second == "-" and at + 2 < len(toks):
        second = toks[at + 2].text
    for phrase in vocabulary.phrases.get((token.text, second), ()):
        after = _after_phrase(toks, at, phrase)
        if after and not (
            _takes_a_hundred(toks, phrase, after, vocabulary)
            or _cuts_a_hundred(toks, phrase, after, vocabulary)
        ):
            return _said(
                " ".join(phrase), token.start, toks[after - 1].end, glued, vocabulary
            ), after
    return _said(token.text, token.start, token.end, glued, vocabulary), at + 1


def _said(text: str, start: int, end: int, glued: bool, vocabulary: Vocabulary) -> Piece:
    """The word or phrase, or the mark that it names in dictation."""
    mark = vocabulary.spoken_marks.get(text)
    if mark is not None:
        return Piece(Kind.LINE if mark == "\n" else Kind.MARK, mark, start, end, glued)
    roles = vocabulary.roles.get(text, NO_ROLES)
    if "'" in text and text.endswith(vocabulary.lists["possessive"]):
        roles |= _POSSESSOR
    return Piece(_WORD, text, start, end, glued, roles)


def _takes_a_hundred(
    toks: list[Token], phrase: tuple[str, ...], after: int, vocabulary: Vocabulary
) -> bool:
    """Whether the "one" that ends the phrase is the hundred of "top one forty two".

    "Bottom one eighty" is 80, but "bottom one ten" is 110: a diastolic below 40 is rarer than
    one above 100 (common practice).
    """
    if vocabulary.values.get(phrase[-1]) != 1:
        return False
    after += after < len(toks) and toks[after].text == "-"
    if after >= len(toks):
        return False
    roles = vocabulary.roles_of(" ".join(phrase))
    value = vocabulary.values.get(toks[after].text)
    if "low_sure" in roles:
        return value is not None and 10 <= value < _RARE_DIASTOLIC
    if "high_sure" not in roles:
        return False
    by_digit = "zero_spoken" in vocabulary.roles_of(toks[after].text) or value in range(1, 10)
    if by_digit and after + 1 < len(toks):
        digit = vocabulary.values.get(toks[after + 1].text)
        return digit is not None and digit <= 9
    return value is not None and value >= 10


def _cuts_a_hundred(
    toks: list[Token], phrase: tuple[str, ...], after: int, vocabulary: Vocabulary
) -> bool:
    """Whether the phrase would cut a number: "por ciento" in "142 por ciento dos"."""
    hundred = "hundred" in vocabulary.roles_of(phrase[-1]) and after < len(toks)
    if not hundred or "hundred" in vocabulary.roles_of(" ".join(phrase)):
        return False
    follower = toks[after]
    short = follower.kind is Kind.NUMBER and len(follower.text) <= 2
    return short or 0 < vocabulary.values.get(follower.text, 0) < _HUNDRED


def _after_phrase(toks: list[Token], at: int, phrase: tuple[str, ...]) -> int:
    """Index after the phrase if it begins at `at`, otherwise 0. A hyphen may join its words."""
    at += 1
    for word in phrase[1:]:
        if at + 1 < len(toks) and toks[at].text == "-" and toks[at - 1].end == toks[at].start:
            at += 1
        if at >= len(toks) or toks[at].text != word:
            return 0
        at += 1
    return at


def _with_spoken_numbers(pieces: list[Piece], vocabulary: Vocabulary) -> list[Piece]:
    values = vocabulary.values
    texts = [piece.text for piece in pieces]
    if (
        values.keys().isdisjoint(texts)
        and _TYPED_HUNDREDS.isdisjoint(texts)
        and all(_SPOKEN_ROLES.isdisjoint(piece.roles) for piece in pieces)
    ):
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
            found.append(Piece(_WORD, part, at, end, piece.glued and at == piece.start, roles))
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
    if piece.text in _TYPED_HUNDREDS:
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
    text = digits + ("." + fraction if fraction else "")
    return Number(
        text, first.start, last.end, first.glued,
        digits=digits, fraction=fraction, spoken=True,
    )  # fmt: skip
