"""Whose symptom it is: the writer's, or that of another person or an animal.

What others see in the writer is the writer's ("my wife says my face is lopsided"). Where the
words leave it open it counts as the writer's, marked as unsure.
"""

from __future__ import annotations

from bisect import bisect_left
from enum import Enum, auto
from typing import Final

from domain.understanding.clauses import END, NO_BREAK
from domain.understanding.matching import Match
from domain.understanding.scene import REACH, Scene, between

#: Words before a wording in which a person's words may begin that are part of it.
_NEAR: Final = 5


class Owner(Enum):
    WRITER = auto()
    OPEN = auto()  #: taken as the writer's, because the words leave it open
    OTHER = auto()


#: Bound here, because a look-up in the enumeration takes ten times as long as a comparison.
WRITER: Final = Owner.WRITER
OPEN: Final = Owner.OPEN
OTHER: Final = Owner.OTHER


def owner(scene: Scene, match: Match) -> Owner:
    """Who has what the wording tells.

    Where somebody writes for the one whose chat it is ("wife here"), he and she are the writer.
    """
    whose = _owner(scene, match)
    return OPEN if whose is OTHER and scene.cues("scribe") else whose


def an_animals(scene: Scene, match: Match) -> bool:
    """Whether the sentence tells of nobody but an animal: "the dog had a fit"."""
    if not scene.animals:
        return False
    first, last = scene.sentence_of(match)
    persons = scene.persons
    here = persons[bisect_left(persons, first) : bisect_left(persons, last)]
    meant = [i for i in here if not scene.says(i, "you")]
    return bool(meant) and scene.animals.issuperset(meant)


def _owner(scene: Scene, match: Match) -> Owner:
    core = set(match.core)
    # "the mother of all headaches" is nobody's mother
    own = {
        i
        for cue in between(scene.cues("person"), match.start - _NEAR, match.end)
        if all(i in core or scene.says(i, "articles") for i in cue.core)
        for i in cue.core
    }
    people = scene.people - own if own else scene.people
    inside = range(match.start, match.end)
    first, _ = scene.sentence_of(match)
    if scene.lexicon.rules[match.rule].theirs:
        return WRITER if _of_my_own(scene, match, first) else OTHER
    # "my ankles are twice their size": they are things
    if any(scene.is_in(i, "them") and not scene.says(i, "they") for i in inside):
        return OTHER
    if any(scene.is_in(i, "writer") and i not in people for i in inside):
        return WRITER
    # "me duele el pecho al ver a mi hija": whom it hurts stands right before it
    if match.start > first and scene.says(match.start - 1, "whom"):
        return WRITER
    if (
        _is_of_person(scene, match)
        or _owned_by_name(scene, match)
        or _third_person_has(scene, match, first)
    ):
        return OTHER
    return _nearest_before(scene, match, first, people)


def _of_my_own(scene: Scene, match: Match, first: int) -> bool:
    """Whether a wording of a third person is the writer's: "my arm", not "my mum"."""
    # "no puedo respira", "wife says I'm talking gibberish": the writer acts in between
    derived = scene.lexicon.rules[match.rule].derived
    for i in set(range(match.start, match.end)).difference(match.core, scene.people):
        acts = scene.is_in(i, "subject") and not scene.says(i, "whom")
        if scene.is_in(i, "writer") and (derived or acts):
            return True
    clause = scene.clause[match.start]
    for i in range(match.start - 1, first - 1, -1):
        if scene.clause[i] != clause or i in scene.people or scene.is_in(i, "them"):
            return False
        if scene.says(i, "mine"):
            return True
    return False


def _nearest_before(scene: Scene, match: Match, first: int, people: frozenset[int]) -> Owner:
    reported = False
    reports = {cue.start for cue in between(scene.cues("reports"), first, match.start)}
    persons = scene.persons
    nearest = bisect_left(persons, first), bisect_left(persons, match.start)
    for i in reversed(persons[slice(*nearest)]):
        if i in reports:
            reported = True
        # "grandson says grandma your face is wonky": they speak to the writer
        if scene.says(i, "you") and any(first <= said < i for said in reports):
            return WRITER
        named = i in people or scene.is_in(i, "them") or scene.is_in(i, "first_name")
        if named and not _is_addressed(scene, i):
            start = i
            while start > first and start - 1 in people and i in people:
                start -= 1
            # "dice mi hija que ...": who says it stands after the verb
            told = any(scene.says(k, "told_by") for k in range(max(start - 2, first), start))
            reported = reported or told
            return _of_person(scene, start, i, match, reported=reported)
        if scene.is_in(i, "writer"):
            return WRITER
    verb = first + 1 if scene.says(first, "not") and first + 1 < match.end else first
    if scene.says(verb, "leaves_subject"):
        # "tiene tos mi nieta": who has it may also stand behind it
        theirs = _named_behind(scene, match, people) or _told_of_before(scene, first, people)
        return OTHER if theirs else OPEN
    return WRITER


