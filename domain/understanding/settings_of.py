"""Where each reading of a message was taken: at a clinic, at home, or not said.

The wordings are data in `lexicon/<language>_setting.toml`. A wording belongs to the reading
that it stands nearest to; readings that are only listed beside one share its place. What is
not sure is left unsaid.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from domain.readings import Setting
from domain.understanding.clauses import Words
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.reading_text import NumbersRead
from domain.understanding.result import Span

_OF_CODE: Final = {
    "clinic": Setting.CLINIC,
    "visit": Setting.CLINIC,
    "said_clinic": Setting.CLINIC,
    "home": Setting.HOME,
    "said_home": Setting.HOME,
}
_SAID: Final = {"said_clinic": Setting.CLINIC, "said_home": Setting.HOME}

_ENDS: Final = re.compile(r"[.!?;\n¡¿]")
_COMMAS: Final = re.compile(r"[,()–—-]")
_WORD: Final = re.compile(r"[^\W\d_]+")

#: What a wording is farther from a reading by: own choice, in the order of how much they part.
_BEHIND: Final = 1
_COMMA: Final = 2
_JOINED: Final = 3
_ENDED: Final = 5
#: Farther than this a wording does not belong to a reading.
_TOO_FAR: Final = 10


@dataclass(frozen=True, slots=True)
class _Cue:
    setting: Setting
    span: Span


def said_setting(by_kind: ByKind, lexicon: Lexicon) -> Setting | None:
    """Where the reading of an earlier message was taken, if this one says so of it."""
    for match in by_kind.get("setting", ()):
        code = lexicon.rules[match.rule].code
        if code in _SAID and _spoilt(by_kind).isdisjoint(match.core):
            return _SAID[code]
    return None


def with_settings(
    numbers: NumbersRead, text: str, words: Words, by_kind: ByKind, lexicon: Lexicon
) -> NumbersRead:
    """The same with where each reading, and what may be one, was taken."""
    spans = sorted({r.span for r in numbers.readings} | {p.span for p in numbers.possible})
    cues = _cues(words, by_kind, lexicon) if spans else ()
    if not cues:
        return numbers
    places = dict(zip(spans, _settings(spans, cues, text, lexicon), strict=True))
    return replace(
        numbers,
        readings=tuple(replace(one, setting=places[one.span]) for one in numbers.readings),
        possible=tuple(replace(one, setting=places[one.span]) for one in numbers.possible),
    )


def _settings(
    spans: Sequence[Span], cues: Sequence[_Cue], text: str, lexicon: Lexicon
) -> Sequence[Setting | None]:
    """For each span of a reading, in order, where it was taken; None: not said."""
    joiners = lexicon.words["lists"] | lexicon.words["turns"]
    found: list[Setting | None] = [None] * len(spans)
    nearest = [_TOO_FAR] * len(spans)
    before = [False] * len(spans)
    for cue in cues:
        far = [_distance(cue.span, span, spans, text, joiners) for span in spans]
        at = min(range(len(spans)), key=far.__getitem__)
        if far[at] < nearest[at]:
            nearest[at], found[at] = far[at], cue.setting
            before[at] = cue.span[0] < spans[at][0]
    return _listed(found, before, spans, text, joiners)


def _cues(words: Words, by_kind: ByKind, lexicon: Lexicon) -> list[_Cue]:
    rules, mine = lexicon.rules, by_kind.get("setting", ())
    if not mine:
        return []
    spoilt = _spoilt(by_kind)
    codes = {rules[match.rule].code for match in mine}
    if "present" in codes:
        spoilt |= {i for match in mine if rules[match.rule].code == "visit" for i in match.core}
    return [
        _Cue(_OF_CODE[code], (words.spans[match.start][0], words.spans[match.end - 1][1]))
        for match in mine
        if (code := rules[match.rule].code) in _OF_CODE and spoilt.isdisjoint(match.core)
    ]


def _spoilt(by_kind: ByKind) -> set[int]:
    """Words in another sense: "before I am at the doctor's"."""
    return {i for match in by_kind.get("unless_setting", ()) for i in match.core}


def _distance(
    cue: Span, reading: Span, readings: Sequence[Span], text: str, joiners: frozenset[str]
) -> int:
    """How far a wording stands from a reading; `_TOO_FAR` where it cannot be of it."""
    behind = cue[0] >= reading[0]
    low, high = (reading[1], cue[0]) if behind else (cue[1], reading[0])
    if any(low <= other[0] < high for other in readings if other != reading):
        return _TOO_FAR
    between = text[low:high] if low < high else ""
    letters = [word.lower() for word in _WORD.findall(between)]
    ended = _ENDS.search(between) is not None
    if letters and ended:
        return _TOO_FAR
    far = (_BEHIND if behind else 0) + (_ENDED if ended else 0)
    far += _COMMA if _COMMAS.search(between) else 0
    return far + (_JOINED if joiners.intersection(letters) else 0)


def _listed(
    found: list[Setting | None],
    before: Sequence[bool],
    spans: Sequence[Span],
    text: str,
    joiners: frozenset[str],
) -> Sequence[Setting | None]:
    """The same, readings that are only listed beside one that is told of among them."""
    alike = [_only_lists(text[a[1] : b[0]], joiners) for a, b in pairwise(spans)]
    for at in range(len(found) - 1):
        if found[at + 1] is None and found[at] is not None and before[at] and alike[at]:
            found[at + 1] = found[at]
    for at in range(len(found) - 2, -1, -1):
        if found[at] is None and found[at + 1] is not None and alike[at] and not before[at + 1]:
            found[at] = found[at + 1]
    return found


def _only_lists(between: str, joiners: frozenset[str]) -> bool:
    return all(word.lower() in joiners for word in _WORD.findall(between))
