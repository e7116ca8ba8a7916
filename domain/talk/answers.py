"""Reads short answers to a question that the program has asked: yes, a choice, a time, a number.

Whole messages are read by `domain.understanding`; this is for "yes", "left", "8 and 20:00",
"34 cm". Words are data, one file a language. Lengths in cm, clock times local.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from datetime import time
from functools import cache
from importlib import resources
from typing import Any, Final

#: "Not pregnant" does not name the choice "pregnant".
_NOT_DENIED: Final = r"(?<!\bnot )(?<!\bnot the )(?<!n't )(?<!\bno )(?<!\bnever )"
_SHORT: Final = 8  # words: longer texts are no answer to a choice
_CM_PER_INCH: Final = 2.54


def yes_or_no(text: str) -> bool | None:
    """True for a yes, False for a no, None when it is neither."""
    words = _words()
    if _is_one_of(text, words["no"]):
        return False
    return True if _is_one_of(text, words["yes"]) else None


def says(text: str, what: str) -> bool:
    """Whether the whole text is one of the ways to say `what` ("ready", "rested", "present")."""
    return _is_one_of(text, _words()[what])


def choice(question: str, text: str) -> str | None:
    """Which of a question's choices a short text names, or None.

    The whole text decides; failing that, the longest phrase that stands in it.
    """
    choices: Mapping[str, list[str]] = _words()["choices"].get(question, {})
    plain = _plain(text)
    for value, phrases in choices.items():
        if plain in phrases:
            return value
    if len(plain.split()) > _SHORT:
        return None
    inside = [
        (len(phrase), value)
        for value, phrases in choices.items()
        for phrase in phrases
        if len(phrase) > 2 and re.search(rf"{_NOT_DENIED}\b{re.escape(phrase)}\b", plain)
    ]
    return max(inside)[1] if inside else None


def whole_number(text: str) -> int | None:
    """The number when the text is one ("112", " 34 "), or None."""
    found = re.fullmatch(r"\D{0,12}(\d{1,5})\D{0,12}", text.strip())
    return int(found[1]) if found else None


def arm_length_cm(text: str) -> float | None:
    """A length in cm ("33", "33.5 cm", "13 inches"); None unless it can be an upper arm's."""
    found = re.search(r"(\d{1,3})(?:[.,](\d))?", text)
    if not found:
        return None
    value = float(f"{found[1]}.{found[2] or 0}")
    rest = _plain(text[found.end() :])
    inch_words = [word for word in _words()["times"]["inch"] if word != '"']
    if '"' in text or any(word in rest.split() for word in inch_words):
        value = round(value * _CM_PER_INCH, 1)
    return value if 10 <= value <= 80 else None


_CLOCK = re.compile(
    r"(?<![\d/:])(?P<hour>[01]?\d|2[0-3])(?:[:.h](?P<minute>[0-5]\d))?\s*(?P<half>[ap]\.?m\b\.?)?"
    r"(?![\d/])"
)


def clock_times(text: str) -> tuple[time, ...]:
    """The clock times in a text, earliest first, each once ("8am and 8 at night", "7:30").

    A time without a half of the day is taken as written; the words around settle it.
    """
    plain = text.casefold()
    words = _words()["times"]
    found: set[time] = set()
    matches = list(_CLOCK.finditer(plain))
    for place, match in enumerate(matches):
        end = matches[place + 1].start() if place + 1 < len(matches) else len(plain)
        after = plain[match.end() : end]
        hour, minute = int(match["hour"]), int(match["minute"] or 0)
        half = (match["half"] or "").replace(".", "")
        late = half == "pm" or (not half and _has(after, words["evening"]))
        early = half == "am" or (not half and not late and _has(after, words["morning"]))
        if late and hour < 12:
            hour += 12
        elif early and hour == 12:
            hour = 0
        found.add(time(hour, minute))
    if not matches and _has(plain, words["noon"]):
        found.add(time(12))
    return tuple(sorted(found))


def _has(text: str, words: Iterable[str]) -> bool:
    return any(re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text) for word in words)


def _is_one_of(text: str, phrases: list[str]) -> bool:
    return _plain(text) in phrases


def _plain(text: str) -> str:
    straight = text.casefold().replace("’", "'")
    return " ".join(re.sub(r"[^\w'\- ]", " ", straight).split())


@cache
def _words() -> Mapping[str, Any]:
    # One language is complete today; a second is a second file.
    source = resources.files("domain.understanding") / "lexicon" / "en_answers.toml"
    with source.open("rb") as file:
        return tomllib.load(file)
