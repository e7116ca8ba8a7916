"""Who is called in an alarm at this moment, and who of them can be reached.

Carers are called at any time. A practitioner is called only within the hours that they have
set, and their deputy once they have not answered.
"""

from __future__ import annotations

from domain.duty import Duty
from domain.messages import Line, line
from domain.people import Contact, PersonId, Role
from domain.talk.turn import Turn


def called_now(turn: Turn, rounds: int = 0) -> tuple[Contact, ...]:
    """Contacts who may be told and are called live, in the patient's order.

    Also those whose chat took nothing the last time: they may have let the bot in again.

    Args:
        rounds: how often they have been called already without an answer.
    """
    told = [contact for contact in turn.patient.contacts if contact.may_be_told]
    live = {contact.person for contact in told if is_live(turn, contact)}
    deputies = {
        PersonId(contact.duty.deputy)
        for contact in told
        if contact.person in live and contact.duty is not None and contact.duty.deputy
    }
    wanted = live | deputies if rounds else live
    return tuple(contact for contact in told if contact.person in wanted)


def is_live(turn: Turn, contact: Contact) -> bool:
    """Whether an alarm reaches the contact at once at this moment."""
    if contact.role is not Role.PRACTITIONER:
        return True
    if contact.duty is None:
        return False
    return contact.duty.is_live(turn.now.astimezone(contact.clock or turn.patient.zone))


def when_they_look(contact: Contact) -> Line:
    """When a practitioner looks, for the patient to read: they are no night watch."""
    duty = contact.duty or Duty()
    at = f"{duty.looks_at:%H:%M}"
    if duty.live is None:
        return line("duty.daily", name=contact.name, at=at)
    start, end = duty.live
    if start == end:
        return line("duty.always", name=contact.name, at=at)
    hours = {"start": f"{start:%H:%M}", "end": f"{end:%H:%M}"}
    return line("duty.live", name=contact.name, at=at, **hours)


def look_later(turn: Turn) -> tuple[Contact, ...]:
    """Practitioners who may be told and are not called live now: they look at their hour."""
    return tuple(
        contact
        for contact in turn.patient.contacts
        if contact.may_be_told and contact.role is Role.PRACTITIONER and not is_live(turn, contact)
    )
