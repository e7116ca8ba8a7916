"""Messages on their way to the platform, as values: finished texts, not yet sent.

Machine time rules everything here. How they are queued and claimed: `outbox.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from domain.outcome import Attachment, Rank
from domain.people import ChatId, PersonId


class Lane(StrEnum):
    """Files have their own lane, so that no alarm waits for an upload."""

    TEXT = "text"
    FILE = "file"


@dataclass(frozen=True, slots=True)
class ShownButton:
    """An inline button: what it reads and the token that comes back when it is pressed."""

    label: str
    token: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownKeyboard:
    """A keyboard in place of the phone's own, one row."""

    keys: tuple[str, ...] = ()
    locate: str | None = None  #: label of the key that shares the position
    remove: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyMessage:
    """One call of the platform: at most 4,096 characters, 1,024 beside an attachment.

    `plain` says the same as `html` without marks. With an attachment the text is its
    caption. `leave` means that the bot leaves the chat (a group) instead of writing.
    """

    chat: ChatId
    html: str = ""
    plain: str = ""
    rank: Rank = Rank.REPLY
    lane: Lane = Lane.TEXT
    language: str = "en"
    buttons: tuple[tuple[ShownButton, ...], ...] = ()
    keyboard: ShownKeyboard | None = None
    attachment: Attachment | None = None
    about: PersonId | None = None
    to: PersonId | None = None
    leave: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A chat's lane that one worker may send from until `until` (machine time).

    `lease` is the fence: a worker whose number is no longer the lane's has lost it.
    """

    chat: ChatId
    lane: Lane
    lease: int
    until: datetime
    rank: Rank  #: of the head when it was claimed


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The message at the head of a claimed lane."""

    id: int
    message: ReadyMessage
    attempts: int  #: how often it has been tried before
    queued_at: datetime  #: machine time
