"""Reads short answers to a question that the program has asked: yes, a choice, a time, a number.

Whole messages are read by `domain.understanding`; this is for "yes", "left", "8 and 20:00",
"34 cm". Words are data, one file a language; a whole answer that the writer's language does
not know is looked up in the others. Lengths in cm, clock times local.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import time
from functools import cache
from itertools import product
from typing import Any, Final

from domain.understanding.clauses import fold
from domain.understanding.lexicon_data import ENGLISH, languages, lexicon_data

_SHORT: Final = 8  # words: longer texts are no answer to a choice
_LONGER: Final = 16  # words: the same for a question that may have several answers
_CM_PER_INCH: Final = 2.54
_HOUR: Final = 60  # minutes
_DAY: Final = 24 * _HOUR


def yes_or_no(text: str, *, language: str = ENGLISH) -> bool | None:
    """True for a yes, False for a no, None when it is neither in any language."""
    for plain in _ways_to_take(text, language):
        for words in _from_own(language):
            if plain in words["no"]:
                return False
            if plain in words["yes"]:
                return True
    return None


def says(text: str, what: str, *, language: str = ENGLISH) -> bool:
    """Whether the whole text is one of the ways to say `what` ("ready", "rested", "present").

    A text that the writer's own language knows as something else is not looked up further.
    """
    for plain in _ways_to_take(text, language):
        for words in _from_own(language):
            if plain in words[what]:
                return True
            if any(plain in known for known in words.values()):
                return False
    return False


def choice(question: str, text: str, *, language: str = ENGLISH) -> str | None:
    """Which of a question's choices a short text names, or None.

    The whole text decides, in any language; failing that, the longest phrase of the writer's
    own language that stands in it.
    """
    for plain in _ways_to_take(text, language):
        for code in _own_first(language):
            for value, phrases in _words(code)["choices"].get(question, {}).items():
                if plain in phrases:
                    return str(value)
    plain = _plain(text)
    if len(plain.split()) > _SHORT:
        return None
    choices: Mapping[str, list[str]] = _words(language)["choices"].get(question, {})
    inside = [
        (len(phrase), value)
        for value, phrases in choices.items()
        for phrase in phrases
        if len(phrase) > 2 and _stands_in(plain, phrase, language)
    ]
    return max(inside)[1] if inside else None


def several(question: str, text: str, *, language: str = ENGLISH) -> tuple[str, ...]:
    """Which of a question's choices a text names, in the order of the data; () for none.

    A whole text decides, in any language. Else every choice counts that stands in the text
    without a denial before it; those under `[alone]` count as a whole text only.
    """
    for plain in _ways_to_take(text, language):
        for code in _own_first(language):
            for value, phrases in _words(code)["choices"].get(question, {}).items():
                if plain in phrases:
                    return (str(value),)
    plain = _plain(text)
    if len(plain.split()) > _LONGER:
        return ()
    alone = _words(language)["alone"].get(question, ())
    return tuple(
        value
        for value, phrases in _words(language)["choices"].get(question, {}).items()
        if value not in alone
        and any(len(phrase) > 1 and _stands_in(plain, phrase, language) for phrase in phrases)
    )


def whole_number(text: str) -> int | None:
    """The number when the text is one ("112", " 34 "), or None."""
    found = re.fullmatch(r"\D{0,20}(\d{1,5})\D{0,20}", text.strip())
    return int(found[1]) if found else None


def arm_length_cm(text: str, *, language: str = ENGLISH) -> float | None:
    """A length in cm ("33", "33.5 cm", "13 inches"); None unless it can be an upper arm's."""
    found = re.search(r"(\d{1,3})(?:[.,](\d))?", text)
    if not found:
        return None
    value = float(f"{found[1]}.{found[2] or 0}")
    lengths = _words(language)["lengths"]
    rest = _plain(text[found.end() :]).split()
    if any(mark in text for mark in lengths["inch_marks"]) or any(
        word in rest for word in lengths["inch"]
    ):
        value = round(value * _CM_PER_INCH, 1)
    return value if 10 <= value <= 80 else None


def clock_times(text: str, *, language: str = ENGLISH) -> tuple[time, ...]:
    """The clock times in a text, earliest first, each once ("8am and 8 at night", "7:30").

    A time without a half of the day is taken as written; the words behind it settle it.
    """
    plain = fold(text)
    words = _clock_words(language)
    matches = list(words.clock.finditer(plain))
    ends = [*(match.start() for match in matches[1:]), len(plain)]
    found = {
        _moment(match, plain[match.end() : end], words)
        for match, end in zip(matches, ends, strict=False)
    }
    if not matches and words.noon.search(plain):
        found.add(time(12))
    if not matches and words.midnight.search(plain):
        found.add(time(0))
    return tuple(sorted(found))


