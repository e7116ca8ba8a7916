"""The symptoms that a message tells of: which the writer has, denies, or tells of another.

What a wording says is decided in `denials.py`, `context.py` and `owners.py`; the wordings are
data in `lexicon/en_symptoms.toml`. Which codes are red flags stands in `domain/danger.py`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from typing import Final

from domain.danger import MORE_RED_FLAGS, RED_FLAGS, SEVERE_SYMPTOMS
from domain.understanding.clauses import Words
from domain.understanding.context import (
    has_gone,
    left_by_an_old_one,
    of_an_earlier_day,
    only_supposed,
)
from domain.understanding.denials import NO, UNSURE, YES, denied
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.matching import Hits, Match
from domain.understanding.owners import OPEN, OTHER, an_animals, owner
from domain.understanding.result import Earlier, Sign
from domain.understanding.scene import Scene

_FLAGS = RED_FLAGS | MORE_RED_FLAGS
#: What matters when it is told of somebody else: a carer may speak of the patient.
_TOLD_OF_OTHERS = _FLAGS | SEVERE_SYMPTOMS
#: What happened today is told of although it is over; so are fainting and seizure, as red flags.
_EVENTS = frozenset({"vomiting", "nosebleed", "x_fall"})
#: What is denied by its own `unless` alone: in "not well help me" the denial is not of help.
_NO_SYMPTOM = frozenset({"x_help"})
#: What a stroke of years ago may have left behind.
_LEFT_BY_STROKES = frozenset(
    {"one_sided_weakness", "face_droop", "speech_trouble", "loss_of_balance", "sudden_vision_loss"}
)
#: What a sign is when another sentence calls it the worst ever ("My head! Worst ever").
_AT_WORST = {"headache": "worst_headache"}


class _Status(Enum):
    PRESENT = auto()
    DENIED = auto()
    OTHERS = auto()
    EARLIER = auto()
    OTHERS_EARLIER = auto()
    NOT_NOW = auto()
    NOBODY_NOW = auto()  #: denied, past or only supposed of somebody else


#: Kinds of wordings that take the wording of a sign away.
_SPARING = ("figure", "unless", "excused")
_OF_NOBODY_HERE = frozenset({_Status.OTHERS, _Status.OTHERS_EARLIER, _Status.NOBODY_NOW})
#: Reported as signs and no symptoms: a fall, what the monitor shows.
_NOT_FELT = frozenset({"x_fall", "x_irregular_pulse"})
#: A sign that was surely there so often is there, whatever more is said of it: the time for a
#: wording that fills a message stays short.
_SAID_OFTEN: Final = 20


@dataclass(frozen=True, slots=True)
class SymptomsRead:
    """Signs that count as present, codes denied, signs of others, in the text's order."""

    signs: tuple[Sign, ...]
    denied: tuple[str, ...]
    others: tuple[Sign, ...]
    denies_all: bool
    earlier: tuple[Earlier, ...]  #: red flags of an earlier day; how long ago is not yet told
    mentioned: bool  #: a symptom of the writer was named, whether it is there or not


def read_symptoms(words: Words, hits: Hits, by_kind: ByKind, lexicon: Lexicon) -> SymptomsRead:
    """Judge every wording of a sign among the patterns found in `words`."""
    scene = Scene(words, hits, lexicon, by_kind, _unspared(by_kind, lexicon))
    if not scene.found:
        return SymptomsRead((), (), (), _all_clear(scene), (), bool(scene.cues("mention")))
    present: list[Sign] = []
    others: list[Sign] = []
    earlier: list[Earlier] = []
    no: list[str] = []
    mentioned = False
    sure: Counter[str] = Counter()
    for match in scene.found:
        code = lexicon.rules[match.rule].code
        if sure[code] >= _SAID_OFTEN:
            continue
        status, sign = _judge(scene, match, code)
        names = code not in _NO_SYMPTOM | _NOT_FELT
        mentioned = mentioned or (status not in _OF_NOBODY_HERE and names)
        if status is _Status.PRESENT:
            present.append(sign)
            sure[code] += not (sign.passed or sign.unsure)
        elif status is _Status.DENIED:
            no.append(code)
        elif status is _Status.OTHERS and code in _TOLD_OF_OTHERS:
            if not an_animals(scene, match):
                others.append(sign)
        elif status in {_Status.EARLIER, _Status.OTHERS_EARLIER} and code in _FLAGS:
            theirs = status is _Status.OTHERS_EARLIER
            earlier.append(Earlier(code=code, span=sign.span, theirs=theirs))
    if scene.cues("worst"):
        present = [replace(sign, code=_AT_WORST.get(sign.code, sign.code)) for sign in present]
    signs = _special_before_general(_surest(present), lexicon)
    codes = {sign.code for sign in signs}
    return SymptomsRead(
        signs=signs,
        denied=tuple(dict.fromkeys(code for code in no if code not in codes)),
        others=_surest(others),
        denies_all=not signs and _all_clear(scene),
        earlier=_once(e for e in earlier if e.theirs or e.code not in codes),
        mentioned=mentioned or bool(scene.cues("mention")),
    )


