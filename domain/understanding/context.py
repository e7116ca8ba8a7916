"""Whether a wording found in a message says what the writer has now.

After NegEx (Chapman and others, J Biomed Inform 2001;34:301) and ConText (Harkema and others,
J Biomed Inform 2009;42:839): cues with a direction, cues that only look like cues, and words
that end the reach of a cue. Beyond them: what is unclear counts as present, because a missed
emergency costs more than a question too many. The cues are data, one file
`lexicon/<language>_context.toml` a language.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from operator import attrgetter
from typing import Final

from domain.understanding.clauses import COMMA, END, NO_BREAK, NUMBER, Words
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.matching import Hits, Match
from domain.understanding.once import once


class Answer(Enum):
    """What a question about a symptom found."""

    NO = auto()
    YES = auto()
    UNSURE = auto()


#: Bound here, because a look-up in the enumeration takes ten times as long as a comparison.
YES: Final = Answer.YES
NO: Final = Answer.NO
UNSURE: Final = Answer.UNSURE


#: Words over which a cue may act; longer sentences have no full stops, and time stays linear.
REACH = 40


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


# ------------------------------------------------------------------------------- denied

#: Words after a symptom within which "none" or "no" denies it.
_AFTER = 5


def denied(scene: Scene, match: Match) -> Answer:
    """Whether the writer says that it is not there."""
    first, _ = scene.sentence_of(match)
    core = set(match.core)
    answer = NO
    # "no puff and no energy": what has a denial of its own is not denied by the one before
    opening = between(scene.cues("deny"), match.start, match.start + 1)
    own_no = bool(opening)
    holds_no = any(cue.start in core for cue in between(scene.cues("deny"), match.start, match.end))
    # The nearest first: most often it is the one that reaches.
    for cue in reversed(between(scene.denials, first, match.end)):
        if cue.start in core:
            continue
        if match.start < cue.start < match.end:
            # "my chest isn't painful but tight": the wording goes on behind "but"
            if any(i > cue.start and scene.is_in(i, "stop") for i in core):
                continue
            # "no sé ni cómo me llamo": one denial in two words
            if holds_no and scene.says(cue.start, "stresses"):
                continue
            if not scene.says(cue.start, "without"):
                return YES
            continue
        if not own_no:
            # "don't feel sick", "didn't black out": the end of the cue begins the wording
            reached = _reaches(scene, min(cue.end, match.start), match)
            if reached is YES:
                return YES
            if reached is UNSURE:
                answer = UNSURE
    # "no fuerzas para nada": what only says "at all" of a wording that holds its own "no"
    if not holds_no and _denied_after(scene, match, core):
        return YES
    return answer


def _reaches(scene: Scene, at: int, match: Match) -> Answer:
    """Whether a denial that ends before word `at` reaches the wording."""
    strangers = 0
    listed = False
    joined = False
    named = False
    for i in range(at, match.start + 1):
        gap = scene.words.breaks[i]
        if gap >= NUMBER:
            return NO
        if gap is COMMA:
            if i == at:
                return NO  # "no, dizzy": an answer, and then something else
            listed, joined = True, False
        if i == match.start:
            break
        if scene.is_in(i, "wall") and scene.says(i, "lists"):
            listed = joined = True
        elif _ends_denial(scene, i, listed=listed) or (named and scene.says(i, "opens")):
            return NO
        elif i not in scene.covered and not scene.is_in(i, "glue"):
            strangers += 1
            if listed or strangers > scene.lexicon.strangers:
                return UNSURE
        named = named or i in scene.covered
    if listed and not joined and not _list_goes_on(scene, match):
        return UNSURE
    return YES


def _ends_denial(scene: Scene, i: int, *, listed: bool) -> bool:
    """Whether a denial reaches no further: "but", or a clause of its own after a comma."""
    if scene.is_in(i, "stop") and i not in scene.covered:
        return True
    if not listed or not scene.is_in(i, "subject"):
        return False
    # "no pain in my chest or my arm": the word only belongs to a noun of the list
    return not scene.says(i, "owning") or not scene.is_in(i - 1, "list_end")


def _list_goes_on(scene: Scene, match: Match) -> bool:
    """Whether "or" still follows, or the list is three long: "no headache, dizziness, cough"."""
    first, last = scene.sentence_of(match)
    if any(scene.is_in(i, "list_end") for i in range(match.end, min(match.end + 8, last))):
        return True
    others = {m.rule for m in between(scene.found, first, last) if m.rule != match.rule}
    return len(others) >= 2


def _denied_after(scene: Scene, match: Match, core: set[int]) -> bool:
    for cue in between(scene.denials_after, match.end, match.end + _AFTER):
        if core.intersection(cue.core):
            continue
        path = range(match.end, cue.start)
        if any(not _is_small(scene, i) for i in path):
            continue
        if any(scene.words.breaks[i] >= NUMBER for i in path) or (
            scene.words.breaks[cue.start] is END and cue.start - 1 not in scene.words.asked
        ):
            continue
        if cue.end - cue.start > 1 or _closes(scene, cue.end):
            return True
    return _denied_at_the_end(scene, match)


def _denied_at_the_end(scene: Scene, match: Match) -> bool:
    """Whether the clause ends with a denial of the wording; not in a tag ("it hurts, no?")."""
    for cue in between(scene.denials_closing, match.end, match.end + _AFTER):
        path = range(match.end, cue.start)
        last = cue.end - 1
        if (
            all(_is_small(scene, i) for i in path)
            and all(
                scene.words.breaks[i] < NUMBER or i - 1 in scene.words.asked
                for i in range(match.end, cue.end)
            )
            and (_closes(scene, cue.end) or scene.is_in(cue.end, "wall"))
            and not (last in scene.words.asked and scene.says(last, "tag"))
        ):
            return True
    return False


def _is_small(scene: Scene, i: int) -> bool:
    return (scene.is_in(i, "glue") or i in scene.covered) and not scene.is_in(i, "stop")


def _closes(scene: Scene, at: int) -> bool:
    """Whether a lone "no" or "none" ends here and opens no phrase of its own."""
    return at >= len(scene.words) or scene.words.breaks[at] > NO_BREAK


# ------------------------------------------------------------------- earlier day, or gone


def of_an_earlier_day(scene: Scene, match: Match) -> bool:
    """Whether the words put it on an earlier day ("yesterday", "used to", "in 2019")."""
    first, last = scene.sentence_of(match)
    own = set(scene.clause[match.start : match.end])
    if any(scene.clause[c.start] in own for c in between(scene.cues("ended_since"), first, last)):
        return True
    for cue in between(scene.cues("goes_on"), first, last):
        beside = own.intersection(scene.clause[cue.start : cue.end])
        if beside and not set(cue.core) <= set(match.core):
            return False
    for cue in between(scene.earlier_days, first, last):
        if set(cue.core) & set(match.core):
            continue
        if own.intersection(scene.clause[cue.start : cue.end]):
            return True
        # "fainted at the sink, I had a fall in 2010": what came later has a day of its own
        if cue.start >= match.end and _tells_for_itself(scene, cue):
            continue
        # "had a cold last week, now my legs gave way and I lost my speech"
        if any(c.start >= cue.end for c in between(scene.cues("now"), first, match.start)):
            continue
        if _told_in_the_past(scene, first, last, own):
            return True
    return False


def _tells_for_itself(scene: Scene, cue: Match) -> bool:
    """Whether the writer and a verb of the past stand before a cue in its own clause."""
    start = cue.start
    while start and scene.clause[start - 1] == scene.clause[cue.start]:
        start -= 1
    before = range(start, cue.start)
    return any(
        scene.is_in(i, "writer") and not scene.says(i, "possessive") for i in before
    ) and any(scene.is_in(i, "past_verb") for i in before)


def _told_in_the_past(scene: Scene, first: int, last: int, clauses: set[int]) -> bool:
    """Whether the clause of the wording has a verb of the past and none of today's words."""
    places = [i for i in range(first, last) if scene.clause[i] in clauses]
    today = (
        *between(scene.cues("recent"), first, last),
        *between(scene.cues("present"), first, last),
    )
    if any(cue.start in places for cue in today):
        return False
    return any(scene.is_in(i, "past_verb") for i in places)


