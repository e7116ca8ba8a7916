"""Whom an event concerns, when a chat may be about several people.

A text that fits two patients belongs to nobody until the person says whose it is. A
doctor's own chat may be a patient's, a carer's and a practitioner's at once: what somebody
writes about themselves is theirs.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from domain.events import (
    ChatClosed,
    ChatOpened,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    Pressed,
    Said,
    SentOther,
    SharedLocation,
)
from domain.people import ChatId, Consent, Invitation, MessageRef, PersonId, Role, Tie

#: Commands about several patients at once: never routed to one.
_FOR_ALL: Final = frozenset({"patients"})
#: The same where nobody in the chat is a patient: for practitioners these are about theirs.
_FOR_ALL_BUT_PATIENTS: Final = frozenset({"invite", "plan"})


def command(text: str) -> tuple[str, str] | None:
    """The command and what follows it ("/invite Wren" is invite, Wren), or None.

    A command may name the bot it is meant for ("/week@some_bot").
    """
    stripped = text.strip()
    if not stripped.startswith("/") or len(stripped) < 2 or not stripped[1].isalpha():
        return None
    name, _, rest = stripped[1:].partition(" ")
    return name.partition("@")[0].casefold(), rest.strip()


def route(
    ties: tuple[Tie, ...],
    event: Event,
    *,
    invitation: Invitation | None = None,
    message_owner: PersonId | None = None,
    asking: str = "",
) -> PersonId | None:
    """The patient whom an event from a chat concerns; None when nobody, or not clear.

    Args:
        ties: whom the chat may be about.
        event: what happened there. Timers name their patient and are not routed.
        invitation: of a "/start CODE".
        message_owner: the patient whose reading or doubt an edited message made.
        asking: what the chat was asked outside any patient's conversation.
    """
    match event:
        case Said(text=text):
            asked = command(text)
            if asked is not None and asked[0] == "start" and asked[1]:
                return _invited(invitation)
            if _is_for_all(ties, asked) or (asking and asked is None):
                return None
            return only_one(ties)
        case Edited():
            return message_owner or only_one(ties)
        case Pressed(action=action):
            return action.about
        case SentOther() | SharedLocation() | OldButton():
            return only_one(ties)
        case ChatClosed() | ChatOpened() | GroupSeen():
            return only_one(ties)
        case _:
            return None


def _is_for_all(ties: tuple[Tie, ...], asked: tuple[str, str] | None) -> bool:
    if asked is None:
        return False
    is_patient = any(tie.role is Role.PATIENT for tie in ties)
    return asked[0] in _FOR_ALL or (asked[0] in _FOR_ALL_BUT_PATIENTS and not is_patient)


def only_one(ties: tuple[Tie, ...]) -> PersonId | None:
    """The one patient whom a chat is about: their own first, else the only one cared for."""
    own = {tie.patient for tie in ties if tie.role is Role.PATIENT}
    if own:
        return own.pop() if len(own) == 1 else None
    linked = {tie.patient for tie in ties if tie.consent is not Consent.WITHDRAWN}
    return linked.pop() if len(linked) == 1 else None


def _invited(invitation: Invitation | None) -> PersonId | None:
    if invitation is None:
        return None
    return invitation.person if invitation.role is Role.PATIENT else invitation.patient


def packed(message: MessageRef, written_at: datetime, text: str) -> str:
    """A message put into a button, so that it waits with its own moment for its owner."""
    return f"{message.chat}|{message.message}|{written_at.isoformat()}|{text}"


def unpacked(argument: str) -> Said | None:
    """The message that `packed` put into a button; None for anything else."""
    parts = argument.split("|", 3)
    if len(parts) != 4:
        return None
    chat, message, moment, text = parts
    return Said(
        text=text,
        message=MessageRef(chat=ChatId(int(chat)), message=int(message)),
        written_at=datetime.fromisoformat(moment),
    )
