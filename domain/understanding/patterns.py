"""A small notation for wordings: how it is read. Finding them in a text: `matching.py`.

The notation, from left to right over the words of one sentence:

    chest               the word, also with a slip of the thumb in it
    =fit                the word exactly as it stands
    tight*              any word that begins so
    arm|leg             either
    pins_and_needles    several words as one
    <limb>              any of the group of that name
    #                   a number in digits
    #15                 a number in digits from 15 on
    my?                 may be missing
    !of                 the next word is not this one
    ..3                 up to three other words between, none of them "and", "but", "or" …
    ...3                up to three other words of any kind between
    chest ~4 tight      in either order, up to four other words between
    ^  $  ^^  $$        begins or ends the sentence, begins or ends the message
    ,                   ends the clause: a comma, a dash, the end of the sentence
    page|line|$         one of these, or the end of the sentence (or of the clause: page|,)
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Final

_ENDS: Final = frozenset({"$", "$$", ","})
EDGES: Final = frozenset({"^", "^^"}) | _ENDS
ANY_NUMBER: Final = "#"
_GAP: Final = re.compile(r"\.\.(\.?)(\d+)")
_TILDE: Final = re.compile(r"~(\d+)")
_ALTERNATIVE: Final = re.compile(r"=?[^\W\d]+(?:'[^\W\d]*|_)*[\w']*\*?|<\w+>|#\d*")


class PatternError(ValueError):
    """A pattern that cannot be read. The text names the pattern and what is wrong in it."""


@dataclass(frozen=True, slots=True)
class Step:
    """One word, or words read as one, after up to `gap` others."""

    slot: int
    gap: int = 0
    absent: bool = False  #: the word must not stand here
    any_words: bool = False  #: the gap may hold "and", "but" and their kind


@dataclass(frozen=True, slots=True)
class Pattern:
    """Steps with the edges that hold them. `rule` is the place of its rule in the lexicon."""

    rule: int
    steps: tuple[Step, ...]
    needs: frozenset[int]  #: slots without which it cannot be found
    begins: str = ""
    ends: str = ""


@dataclass(slots=True)
class Slots:
    """Every set of alternatives once, by what it is made of: words, beginnings, several words."""

    groups: Mapping[str, str]
    #: words that are other words when the apostrophe is left out
    never_bare: frozenset[str] = frozenset()
    numbers: dict[tuple[str, ...], int] = field(default_factory=dict)
    words: dict[str, set[int]] = field(default_factory=dict)
    exact: set[str] = field(default_factory=set)
    beginnings: dict[str, set[int]] = field(default_factory=dict)
    #: first word's slot -> (slots of the words in order, the slot they fill together)
    phrases: dict[int, list[tuple[tuple[int, ...], int]]] = field(default_factory=dict)

    def number_of(self, alternatives: str) -> int:
        """The slot of `alternatives`, made when it is new."""
        key = tuple(sorted(set(self._unfold(alternatives, ()))))
        known = self.numbers.get(key)
        if known is not None:
            return known
        slot = self.numbers[key] = len(self.numbers)
        for alternative in key:
            self._add(alternative, slot)
        return slot

    def _unfold(self, alternatives: str, inside: tuple[str, ...]) -> Iterable[str]:
        for alternative in alternatives.split("|"):
            if not _ALTERNATIVE.fullmatch(alternative):
                raise PatternError(f"{alternatives!r}: cannot read {alternative!r}")
            if not alternative.startswith("<"):
                yield alternative
                continue
            name = alternative[1:-1]
            if name not in self.groups or name in inside:
                raise PatternError(f"{alternatives!r}: no group {name!r}, or it holds itself")
            yield from self._unfold("|".join(self.groups[name].split()), (*inside, name))

    def _add(self, alternative: str, slot: int) -> None:
        parts = [part for part in alternative.split("_") if part]
        if len(parts) > 1:
            steps = tuple(self.number_of(part) for part in parts)
            self.phrases.setdefault(steps[0], []).append((steps, slot))
        elif alternative.endswith("*"):
            self.beginnings.setdefault(alternative.strip("=*"), set()).add(slot)
        else:
            word = alternative.lstrip("=")
            if alternative.startswith("="):
                self.exact.add(word)
            for form in self.spellings(word):
                self.words.setdefault(form, set()).add(slot)

    def spellings(self, word: str) -> tuple[str, ...]:
        """The word, and without its apostrophe where that makes no other word."""
        if "'" not in word or word in self.never_bare:
            return (word,)
        return (word, word.replace("'", ""))


def read_pattern(source: str, rule: int, slots: Slots) -> list[Pattern]:
    """The patterns that one line of the lexicon stands for.

    Raises:
        PatternError: the line cannot be read; the text says where.
    """
    items = source.split()
    if items and "|" in items[-1] and not _ENDS.isdisjoint(items[-1].split("|")):
        return _word_or_end(items, rule, slots)
    begins = items.pop(0) if items and items[0] in {"^", "^^"} else ""
    ends = items.pop() if items and items[-1] in _ENDS else ""
    found = []
    for order in _orders(items):
        for chosen in _with_and_without(order):
            steps = _steps(chosen, source, slots)
            needs = frozenset(step.slot for step in steps if not step.absent)
            found.append(Pattern(rule, steps, needs, begins, ends))
    return found


def _word_or_end(items: Sequence[str], rule: int, slots: Slots) -> list[Pattern]:
    """The patterns of a line whose last word may be missing where something ends."""
    last = items[-1].split("|")
    words = "|".join(word for word in last if word not in _ENDS)
    without = items[:-2] if _GAP.fullmatch(items[-2]) else items[:-1]
    endings = [[*without, end] for end in last if end in _ENDS]
    lines = [[*items[:-1], words], *endings] if words else endings
    return [found for line in lines for found in read_pattern(" ".join(line), rule, slots)]


def _orders(items: Sequence[str]) -> list[list[str]]:
    """The items in both orders where a tilde says so."""
    for place, item in enumerate(items):
        if tilde := _TILDE.fullmatch(item):
            gap = f"..{tilde.group(1)}"
            left, right = list(items[:place]), list(items[place + 1 :])
            return [[*left, gap, *right], [*right, gap, *left]]
    return [list(items)]


def _with_and_without(items: Sequence[str]) -> list[list[str]]:
    choices = [(item[:-1], "") if item.endswith("?") else (item,) for item in items]
    return [[item for item in chosen if item] for chosen in product(*choices)]


def _steps(items: Sequence[str], source: str, slots: Slots) -> tuple[Step, ...]:
    steps: list[Step] = []
    gap, any_words = 0, False
    for item in items:
        if item in EDGES:
            raise PatternError(f"{source!r}: {item} may only begin or end a pattern")
        if wide := _GAP.fullmatch(item):
            any_words, gap = bool(wide.group(1)), int(wide.group(2))
            continue
        absent = item.startswith("!")
        steps.append(Step(slots.number_of(item.lstrip("!")), gap, absent, any_words))
        gap, any_words = 0, False
    if not steps or steps[0].absent or steps[0].gap or gap:
        raise PatternError(f"{source!r}: must begin with a word, and end with one")
    return tuple(steps)
