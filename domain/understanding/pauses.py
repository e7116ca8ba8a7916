"""How long a writer wants to wait ("in 20 min", "half an hour"). The words are data."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from typing import Final

from domain.understanding.clauses import fold
from domain.understanding.lexicon_data import ENGLISH, lexicon_data

#: Later than this is another occasion, not a pause before this one.
LONGEST_PAUSE: Final = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class _PauseWords:
    phrases: Mapping[str, int]  #: said without a number -> minutes
    counts: Mapping[str, int]  #: number word -> number
    units: Mapping[str, int]  #: unit of time -> minutes
    said: re.Pattern[str]
    counted: re.Pattern[str]


def pause(text: str, language: str = ENGLISH) -> timedelta | None:
    """The wait that a text asks for, None when it names none or one of more than a day."""
    words = _pause_words(language)
    plain = " ".join(fold(text).replace("-", " ").split())
    said = words.said.search(plain)
    if said is not None:
        return timedelta(minutes=words.phrases[said[0]])
    counted = words.counted.search(plain)
    if counted is None:
        return None
    count = counted["count"]
    number = int(count) if count.isdecimal() else words.counts[count]
    wait = timedelta(minutes=number * words.units[counted["unit"]])
    return wait if timedelta(0) < wait <= LONGEST_PAUSE else None


@cache
def _pause_words(language: str) -> _PauseWords:
    data = lexicon_data(language, "intents")["pause"]
    units = dict.fromkeys(data["minutes"], 1) | dict.fromkeys(data["hours"], 60)
    between = "|".join(f"{re.escape(word)} " for word in data["between"])
    counted = (
        rf"\b(?P<count>\d{{1,3}}|{_any(data['counts'])}) ?(?:{between})?(?P<unit>{_any(units)})\b"
    )
    return _PauseWords(
        phrases=data["phrases"],
        counts=data["counts"],
        units=units,
        said=re.compile(rf"\b(?:{_any(data['phrases'])})\b"),
        counted=re.compile(counted),
    )


def _any(words: Iterable[str]) -> str:
    """One of the words, the longest first."""
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))
