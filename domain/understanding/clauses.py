"""The words of a message and what stands between them.

Words are folded (compatibility forms, case, accents, apostrophes) one character for one, after
accents that were sent as signs of their own have joined their letters; the spans are those of
the text as it was sent. Numbers that the other half has read are not words: they leave a
break, because a pair of numbers ends a phrase ("no headache 132/74 dizzy").
"""

from __future__ import annotations

import re
import sys
import unicodedata
from bisect import bisect_left
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache
from typing import Final

from domain.understanding.lexicon_data import has_one_form, without_accent
from domain.understanding.result import Span


class Break(IntEnum):
    """What stands before a word, from nothing to the end of a sentence."""

    NONE = 0
    COMMA = 1  #: comma, dash, colon, bracket, slash
    NUMBER = 2  #: a reading
    END = 3  #: full stop, question or exclamation mark, semicolon, new line


#: Bound here for all that compare breaks, because a look-up in the enumeration takes ten times
#: as long as the comparison.
NO_BREAK: Final = Break.NONE
COMMA: Final = Break.COMMA
NUMBER: Final = Break.NUMBER
END: Final = Break.END


@dataclass(slots=True)
class Words:
    """Words in order with their spans, the break before each, and where questions end.

    Nothing changes one. It is not frozen, because that makes it three times as slow to make.
    """

    norms: tuple[str, ...]
    spans: tuple[Span, ...]
    breaks: tuple[Break, ...]
    asked: frozenset[int]  #: indexes of the last words before question marks
    sentence: tuple[int, ...]  #: number of the sentence of each word

    def __len__(self) -> int:
        return len(self.norms)


_PIECE: Final = re.compile(r"([^\W\d_]+(?:'[^\W\d_]+)*'?)|(\d+(?:[.,:]\d+)*)|(\.{2,}|\S|\n)")
_WORD, _MARK = 1, 3  #: groups of it; the second are numbers
#: Letters of a word that are looked at: more than any two words of a lexicon have together. What
#: is kept of the words of all messages (`matching.py`) stays small by it.
_LONGEST_WORD: Final = 40
_ENDS: Final = frozenset(".!?;\n¿¡。！？；•")
_ASKING: Final = frozenset("?？")
_TRAILING: Final = frozenset({"..", "…"})
_LIGHT: Final = frozenset(',:-–—()[]/\\|*"“”&+=<>~、，')
#: Behind the last place that is left out.
_NOWHERE: Final = (sys.maxsize, sys.maxsize)
_APOSTROPHES: Final = {ord(c): "'" for c in "’‘ʼ`´＇′"}
#: What belongs to the letter before it or is not seen: accents, joiners, soft hyphens, marks of
#: direction. Some telephones send "é" as "e" and an accent.
_LOOSE: Final = re.compile(
    "[\u00ad\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u200b-\u200f\u202a-\u202e\u2060-\u206f"
    "\u20d0-\u20ff\ufe00-\ufe0f\ufeff]"
)


@lru_cache(maxsize=4096)
def _fold_one(character: str) -> str:
    if has_one_form(character):
        return character
    folded = unicodedata.normalize("NFKC", character).casefold()
    return without_accent(folded if len(folded) == 1 else character)


def fold(text: str) -> str:
    """Text in lower case and plain letters, without what belongs to the letter before it."""
    return _folded(text if text.isascii() else _without_loose(text)[0])


def _folded(text: str) -> str:
    """Text in lower case and plain letters, as many characters as before."""
    if text.isascii():
        return text.lower().replace("`", "'")
    return "".join(map(_fold_one, text.translate(_APOSTROPHES)))


def _without_loose(text: str) -> tuple[str, list[int]]:
    """The text with accents joined to their letters and without what is not seen.

    Beside it the place of each character in `text`, and the length of `text` behind the last.
    """
    kept: list[str] = []
    places: list[int] = []
    after = 0
    for loose in _LOOSE.finditer(text):
        place = loose.start()
        kept += text[after:place]
        places += range(after, place)
        after = place + 1
        if kept:
            joined = unicodedata.normalize("NFC", kept[-1] + loose[0])
            if len(joined) == 1:
                kept[-1] = joined
    kept += text[after:]
    return "".join(kept), [*places, *range(after, len(text) + 1)]


def split_words(
    text: str,
    skip: Iterable[Span],
    unjoin: Callable[[str], tuple[str, ...]],
    accented: Collection[str] = (),
) -> Words:
    """The words of `text` outside the spans in `skip`.

    `unjoin` tells the parts of a word that is two known words run together, or gives it whole.
    `accented` are words that an accent makes other words ("sí" is "si'"): it is kept as a "'".
    """
    if text.isascii() or not _LOOSE.search(text):
        return _split(text, skip, unjoin, accented)
    whole, places = _without_loose(text)
    left_out = [(bisect_left(places, a), bisect_left(places, b)) for a, b in skip]
    words = _split(whole, left_out, unjoin, accented)
    return replace(words, spans=tuple((places[a], places[b]) for a, b in words.spans))


def _split(
    text: str,
    skip: Iterable[Span],
    unjoin: Callable[[str], tuple[str, ...]],
    accented: Collection[str],
) -> Words:
    """The same for a text of whole letters."""
    spared = iter((*sorted(skip), _NOWHERE))
    spared_from, spared_to = next(spared)
    norms: list[str] = []
    spans: list[Span] = []
    breaks: list[Break] = []
    sentence: list[int] = []
    asked: set[int] = set()
    pending = NO_BREAK
    number_of_sentence = 0
    for piece in _PIECE.finditer(_folded(text)):
        start, end = piece.span()
        while spared_to <= start:
            spared_from, spared_to = next(spared)
        if spared_from <= start:
            pending = max(pending, NUMBER)
            continue
        kind, written = piece.lastindex, piece[0]
        if kind == _MARK:
            gap = _break_at(written[:2])
            if gap > pending and not _inside_word(text, start):
                pending = gap
            if written in _ASKING and norms:
                asked.add(len(norms) - 1)
            continue
        if pending is END and norms:
            number_of_sentence += 1
        written = written[:_LONGEST_WORD]
        if accented and f"{written}'" in accented and not text[start:end].isascii():
            written += "'"
        parts = unjoin(written) if kind == _WORD else (written,)
        at = start
        for part in parts:
            norms.append(part)
            after = end if part is parts[-1] else at + len(part)
            spans.append((at, after))
            breaks.append(pending)
            sentence.append(number_of_sentence)
            at, pending = after, NO_BREAK
    return Words(tuple(norms), tuple(spans), tuple(breaks), frozenset(asked), tuple(sentence))


@lru_cache(maxsize=4096)
def _break_at(mark: str) -> Break:
    """What a mark stands for, given by its first two signs at most."""
    if mark in _ENDS or (len(mark) == 1 and unicodedata.category(mark) == "So"):
        return END
    # People write dots for any pause.
    return COMMA if mark in _LIGHT or mark in _TRAILING else NO_BREAK


def _inside_word(text: str, place: int) -> bool:
    """Whether a dash joins two words ("light-headed") instead of parting two clauses."""
    return (
        text[place] in "-–"
        and 0 < place < len(text) - 1
        and text[place - 1].isalpha()
        and text[place + 1].isalpha()
    )