def _named_behind(scene: Scene, match: Match, people: frozenset[int]) -> bool:
    """Whether a person follows: "tiene tos mi nieta", "no mueve el brazo derecho mi nieta"."""
    for i in range(match.end, min(match.end + 2, len(scene.words))):
        if scene.words.breaks[i] is not NO_BREAK:
            return False
        if i in people:
            return True
    return False


def _is_addressed(scene: Scene, i: int) -> bool:
    """Whether the message speaks to them: "doctor, fainted at the sink"."""
    breaks = scene.words.breaks
    parted = i + 1 < len(breaks) and breaks[i + 1] > NO_BREAK
    begins = i == 0 or breaks[i] is END or scene.says(i - 1, "greets")
    return parted and begins and scene.says(i, "addressed")


def _told_of_before(scene: Scene, first: int, people: frozenset[int]) -> bool:
    """Whether the sentence before is about somebody else: "My aunt is ill. Has a cough"."""
    sentence = scene.words.sentence
    before = [i for i in range(max(first - REACH, 0), first) if sentence[i] == sentence[first] - 1]
    named = any(i in people or scene.is_in(i, "first_name") for i in before)
    return named and not any(scene.is_in(i, "writer") and i not in people for i in before)


def _of_person(scene: Scene, start: int, end: int, match: Match, *, reported: bool) -> Owner:
    """Whether the person named before the wording is the one who has it."""
    if reported:
        return OPEN
    if scene.says(end, "object") and not _possessive(scene, end, match):
        return OPEN
    if end + 1 < match.start and scene.says(end + 1, "relative"):
        return OTHER
    if start > 0 and scene.is_in(start - 1, "to_person") and scene.words.breaks[start] < 2:
        return OPEN
    for i in range(end + 1, match.start + 1):
        parted = scene.words.breaks[i] > NO_BREAK or (scene.is_in(i, "wall") and i < match.start)
        if parted:
            if _has_both(scene, end + 1, i, match):
                return OTHER
            after = i + 1 if scene.is_in(i, "wall") else i
            return OTHER if _goes_on_about_them(scene, after, match) else OPEN
    return OTHER


def _possessive(scene: Scene, i: int, match: Match) -> bool:
    """ "her chest hurts": the word owns what comes right after it."""
    return scene.says(i, "object_or_owner") and match.start - i <= 3


def _has_both(scene: Scene, start: int, wall: int, match: Match) -> bool:
    """Whether "and" only adds to what they have: "my wife has a cold and a cough"."""
    if not scene.says(wall, "lists") or match.start - wall > 4:
        return False
    # "is dizzy and throwing up" too: what stands before "and" is a symptom of theirs
    has = any(scene.says(i, "has") or i in scene.covered for i in range(start, wall))
    rest = range(wall + 1, match.start)
    return has and all(scene.is_in(i, "glue") and not scene.is_in(i, "subject") for i in rest)


def _goes_on_about_them(scene: Scene, i: int, match: Match) -> bool:
    """ "… and fainted", "… and then fell": not "… and my mouth went crooked"."""
    for k in range(i, min(i + 2, match.end)):
        if scene.is_in(k, "third_verb"):
            return True
        if k in match.core:
            return False
    return False


def _is_of_person(scene: Scene, match: Match) -> bool:
    """ "the chest pain of my neighbour": somebody else right after the wording."""
    after = between(scene.cues("person"), match.end + 1, match.end + 3)
    return bool(after) and scene.says(match.end, "of")


def _owned_by_name(scene: Scene, match: Match) -> bool:
    """ "Joan's chest pain", "the dog's cough": a possessive right before the wording."""
    for i in range(max(match.start - 3, 0), match.start):
        if scene.words.norms[i].endswith(scene.lexicon.possessive) and _may_own(scene, i):
            path = range(i + 1, match.start + 1)
            if all(scene.words.breaks[k] is NO_BREAK for k in path):
                return True
    return False


def _may_own(scene: Scene, i: int) -> bool:
    """Whether word `i` may be an owner: a person or an unknown word, which may be a name.

    In "everything's jumbled", "my leg's numb" it only stands for "is".
    """
    if scene.is_in(i, "unlike_owner"):
        return False
    named = i in scene.people or scene.is_in(i, "first_name") or scene.is_in(i, "them")
    return named or not scene.hits[i]


def _third_person_has(scene: Scene, match: Match, first: int) -> bool:
    """ "Margaret has a headache": "has" right before a symptom, and no body part before it."""
    for cue in between(scene.cues("owns"), max(first + 1, match.start - 4), match.start):
        before = cue.start - 1
        path = range(cue.start + 1, match.start + 1)
        if any(scene.words.breaks[i] > NO_BREAK for i in path):
            continue
        if scene.is_in(before, "not_owner") or before in scene.covered:
            continue
        # "daughter has noticed I lurch": what she has is a remark, and the rest the writer's
        between_them = range(cue.start + 1, match.start)
        if all(scene.is_in(i, "glue") and not scene.is_in(i, "writer") for i in between_them):
            return True
    return False
