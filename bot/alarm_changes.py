"""What an event changed about a patient's alarm, read off the state before and after.

Pure. The conversation need not know that anybody counts. Spans are person time.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from domain.people import Alarm, AlarmStage, State


class Happened(StrEnum):
    """A step of an alarm, as the counters name it."""

    RAISED = "raised"
    EMERGENCY = "emergency"  #: raised as one, or became one
    ANSWERED_BY_PATIENT = "patient"
    ANSWERED_BY_CONTACT = "contact"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmChange:
    happened: Happened
    after: timedelta  #: since the alarm opened


def alarm_changes(
    before: State | None, after: State | None, now: datetime
) -> tuple[AlarmChange, ...]:
    """What happened between two states; None is no state, or an unchanged one."""
    if after is None:
        return ()
    old, new = before.alarm if before else None, after.alarm
    alarm = new or old
    if alarm is None:
        return ()
    span = max(timedelta(0), now - alarm.opened)
    return tuple(AlarmChange(happened=happened, after=span) for happened in _happened(old, new))


def _happened(old: Alarm | None, new: Alarm | None) -> list[Happened]:
    if new is None:
        return [Happened.ENDED]
    found = [] if old else [Happened.RAISED]
    emergency = AlarmStage.EMERGENCY
    if new.stage is emergency and (old is None or old.stage is not emergency):
        found.append(Happened.EMERGENCY)
    if new.patient_said and not (old and old.patient_said):
        found.append(Happened.ANSWERED_BY_PATIENT)
    if new.answered_by and not (old and old.answered_by):
        found.append(Happened.ANSWERED_BY_CONTACT)
    return found