@dataclass(frozen=True, slots=True)
class _ClockWords:
    """The words around clock times of one language, as expressions."""

    clock: re.Pattern[str]
    hours: Mapping[str, int]
    past: Mapping[str, int]  #: "y media" -> 30
    to: Mapping[str, int]  #: before the hour: "quarter to" -> -15
    pm: frozenset[str]  #: marks right behind the hour, without dots and spaces
    halves: re.Pattern[str]  #: a word of the morning or of the evening
    night: frozenset[str]  #: of the evening, and beside them twelve is midnight
    noon: re.Pattern[str]
    midnight: re.Pattern[str]


@cache
def _clock_words(language: str) -> _ClockWords:
    times = _words(language)["times"]
    clock = (
        rf"(?:(?<!\w)(?P<to>{_any(times['to'])})\s+)?"
        rf"(?P<hour>(?<![\d/:])(?:[01]?\d|2[0-3])|(?<!\w)(?:{_any(times['hours'])})(?!\w))"
        rf"(?:[:.h](?P<minute>[0-5]\d)|\s+(?P<past>{_any(times['past'])})\b)?"
        rf"\s*(?P<half>(?:{_any([*times['am'], *times['pm']])})\b\.?)?(?![\d/])"
    )
    return _ClockWords(
        clock=re.compile(clock),
        hours=times["hours"],
        past=times["past"],
        to=times["to"],
        pm=frozenset(map(_bare, times["pm"])),
        halves=re.compile(
            rf"(?<!\w)(?:(?P<morning>{_any(times['morning'])})|(?P<evening>{_any(times['evening'])}))(?!\w)"
        ),
        night=frozenset(times["night"]),
        noon=_word(times["noon"]),
        midnight=_word(times["midnight"]),
    )


def _moment(match: re.Match[str], after: str, words: _ClockWords) -> time:
    hour = words.hours.get(match["hour"]) or int(match["hour"])
    minute = words.past[match["past"]] if match["past"] else int(match["minute"] or 0)
    minute += words.to[match["to"]] if match["to"] else 0
    if match["half"]:
        late = _bare(match["half"]) in words.pm
        early = not late
    else:
        half = words.halves.search(after)
        late = half is not None and half["evening"] is not None
        early = half is not None and not late
        if late and hour == 12 and half is not None and half["evening"] in words.night:
            hour, late = 0, False
    if late and hour < 12:
        hour += 12
    elif early and hour == 12 and minute >= 0:
        hour = 0
    moment = (hour * _HOUR + minute) % _DAY
    return time(moment // _HOUR, moment % _HOUR)


def _bare(mark: str) -> str:
    return re.sub(r"\W", "", mark)


def _any(words: Iterable[str]) -> str:
    """One of the words, the longest first; matches nothing when there are none."""
    return "|".join(re.escape(w) for w in sorted(words, key=len, reverse=True)) or r"(?!)"


def _word(words: Iterable[str]) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w)(?:{_any(words)})(?!\w)")


def _stands_in(plain: str, phrase: str, language: str) -> bool:
    """Whether the phrase stands in the text, at least once without a denial right before it."""
    denied = _denied(language)
    places = re.finditer(rf"\b{re.escape(phrase)}\b", plain)
    return any(not denied.search(plain[: place.start()]) for place in places)


@cache
def _denied(language: str) -> re.Pattern[str]:
    """A denial at the end of a text: "not pregnant" does not name the choice "pregnant"."""
    denial = _words(language)["denial"]
    return re.compile(rf"(?:\b(?:{_any(denial['words'])})|(?:{_any(denial['endings'])})) $")


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[^\w'\- ]", " ", fold(text)).split())


def _ways_to_take(text: str, language: str) -> Iterator[str]:
    """The plain text, then without what is only polite at its ends ("ninguna, doctora")."""
    plain = _plain(text)
    yield plain
    polite = _answers(language)["courtesy"]
    words = plain.split()
    while words and _ends_politely(words, polite):
        yield " ".join(words)


def _ends_politely(words: list[str], polite: frozenset[str]) -> bool:
    """Takes one polite word or two off an end, where something is left; whether it did."""
    for count in (2, 1):
        if len(words) <= count:
            continue
        for part in (slice(-count, None), slice(0, count)):
            if " ".join(words[part]) in polite:
                del words[part]
                return True
    return False


def _own_first(language: str) -> tuple[str, ...]:
    return language, *(other for other in languages() if other != language)


def _from_own(language: str) -> Iterator[Mapping[str, frozenset[str]]]:
    """The answers of the language, then those of the others."""
    return map(_answers, _own_first(language))


@cache
def _answers(language: str) -> Mapping[str, frozenset[str]]:
    """Every list of whole answers, its alternatives written out."""
    lists = ((name, known) for name, known in _words(language).items() if isinstance(known, list))
    return {
        name: frozenset(one for row in known for one in alternatives(row)) for name, known in lists
    }


def alternatives(row: str) -> Iterator[str]:
    """Each answer that a row stands for: "ya| viene|llega" are four, "al_112" is two words."""
    ways = [[w.replace("_", " ") for w in word.split("|")] for word in row.split()]
    for chosen in product(*ways):
        yield " ".join(word for word in chosen if word)


def _words(language: str) -> Mapping[str, Any]:
    return lexicon_data(language, "answers")
