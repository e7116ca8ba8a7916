"""How far a record can be trusted: findings that doubt the data, never the person.

A finding is a value: what was seen, how often, what probably lies behind it, and how far the
average may be off by it. The words are wording (`sentences.py`). The finding that may move the
average most comes first. Pressures in mmHg, pauses in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from domain.evidence.change import OHASAMA
from domain.evidence.days import Pressure
from domain.evidence.digits import LARGE_EXCESS, Endings
from domain.evidence.intervals import Interval
from domain.evidence.record import Record
from domain.record_quality import Cause
from domain.sources import Status


class Kind(StrEnum):
    """What was seen. Of findings that weigh the same the earlier kind stands first."""

    INCOMPLETE = "incomplete"  #: fewer occasions than the plan asked for
    SHORT_PAUSES = "short_pauses"  #: less than a minute between the readings of an occasion
    FALLING = "falling"  #: the second reading is lower by more than is usual
    SINGLE = "single"  #: occasions of one reading
    ARM_CHANGES = "arm_changes"
    REPEATED = "repeated"  #: readings with the very numbers of the one before
    ROUNDED = "rounded"  #: far too many numbers end in 0


class Strength(StrEnum):
    SOME = "some"  #: worth a remark
    MUCH = "much"  #: the record is poor: ask before deciding on its average


@dataclass(frozen=True, slots=True)
class Threshold:
    """From when on something is worth a word: both the share and the count must be reached."""

    cause: Cause
    least: int  #: so many of them
    some: float  #: this share of those that could be
    much: float
    source: str
    status: Status


_OWN: Final = "no guideline read says from when on"

#: Findings that are a share of a count. Falls and last digits have tests of their own.
THRESHOLDS: Final = {
    Kind.INCOMPLETE: Threshold(
        Cause.TIMES_DO_NOT_SUIT,
        1,
        0.25,
        0.57,
        "much: 12 of 28 scheduled readings are the fewest of AHA/AMA 2020; some: own choice",
        Status.FROM_MEMORY,
    ),
    Kind.SHORT_PAUSES: Threshold(Cause.NO_FULL_MINUTE, 3, 0.2, 0.5, _OWN, Status.OWN),
    Kind.SINGLE: Threshold(Cause.SECOND_LEFT_OUT, 3, 0.2, 0.5, _OWN, Status.OWN),
    # One change may follow from the comparison of both arms at the start.
    Kind.ARM_CHANGES: Threshold(Cause.ARM_NOT_FIXED, 2, 0.1, 0.3, _OWN, Status.OWN),
    # Readings a minute apart differ by some 5 and 3 mmHg (SD): about 1 in 90 pairs is equal.
    Kind.REPEATED: Threshold(Cause.ENTERED_TWICE, 4, 0.1, 0.3, _OWN, Status.OWN),
}

#: mmHg, systolic: by so much the first reading usually exceeds the second also after a proper
#: rest. From memory; no paper was read.
USUAL_FALL: Final = 3.0

#: mmHg: readings of one occasion that differ by more call for a third one (ESH 2021 for the
#: office, secondary; at home common practice).
LARGE_FALL: Final = 10.0

#: mmHg, systolic: arms that differ by more are worth a word (project default, clinical facts).
ARM_DIFFERENCE: Final = 10.0

#: mmHg that numbers lose on average when they are always rounded down to the ten.
_ROUNDING_LOSS: Final = 4.5
_Z: Final = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One doubt about the data."""

    kind: Kind
    cause: Cause
    strength: Strength
    count: int  #: how many; for `INCOMPLETE` those measured, for `FALLING` the days compared
    of: int  #: out of how many
    #: So far (mmHg, systolic) the average may be off, roughly: good for sorting only.
    effect: float
    pressure: Pressure | None = None  #: of `ROUNDED`: which number
    expected: float | None = None  #: of `ROUNDED`: share of zeros that nobody rounded
    seconds: float | None = None  #: of `SHORT_PAUSES`: their mean
    fall: Interval | None = None  #: of `FALLING`: first minus second reading, mmHg


