"""From tokens to pieces: numbers in digits, in words, with slips and with unreadable digits.

A letter O, l or I that touches digits is 0 or 1. Numbers in words: `spoken.py`.
"""

from __future__ import annotations

from typing import Final

from domain.understanding.pieces import Piece, number_piece
from domain.understanding.spoken import with_spoken_numbers
from domain.understanding.tokens import Kind, Token
from domain.understanding.vocabulary import NO_ROLES, Phrases, Vocabulary

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
_LABELS: Final = frozenset({"high_sure", "low_sure"})
_RARE_DIASTOLIC: Final = 40  #: mmHg
#: Signs that people put where they cannot read a digit.
UNREADABLE: Final = frozenset("?*_#x•□☐…·-�▢■●○◯▯❓")
_FIRST_HIDDEN: Final = frozenset("?_□☐•")
#: What may touch digits from behind and still belong to their number.
_GOES_ON: Final = UNREADABLE | _POINTS | _SHORT_SLIPS


def to_pieces(toks: list[Token], vocabulary: Vocabulary) -> list[Piece]:
    """The tokens as pieces, in order; tags fall away."""
    if not vocabulary.ordinal_endings.isdisjoint([token.text for token in toks]):
        toks = _with_ordinal_labels(toks, vocabulary)
    phrases = vocabulary.phrases
    pieces: list[Piece] = []
    at, count = 0, len(toks)
    end_before = -1
    while at < count:
        token = toks[at]
        kind, text = token.kind, token.text
        if kind is _TAG:
            end_before = -1
            at += 1
            continue
        glued = token.start == end_before
        if kind is _WORD and not (text in _SHORT_SLIPS and _slip_before_digit(toks, at)):
            at += 1
            if text in phrases:
                text, at = _longest_phrase(toks, at - 1, phrases[text], vocabulary)
            piece = _said(text, token.start, toks[at - 1].end, glued, vocabulary)
        elif text == "0" and _begins_over(toks, at, vocabulary):
            over = "o" + toks[at + 1].text
            piece, at = _said(over, token.start, toks[at + 1].end, glued, vocabulary), at + 2
        elif kind is _NUMBER or kind is _WORD or _hides_first_digit(toks, at):
            piece, at = _typed_number(toks, at, glued)
        else:
            roles = vocabulary.roles.get(text, NO_ROLES)
            piece = Piece(kind, text, token.start, token.end, glued, roles)
            at += 1
        end_before = piece.end
        pieces.append(piece)
    return with_spoken_numbers(pieces, vocabulary)


def _with_ordinal_labels(toks: list[Token], vocabulary: Vocabulary) -> list[Token]:
    """With an ordinal in digits as a word where it begins a label: "1st no 134" """
    found: list[Token] = []
    at = 0
    while at < len(toks):
        token, step = toks[at], 1
        if token.kind is _NUMBER and at + 2 < len(toks) and _touch(toks, at + 1):
            word = vocabulary.ordinals.get(token.text + toks[at + 1].text)
            label = f"{word} {toks[at + 2].text}"
            if word and not _LABELS.isdisjoint(vocabulary.roles_of(label)):
                token, step = Token(word, token.start, toks[at + 1].end, _WORD), 2
        found.append(token)
        at += step
    return found


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
    token, first = toks[at], at
    follower = toks[at + 1] if at + 1 < len(toks) else None
    goes_on = follower is not None and follower.start == token.end and follower.text in _GOES_ON
    if token.kind is _NUMBER and not goes_on:
        return number_piece(token.start, token.end, glued, token.text), at + 1
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
    start, end = toks[first].start, toks[at - 1].end
    return number_piece(start, end, glued, digits, fraction, False, slipped, tuple(hidden)), at


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
    if toks[at].text not in _FIRST_HIDDEN or not _touch(toks, at + 1):
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


def _longest_phrase(
    toks: list[Token], at: int, begun: Phrases, vocabulary: Vocabulary
) -> tuple[str, int]:
    """The longest of the phrases, or the word at `at` alone, and the index after it."""
    second = toks[at + 1].text if at + 1 < len(toks) else ""
    if second == "-" and at + 2 < len(toks):
        second = toks[at + 2].text
    for phrase in begun.get(second, ()):
        after = _after_phrase(toks, at, phrase)
        if after and not (
            _takes_a_hundred(toks, phrase, after, vocabulary)
            or _cuts_a_hundred(toks, phrase, after, vocabulary)
        ):
            return " ".join(phrase), after
    return toks[at].text, at + 1


def _said(text: str, start: int, end: int, glued: bool, vocabulary: Vocabulary) -> Piece:
    """The word or phrase, or the mark that it names in dictation."""
    if text in vocabulary.spoken_marks:
        mark = vocabulary.spoken_marks[text]
        return Piece(Kind.LINE if mark == "\n" else Kind.MARK, mark, start, end, glued)
    roles = vocabulary.roles.get(text, NO_ROLES)
    if "'" in text and text.endswith(vocabulary.lists["possessive"]):
        roles |= _POSSESSOR
    return Piece(_WORD, text, start, end, glued, roles, True)


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
