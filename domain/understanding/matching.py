"""Finding the lexicon's wordings in the words of a message.

Every word is looked up once (its exact form, its beginning, else what it may be a slip for),
and patterns are tried only where their first word stands, so a thousand patterns cost about
as much as ten and time grows with the length of the text alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Final

from domain.understanding.clauses import Break, Words
from domain.understanding.patterns import NUMBER, Pattern, Slots
from domain.understanding.spelling import Speller, SpellingHabits

_JOINED_FROM: Final = 8  #: letters from which two words are also tried as one
_PART_FROM: Final = 3  #: letters that either part of a run-together word must have

#: Bound here, because a look-up in the enumeration takes longer than a comparison.
_NONE: Final = Break.NONE
_COMMA: Final = Break.COMMA
_NUMBER: Final = Break.NUMBER
_IN_ORDER: Final = attrgetter("start", "end", "rule")

Hits = list[dict[int, int]]  #: for each word: slot -> how many words it takes there


@dataclass(frozen=True, slots=True)
class _Known:
    """What the lexicon has for one word: its slots, and what it is the first word of."""

    slots: dict[int, int]
    #: slots of the second word and of the others, and the slot that all of them fill together
    phrases: tuple[tuple[int, tuple[int, ...], int], ...]


@dataclass(slots=True)
class Match:
    """A pattern found: words `start` up to `end`, and those in `core` are its own.

    Nothing changes one. It is not frozen, because that makes it three times as slow to make.
    """

    rule: int
    start: int
    end: int
    core: tuple[int, ...]


class Matcher:
    """All patterns of the lexicon, ready for use on any number of texts."""

    def __init__(
        self,
        slots: Slots,
        patterns: Sequence[Pattern],
        *,
        ordinary: Iterable[str],
        misspelt: Mapping[str, str],
        spelling: SpellingHabits,
        possessive: tuple[str, ...],
        walls: int,
        everywhere: int,
        light: frozenset[int],
    ) -> None:
        """`possessive` are endings of two signs that make an owner of a word ("Joan's"), or none.

        `walls` is the slot of words over which no gap reaches, `everywhere` that of words
        by which no pattern is looked for; rules in `light` do not reach over a comma either.
        """
        self._words = {word: frozenset(found) for word, found in slots.words.items()}
        self._beginnings = {b: frozenset(found) for b, found in slots.beginnings.items()}
        self._lengths = sorted({len(b) for b in self._beginnings})
        self._phrases = slots.phrases
        self._number = frozenset(slots.words.get(NUMBER, ()))
        self._misspelt = misspelt
        self._possessive = possessive
        self._walls = walls
        self._light = light
        targets = [w for w in self._words if w not in slots.exact]
        self._ordinary = frozenset(ordinary) | self._words.keys()
        self._speller = Speller(targets, self._ordinary, spelling)
        self._by_key = _by_rarest_slot(patterns, slots, everywhere)
        self._keys = frozenset(self._by_key)
        self.slots_of = lru_cache(maxsize=8192)(self._slots_of)
        self._known = lru_cache(maxsize=8192)(self._look_up_word)
        self.unjoin = lru_cache(maxsize=8192)(self._unjoin)

    def _look_up_word(self, word: str) -> _Known:
        slots = self.slots_of(word)
        phrases = [
            (steps[1], steps[2:], whole)
            for slot in slots
            for steps, whole in self._phrases.get(slot, ())
        ]
        return _Known(dict.fromkeys(slots, 1), tuple(phrases))

    def _slots_of(self, word: str) -> frozenset[int]:
        if word[0].isdigit():
            return self._number
        word = self._misspelt.get(word, word)
        if word not in self._words and len(word) > 2 and word.endswith(self._possessive):
            owner = word[:-2]
            # "a's's's…" is no owner, and would be asked for as deep as it is long.
            return frozenset() if owner.endswith(self._possessive) else self.slots_of(owner)
        found = self._words.get(word, frozenset())
        for length in self._lengths:
            if length > len(word):
                break
            found |= self._beginnings.get(word[:length], frozenset())
        if word not in self._words:
            for meant in self._speller.meant(word):
                found |= self.slots_of(meant)
        return found

    def knows(self, word: str) -> bool:
        """Whether a folded word is one of the lexicon's, a slip for one, or an ordinary one."""
        return word in self._ordinary or bool(self.slots_of(word))

    def has(self, word: str) -> bool:
        """Whether a folded word is one of the lexicon's as it is written, or an ordinary one."""
        return word in self._ordinary or any(word[:n] in self._beginnings for n in self._lengths)

    def _unjoin(self, word: str) -> tuple[str, ...]:
        """The two known words that are run together in `word`, or the word itself."""
        if len(word) < 2 * _PART_FROM + 1 or self.slots_of(word) or word in self._ordinary:
            return (word,)
        for cut in range(_PART_FROM, len(word) - _PART_FROM + 1):
            left, right = word[:cut], word[cut:]
            if left in self._words and right in self._words:
                return (left, right)
        return (word,)

    def look_up(self, words: Words) -> Hits:
        """For each word the slots that begin there, several words as one included."""
        known = [self._known(norm) for norm in words.norms]
        # Those of single words are shared by all messages, and copied before they are added to.
        hits: Hits = [entry.slots for entry in known]
        norms, breaks, all_words = words.norms, words.breaks, self._words
        for i in range(len(known) - 1):
            gap = breaks[i + 1]
            if gap >= _NUMBER:
                continue
            more: dict[int, int] = {}
            if gap is _NONE:
                joined = norms[i] + norms[i + 1]
                if len(joined) >= _JOINED_FROM and joined in all_words:
                    more = dict.fromkeys(all_words[joined], 2)
            following = known[i + 1].slots
            for second, others, whole in known[i].phrases:
                if second in following and (not others or _follow(words, known, i + 2, others)):
                    more[whole] = max(2 + len(others), more.get(whole, 0))
            if more:
                hits[i] = hits[i] | more
        return hits

    def find(self, words: Words, hits: Hits) -> list[Match]:
        """Every pattern in `words`, at most once for each first word, by where they begin."""
        there = set[int]().union(*hits)
        places: dict[int, list[int]] = {}
        found: list[Match] = []
        for slot in there & self._keys:
            for next_rarest, pattern in self._by_key[slot]:
                if next_rarest in there and pattern.needs <= there:
                    first = pattern.steps[0].slot
                    if first not in places:
                        places[first] = [i for i, slots in enumerate(hits) if first in slots]
                    for i in places[first]:
                        if pattern.begins and not _begins(words, i, pattern.begins):
                            continue
                        core = self._extend(words, hits, pattern, i)
                        if core is not None:
                            found.append(Match(pattern.rule, i, core[-1] + 1, core))
        found.sort(key=_IN_ORDER)
        return found

    def _extend(
        self, words: Words, hits: Hits, pattern: Pattern, start: int
    ) -> tuple[int, ...] | None:
        end = start + hits[start][pattern.steps[0].slot]
        limit = _COMMA if pattern.rule in self._light else _NUMBER
        core = self._rest(words, hits, pattern, limit, 1, end)
        return None if core is None else (*range(start, end), *core)

    def _rest(
        self, words: Words, hits: Hits, pattern: Pattern, limit: Break, place: int, at: int
    ) -> tuple[int, ...] | None:
        """The words of the steps from `place` on, with the first of them at word `at` or after."""
        if place == len(pattern.steps):
            return () if not pattern.ends or _ends(words, at, pattern.ends) else None
        step = pattern.steps[place]
        if step.absent:
            stands = at < len(words) and step.slot in hits[at] and _joined(words, at)
            return None if stands else self._rest(words, hits, pattern, limit, place + 1, at)
        for i in range(at, min(at + step.gap + 1, len(hits))):
            slots = hits[i]
            if words.breaks[i] >= limit:
                break
            taken = slots.get(step.slot)
            if taken is not None:
                core = self._rest(words, hits, pattern, limit, place + 1, i + taken)
                if core is not None:
                    return (*range(i, i + taken), *core)
            if self._walls in slots and not step.any_words:
                break
        return None


