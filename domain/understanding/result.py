"""What a message was understood to say. Values only; how it is found is beside this file.

Pressures in mmHg, pulse in beats per minute. Spans are half-open character ranges of the
text as it was sent, so that an explanation can point at what gave what.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from domain.readings import Setting

Span = tuple[int, int]


class Doubt(StrEnum):
    SWAPPED = "swapped"
    IMPLAUSIBLE = "implausible"
    INCOMPLETE = "incomplete"
    KILOPASCAL = "kilopascal"
    AMBIGUOUS = "ambiguous"


class Remark(StrEnum):
    """What a message says of an alarm, or of those who help, apart from signs and numbers."""

    REFUSES_HELP = "refuses_help"  #: "I don't want help", "no ambulance please"
    NOT_REAL = "not_real"  #: "it was a joke", "only testing", "false alarm"
    SLIP = "slip"  #: "typing slip": a number or word was typed wrong
    IS_OVER = "is_over"  #: "it has passed", "I'm fine now"
    NOT_OVER = "not_over"  #: "it is not gone", "no better"
    AMBULANCE_CALLED = "ambulance_called"  #: "I've called 112", "they are on their way"
    AMBULANCE_HERE = "ambulance_here"  #: "the paramedics are here", "I am in hospital"
    SOMEONE_HERE = "someone_here"  #: "my daughter is here": said by the one who needs help
    ON_THE_WAY = "on_the_way"  #: "I'm on my way", "I'll go round"
    IS_THERE = "is_there"  #: "I'm with her now"
    WITH_SOMEBODY = "with_somebody"  #: "I'm with my sister": perhaps the patient, perhaps not
    WILL_SEE_TO_IT = "will_see_to_it"  #: "leave it to me", "I'll ring her"
    CANNOT_COME = "cannot_come"  #: "I'm too far away", "I can't get there"
    CANNOT_REACH = "cannot_reach"  #: "she does not answer the phone"
    MONITOR_ERROR = "monitor_error"  #: "E3", "error on the display": no number came
    FELL = "fell"  #: "she fell", "I have had a fall"
    GOING_TO_BED = "going_to_bed"  #: "I'm off to bed", "good night": no more today


class Intent(StrEnum):
    CORRECTION = "correction"
    READING = "reading"
    UNDO = "undo"
    STOP = "stop"
    SYMPTOM = "symptom"
    MEDICINE = "medicine"
    POSTPONE = "postpone"
    SKIP = "skip"
    QUESTION = "question"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A reading of the writer's own, plausible by `domain.readings.LIMITS`."""

    systolic: int
    diastolic: int
    pulse: int | None = None
    at: datetime | None = None  #: None when it was measured now
    standing: bool = False  #: said to be taken standing, beside one that was not
    span: Span
    setting: Setting | None = None  #: where it was taken; None when that was not said


@dataclass(frozen=True, slots=True, kw_only=True)
class Possible:
    """One thing that a doubtful piece of the message may mean.

    Danger is judged on the worst of these before anything is asked. A missing number is
    None; numbers may be impossible (310/150) because they are what was typed.
    """

    systolic: int | None
    diastolic: int | None
    span: Span
    setting: Setting | None = None  #: as of a reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A symptom that counts as present."""

    code: str
    span: Span
    passed: bool = False  #: a red flag that came and went today or last night
    unsure: bool = False  #: counted as present because it was not clearly denied


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """A red flag of an earlier day: no longer present, but it may have to be seen today."""

    code: str
    span: Span
    #: How long ago at the least, counted from `now`; None when the words do not say.
    ago: timedelta | None = None
    theirs: bool = False  #: of somebody else


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Single numbers of the last reading that a correction replaces; None stays as it was.

    `loose` is the new number when the writer did not say which of the two it is
    ("should have been 77"); `wrong` the number it stands instead of, if named.
    """

    systolic: int | None = None
    diastolic: int | None = None
    pulse: int | None = None
    loose: int | None = None
    wrong: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """All that one message says. Tuples are in the order of the text."""

    readings: tuple[Found, ...] = ()
    signs: tuple[Sign, ...] = ()
    denied: tuple[str, ...] = ()  #: codes that the writer says are not there
    denies_all: bool = False  #: "no symptoms", "feel fine", "none of these"
    others: tuple[Sign, ...] = ()  #: of somebody else that could be dangerous
    #: Readings of somebody else: in the chat of who looks after them they may be meant.
    theirs: tuple[Found, ...] = ()
    doubts: frozenset[Doubt] = frozenset()
    possible: tuple[Possible, ...] = ()
    intent: Intent = Intent.OTHER
    change: Change | None = None
    #: Pairs that the message gives and takes back itself, as typed: "200/100, sorry, 120/80".
    taken_back: tuple[tuple[int, int], ...] = ()
    #: Red flags that were there on an earlier day and are not now, in the order of the text.
    earlier: tuple[Earlier, ...] = ()
    remarks: tuple[Remark, ...] = ()  #: each once, in the order of the text
    #: Where the reading of an earlier message was taken: "that was at the doctor's".
    setting_said: Setting | None = None
    medicine_changed: bool = False  #: not only taken or forgotten: another, or another dose
    pulses: tuple[int, ...] = ()  #: the writer's own of the last hours, given without a reading
    postponed: timedelta | None = None  #: "in 20 minutes"; None when no time was given

    @property
    def symptoms(self) -> tuple[str, ...]:
        """Codes of the signs that count as present, sorted, each once."""
        return tuple(sorted({sign.code for sign in self.signs}))
