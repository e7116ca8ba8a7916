"""Somebody opens the chat with "/start": with an invitation, or without."""

from __future__ import annotations

from domain.events import Situation
from domain.messages import line
from domain.outcome import Outcome, Outgoing, PersonJoined
from domain.people import ChatId, Contact, Invitation, PersonId, Role
from domain.talk import family, joining
from domain.talk.turn import Turn


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
    actor = turn.situation.actor
    name = turn.patient.name or actor.name
    turn.fact(PersonJoined(person=person, chat=chat, language=actor.language, name=name))
    turn.join_chat(chat, actor.language, name)
    joining.begin(turn)


def _contact_joins(turn: Turn, contact: Contact, chat: ChatId) -> None:
    language = turn.situation.actor.language
    name = contact.name or turn.situation.actor.name
    turn.fact(PersonJoined(person=contact.person, chat=chat, language=language, name=name))
    values = {"chat": chat, "language": language, "name": name, "reachable": True}
    changed = turn.change_contact(contact, **values)
    family.joined(turn, changed)


def practitioner_joins(situation: Situation, invitation: Invitation, chat: ChatId) -> Outcome:
    """A practitioner who has no patient yet."""
    language = situation.actor.language
    name = invitation.name or situation.actor.name
    welcome = line("practitioner.welcome", name=name)
    return Outcome(
        facts=(PersonJoined(person=invitation.person, chat=chat, language=language, name=name),),
        outgoing=(Outgoing(chat=chat, lines=(welcome,), language=language),),
    )