def _unspared(by_kind: ByKind, lexicon: Lexicon) -> Sequence[Match]:
    """The wordings of signs without those that are taken away."""
    signs = _without_those_of_another(by_kind.get("sign", ()), lexicon)
    sparing: dict[int, list[tuple[str, Match]]] = defaultdict(list)
    for kind in _SPARING if signs else ():
        for match in by_kind.get(kind, ()):
            for i in match.core:
                sparing[i].append((lexicon.rules[match.rule].code, match))
    if not sparing:
        return signs
    return [m for m in signs if not _is_spared(m, lexicon.rules[m.rule].code, sparing)]


def _without_those_of_another(signs: Sequence[Match], lexicon: Lexicon) -> Sequence[Match]:
    """Without those that are the words of another's: "she has no idea who I am"."""
    theirs: dict[str, list[set[int]]] = defaultdict(list)
    for match in signs:
        if _tells_of_another(match, lexicon):
            theirs[lexicon.rules[match.rule].code].append(set(match.core))
    if not theirs:
        return signs
    return [
        m
        for m in signs
        if _tells_of_another(m, lexicon)
        or not any(core.issuperset(m.core) for core in theirs[lexicon.rules[m.rule].code])
    ]


def _tells_of_another(match: Match, lexicon: Lexicon) -> bool:
    rule = lexicon.rules[match.rule]
    return rule.theirs and not rule.derived


def _is_spared(match: Match, code: str, sparing: Mapping[int, Sequence[tuple[str, Match]]]) -> bool:
    """Whether a figure of speech, or an `unless` of this sign, takes the wording away.

    Not where the wording says more: "take a breath" is no sign, "cannot take a breath" is.
    """
    core = set(match.core)
    return any(
        of in {"figure", code} and not core > set(other.core)
        for i in match.core
        for of, other in sparing.get(i, ())
    )


def _judge(scene: Scene, match: Match, code: str) -> tuple[_Status, Sign]:
    span = (scene.words.spans[match.start][0], scene.words.spans[match.end - 1][1])
    whose = owner(scene, match)
    sign = Sign(code=code, span=span)
    not_now = _Status.NOBODY_NOW if whose is OTHER else _Status.NOT_NOW
    if only_supposed(scene, match):
        return not_now, sign
    answer = NO if code in _NO_SYMPTOM else denied(scene, match)
    if answer is YES:
        return (not_now if whose is OTHER else _Status.DENIED), sign
    if of_an_earlier_day(scene, match) or (
        code in _LEFT_BY_STROKES and left_by_an_old_one(scene, match)
    ):
        return (_Status.OTHERS_EARLIER if whose is OTHER else _Status.EARLIER), sign
    if whose is OTHER:
        return _Status.OTHERS, sign
    gone = has_gone(scene, match)
    if gone and code not in _FLAGS | _EVENTS:
        return _Status.NOT_NOW, sign
    unsure = answer is UNSURE or whose is OPEN
    return _Status.PRESENT, Sign(code=code, span=span, passed=gone, unsure=unsure)


def _once(earlier: Iterable[Earlier]) -> tuple[Earlier, ...]:
    """One for each code and owner, the first."""
    first: dict[tuple[str, bool], Earlier] = {}
    for one in earlier:
        first.setdefault((one.code, one.theirs), one)
    return tuple(first.values())


def _surest(signs: Sequence[Sign]) -> tuple[Sign, ...]:
    """One sign for each code: what is still there before what has passed, sure before unsure,
    of two from the same word the longer.
    """
    best: dict[str, Sign] = {}
    for sign in signs:
        known = best.get(sign.code)
        if known is None or _says_more(sign, known):
            best[sign.code] = sign
    return tuple(sorted(best.values(), key=lambda sign: sign.span))


def _says_more(sign: Sign, known: Sign) -> bool:
    new, old = (sign.passed, sign.unsure), (known.passed, known.unsure)
    longer = sign.span[0] == known.span[0] and sign.span[1] > known.span[1]
    return new < old or (new == old and longer)


def _special_before_general(signs: Sequence[Sign], lexicon: Lexicon) -> tuple[Sign, ...]:
    covered = {general for sign in signs for general in lexicon.replaces[sign.code]}
    return tuple(sign for sign in signs if sign.code not in covered)


def _all_clear(scene: Scene) -> bool:
    """Whether the writer says that nothing at all is wrong, and it is the writer who says so."""
    if not scene.cues("all_clear"):
        return False
    not_meant = {
        i for kind in ("deny", "not_deny", "if") for cue in scene.cues(kind) for i in cue.core
    }
    for cue in scene.cues("all_clear"):
        before = range(max(cue.start - 3, 0), cue.start)
        same = [i for i in before if scene.clause[i] == scene.clause[cue.start]]
        if not any(i in not_meant or scene.is_in(i, "them") for i in same):
            return True
    return False
