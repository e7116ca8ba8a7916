"""What one message gives danger to weigh, and which signs count together with it.

Signs told earlier in the day count until they are denied. What follows from them is
`escalation.py`; the lists are `danger.py`. Pressures in mmHg.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from domain import danger
from domain.danger import Limits
from domain.people import AlarmStage, MessageRef, Note, NoteKind
from domain.readings import Reading
from domain.talk.turn import Turn
from domain.understanding.result import Earlier, Understood

Pair = tuple[int | None, int | None]

#: A sign that the person said yes to without naming it.
SIGN: Final = "sign"
#: A cry for help without a named sign.
HELP: Final = "x_help"
#: A symptom told so long before a severe reading counts as together with it.
SYMPTOM_IN_FORCE: Final = timedelta(hours=24)
#: A reading this much older than its message calls nobody by its number alone.
OLD_READING: Final = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one message adds, for danger to weigh: the worst that it may mean."""

    message: MessageRef
    written_at: datetime | None = None  #: None is now
    pairs: tuple[Pair, ...] = ()  #: fresh readings, and all that a doubt may mean
    kept: tuple[Reading, ...] = ()  #: those of them that are kept and were measured now
    symptoms: tuple[str, ...] = ()
    earlier: tuple[Earlier, ...] = ()  #: red flags of an earlier day that are gone
    denies_all: bool = False


def told_by(
    understood: Understood,
    message: MessageRef,
    written_at: datetime,
    kept: tuple[Reading, ...] = (),
) -> Told:
    """What danger has to weigh of a message; `kept` are its fresh readings."""
    doubtful: tuple[Pair, ...] = tuple((p.systolic, p.diastolic) for p in understood.possible)
    found: tuple[Pair, ...] = ()
    if understood.doubts:
        # Also what is reported beside a doubt (swapped, kPa) waits for an answer: the worst counts.
        found = tuple((r.systolic, r.diastolic) for r in understood.readings)
    sure: tuple[Pair, ...] = tuple((r.systolic, r.diastolic) for r in kept)
    return Told(
        message=message,
        written_at=written_at,
        pairs=(*sure, *found, *doubtful),
        kept=kept,
        symptoms=understood.symptoms,
        earlier=tuple(sign for sign in understood.earlier if not sign.theirs),
        denies_all=understood.denies_all,
    )


def in_force_red(symptoms: Iterable[str], limits: Limits = danger.ADULT) -> tuple[str, ...]:
    """The red flags among symptoms, by the limits of whom they concern."""
    return tuple(code for code in symptoms if code in limits.red_flags)


def that_cannot_wait(codes: Iterable[str], limits: Limits, *, severe: bool) -> tuple[str, ...]:
    """Red flags, and with a severe number each sign that is asked about."""
    if severe:
        return tuple(code for code in codes if code in limits.with_severe)
    return in_force_red(codes, limits)


def symptoms_in_force(turn: Turn, told: Told) -> tuple[str, ...]:
    """Symptoms of this message and of the last day that have not been denied since.

    In an emergency also those that it rests on, whatever has been denied since.
    """
    found: list[Note] = []
    for note in turn.patient.notes:
        if turn.now - note.at > SYMPTOM_IN_FORCE:
            continue
        if note.kind is NoteKind.ALARM_ENDED and note.code == "not_about":
            found = [n for n in found if n.made_by is not None]  # a contact's word, taken back
        elif note.kind is NoteKind.SYMPTOM and note.code == "none":
            found.clear()
        elif note.kind is NoteKind.SYMPTOM:
            found.append(note)
    alarm = turn.state.alarm
    emergency = alarm is not None and alarm.stage is AlarmStage.EMERGENCY
    open_ = alarm.symptoms if alarm is not None and emergency else ()
    return tuple(dict.fromkeys((*told.symptoms, *open_, *(note.code for note in found))))
