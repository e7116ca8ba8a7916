"""After an outage: whoever had something open is told of the gap, and what is open again.

The shell sets a timer for them whose due moment is when the outage began, so it falls before
everything that was due meanwhile.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from domain.messages import line
from domain.outcome import Rank
from domain.plans import next_due
from domain.talk import coaching, said_again, scheduling
from domain.talk.turn import Turn

OUTAGE: Final = "outage"


def fell(turn: Turn, since: datetime) -> None:
    """The program was out of reach from `since` (aware) until now."""
    state, zone = turn.state, turn.patient.zone
    gap = {"since": since.astimezone(zone), "until": turn.local_now}
    if state.alarm is not None:
        turn.say(line("outage.alarm", number=turn.number, **gap), rank=Rank.ALARM)
        said_again.say_open(turn)
        _tell_of_alarm(turn, since)
    elif state.occasion is not None:
        # What was answered meanwhile still waits at the platform: nothing is missed yet.
        turn.cancel(coaching.REMIND)
        turn.set_after(coaching.MISSED, coaching.MISSED_AFTER)
        turn.say(line("outage.occasion", **gap))
        said_again.say_open(turn)
    elif _prompt_fell(turn, since):
        turn.say(line("outage.prompt", **gap))


def _prompt_fell(turn: Turn, since: datetime) -> bool:
    """Whether a prompt was due in the gap."""
    plan = turn.state.plan
    if plan is None or turn.state.paused or turn.state.declined or turn.state.unreachable:
        return False
    due = next_due(plan, scheduling.prompts(turn), turn.patient.zone, since)
    return due is not None and due.moment <= turn.now


def _tell_of_alarm(turn: Turn, since: datetime) -> None:
    """Those who know of the alarm learn that nothing reached them meanwhile."""
    alarm = turn.state.alarm
    assert alarm is not None
    for contact in turn.patient.contacts:
        if contact.may_be_told and contact.person in alarm.told:
            local = since.astimezone(ZoneInfo(contact.zone))
            told = line("outage.contact", name=turn.patient.name, number=turn.number, since=local)
            turn.tell(contact, told, rank=Rank.ALARM)
