"""Finding the lexicon's wordings in the words of a message.

Every word is looked up once (its exact form, its beginning, else what it may be a slip for),
and patterns are tried only where their first word stands, so a thousand patterns cost about
as much as ten and time grows with the length of the text alone.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Final

from domain.understanding.clauses import COMMA, NO_BREAK, NUMBER, Break, Words
from domain.understanding.patterns import ANY_NUMBER, Pattern, Slots
from domain.understanding.spelling import Speller, SpellingHabits

_JOINED_FROM: Final = 8  #: letters from which two words are also tried as one
_PART_FROM: Final = 3  #: letters that either part of a run-together word must have

_WHOLE: Final = re.compile(r"\d+")  #: of "20", "1.5", "7:30"

_IN_ORDER: Final = attrgetter("start", "end", "rule")

Hits = list[dict[int, int]]  #: for each word: slot -> how many words it takes there


@dataclass(slots=True)
class _Patterns:
    """The patterns in which a word or a slot stands, by what it is to them.

    Each is a set of patterns as the bits of a number, bit n for pattern n: so a thousand of
    them are joined, or compared, in one step.
    """

    rarest: int = 0  #: it is the slot of theirs that the fewest messages hold
    second: int = 0  #: it is the second rarest, or they have no second
    third: int = 0  #: it is the third rarest, or they have no third
    first_word: int = 0


#: Slots of the third word of a phrase and of those behind it, and the slot that it fills.
_Phrase = tuple[tuple[int, ...], int]


@dataclass(frozen=True, slots=True)
class _Known:
    """What the lexicon has for one word, sorted by what is asked for."""

    slots: dict[int, int]
    phrases: dict[int, list[_Phrase]]  #: those it is the first word of, by their second slot
    seconds: frozenset[int]  #: slots of second words of its phrases
    as_second: frozenset[int]  #: its slots that any phrase has second
    patterns: _Patterns  #: those in which its slots stand


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
        self._numbers = {
            int(word[len(ANY_NUMBER) :] or 0): frozenset(found)
            for word, found in slots.words.items()
            if word.startswith(ANY_NUMBER)
        }
        self._misspelt = misspelt
        self._possessive = possessive
        self._walls = walls
        self._light = light
        targets = [w for w in self._words if w not in slots.exact]
        self._ordinary = frozenset(ordinary) | self._words.keys()
        self._speller = Speller(targets, self._ordinary, spelling)
        self._patterns = patterns
        self._patterns_of = _by_slot(patterns, slots, everywhere)
        self._seconds = frozenset(s[1] for kept in self._phrases.values() for s, _ in kept)
        self.slots_of = lru_cache(maxsize=8192)(self._slots_of)
        self._known = lru_cache(maxsize=8192)(self._look_up_word)
        self.unjoin = lru_cache(maxsize=8192)(self._unjoin)

    def _look_up_word(self, word: str) -> _Known:
        slots = self.slots_of(word)
        phrases: dict[int, list[_Phrase]] = {}
        for slot in slots:
            for steps, whole in self._phrases.get(slot, ()):
                phrases.setdefault(steps[1], []).append((steps[2:], whole))
        return _Known(
            dict.fromkeys(slots, 1),
            phrases,
            seconds=frozenset(phrases),
            as_second=slots & self._seconds,
            patterns=self._patterns_with(slots),
        )

    def _patterns_with(self, slots: Iterable[int]) -> _Patterns:
        found = _Patterns()
        for slot in slots:
            if slot in self._patterns_of:
                of_slot = self._patterns_of[slot]
                found.rarest |= of_slot.rarest
                found.second |= of_slot.second
                found.third |= of_slot.third
                found.first_word |= of_slot.first_word
        return found

    def _slots_of(self, word: str) -> frozenset[int]:
        if word[0].isdigit():
            return self._slots_of_number(word)
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

    def _slots_of_number(self, word: str) -> frozenset[int]:
        """Slots of all numbers, and of those from a limit on that the number reaches."""
        digits = _WHOLE.match(word)
        whole = int(digits[0]) if digits else 0
        return frozenset().union(*(s for least, s in self._numbers.items() if whole >= least))

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

    def find(self, words: Words) -> tuple[Hits, list[Match]]:
        """For each word the slots that begin there, and every pattern in the words.

        A pattern is found at most once for each first word; they are sorted by their places.
        """
        known = [self._known(norm) for norm in words.norms]
        hits: Hits = [entry.slots for entry in known]
        begun = [(i, entry.patterns) for i, entry in enumerate(known)]
        for i, slots in self._phrases_in(words, known):
            # The slots of single words are shared by all messages, and so are not added to.
            hits[i] = hits[i] | slots
            begun.append((i, self._patterns_with(slots.keys() - known[i].slots.keys())))
        rarest = second = third = 0
        for _, patterns in begun:
            rarest |= patterns.rarest
            second |= patterns.second
            third |= patterns.third
        # Those whose three rarest slots are there. It leaves out most that cannot be found.
        wanted = rarest & second & third
        found = [
            match
            for i, patterns in begun
            for number in _bits(wanted & patterns.first_word)
            if (match := self._match(words, hits, self._patterns[number], i)) is not None
        ]
        found.sort(key=_IN_ORDER)
        return hits, found

    def _phrases_in(
        self, words: Words, known: Sequence[_Known]
    ) -> Iterator[tuple[int, dict[int, int]]]:
        """Words at which several words as one begin, with their slots as in `Hits`."""
        norms, breaks, all_words = words.norms, words.breaks, self._words
        for i in range(len(known) - 1):
            gap = breaks[i + 1]
            if gap >= NUMBER:
                continue
            first, second = known[i], known[i + 1]
            joined = norms[i] + norms[i + 1]
            runs_on = gap is NO_BREAK and len(joined) >= _JOINED_FROM and joined in all_words
            begins = first.seconds and not first.seconds.isdisjoint(second.as_second)
            if not (runs_on or begins):
                continue
            found = dict.fromkeys(all_words[joined], 2) if runs_on else {}
            for slot in first.seconds & second.as_second:
                for others, whole in first.phrases[slot]:
                    if not others or _follow(words, known, i + 2, others):
                        found[whole] = max(2 + len(others), found.get(whole, 0))
            if found:
                yield i, found

    def _match(self, words: Words, hits: Hits, pattern: Pattern, start: int) -> Match | None:
        """The pattern with its first step at word `start`, whose slot stands there."""
        if pattern.begins and not _begins(words, start, pattern.begins):
            return None
        end = start + hits[start][pattern.steps[0].slot]
        limit = COMMA if pattern.rule in self._light else NUMBER
        rest = self._rest(words, hits, pattern, limit, 1, end)
        if rest is None:
            return None
        core = (*range(start, end), *rest)
        return Match(pattern.rule, start, core[-1] + 1, core)

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


def _by_slot(patterns: Sequence[Pattern], slots: Slots, everywhere: int) -> dict[int, _Patterns]:
    """For each slot the patterns in which it stands. Rare is what few words fill."""
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
    found: dict[int, _Patterns] = defaultdict(_Patterns)
    for number, pattern in enumerate(patterns):
        bit = 1 << number
        rarest = sorted(pattern.needs, key=lambda slot: (weight[slot], slot))
        found[rarest[0]].rarest |= bit
        found[rarest[:2][-1]].second |= bit
        found[rarest[:3][-1]].third |= bit
        found[pattern.steps[0].slot].first_word |= bit
    return dict(found)


def _bits(number: int) -> Iterator[int]:
    """The places of the bits that are set, the lowest first."""
    while number:
        lowest = number & -number
        yield lowest.bit_length() - 1
        number ^= lowest


def _follow(words: Words, known: Sequence[_Known], i: int, slots: tuple[int, ...]) -> bool:
    """Whether the slots are filled from word `i` on, in their order."""
    return i + len(slots) <= len(known) and all(
        slot in known[k].slots and words.breaks[k] < NUMBER for k, slot in enumerate(slots, i)
    )


def _joined(words: Words, i: int) -> bool:
    """Whether word `i` belongs to the sentence of the word before it."""
    return words.breaks[i] < NUMBER


def _begins(words: Words, i: int, edge: str) -> bool:
    if edge == "^^":
        return i == 0
    return i == 0 or words.breaks[i] >= NUMBER


def _ends(words: Words, at: int, edge: str) -> bool:
    if edge == "$$":
        return at == len(words)
    least = COMMA if edge == "," else NUMBER
    return at == len(words) or words.breaks[at] >= least