def has_gone(scene: Scene, match: Match) -> bool:
    """Whether the words say that it has passed ("gone now", "it eased off", "lasted a minute")."""
    for cue in between(scene.beginnings, match.start - REACH, match.start):
        if cue.end <= match.start <= cue.end + 4 and all(
            _is_small(scene, i) and scene.words.breaks[i] < COMMA
            for i in range(cue.end, match.start)
        ):
            return True
    return any(
        not set(cue.core) & set(match.core) and _leads_to(scene, match, cue)
        for cue in between(scene.endings, match.end, match.end + REACH)
    )


def _leads_to(scene: Scene, match: Match, cue: Match) -> bool:
    """Whether nothing but small words stands between a symptom and "gone"."""
    if scene.words.sentence[cue.start] - scene.words.sentence[match.start] > 1:
        return False
    strangers = 0
    turned = False
    for i in range(match.end, cue.start):
        if scene.is_in(i, "wall") or (scene.is_in(i, "stop") and not scene.is_in(i, "neutral")):
            turned = turned or not scene.says(i, "joins")
        if scene.words.breaks[i] is END:
            turned = True
        if i in scene.covered:
            if turned:
                return False
        elif not scene.is_in(i, "neutral") and not scene.is_in(i, "glue"):
            strangers += 1
            if strangers > (0 if turned else 2):
                return False
    return True


