"""What arrives at the desk: an event with what the platform said about where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from domain.events import Event
from domain.people import ChatId, MessageRef


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedToken:
    """A button was pressed, known by its token only: the desk finds out what it stands for."""

    token: str
    message: MessageRef
    pressed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """One update of the platform. `update_id` None: not counted, may come again."""

    bot_id: int
    update_id: int | None
    chat: ChatId
    language: str = "en"  #: of the chat client
    name: str = ""  #: in the sender's chat profile
    event: Event | PressedToken
