"""Who is called in an alarm at this moment, and who of them can be reached."""

from __future__ import annotations

from domain.people import Contact
from domain.talk.turn import Turn


def called_now(turn: Turn) -> tuple[Contact, ...]:
    """Contacts who may be told and are called live, in the patient's order.

    Also those whose chat took nothing the last time: they may have let the bot in again.
    """
    return tuple(contact for contact in turn.patient.contacts if contact.may_be_told)


def reachable_now(turn: Turn) -> tuple[Contact, ...]:
    """Those of `called_now` whose chat took the last message."""
    return tuple(contact for contact in called_now(turn) if contact.reachable)