# ------------------------------------------------------------------ may come, or only asked


def only_supposed(scene: Scene, match: Match) -> bool:
    """Whether it may come, is warned of, told in a story, or asked about in general."""
    first, last = scene.sentence_of(match)
    for cue in reversed(between(scene.conditions, first, match.start)):
        # "was told I thrashed about": the cue reaches past what the writer says of itself
        if cue.end > match.end and any(scene.is_in(i, "writer") for i in match.core):
            continue
        if _still_supposed(scene, cue, match) and not _is_a_yes(scene, cue, match, last):
            return True
    is_question = not scene.words.asked.isdisjoint(range(first, last))
    asking = [*scene.cues("ask"), *(scene.cues("asked") if is_question else ())]
    for cue in between(sorted(asking, key=_start), first, match.start):
        if not is_question and scene.clause[cue.start] != scene.clause[match.start]:
            continue
        if not _asserted(scene, cue, match):
            return True
    return False


def _is_a_yes(scene: Scene, cue: Match, match: Match, last: int) -> bool:
    """Whether an "if" that is spelt like "yes" is one: set off by a comma, or with no clause
    beside the one that it opens.
    """
    if not scene.says(cue.start, "perhaps_yes"):
        return False
    if _closes(scene, cue.start + 1):
        return True
    before = cue.start == 0 or scene.words.breaks[cue.start] > NO_BREAK
    rest = range(match.end, last)
    return before and all(_is_small(scene, i) for i in rest) and last - 1 not in scene.words.asked


def _still_supposed(scene: Scene, cue: Match, match: Match) -> bool:
    """Whether the clause that "if" opens still goes on where the wording begins."""
    if _in_the_same_list(scene, cue, match):
        return True
    subjects = 0
    for i in range(cue.end, match.start):
        if scene.words.breaks[i] > NO_BREAK and i > cue.end:
            return False
        if scene.says(i, "turns"):
            return False
        if scene.is_in(i, "subject"):
            possessive = scene.says(i, "possessive")
            if not possessive or not scene.is_in(i - 1, "feel"):
                subjects += 1
    if scene.words.breaks[match.start] > NO_BREAK and match.start > cue.end:
        return False
    return subjects <= 1


def _in_the_same_list(scene: Scene, cue: Match, match: Match) -> bool:
    """Whether only other symptoms stand before it: "may cause nausea, cough and dizziness"."""
    path = range(cue.end, match.start)
    commas = [i for i in range(cue.end + 1, match.start + 1) if scene.words.breaks[i] > NO_BREAK]
    if not commas or any(scene.words.breaks[i] > COMMA for i in commas):
        return False
    if not all(_is_small(scene, i) for i in path):
        return False
    if any(scene.is_in(i, "writer") for i in path):
        return False
    return len(commas) > 1 or _ends_list(scene, commas[0], match) or _list_goes_on(scene, match)


def _ends_list(scene: Scene, comma: int, match: Match) -> bool:
    """Whether "and" or "or" stands between the comma and the end of the list."""
    first = comma
    last = min(match.end + 3, len(scene.words))
    return any(scene.says(i, "joins") for i in range(first, last))


def _asserted(scene: Scene, ask: Match, match: Match) -> bool:
    return any(
        cue.end <= match.end + 1 for cue in between(scene.cues("asserts"), ask.start, match.end)
    )
