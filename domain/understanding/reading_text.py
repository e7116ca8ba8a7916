"""What a message says in numbers: readings, their doubts and their times.

The door of this half is `read_numbers`. Symptoms, negation of symptoms and intents are
found elsewhere. Pressures in mmHg, pulse in beats per minute, moments with the offset of
`now`, spans as half-open ranges of the text as it was sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from domain.understanding.result import Change, Doubt, Found, Possible, Span
from domain.understanding.tokens import Token


@dataclass(frozen=True, slots=True, kw_only=True)
class NumbersRead:
    """All that the numbers of one message say. Tuples are in the order of the text.

    Whether the message corrects an earlier one is not decided here, because words without
    numbers decide it too. Take the parts as they are for a new reading, and
    `for_correction()` when the message is found to be a correction.
    """

    readings: tuple[Found, ...] = ()  #: the writer's own, plausible, none in keeping doubt
    doubts: frozenset[Doubt] = frozenset()
    possible: tuple[Possible, ...] = ()  #: every meaning of every doubtful piece, at its worst
    #: The single numbers of this message as a change of the last reading ("bottom was 81",
    #: "should have been 77"); None when there are none or a whole pair is given.
    change: Change | None = None
    #: The message was meant to give a reading of the writer's own: one is reported, or one
    #: is in doubt. False for targets, other people's, questions, pulse alone.
    mentions_reading: bool = False
    #: A pair was left out because it is a target, a limit, or only asked about.
    reading_is_question_or_target: bool = False
    #: A pair was left out because it is somebody else's.
    someone_elses: bool = False
    #: The message itself says that a number or pair was wrong and gives another ("188 not
    #: 138", "should have been 77", "I meant 142/91", "instead of 140/90"). A strong hint of
    #: a correction; words alone ("small slip: …") are left to the intents.
    replaces: bool = False
    spans: tuple[Span, ...] = ()  #: characters used for numbers, labels, units and times

    def for_correction(self) -> NumbersRead:
        """The same read as a correction: a single number is a change, not an incomplete pair."""
        raise NotImplementedError


def read_numbers(text: str, toks: list[Token], now: datetime) -> NumbersRead:
    """Find the readings of a message.

    Args:
        text: as it was sent.
        toks: `tokens(text)`.
        now: the moment it was sent, aware, with the offset of the writer's local time.
    """
    raise NotImplementedError