def _by_rarest_slot(
    patterns: Sequence[Pattern], slots: Slots, everywhere: int
) -> dict[int, list[tuple[int, Pattern]]]:
    """Patterns by the one of their slots that the fewest messages hold.

    Each with the next rarest of its slots (the same when it has no other), which is looked
    for before all of them: most patterns lack it.
    """
    weight = dict.fromkeys(slots.numbers.values(), 0)
    for numbers in slots.words.values():
        for slot in numbers:
            weight[slot] += 100 if everywhere in numbers else 1
    for numbers in slots.beginnings.values():
        for slot in numbers:
            weight[slot] += 10
    for phrases in slots.phrases.values():
        for _, slot in phrases:
            weight[slot] += 1
    found: dict[int, list[tuple[int, Pattern]]] = {}
    for pattern in patterns:
        rarest = sorted(pattern.needs, key=lambda slot: (weight[slot], slot))
        found.setdefault(rarest[0], []).append((rarest[:2][-1], pattern))
    return found


def _follow(words: Words, known: Sequence[_Known], i: int, slots: tuple[int, ...]) -> bool:
    """Whether the slots are filled from word `i` on, in their order."""
    return i + len(slots) <= len(known) and all(
        slot in known[k].slots and words.breaks[k] < _NUMBER for k, slot in enumerate(slots, i)
    )


def _joined(words: Words, i: int) -> bool:
    """Whether word `i` belongs to the sentence of the word before it."""
    return words.breaks[i] < _NUMBER


def _begins(words: Words, i: int, edge: str) -> bool:
    if edge == "^^":
        return i == 0
    return i == 0 or words.breaks[i] >= _NUMBER


def _ends(words: Words, at: int, edge: str) -> bool:
    if edge == "$$":
        return at == len(words)
    least = Break.COMMA if edge == "," else Break.NUMBER
    return at == len(words) or words.breaks[at] >= least
