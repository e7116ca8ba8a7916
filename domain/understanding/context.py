"""Whether a symptom is of an earlier day, has gone, may only come, or is only asked about.

After ConText (Harkema and others, J Biomed Inform 2009;42:839). What is denied: `denials.py`;
whose it is: `owners.py`.
"""

from __future__ import annotations

from operator import attrgetter

from domain.understanding.clauses import COMMA, END, NO_BREAK
from domain.understanding.denials import list_goes_on
from domain.understanding.matching import Match
from domain.understanding.scene import REACH, Scene, between


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
        # "out yesterday though today I cannot breathe"
        if any(c.start >= cue.end for c in between(scene.cues("now"), first, match.start)):
            continue
        if own.intersection(scene.clause[cue.start : cue.end]):
            return True
        # "fainted at the sink, I had a fall in 2010": what came later has a day of its own
        if cue.start >= match.end and _tells_for_itself(scene, cue):
            continue
        if _told_in_the_past(scene, first, last, own):
            return True
    return False


def left_by_an_old_one(scene: Scene, match: Match) -> bool:
    """Whether it is what a stroke of years ago left behind, and nothing says that it is new.

    "My arm has been weak since my stroke in 2018", not "… and worse today".
    """
    first, last = scene.sentence_of(match)
    named = ("left_over",), ("old_stroke", "still_the_same")
    if not any(all(between(scene.cues(k), first, last) for k in kinds) for kinds in named):
        return False
    return not between(scene.unmasked("fresh", ("not_fresh",)), first, last)


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
            scene.is_small(i) and scene.words.breaks[i] < COMMA for i in range(cue.end, match.start)
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
    for cue in between(sorted(asking, key=attrgetter("start")), first, match.start):
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
    if scene.closes(cue.start + 1):
        return True
    before = cue.start == 0 or scene.words.breaks[cue.start] > NO_BREAK
    rest = range(match.end, last)
    return before and all(scene.is_small(i) for i in rest) and last - 1 not in scene.words.asked


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
    if not all(scene.is_small(i) for i in path):
        return False
    if any(scene.is_in(i, "writer") for i in path):
        return False
    return len(commas) > 1 or _ends_list(scene, commas[0], match) or list_goes_on(scene, match)


def _ends_list(scene: Scene, comma: int, match: Match) -> bool:
    """Whether "and" or "or" stands between the comma and the end of the list."""
    first = comma
    last = min(match.end + 3, len(scene.words))
    return any(scene.says(i, "joins") for i in range(first, last))


def _asserted(scene: Scene, ask: Match, match: Match) -> bool:
    return any(
        cue.end <= match.end + 1 for cue in between(scene.cues("asserts"), ask.start, match.end)
    )
