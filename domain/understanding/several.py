"""A message of somebody who may write in another language than the one they chose.

A grandmother whose telephone speaks English may cry for help in Spanish. Her own language is
tried first; the others where it finds nothing, and for red flags always.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Final

from domain.danger import MORE_RED_FLAGS, RED_FLAGS
from domain.understanding.clauses import split_words
from domain.understanding.lexicon_data import languages
from domain.understanding.lexicon_files import lexicon
from domain.understanding.result import Intent, Span, Understood
from domain.understanding.whole import understand

_FLAGS: Final = RED_FLAGS | MORE_RED_FLAGS


def understand_any(text: str, now: datetime, language: str) -> Understood:
    """What a message says, read in the writer's language and, for safety, in the others.

    Args:
        text: as it was sent.
        now: the moment it was sent, aware, with the offset of the writer's local time.
        language: the writer's own, a code of `languages()`.

    Returns:
        What the own language gives; what another gives where the own one gives nothing; red
        flags of another language added to it as unsure.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
    """
    own = understand(text, now, language)
    for other in languages():
        if other == language:
            continue
        read = _without_cognates(understand(text, now, other), text, language)
        if _says_nothing(own) and not _says_nothing(read):
            if read.readings or read.signs or _is_foreign(text, language):
                return read
            continue
        own = _with_flags(own, read)
    return own


def _without_cognates(read: Understood, text: str, language: str) -> Understood:
    """Without signs in words that the writer's own language knows: it has read those itself.

    "Power blackout" is no fainting in English, although Spanish takes "blackout" for it.
    """
    foreign = tuple(sign for sign in read.signs if not _is_known(text, sign.span, language))
    if len(foreign) == len(read.signs):
        return read
    intent = Intent.OTHER if read.intent is Intent.SYMPTOM and not foreign else read.intent
    return replace(read, signs=foreign, others=(), denied=(), intent=intent)


def _is_known(text: str, span: Span, language: str) -> bool:
    matcher = lexicon(language).matcher
    words = split_words(text[span[0] : span[1]], (), matcher.unjoin).norms
    return all(matcher.knows(word) for word in words)


def _is_foreign(text: str, language: str) -> bool:
    """Whether more than half of the words are none that the writer's own language knows."""
    matcher = lexicon(language).matcher
    words = split_words(text, (), matcher.unjoin).norms
    return 2 * sum(matcher.knows(word) for word in words) < len(words)


def _says_nothing(read: Understood) -> bool:
    found = read.readings or read.possible or read.signs or read.others or read.denied
    return not found and not read.denies_all and read.intent is Intent.OTHER


def _with_flags(own: Understood, read: Understood) -> Understood:
    """With the red flags that only the other language sees."""
    known = {sign.code for sign in own.signs} | set(own.denied)
    known |= {sign.code for sign in own.others}
    more = tuple(
        replace(sign, unsure=True)
        for sign in read.signs
        if sign.code in _FLAGS and sign.code not in known
    )
    return replace(own, signs=(*own.signs, *more)) if more else own
