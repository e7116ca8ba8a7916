"""A message cut into words, numbers and marks, each with its place in the text as sent.

Every script and width of digit becomes ASCII, letters are casefolded, NFKC-normalised and
without accents, curly quotes are straight. Invisible characters (joiners, direction marks,
soft hyphens, variation selectors) are passed over. No meaning is given to anything here.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from domain.understanding.lexicon_data import has_one_form, without_accent


class Kind(StrEnum):
    WORD = "word"  #: letters of any script, with apostrophes inside ("o'clock", "i'm")
    NUMBER = "number"  #: ASCII digits only; "76bpm" is a number and a word that touch
    MARK = "mark"  #: one sign, emoji or numeral that is no decimal digit ("½", "①")
    LINE = "line"  #: a line break, or mark-up that begins a new line; its text is "\n"
    TAG = "tag"  #: any other mark-up tag, "<b>"; reads like a space


@dataclass(slots=True)
class Token:
    """One piece of a message. Spaces are no tokens: compare `end` with the next `start`.

    Nothing changes one. It is not frozen, because that makes it three times as slow to make.
    """

    text: str  #: normalised as the module says
    start: int  #: first character in the text as sent
    end: int  #: one past the last character in the text as sent
    kind: Kind


# A tag is at most 200 characters long, so that a text of many "<" stays linear.
_PIECE = re.compile(
    r"([0-9]+)"
    r"|([^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|([\n\r\v\f\x1c-\x1e\x85\u2028\u2029]|<(?:br|/?(?:p|li|tr|div|ul|ol|h[1-6]))\b[^<>]{0,60}>)"
    r"|(<[/!]?[a-z][^<>]{0,200}>)"
    r"|(\S)"
)
#: What its groups are, the first of them at place 1.
_KINDS = (Kind.MARK, Kind.NUMBER, Kind.WORD, Kind.LINE, Kind.TAG, Kind.MARK)
_LINE = Kind.LINE
_QUOTES = dict.fromkeys("‘’‚‛ʼ´`ˈ′＇", "'") | dict.fromkeys("“”„‟″＂", '"')
#: Raised letters behind a number ("2º", "1ª"): a sign, so that none is taken for a zero.
_RAISED = dict.fromkeys("ºª", "°")
#: Stands for a numeral that is no decimal digit while the text is cut up.
_NUMERAL = "\x00"
#: No character up to this one combines with the one before it.
_LAST_BASE = "\u02ff"
#: Longest run of combining marks that is composed as one; more of them is decoration.
_CLUSTER = 30


def tokens(text: str) -> list[Token]:
    """The pieces of any text, in order, in time linear in its length. Never raises."""
    if text.isascii():
        lowered = text.lower().replace("`", "'")
        return [
            Token("\n" if kind is _LINE else match[0], match.start(), match.end(), kind)
            for match in _PIECE.finditer(lowered)
            for kind in (_KINDS[match.lastindex or 0],)
        ]
    plain, places = _normalised(text)
    found = []
    for match in _PIECE.finditer(plain):
        kind = _KINDS[match.lastindex or 0]
        start, end = places[match.start()], places[match.end() - 1] + 1
        piece = "\n" if kind is _LINE else match[0]
        found.append(Token(text[start] if piece == _NUMERAL else piece, start, end, kind))
    return found


def _normalised(text: str) -> tuple[str, list[int]]:
    """The normalised text, and for each of its characters the one that it came from."""
    pieces: list[str] = []
    places: list[int] = []
    at, length = 0, len(text)
    while at < length:
        sign = text[at]
        after = at + 1
        while after < length and text[after] > _LAST_BASE and after - at < _CLUSTER:
            if not unicodedata.combining(text[after]):
                break
            after += 1
        piece = _plain(sign) if after == at + 1 else _plain(text[at:after])
        pieces.append(piece)
        if len(piece) == 1:
            places.append(at)
        else:
            places += [at] * len(piece)
        at = after
    return "".join(pieces), places


@lru_cache(maxsize=4096)
def _plain(cluster: str) -> str:
    """One character, or one with its combining marks, as the tokens want it."""
    sign = cluster[0]
    if sign < "\x80":
        plain = len(cluster) == 1 or sign.isalpha()  # a letter loses its accent
        return sign.lower() if plain else unicodedata.normalize("NFKC", cluster)
    if len(cluster) == 1 and has_one_form(sign):
        return sign
    if sign in _QUOTES:
        return _QUOTES[sign]
    if sign in _RAISED:
        return _RAISED[sign]
    category = unicodedata.category(sign)
    if category in ("Cf", "Me") or "\ufe00" <= sign <= "\ufe0f":
        return ""
    if category == "Nd":
        return str(unicodedata.decimal(sign))
    if category in ("No", "Nl"):
        raised = unicodedata.decomposition(sign).startswith(("<super>", "<sub>"))
        return str(unicodedata.digit(sign)) if raised and sign.isdigit() else _NUMERAL
    # A second pass: compatibility forms may hold quotes or further digits.
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", cluster).casefold())
    return without_accent(folded) if len(folded) == 1 else folded
