"""The table of an alarm: its stages, what moves it from one to the next, and how long it waits.

Pure data and two functions that read it; `domain.talk.escalation` says and does what belongs
to each step. A pair of stage and happening that is not in the table changes nothing. Where a
row says `NONE`, the alarm is over.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Final


class AlarmStage(StrEnum):
    """Where an alarm stands."""

    ASKED = "asked"  #: severe: symptoms asked for, no answer yet
    REPEATING = "repeating"  #: severe, no symptom: rest, then a second pair
    TODAY = "today"  #: still severe without symptom: a doctor today
    PASSED = "passed"  #: a sign of danger that is gone: to be seen today
    LASTING = "lasting"  #: a long-standing sign: asked whether it is worse than usual
    EMERGENCY = "emergency"


class Happening(StrEnum):
    """What moves an alarm."""

    DANGER = "red flag, or severe with a sign"
    SEVERE = "severe number, no sign known"
    SAME_DAY = "number for the same day (pregnancy)"
    SIGN_PASSED = "a sign of danger, now gone"
    LASTING_SIGN = "a sign that is long-standing"
    NO_SIGN = "says: none of these signs"
    SIGN = "says: one of these signs"
    PAIR_SEVERE = "second pair, one of them severe"
    PAIR_BELOW = "second pair, both below"
    CALM = "pair below and none of these signs"
    AS_USUAL = "says: as usual"
    WORSE = "says: worse, or not sure, or nothing"
    SEEN = "says: a doctor or nurse has heard of it"
    HELP_CAME = "says: I am being looked after"
    SOMEBODY_THERE = "a contact is there, or whoever told of it ends it"
    CORRECTED = "corrected: no sign and no severe number left"
    DAY_OVER = "a day has passed"


_ALL: Final = tuple(AlarmStage)
_UNPAIRED: Final = (AlarmStage.ASKED, AlarmStage.REPEATING)
_SEVERE: Final = (AlarmStage.ASKED, AlarmStage.REPEATING, AlarmStage.TODAY)

#: (stages before, what happens, stage after); None stands for no open alarm.
_ROWS: Final[tuple[tuple[tuple[AlarmStage | None, ...], Happening, AlarmStage | None], ...]] = (
    ((None, *_ALL), Happening.DANGER, AlarmStage.EMERGENCY),
    ((None, AlarmStage.PASSED, AlarmStage.LASTING), Happening.SEVERE, AlarmStage.ASKED),
    ((None, AlarmStage.PASSED), Happening.SAME_DAY, AlarmStage.TODAY),
    ((None,), Happening.SIGN_PASSED, AlarmStage.PASSED),
    ((None, AlarmStage.PASSED), Happening.LASTING_SIGN, AlarmStage.LASTING),
    ((AlarmStage.ASKED,), Happening.NO_SIGN, AlarmStage.REPEATING),
    (_SEVERE, Happening.SIGN, AlarmStage.EMERGENCY),
    ((AlarmStage.ASKED, AlarmStage.REPEATING), Happening.PAIR_SEVERE, AlarmStage.TODAY),
    (_SEVERE, Happening.PAIR_BELOW, None),
    ((AlarmStage.EMERGENCY,), Happening.CALM, None),
    ((AlarmStage.LASTING,), Happening.AS_USUAL, None),
    ((AlarmStage.LASTING,), Happening.WORSE, AlarmStage.EMERGENCY),
    ((AlarmStage.PASSED,), Happening.SEEN, None),
    (_ALL, Happening.HELP_CAME, None),
    (_ALL, Happening.SOMEBODY_THERE, None),
    (_ALL, Happening.CORRECTED, None),
    (_ALL, Happening.DAY_OVER, None),
)

TABLE: Final[Mapping[tuple[AlarmStage | None, Happening], AlarmStage | None]] = {
    (before, happening): after for befores, happening, after in _ROWS for before in befores
}


def after(stage: AlarmStage | None, happening: Happening) -> AlarmStage | None:
    """The stage that follows; the same one where the table has no row."""
    return TABLE.get((stage, happening), stage)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A timer of an alarm: it stands in these stages only and goes when they are left."""

    key: str
    after: timedelta
    stages: frozenset[AlarmStage]
    source: str


