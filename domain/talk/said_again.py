"""What is open, said again in a language that was just chosen.

Whoever could not read the alarm or the question asks for another language first; they must
not have to wait for the next timer to learn that an ambulance should be called.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from domain.events import Situation
from domain.messages import line
from domain.outcome import Outgoing
from domain.people import AlarmStage, ChatId, JoinStep
from domain.talk import alarm_words, coaching, contact_words, doubts, joining, severe
from domain.talk.turn import Turn


def what_is_open(situation: Situation, language: str, now: datetime) -> tuple[Outgoing, ...]:
    """The open alarm, question or step for the chat the choice came from; none when none is.

    Nothing changes and no timer moves: it is only said once more. In a chat of several
    patients nothing is said, because each may have something else open.
    """
    patient, chat = situation.patient, situation.actor.chat
    if patient is None or chat is None:
        return ()
    if patient.chat == chat:
        turn = Turn(situation, replace(patient, language=language), now)
        say_open(turn)
    else:
        contacts = tuple(
            replace(contact, language=language) if contact.chat == chat else contact
            for contact in patient.contacts
        )
        turn = Turn(situation, replace(patient, contacts=contacts), now)
        _to_contacts(turn, chat)
    return turn.outcome().outgoing


def say_open(turn: Turn) -> None:
    """Say what is open to the patient once more: an alarm, a question or a step."""
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.EMERGENCY:
        alarm_words.emergency(turn, alarm, again=False)
    elif severe.remind_what_is_open(turn):
        pass
    elif turn.state.joining is not None:
        if turn.state.joining is JoinStep.ADULT:
            turn.say(line("join.welcome", name=turn.patient.name), line("join.cautions"))
        joining.ask(turn, turn.state.joining)
    elif turn.state.in_doubt is not None:
        doubts.ask(turn)
    elif turn.state.occasion is not None:
        coaching.say_step(turn)


def _to_contacts(turn: Turn, chat: ChatId) -> None:
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return
    for contact in turn.patient.contacts:
        if contact.chat == chat and contact.may_be_told and contact.person in alarm.told:
            contact_words.call(turn, contact, alarm, update=False)
