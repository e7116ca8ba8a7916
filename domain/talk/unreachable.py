"""A patient whose chat takes no messages: nothing is asked any more, and the others know.

Whoever has blocked the bot, or deleted the account, hears nothing. To go on prompting would
look to everybody else as if all was well. Readings and alarms of before stay as they are.
"""

from __future__ import annotations

from typing import Final

from domain.events import Edited, Event, Pressed, Said, SentOther, SharedLocation
from domain.messages import Line, line
from domain.outcome import Rank
from domain.people import NoteKind
from domain.talk import coaching, scheduling
from domain.talk.callers import called_now
from domain.talk.turn import Turn

#: What somebody does by whom the program can be sure that their chat takes messages.
HEARD: Final = (Said, Edited, Pressed, SentOther, SharedLocation)


def lost(turn: Turn, *, told: bool = False) -> None:
    """The platform no longer takes messages to the patient: said once to the contacts.

    `told`: they have just heard that an alarm was not delivered.
    """
    if turn.state.unreachable:
        return
    turn.change(unreachable=True)
    turn.note(NoteKind.UNREACHABLE, code="lost")
    coaching.close(turn)
    scheduling.stop_prompts(turn)
    if told:
        return
    if turn.state.alarm is None:
        _tell(turn, line("contact.patient_lost", name=turn.patient.name))
        return
    urgent = line("contact.patient_unreachable", name=turn.patient.name, number=turn.number)
    for contact in called_now(turn, turn.state.alarm.rounds):
        turn.tell(contact, urgent, rank=Rank.ALARM)


def back(turn: Turn) -> None:
    """The patient's chat takes messages again: prompts go on, the contacts are told."""
    if not turn.state.unreachable:
        return
    turn.change(unreachable=False)
    turn.note(NoteKind.UNREACHABLE, code="back")
    due = scheduling.plan_ahead(turn)
    if due is not None:
        turn.say(line("patient_back", at=due))
    _tell(turn, line("contact.patient_back", name=turn.patient.name))


def heard(turn: Turn, event: Event) -> None:
    """Whoever writes in their own chat can be reached there, whatever the platform said."""
    if isinstance(event, HEARD) and turn.situation.actor.chat == turn.patient.chat:
        back(turn)


def _tell(turn: Turn, told: Line) -> None:
    for contact in turn.patient.contacts:
        if contact.may_be_told:
            turn.tell(contact, told)