def _minutes(key: str, minutes: int, source: str, *stages: AlarmStage) -> Wait:
    return Wait(key=key, after=timedelta(minutes=minutes), stages=frozenset(stages), source=source)


#: The symptom question again.
ASK: Final = _minutes("severe.ask", 3, "common practice: remind, then alert", AlarmStage.ASKED)
#: No answer to the symptom question is not a no: contacts are told.
TELL: Final = _minutes("severe.tell", 8, "common practice: 5 to 10 minutes", AlarmStage.ASKED)
#: Rest before the second pair.
REST: Final = _minutes("severe.rest", 5, "NHLBI patient page: five minutes", AlarmStage.REPEATING)
#: Two readings in one message are dated a minute apart: the first may lie so long before the end
#: of the rest.
REST_SLACK: Final = timedelta(minutes=1)
#: The second pair is expected by then: the rest, two readings a minute apart, and slack.
PAIR: Final = _minutes("severe.pair", 15, "common practice", *_UNPAIRED)
TELL_PAIR: Final = _minutes(
    "severe.tell_pair", 20, "common practice", AlarmStage.ASKED, AlarmStage.REPEATING
)
#: Nobody has answered: contacts are called again.
AGAIN: Final = _minutes("emergency.again", 3, "common practice", AlarmStage.EMERGENCY)
#: Somebody said that they will see to it: are they there?
CHASE: Final = _minutes("emergency.chase", 15, "common practice", AlarmStage.EMERGENCY)
#: No answer to that either: everybody is called again.
CHASED: Final = _minutes("emergency.chased", 5, "common practice", AlarmStage.EMERGENCY)
#: Has help come?
CHECK: Final = _minutes("emergency.check", 30, "common practice", AlarmStage.EMERGENCY)
#: "Worse than usual?" without an answer counts as worse.
LASTING: Final = _minutes("lasting.tell", 3, "common practice", AlarmStage.LASTING)
#: A sign that has passed, or a severe pair without a sign: has a doctor heard of it? Where no
#: pair came and the contacts know, what is awaited is asked for again. By day only, and again
#: after the same time or the next morning, until it is answered or `END`.
SEEN: Final = _minutes(
    "today.seen",
    240,
    "common practice",
    AlarmStage.PASSED,
    AlarmStage.TODAY,
    *_UNPAIRED,
)
#: A severe reading stays open so long unless a pair is below, and every alarm ends by then.
END: Final = _minutes("alarm.end", 24 * 60, "common practice", *_ALL)

WAITS: Final = (
    ASK,
    TELL,
    REST,
    PAIR,
    TELL_PAIR,
    AGAIN,
    CHASE,
    CHASED,
    CHECK,
    LASTING,
    SEEN,
    END,
)

#: Calls go on every `AGAIN.after` for so many rounds, then more slowly, until somebody answers
#: or the alarm ends. Common practice: whoever has slept through an hour may yet wake.
QUICK_ROUNDS: Final = 20
SLOW_AGAIN_AFTER: Final = timedelta(minutes=15)
#: From this round on the person is told to wait for nobody.
WAIT_FOR_NOBODY_FROM: Final = 6
#: From this time of asking on without an answer the contacts are told, and the practitioner's
#: list says so. Common practice.
UNSEEN_TOLD_AT: Final = 2
#: "Has help come?" is asked so often at most; whoever is looked after has other cares.
MOST_CHECKS: Final = 6


def next_call_after(rounds: int) -> timedelta:
    """How long after the round of this number (from 1) the contacts are called again."""
    return AGAIN.after if rounds < QUICK_ROUNDS else SLOW_AGAIN_AFTER


def drawn() -> Iterator[str]:
    """The table as lines of a Mermaid state diagram, as DEVELOPERS.md shows it."""
    yield "stateDiagram-v2"
    for befores, happening, stage in _ROWS:
        for before in befores:
            yield f"    {before or '[*]'} --> {stage or '[*]'} : {happening}"
