"""Whether the writer says that a symptom is not there.

After NegEx (Chapman and others, J Biomed Inform 2001;34:301): cues that deny what follows or
what stands before, cues that only look like denials, and words that end the reach of one.
What is unclear is unsure, and counts as present, because a missed emergency costs more than
a question too many.
"""

from __future__ import annotations

from enum import Enum, auto
from typing import Final

from domain.understanding.clauses import COMMA, END, NUMBER
from domain.understanding.matching import Match
from domain.understanding.scene import Scene, between

#: Words after a symptom within which "none" or "no" denies it.
_AFTER: Final = 5


class Answer(Enum):
    """What a question about a symptom found."""

    NO = auto()
    YES = auto()
    UNSURE = auto()


#: Bound here, because a look-up in the enumeration takes ten times as long as a comparison.
YES: Final = Answer.YES
NO: Final = Answer.NO
UNSURE: Final = Answer.UNSURE


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
        if cue.start in core or _is_spent(scene, cue, match):
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


def _is_spent(scene: Scene, cue: Match, match: Match) -> bool:
    """Whether it belongs to another wording: "not making sense and one arm is limp".

    Not where the list goes on with "or": "no energy or dizziness".
    """
    if cue.end > match.start or cue.start not in scene.covered:
        return False
    path = range(cue.end, match.start)
    ands = any(scene.is_in(i, "wall") and scene.says(i, "joins") for i in path)
    return ands and not any(scene.is_in(i, "list_end") for i in path)


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
            # "no hablo bien y se me cae el brazo": the wording begins a clause of its own
            if listed and scene.says(i, "opens") and not scene.is_in(i - 1, "list_end"):
                return NO
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
    if listed and not joined and not list_goes_on(scene, match):
        return UNSURE
    return YES


def _ends_denial(scene: Scene, i: int, *, listed: bool) -> bool:
    """Whether a denial reaches no further: "but", or a clause of its own after a comma."""
    if scene.is_in(i, "stop") and i not in scene.covered:
        return True
    if not listed:
        return False
    # "doesn't know me and says nonsense": another verb, and not of the list
    new_verb = scene.is_in(i, "third_verb") and i not in scene.covered
    if new_verb and scene.is_in(i - 1, "wall") and not scene.is_in(i - 1, "list_end"):
        return True
    if not scene.is_in(i, "subject"):
        return False
    # "no pain in my chest or my arm": the word only belongs to a noun of the list
    return not scene.says(i, "owning") or not scene.is_in(i - 1, "list_end")


def list_goes_on(scene: Scene, match: Match) -> bool:
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
        if any(not scene.is_small(i) for i in path):
            continue
        if any(scene.words.breaks[i] >= NUMBER for i in path) or (
            scene.words.breaks[cue.start] is END and cue.start - 1 not in scene.words.asked
        ):
            continue
        if cue.end - cue.start > 1 or scene.closes(cue.end):
            return True
    return _denied_at_the_end(scene, match)


def _denied_at_the_end(scene: Scene, match: Match) -> bool:
    """Whether the clause ends with a denial of the wording; not in a tag ("it hurts, no?")."""
    for cue in between(scene.denials_closing, match.end, match.end + _AFTER):
        path = range(match.end, cue.start)
        last = cue.end - 1
        if (
            all(scene.is_small(i) for i in path)
            and all(
                scene.words.breaks[i] < NUMBER or i - 1 in scene.words.asked
                for i in range(match.end, cue.end)
            )
            and (scene.closes(cue.end) or scene.is_in(cue.end, "wall"))
            and not (last in scene.words.asked and scene.says(last, "tag"))
        ):
            return True
    return False