def findings(record: Record) -> tuple[Finding, ...]:
    """What in the record is worth a word, what may move the average most first."""
    order = list(Kind)
    found = [*_counted(record), *_falling(record), *_digits(record)]
    if all(one.rounded for one in record.endings):
        # Numbers rounded to tens are equal often enough; one doubt has one reason.
        found = [one for one in found if one.kind is not Kind.REPEATED]
    return tuple(sorted(found, key=lambda one: (-one.effect, order.index(one.kind))))


def _counted(record: Record) -> Iterator[Finding]:
    quality, usual = record.quality, record.fall.mean.estimate if record.fall else USUAL_FALL
    asked, done = quality.asked or 0, quality.occasions
    missing = _finding(Kind.INCOMPLETE, asked - done, asked, _uncertainty(done, asked), count=done)
    yield from missing
    pairs = quality.gaps
    # A second reading that came too soon tells little more than none.
    lost = _share(quality.short_gaps, pairs) * USUAL_FALL / 2
    yield from _finding(
        Kind.SHORT_PAUSES, quality.short_gaps, pairs, lost, seconds=record.short_seconds
    )
    lost = _share(quality.single, done) * max(usual, 0.0) / 2
    yield from _finding(Kind.SINGLE, quality.single, done, lost)
    lost = _share(record.arm_less_used, record.arm_known) * ARM_DIFFERENCE
    yield from _finding(Kind.ARM_CHANGES, record.arm_changes, record.arm_known - 1, lost)
    steps = record.readings - 1
    new = done * (1 - _share(record.same, steps))
    yield from _finding(Kind.REPEATED, record.same, steps, _uncertainty(new, done))


def _finding(
    kind: Kind,
    seen: int,
    of: int,
    effect: float,
    *,
    count: int | None = None,
    seconds: float | None = None,
) -> Iterator[Finding]:
    """The finding, if it reaches its threshold. `count`: what is told instead of what was seen."""
    row = THRESHOLDS[kind]
    share = _share(seen, of)
    if seen < row.least or share < row.some:
        return
    yield Finding(
        kind=kind,
        cause=row.cause,
        strength=Strength.MUCH if share >= row.much else Strength.SOME,
        count=seen if count is None else count,
        of=of,
        effect=effect,
        seconds=seconds,
    )


def _falling(record: Record) -> Iterator[Finding]:
    """Told when the interval lies above what is usual: the rest before may be too short."""
    if record.fall is None or record.fall.mean.low <= USUAL_FALL:
        return
    fall = record.fall.mean
    yield Finding(
        kind=Kind.FALLING,
        cause=Cause.REST_TOO_SHORT,
        strength=Strength.MUCH if fall.estimate > LARGE_FALL else Strength.SOME,
        count=record.fall.days,
        of=record.fall.days,
        effect=fall.estimate / 2,
        fall=fall,
    )


def _digits(record: Record) -> Iterator[Finding]:
    pressures = (Pressure.SYSTOLIC, Pressure.DIASTOLIC)
    for pressure, one in zip(pressures, record.endings, strict=True):
        if one.rounded:
            yield _rounded(pressure, one)


def _rounded(pressure: Pressure, found: Endings) -> Finding:
    return Finding(
        kind=Kind.ROUNDED,
        cause=Cause.NUMBERS_ROUNDED,
        strength=Strength.MUCH if found.excess >= LARGE_EXCESS else Strength.SOME,
        count=found.zeros,
        of=found.readings,
        effect=_ROUNDING_LOSS * found.excess / (1 - found.expected),
        pressure=pressure,
        expected=found.expected,
    )


def _share(part: int, of: int) -> float:
    return part / of if of > 0 else 0.0


def _uncertainty(occasions: float, wanted: int) -> float:
    """By how much a mean over fewer occasions than wanted may be off, mmHg (95 of 100 times).

    The spread is that of one morning reading about a person's mean (Kato, confirmed).
    """
    if occasions <= 0:
        return math.inf
    return _Z * OHASAMA.within_sd * math.sqrt(max(1 / occasions - 1 / max(wanted, 1), 0.0))
