"""A message of somebody who may write in another language than the one they chose.

A grandmother whose telephone speaks English may cry for help in Spanish, and many mix both in
one sentence. A message is read in the language of its words; what is dangerous in the other
one is heard as well.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Final

from domain.danger import MORE_RED_FLAGS, RED_FLAGS, SEVERE_SYMPTOMS
from domain.understanding.clauses import split_words
from domain.understanding.lexicon_data import languages
from domain.understanding.lexicon_files import lexicon
from domain.understanding.result import Intent, Sign, Span, Understood
from domain.understanding.vocabulary import vocabulary
from domain.understanding.whole import understand

_FLAGS: Final = RED_FLAGS | MORE_RED_FLAGS
#: Words more that the other language must have before a pair of the own one is left to it.
_SURELY: Final = 2
#: Beside a severe reading the others are as dangerous as a red flag.
_DANGEROUS: Final = _FLAGS | SEVERE_SYMPTOMS


def understand_any(text: str, now: datetime, language: str) -> Understood:
    """What a message says, read in the writer's language and, for safety, in the others.

    Args:
        text: as it was sent.
        now: the moment it was sent, aware, with the offset of the writer's local time.
        language: the writer's own, a code of `languages()`.

    Returns:
        What the language of most of the words gives, the own one in a tie; pairs and signs of
        danger in words that only the other knows are added, the signs as unsure.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
    """
    said = understand(text, now, language)
    for other in languages():
        if other == language:
            continue
        read = understand(text, now, other)
        if _is_foreign(text, language, other, least=_SURELY if said.readings else 1):
            said = _with_more(read, said, text, other)
        else:
            said = _with_more(said, read, text, language)
    return said


def _with_more(main: Understood, other: Understood, text: str, language: str) -> Understood:
    """What the language of most words gives, with what only foreign words among them give.

    Whose a pair is and what it is for, the main language has judged: another that knows
    nothing of husbands and limits would take "my husband had 150/90" for the writer's.
    """
    more = _with_remarks(_with_numbers(main, other, text, language), other, text, language)
    nothing_yet = _says_nothing(more)
    signs = tuple(
        replace(sign, unsure=True)
        for sign in _foreign(other.signs, main, text, language)
        if nothing_yet or sign.code in _DANGEROUS
    )
    others = tuple(s for s in _foreign(other.others, main, text, language) if s.code in _FLAGS)
    if not signs and not others:
        return more
    intent = Intent.SYMPTOM if signs and more.intent is Intent.OTHER else more.intent
    return replace(more, signs=(*more.signs, *signs), others=(*more.others, *others), intent=intent)


def _with_remarks(main: Understood, other: Understood, text: str, language: str) -> Understood:
    """With what only the other language says of an alarm, and of red flags of earlier days."""
    remarks = tuple(r for r in other.remarks if r not in main.remarks)
    known = {sign.code for sign in (*main.signs, *main.others)} | set(main.denied)
    known |= {sign.code for sign in main.earlier}
    earlier = tuple(
        sign
        for sign in other.earlier
        if sign.code not in known and not _is_known(text, sign.span, language)
    )
    if not remarks and not earlier:
        return main
    return replace(main, remarks=(*main.remarks, *remarks), earlier=(*main.earlier, *earlier))


def _with_numbers(main: Understood, other: Understood, text: str, language: str) -> Understood:
    """With a pair that a foreign word makes one: "142 over 91, me duele la cabeza"."""
    pairs = tuple(r for r in other.readings if not _is_known(text, r.span, language))
    if main.readings or not pairs:
        return main
    intent = main.intent if main.intent is Intent.CORRECTION else Intent.READING
    return replace(
        main,
        readings=pairs,
        doubts=other.doubts,
        possible=other.possible,
        intent=intent,
        change=None,
    )


def _foreign(
    signs: tuple[Sign, ...], main: Understood, text: str, language: str
) -> tuple[Sign, ...]:
    """Signs in words that the main language does not know: others it has read itself.

    "Power blackout" is no fainting in English, although Spanish takes "blackout" for it.
    """
    known = {sign.code for sign in (*main.signs, *main.others)} | set(main.denied)
    return tuple(
        sign
        for sign in signs
        if sign.code not in known and not _is_known(text, sign.span, language)
    )


def _is_known(text: str, span: Span, language: str) -> bool:
    words = split_words(text[span[0] : span[1]], (), lexicon(language).matcher.unjoin).norms
    return all(_has(word, language) for word in words)


def _is_foreign(text: str, language: str, other: str, *, least: int) -> bool:
    """Whether the words are rather the other language's than the writer's own.

    Counted as they are written, because slips of one language are words of the other ("mas",
    "more"): the other has at least `least` more of them, and more than half of all, which code
    has in none. In a misspelt message the other knows every word as a slip and the own one none.
    """
    own, foreign = lexicon(language).matcher, lexicon(other).matcher
    norms = split_words(text, (), foreign.unjoin).norms
    words = [word for word in norms if len(word) > 1 and not word[0].isdigit()]
    theirs = sum(_has(word, other) for word in words)
    ours = sum(_has(word, language) for word in words)
    if theirs >= ours + least:
        return 2 * theirs > len(words)
    unknown = not ours and not any(own.knows(word) for word in words)
    return len(words) >= least and unknown and all(foreign.knows(word) for word in words)


def _has(word: str, language: str) -> bool:
    """Whether the language has a folded word as it is written: numbers, or around them, or else."""
    around = vocabulary(language)
    if word[0].isdigit() or word in around.roles or word in around.values:
        return True
    return word in around.spoken_marks or lexicon(language).matcher.has(word)


def _says_nothing(read: Understood) -> bool:
    found = read.readings or read.possible or read.signs or read.others or read.denied
    return not found and not read.denies_all and read.intent is Intent.OTHER
