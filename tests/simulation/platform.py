"""The chat platform: chats, messages, updates in the order of their ids, and its faults.

It speaks the methods of the Bot API that the bot uses, as Python calls instead of HTTP, and
gives updates in the platform's own JSON shape, so that the bot's reading of them is real.
Dates are whole seconds of the simulated clock.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from typing import Any, Final

from telegram.error import Forbidden, NetworkError, RetryAfter, TimedOut

from tests.simulation.faults import Blow, Faults

BOT_ID: Final = 7
#: After a quiet week the platform's ids go on anywhere.
_QUIET: Final = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """A message of the bot that has reached a chat, as its reader sees it."""

    chat: int
    message: int
    text: str  #: HTML, or the plain text of a second attempt
    tokens: tuple[str, ...] = ()  #: of its buttons
    has_file: bool = False


@dataclass(slots=True)
class Chat:
    """One person's chat with the bot."""

    id: int
    name: str
    language: str = "en"
    closed: bool = False  #: the person has blocked the bot
    messages: int = 0
    read: Callable[[Arrived], None] = lambda arrived: None


@dataclass(slots=True)
class Platform:
    """All chats with one bot. `now` is the simulated clock."""

    now: Callable[[], datetime]
    faults: Faults
    dice: Random
    arrived: Callable[[Arrived], None]
    refused: Callable[[int], None]
    confirmed: Callable[[list[int]], None]
    chats: dict[int, Chat] = field(default_factory=dict)
    pending: list[dict[str, Any]] = field(default_factory=list)
    acts: dict[int, object] = field(default_factory=dict)  #: by the number of the update
    _gone: list[dict[str, Any]] = field(default_factory=list)
    _given: int = 0  #: how many of `pending` the bot has been given
    _next_id: int = 1000
    _last_at: datetime | None = None
    _asking: asyncio.Future[None] | None = None

    # --- what people do

    def opened(self, name: str) -> Chat:
        chat = Chat(id=5000 + len(self.chats), name=name)
        self.chats[chat.id] = chat
        return chat

    def says(self, chat: Chat, text: str, act: object) -> int:
        """The message's number. `act` is what the sender knows of it, see `acts`."""
        chat.messages += 1
        content = self._message(chat, chat.messages, self.now()) | {"text": text}
        self._update("message", content, act)
        return chat.messages

    def edits(self, chat: Chat, message: int, written: datetime, text: str, act: object) -> None:
        content = self._message(chat, message, written)
        content |= {"text": text, "edit_date": _seconds(self.now())}
        self._update("edited_message", content, act)

    def presses(self, chat: Chat, message: int, token: str, act: object) -> None:
        shown = self._message(chat, message, self.now())
        shown |= {"from": {"id": BOT_ID, "is_bot": True, "first_name": "Bot"}, "text": "?"}
        query = {"id": "1", "from": _person(chat), "message": shown, "chat_instance": "1"}
        self._update("callback_query", query | {"data": token}, act)

    def sends_sticker(self, chat: Chat, act: object) -> None:
        chat.messages += 1
        sticker = {"file_id": "s", "file_unique_id": "s", "type": "regular", "width": 1}
        sticker |= {"height": 1, "is_animated": False, "is_video": False}
        content = self._message(chat, chat.messages, self.now())
        self._update("message", content | {"sticker": sticker}, act)

    def closes(self, chat: Chat, closed: bool, act: object) -> None:
        chat.closed = closed
        user = {"id": BOT_ID, "is_bot": True, "first_name": "Bot"}
        kicked = {"status": "kicked", "user": user, "until_date": 0}
        member = {"status": "member", "user": user}
        old, new = (member, kicked) if closed else (kicked, member)
        change = {"chat": _chat(chat), "from": _person(chat), "date": _seconds(self.now())}
        change |= {"old_chat_member": old, "new_chat_member": new}
        self._update("my_chat_member", change, act)

    # --- what the bot asks

    async def updates(self, offset: int | None, *, wait: bool) -> list[dict[str, Any]]:
        """`getUpdates`: forgets what is before `offset`, and waits for something new."""
        if offset is not None:
            gone = [update for update in self.pending if update["update_id"] < offset]
            self.pending = [update for update in self.pending if update["update_id"] >= offset]
            if gone:
                self._gone = (self._gone + gone)[-20:]
                self.confirmed([update["update_id"] for update in gone])
        if not self.pending and wait:
            self._asking = asyncio.get_running_loop().create_future()
            await self._asking
        given = self.pending[:100]
        self._given = len(given)
        if given and self._gone and self.faults.comes_again():
            given = [self.dice.choice(self._gone), *given]
        return [dict(update) for update in given]

    def quiet(self) -> None:
        """The longest wait for updates is over."""
        if self._asking is not None and not self._asking.done():
            self._asking.set_result(None)

    async def deliver(self, arrived: Arrived, blow: Blow) -> int:
        """A message on its way to a chat, there and back; its number."""
        await asyncio.sleep(self.faults.seconds(0.03, 0.3))
        if blow is Blow.SILENT_BEFORE:
            await asyncio.sleep(3600)
        if blow is Blow.LOST_BEFORE:
            raise NetworkError("connection refused")
        if blow is Blow.BROKEN:
            raise NetworkError("Bad Gateway")
        if blow is Blow.FLOOD:
            raise RetryAfter(timedelta(seconds=self.dice.randint(1, 40)))
        number = self._reach(arrived)
        if blow is Blow.SILENT_AFTER:
            await asyncio.sleep(3600)
        if blow is Blow.LOST_AFTER:
            raise TimedOut
        await asyncio.sleep(self.faults.seconds(0.02, 0.1))
        return number

    def _reach(self, arrived: Arrived) -> int:
        chat = self.chats[arrived.chat]
        if chat.closed:
            self.refused(chat.id)
            raise Forbidden("Forbidden: bot was blocked by the user")
        chat.messages += 1
        whole = Arrived(
            chat=chat.id,
            message=chat.messages,
            text=arrived.text,
            tokens=arrived.tokens,
            has_file=arrived.has_file,
        )
        self.arrived(whole)
        chat.read(whole)
        return chat.messages

    # --- updates

    def _update(self, kind: str, content: dict[str, Any], act: object) -> None:
        now = self.now()
        if self._last_at is not None and now - self._last_at > _QUIET:
            self._next_id = self.dice.randint(1000, 1_000_000)
        self._last_at = now
        self._next_id += self.dice.randint(1, 3)
        self.pending.append({"update_id": self._next_id, kind: content})
        self.acts[self._next_id] = act
        if len(self.pending) - self._given > 1 and self.faults.overtakes():
            self._overtake()
        self.quiet()

    def _overtake(self) -> None:
        """The last two change places, while the ids stay in order."""
        first, second = self.pending[-2:]
        if first.keys() != second.keys():
            return  # an edit never comes before what it changes
        early, late = first["update_id"], second["update_id"]
        self.pending[-2:] = [second | {"update_id": early}, first | {"update_id": late}]
        self.acts[early], self.acts[late] = self.acts[late], self.acts[early]

    def _message(self, chat: Chat, number: int, written: datetime) -> dict[str, Any]:
        return {
            "message_id": number,
            "date": _seconds(written),
            "chat": _chat(chat),
            "from": _person(chat),
        }


def _seconds(moment: datetime) -> int:
    return int(moment.timestamp())


def _chat(chat: Chat) -> dict[str, Any]:
    return {"id": chat.id, "type": "private", "first_name": chat.name}


def _person(chat: Chat) -> dict[str, Any]:
    return {
        "id": chat.id,
        "is_bot": False,
        "first_name": chat.name,
        "language_code": chat.language,
    }
