"""The words of a message with the cues in them: what all rules about a symptom look at.

The kinds of cue are data, one file `lexicon/<language>_context.toml` a language.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Final

from domain.understanding.clauses import NO_BREAK, Words
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.matching import Hits, Match
from domain.understanding.once import once

#: Words over which a cue may act; longer sentences have no full stops, and time stays linear.
REACH: Final = 40

_start: Final = attrgetter("start")


def between(cues: Sequence[Match], first: int, last: int) -> Sequence[Match]:
    """The cues that begin at word `first` or later and before word `last`."""
    if not cues:
        return ()
    return cues[bisect_left(cues, first, key=_start) : bisect_left(cues, last, key=_start)]


@dataclass(frozen=True)
class Scene:
    """A message's words with the cues in them and the wordings found.

    `by_kind` holds cues by kind, `found` the wordings of signs that are not figures of speech.
    """

    words: Words
    hits: Hits
    lexicon: Lexicon
    by_kind: ByKind
    found: Sequence[Match]

    def cues(self, kind: str) -> Sequence[Match]:
        """All cues of a kind, by where they begin."""
        return self.by_kind.get(kind, ())

    def is_in(self, i: int, group: str) -> bool:
        """Whether word `i` belongs to a named group of the lexicon."""
        return self.lexicon.groups[group] in self.hits[i]

    def says(self, i: int, words: str) -> bool:
        """Whether word `i` is, to the letter, one of a list of small words of the lexicon."""
        return self.words.norms[i] in self.lexicon.words[words]

    @once
    def covered(self) -> frozenset[int]:
        """Words that are part of a symptom's wording."""
        return frozenset(i for match in self.found for i in match.core)

    @once
    def people(self) -> frozenset[int]:
        """Words that name somebody else."""
        return frozenset(i for cue in self.cues("person") for i in cue.core)

    @once
    def animals(self) -> frozenset[int]:
        """Words that name an animal, with those that belong to them ("my husband's dog")."""
        found = {i for cue in self.cues("animal") for i in cue.core}
        for cue in self.cues("person") if found else ():
            if not found.isdisjoint(cue.core):
                found.update(cue.core)
        return frozenset(found)

    @once
    def persons(self) -> list[int]:
        """Words that name somebody, the writer included, or are said by or to somebody."""
        groups = self.lexicon.groups
        them, name, writer = groups["them"], groups["first_name"], groups["writer"]
        found = {
            i
            for i, slots in enumerate(self.hits)
            if them in slots or name in slots or writer in slots or self.says(i, "you")
        }
        found.update(self.people, [cue.start for cue in self.cues("reports")])
        return sorted(found)

    @once
    def clause(self) -> tuple[int, ...]:
        """Number of the clause of each word: commas, "and", "but" and the like begin one."""
        numbers, number = [], 0
        for i, gap in enumerate(self.words.breaks):
            if i and (gap > NO_BREAK or self.is_in(i, "wall")):
                number += 1
            numbers.append(number)
        return tuple(numbers)

    def sentence_of(self, match: Match) -> tuple[int, int]:
        """First word of the sentence of a wording, and one past its last, within `REACH`."""
        sentence, own = self.words.sentence, self.words.sentence[match.start]
        first = bisect_left(sentence, own, max(match.start - REACH, 0), match.start)
        last = bisect_right(sentence, own, match.end, min(match.end + REACH, len(sentence)))
        return first, last

    def is_small(self, i: int) -> bool:
        """Whether word `i` only joins, or belongs to a symptom, and ends no reach."""
        return (self.is_in(i, "glue") or i in self.covered) and not self.is_in(i, "stop")

    def closes(self, at: int) -> bool:
        """Whether a lone "no" or "none" ends before word `at` and opens no phrase of its own."""
        return at >= len(self.words) or self.words.breaks[at] > NO_BREAK

    def unmasked(self, kind: str, masks: Iterable[str]) -> list[Match]:
        """Cues of a kind that no cue of a masking kind overlaps."""
        hidden = {
            i
            for mask in masks
            for cue in self.cues(mask)
            # "not passed out": the end of the mask is a symptom, which "not" denies
            if cue.end - 1 not in self.covered or cue.start in self.covered
            # "no blackouts since the change" is not "no change"
            if cue.start in self.covered
            or not any(i in self.covered for i in range(cue.start + 1, cue.end - 1))
            for i in cue.core
        }
        return [cue for cue in self.cues(kind) if hidden.isdisjoint(cue.core)]

    @once
    def denials(self) -> Sequence[Match]:
        return self.unmasked("deny", ("not_deny", "no_longer"))

    @once
    def denials_after(self) -> Sequence[Match]:
        return self.unmasked("deny_after", ("not_deny",))

    @once
    def denials_closing(self) -> Sequence[Match]:
        """Cues that deny what stands before them where nothing follows: "dizzy no"."""
        return self.unmasked("deny_closing", ("not_deny", "no_longer"))

    @once
    def endings(self) -> Sequence[Match]:
        return self.unmasked("gone", ("not_gone", "not_deny"))

    @once
    def beginnings(self) -> Sequence[Match]:
        """Cues before a wording that say it has gone: "got rid of my cough"."""
        return self.unmasked("gone_before", ("not_gone", "not_deny"))

    @once
    def conditions(self) -> Sequence[Match]:
        return self.unmasked("if", ("not_if",))

    @once
    def earlier_days(self) -> Sequence[Match]:
        return self.unmasked("past", ("recent", "goes_on"))
