"""The words around numbers and times of one language, as its lexicon files list them.

A word has roles ("over", "unit", "low_sure"); a phrase of several words is read as one word.
The lists are in `lexicon/<language>_numbers.toml` and `<language>_times.toml`, first names in
`<language>_context.toml`; nothing here names a word of any language.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from datetime import time
from functools import cache
from string import ascii_lowercase, digits
from typing import Any, Final

from domain.understanding.lexicon_data import ENGLISH, lexicon_data, ordinary_words

Roles = frozenset[str]
Phrases = Mapping[str, tuple[tuple[str, ...], ...]]  #: second word -> phrases, longest first
NO_ROLES: Final[Roles] = frozenset()

#: Longer words are also forgiven one wrong letter, for they are near to no other.
_LONG: Final = 7
#: Shorter words are too near to others for a slip of the thumb to be forgiven.
_SHORTEST_FORGIVEN: Final = 4
_VOWELS: Final = "aeiouy"
#: What dictation writes for a hundred that words follow: "100 and 34".
TYPED_HUNDREDS: Final = frozenset({"100", "200"})
_TENS: Final = range(20, 100, 10)
_NAMED_TIMES: Final = (
    "half_days",
    "last_parts",
    "weekdays",
    "short_days",
    "days_back",
    "months",
    "minutes",
    "spans_ago",
)


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the day or a named time of it, local."""

    clock: time  #: the moment that the word stands for
    begins: time | None = None  #: when it begins, if it lasts
    ends: time | None = None  #: when it ends; before `begins` if midnight lies in it
    half: str | None = None  #: "am" or "pm" for a clock time beside it

    def holds(self, clock: time) -> bool:
        if self.begins is None or self.ends is None:
            return False
        if self.begins < self.ends:
            return self.begins <= clock < self.ends
        return clock >= self.begins or clock < self.ends


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words by role, phrases by their first word, and the words that have a value."""

    roles: Mapping[str, Roles]  #: word or phrase (its words with one space) -> roles
    phrases: Mapping[str, Phrases]  #: by their first word
    homophones: Mapping[str, int]  #: "ate" -> 8
    spoken_marks: Mapping[str, str]  #: "comma" -> ","
    values: Mapping[str, int]  #: "forty" -> 40; "fortytwo" -> 42
    number_words: frozenset[str]  #: those with a value, and the words for a hundred
    #: the same, the words for a point and for "double", and hundreds that may be typed
    number_parts: frozenset[str]
    ordinals: Mapping[str, str]  #: as they are typed before the noun of a label -> as a word
    ordinal_endings: frozenset[str]  #: what is typed behind their digits ("st")
    lists: Mapping[str, tuple[str, ...]]  #: lists that are no roles of words
    parts: Mapping[str, Part]  #: "evening" -> the part of the day
    half_days: Mapping[str, str]  #: "am" -> the part that it heads a line for
    last_parts: Mapping[str, str]  #: "last evening" -> the part of the day before
    weekdays: Mapping[str, int]  #: Monday is 0
    short_days: Mapping[str, int]  #: weekdays that are words of another sense too
    days_back: Mapping[str, int]  #: "yesterday" -> 1
    months: Mapping[str, int]  #: January is 1
    minutes: Mapping[str, int]  #: unit of time -> minutes
    spans_ago: Mapping[str, int]  #: "half an hour ago" -> minutes
    number_word: re.Pattern[str]  #: any number word, to take run-together ones apart

    def roles_of(self, word: str) -> Roles:
        return self.roles.get(word, NO_ROLES)

    def unjoined(self, word: str) -> tuple[str, ...]:
        """The number words that are run together in `word`; none when it is something else."""
        parts = tuple(self.number_word.findall(word))
        return parts if len(parts) > 1 and sum(map(len, parts)) == len(word) else ()


@cache
def vocabulary(language: str = ENGLISH) -> Vocabulary:
    """The words of a language, read once.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
    """
    numbers, times = lexicon_data(language, "numbers"), lexicon_data(language, "times")
    values = _with_joined(numbers["values"], numbers["lists"])
    roles: dict[str, set[str]] = {}
    for table in (numbers["roles"], times["roles"]):
        for role, words in table.items():
            for word in words:
                roles.setdefault(word, set()).add(role)
    named = (
        *(word for part in times["part"] for word in part["words"]),
        *(word for table in _NAMED_TIMES for word in times[table]),
    )
    for word in named:
        roles.setdefault(word, set()).add("time")
    for word in lexicon_data(language, "context")["groups"]["first_name"].split():
        roles.setdefault(word, set()).add("first_name")
    for word in numbers["homophones"]:
        roles.setdefault(word, set()).add("homophone")
    for side in ("high", "low"):
        for label in _labels_of(side, numbers["lists"]):
            roles.setdefault(label, set()).add(f"{side}_sure")
    for word in numbers["near_over"]:
        for slip in _near(word) - roles.keys() - values.keys():
            roles[slip] = {"near_over"}
    for role in numbers["forgiving"]:
        _forgive(role, numbers["roles"][role], roles, values)
    if "no_numbers" in numbers["lists"]:
        spared = {*ordinary_words(language), *numbers["lists"]["no_numbers"], *roles}
        values = _with_slips(numbers["values"], spared) | values
    number_words = frozenset(values) | _with_role(roles, "hundred")
    ordinals = dict(pair.split() for pair in numbers["lists"].get("ordinals", ()))
    return Vocabulary(
        roles={word: frozenset(names) for word, names in roles.items()},
        phrases=_by_first_words(word for word in (*roles, *numbers["spoken_marks"]) if " " in word),
        values=values,
        number_words=number_words,
        number_parts=number_words.union(
            _with_role(roles, "point"), _with_role(roles, "double"), TYPED_HUNDREDS
        ),
        ordinals=ordinals,
        ordinal_endings=frozenset(typed.lstrip(digits) for typed in ordinals),
        homophones=numbers["homophones"],
        spoken_marks=numbers["spoken_marks"],
        lists={name: tuple(words) for name, words in numbers["lists"].items()},
        parts={word: _part(part) for part in times["part"] for word in part["words"]},
        **{table: times[table] for table in _NAMED_TIMES},
        number_word=_any_of(
            *numbers["values"], *numbers["roles"]["hundred"], *numbers["roles"]["hundred_and"]
        ),
    )


def _with_role(roles: Mapping[str, Set[str]], role: str) -> frozenset[str]:
    return frozenset(word for word, names in roles.items() if role in names)


def _labels_of(side: str, lists: Mapping[str, Iterable[str]]) -> Iterable[str]:
    """Labels put together of a head and a noun, each in all its spellings ("btm no")."""
    for head in lists.get(f"{side}_heads", ()):
        for noun in lists["label_nouns"]:
            yield f"{head} {noun}"


def _any_of(*words: str) -> re.Pattern[str]:
    """A pattern for any of the words that are long enough to be told apart, longest first."""
    told = sorted((word for word in words if len(word) > 2), key=len, reverse=True)
    return re.compile("|".join(map(re.escape, told)))


def _part(row: Mapping[str, Any]) -> Part:
    begins, ends = row.get("from"), row.get("to")
    return Part(
        time.fromisoformat(row["clock"]),
        time.fromisoformat(begins) if begins else None,
        time.fromisoformat(ends) if ends else None,
        row.get("half"),
    )


def _with_joined(values: Mapping[str, int], lists: Mapping[str, Iterable[str]]) -> dict[str, int]:
    """The values, and what is run together: "fortytwo", and as the lists say "cientoveinte"."""
    joined = dict(values)
    tens = {word: value for word, value in values.items() if value in _TENS}
    digits = {word: value for word, value in values.items() if 1 <= value <= 9}
    for ten, many in tens.items():
        for digit, few in digits.items():
            for joint in ("", *lists.get("tens_joints", ())):
                joined[ten + joint + digit] = many + few
    below = {word: value for word, value in joined.items() if 1 <= value < 100}
    for hundred in lists.get("hundred_joints", ()):
        for word, value in below.items():
            joined[hundred + word] = values.get(hundred, 100) + value
    return joined


def _with_slips(values: Mapping[str, int], spared: Set[str]) -> dict[str, int]:
    """Teens and tens with one slip inside ("sevnty", "thirdy"), no words of another sense."""
    slips: dict[str, int] = {}
    for word, value in values.items():
        if value < 10 or len(word) < _SHORTEST_FORGIVEN + 1:
            continue
        inner = range(1, len(word) - 1)
        found = _slips(word)
        found |= {word[:i] + sign + word[i:] for i in range(2, len(word)) for sign in _VOWELS}
        if len(word) > _SHORTEST_FORGIVEN + 1:
            found |= {word[:i] + sign + word[i + 1 :] for i in inner for sign in ascii_lowercase}
        slips |= dict.fromkeys(found - spared, value)
    return slips


def _forgive(
    role: str, words: Iterable[str], roles: dict[str, set[str]], values: Mapping[str, int]
) -> None:
    known = frozenset(roles) | frozenset(values)
    for word in words:
        if word.isalpha() and len(word) >= _SHORTEST_FORGIVEN:
            for slip in _slips(word) - known:
                roles.setdefault(slip, set()).add(role)


def _slips(word: str) -> set[str]:
    """The word with a letter left out, doubled or (in long words) wrong, or two swapped."""
    left_out = {word[:i] + word[i + 1 :] for i in range(1, len(word) - 1)}
    doubled = {word[:i] + word[i] + word[i:] for i in range(len(word))}
    swapped = {word[:i] + word[i + 1] + word[i] + word[i + 2 :] for i in range(len(word) - 1)}
    if len(word) == _SHORTEST_FORGIVEN:
        return (doubled | swapped) - {word}
    found = left_out | doubled | swapped
    if len(word) >= _LONG:
        inner = range(1, len(word))
        found |= {word[:i] + sign + word[i + 1 :] for i in inner for sign in ascii_lowercase}
        found |= {word[:i] + sign + word[i:] for i in inner for sign in _VOWELS}
    return found - {word}


def _near(word: str) -> set[str]:
    """The word with one letter left out, put in or wrong."""
    places = range(len(word) + 1)
    left_out = {word[:i] + word[i + 1 :] for i in places}
    changed = {word[:i] + sign + word[i + 1 :] for i in places for sign in ascii_lowercase}
    put_in = {word[:i] + sign + word[i:] for i in places for sign in ascii_lowercase}
    return (left_out | changed | put_in) - {word}


def _by_first_words(
    phrases: Iterable[str],
) -> dict[str, dict[str, tuple[tuple[str, ...], ...]]]:
    found: dict[str, dict[str, list[tuple[str, ...]]]] = {}
    for phrase in phrases:
        words = tuple(phrase.split())
        found.setdefault(words[0], {}).setdefault(words[1], []).append(words)
    return {
        first: {s: tuple(sorted(many, key=len, reverse=True)) for s, many in seconds.items()}
        for first, seconds in found.items()
    }
