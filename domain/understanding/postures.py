"""Which readings of a message were taken standing: "128/78 sitting, 102/66 standing".

Only a message that tells several readings apart by posture says anything. The words are cues
of `lexicon/<language>_context.toml`, before each reading or behind it, as the first one stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from domain.understanding.clauses import Words
from domain.understanding.lexicon_files import ByKind
from domain.understanding.reading_text import NumbersRead

_STANDING: Final = "standing"
_KINDS: Final = frozenset({_STANDING, "seated"})


def with_postures(numbers: NumbersRead, words: Words, by_kind: ByKind) -> NumbersRead:
    """The same with the readings marked that were taken standing, if others were not."""
    if len(numbers.readings) < 2:
        return numbers
    cues = sorted(
        (words.spans[match.start][0], kind == _STANDING)
        for kind in _KINDS
        for match in by_kind.get(kind, ())
    )
    starts = [reading.span[0] for reading in numbers.readings]
    if len({standing for _, standing in cues}) < 2:  # "both standing" tells nothing apart
        return numbers
    standing = [_posture(start, starts, cues) for start in starts]
    if all(standing) or not any(standing):
        return numbers
    marked = (replace(r, standing=s) for r, s in zip(numbers.readings, standing, strict=True))
    return replace(numbers, readings=tuple(marked))


def _posture(start: int, starts: Sequence[int], cues: Sequence[tuple[int, bool]]) -> bool:
    """Whether the reading that starts there was taken standing."""
    if cues[0][0] < starts[0]:
        return [standing for place, standing in cues if place < start][-1]
    following = next((other for other in starts if other > start), None)
    behind = (s for place, s in cues if place > start and (following is None or place < following))
    return next(behind, False)
