"""Somebody opens the chat with "/start": with an invitation, or without."""

from __future__ import annotations

from domain import family, joining
from domain.events import Situation
from domain.messages import line
from domain.outcome import Outcome, Outgoing, PersonJoined
from domain.people import ChatId, Contact, Invitation, PersonId, Role
from domain.turn import Turn


def start(turn: Turn) -> None:
    """An invitation was opened that concerns `turn.patient`: as the patient or a contact."""
    invitation = turn.situation.invitation
    chat = turn.situation.actor.chat
    assert invitation is not None
    assert chat is not None
    problem = refusal(invitation, turn.now.timestamp() > invitation.expires.timestamp())
    if problem is not None:
        turn.send_to(chat, line(problem))
        return
    if invitation.role is Role.PATIENT:
        _patient_joins(turn, invitation.person, chat)
        return
    contact = turn.patient.contact(invitation.person)
    if contact is None:
        turn.send_to(chat, line("start.expired"))
        return
    if chat == turn.patient.chat:
        turn.send_to(chat, line("start.own_contact", name=contact.name))
        return
    _contact_joins(turn, contact, chat)


def refusal(invitation: Invitation, expired: bool) -> str | None:
    """The wording's key of why an invitation cannot be used, or None when it can."""
    if invitation.used:
        return "start.used"
    return "start.expired" if expired else None


def _patient_joins(turn: Turn, person: PersonId, chat: ChatId) -> None:
    language = turn.situation.actor.language
    turn.fact(PersonJoined(person=person, chat=chat, language=language))
    turn.join_chat(chat, language)
    joining.begin(turn)


def _contact_joins(turn: Turn, contact: Contact, chat: ChatId) -> None:
    language = turn.situation.actor.language
    turn.fact(PersonJoined(person=contact.person, chat=chat, language=language))
    changed = turn.change_contact(contact, chat=chat, language=language, reachable=True)
    family.joined(turn, changed)


def practitioner_joins(situation: Situation, invitation: Invitation, chat: ChatId) -> Outcome:
    """A practitioner who has no patient yet."""
    language = situation.actor.language
    welcome = line("practitioner.welcome", name=invitation.name)
    return Outcome(
        facts=(PersonJoined(person=invitation.person, chat=chat, language=language),),
        outgoing=(Outgoing(chat=chat, lines=(welcome,), language=language),),
    )
