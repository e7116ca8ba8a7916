"""Which known words a misspelt word may stand for.

Three ways, from the published trade: edit distance with neighbouring letters swapped counted
once (Damerau 1964), looked up by deletions (symmetric delete, as in spelling correctors), and
a consonant skeleton in the manner of Soundex for words that are written as they sound. A word
that is ordinary in its language is never read as a slip for another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

SHORTEST: Final = 4  #: shorter words are taken as they stand
TWO_SLIPS_FROM: Final = 8  #: letters from which two slips are forgiven
LONGEST: Final = 18
LEAST_SOUND: Final = 4  #: signs of a sound that are enough to compare by


@dataclass(frozen=True, slots=True)
class SpellingHabits:
    """How the words of a language sound, and how its letters lie under a thumb."""

    sounds: tuple[tuple[str, str], ...]  #: spelt -> heard, applied in this order
    silent: frozenset[str]  #: letters that the consonant skeleton leaves out
    vowels: frozenset[str]  #: letters that are mistaken for each other by ear
    keys: Mapping[str, tuple[int, int]]  #: letter -> row and place on the keyboard
    by_sound_from: int  #: letters from which words are also compared by their sound

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> SpellingHabits:
        """From the table `spelling` of a lexicon file."""
        return cls(
            tuple((spelt, heard) for spelt, heard in data["sounds"]),
            frozenset(data["silent"]),
            frozenset(data["vowels"]),
            {
                key: (row, place)
                for row, keys in enumerate(data["keyboard"])
                for place, key in enumerate(keys)
            },
            data["by_sound_from"],
        )


def slips_allowed(word: str) -> int:
    """How many slips a word of this length may hold."""
    if len(word) < SHORTEST or len(word) > LONGEST:
        return 0
    return 2 if len(word) >= TWO_SLIPS_FROM else 1


def sound(word: str, habits: SpellingHabits) -> str:
    """Consonant skeleton: the first sound, then consonants, doubled ones once."""
    for spelt, heard in habits.sounds:
        word = word.replace(spelt, heard)
    kept = word[:1]
    for letter in word[1:]:
        if letter not in habits.silent and letter != kept[-1]:
            kept += letter
    return kept


def distance(left: str, right: str, limit: int) -> int:
    """Slips between two words (insert, drop, change, swap), or more than `limit`."""
    if abs(len(left) - len(right)) > limit:
        return limit + 1
    before: list[int] = []
    row = list(range(len(right) + 1))
    for i, a in enumerate(left, 1):
        last, before, row = before, row, [i]
        for j, b in enumerate(right, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == right[j - 2] and left[i - 2] == b:
                cost = min(cost, last[j - 2] + 1)
            row.append(cost)
        if min(row) > limit:
            return limit + 1
    return row[-1]


def _shortened(word: str, slips: int) -> set[str]:
    found = {word}
    edge = {word}
    for _ in range(slips):
        edge = {w[:i] + w[i + 1 :] for w in edge for i in range(len(w))}
        found |= edge
    return found


class Speller:
    """Looks misspelt words up among `targets`, sparing the `ordinary` ones."""

    def __init__(
        self, targets: Iterable[str], ordinary: Iterable[str], habits: SpellingHabits
    ) -> None:
        self._habits = habits
        self._ordinary = frozenset(ordinary)
        self._by_shortened: dict[str, list[str]] = {}
        self._by_sound: dict[str, list[str]] = {}
        for target in sorted(set(targets)):
            slips = slips_allowed(target)
            if not slips or not target.isalpha():
                continue
            for key in _shortened(target, slips):
                self._by_shortened.setdefault(key, []).append(target)
            if len(target) >= habits.by_sound_from:
                self._by_sound.setdefault(sound(target, habits), []).append(target)

    def meant(self, word: str) -> tuple[str, ...]:
        """Known words that `word` may be a slip for, nearest ones only; often none."""
        slips = slips_allowed(word)
        if not slips or word in self._ordinary or not word.isalpha():
            return ()
        seen: set[str] = set()
        for key in _shortened(word, slips):
            seen.update(self._by_shortened.get(key, ()))
        near = [(distance(word, target, slips), target) for target in seen]
        near = [(d, t) for d, t in near if d <= min(slips, slips_allowed(t)) and _alike(word, t)]
        near = [(d, t) for d, t in near if len(word) > SHORTEST or _by_thumb(word, t, self._habits)]
        nearest = {t for d, t in near if d == min(near)[0]}
        # Without its vowels a word sounds like too many to be compared while one is near.
        if nearest and self._habits.silent:
            return tuple(sorted(nearest))
        return tuple(sorted(nearest.union(self._alike_by_sound(word))))

    def _alike_by_sound(self, word: str) -> list[str]:
        if len(word) < self._habits.by_sound_from:
            return []
        heard = sound(word, self._habits)
        if len(heard) < LEAST_SOUND:
            return []
        return [t for t in self._by_sound.get(heard, ()) if abs(len(t) - len(word)) <= 3]


def _by_thumb(word: str, target: str, habits: SpellingHabits) -> bool:
    """Whether a letter changed in a word of four is a vowel for a vowel, or its neighbour.

    "Pune" is no slip for "puke": its keys lie apart.
    """
    if len(word) != len(target):
        return True
    changed = [(a, b) for a, b in zip(word, target, strict=True) if a != b]
    if len(changed) != 1:
        return True
    a, b = changed[0]
    if a in habits.vowels and b in habits.vowels:
        return True
    if a not in habits.keys or b not in habits.keys:
        return False
    (row, place), (other_row, other_place) = habits.keys[a], habits.keys[b]
    return abs(row - other_row) <= 1 and abs(place - other_place) <= 1


def _alike(word: str, target: str) -> bool:
    """Short words must begin alike: with four or five letters one slip leaves little."""
    return len(target) > 5 or word[0] == target[0] or word[:2] == target[1::-1]
