"""Whether anybody can be reached in an alarm, and telling the patient when nobody can.

Told once: when joining ends, and when it changes. In an alarm its own words say so.
"""

from __future__ import annotations

from domain.messages import line
from domain.people import Consent, Contact, Patient, Role
from domain.talk.turn import Turn


def reached(patient: Patient) -> tuple[Contact, ...]:
    """Contacts who are called in alarms at some hour at least, and whose chat takes messages."""
    return tuple(
        contact
        for contact in patient.contacts
        if contact.may_be_told and contact.reachable and _is_ever_called(contact)
    )


def follow(turn: Turn) -> None:
    """After any event: tell the patient when nobody can be reached any more."""
    state = turn.state
    if state.joined_at is None or state.joining is not None or state.declined:
        return
    if reached(turn.patient):
        if state.told_alone:
            turn.change(told_alone=False)
        return
    if state.told_alone or state.alarm is not None or not _has_changed(turn):
        return
    if any(c.consent is Consent.PROPOSED and not c.asked for c in turn.patient.contacts):
        return  # whether they may be told is asked first
    turn.change(told_alone=True)
    turn.say(line("family.nobody_reached", number=turn.number))


def _has_changed(turn: Turn) -> bool:
    """Joining or an alarm has ended, somebody is gone, or a proposal was refused.

    Who agrees to somebody that has not opened the chat is told of that by the answer itself.
    """
    before = turn.before.state
    ended = before.joining is not None or before.alarm is not None
    proposed = {c.person for c in turn.before.contacts if c.consent is Consent.PROPOSED}
    now = turn.patient.contacts
    refused = any(c.person in proposed and c.consent is Consent.REFUSED for c in now)
    return ended or refused or bool(reached(turn.before))


def _is_ever_called(contact: Contact) -> bool:
    if contact.role is not Role.PRACTITIONER:
        return True
    return contact.duty is not None and contact.duty.live is not None
