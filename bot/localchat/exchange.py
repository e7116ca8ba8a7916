"""All parts of one local chat together, as methods and pages use them.

Also the rules that need several parts at once: whether the bot may write into a chat,
what the page is told after a commit, and for how long a chat shows that the bot is typing.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from time import monotonic
from typing import Any, Final

from bot.localchat.chats import Chat, Chats, Message, Standing
from bot.localchat.files import Files
from bot.localchat.limiter import FloodLimiter, FloodLimits
from bot.localchat.listeners import Listeners
from bot.localchat.ports import PersonClock
from bot.localchat.refusals import bad_request, forbidden
from bot.localchat.store import Store
from bot.localchat.updates import Updates
from bot.localchat.views import keyboard_view, message_view

Json = dict[str, Any]

FILE_NAME: Final = "chat.sqlite"
#: How long one chat action is shown, in machine seconds (the platform's description).
TYPING_SECONDS: Final = 5.0


class Exchange:
    """The open folder with its clock, its limits and everyone who listens."""

    def __init__(
        self, folder: Path, clock: PersonClock, token: str, limits: FloodLimits | None
    ) -> None:
        self.folder = folder
        self.clock = clock
        self.token = token
        self.bot = _bot_user(token)
        self.store = Store(folder / FILE_NAME)
        self.chats = Chats(self.store, self.bot)
        self.files = Files(self.store)
        self.updates = Updates(self.store)
        self.limiter = FloodLimiter(limits)
        self.listeners = Listeners()
        self.closing = asyncio.Event()
        self._typing_until: dict[int, float] = {}
        self.chats.on_change(self._tell_page)

    def now(self) -> int:
        """Person time in whole Unix seconds."""
        return int(self.clock.now().timestamp())

    def reachable_chat(self, chat_id: int | None) -> Chat:
        """The chat, if the bot may write there.

        Raises:
            Refusal: 400 for an unknown chat, 403 for one that is closed to the bot.
        """
        chat = self.known_chat(chat_id)
        match chat.standing:
            case Standing.BLOCKED:
                raise forbidden("bot was blocked by the user")
            case Standing.DEACTIVATED:
                raise forbidden("user is deactivated")
            case Standing.KICKED:
                raise forbidden("bot was kicked from the group chat")
            case Standing.LEFT:
                raise forbidden("bot is not a member of the group chat")
            case Standing.OPEN:
                pass
        if not chat.started:
            raise forbidden("bot can't initiate conversation with a user")
        return chat

    def known_chat(self, chat_id: int | None) -> Chat:
        """The chat, whatever its standing.

        Raises:
            Refusal: 400 for no or an unknown chat.
        """
        if chat_id is None:
            raise bad_request("chat_id is empty")
        chat = self.chats.find(chat_id)
        if chat is None:
            raise bad_request("chat not found")
        return chat

    def show_typing(self, chat: int) -> None:
        """The bot is busy there for the next seconds."""
        self._typing_until[chat] = monotonic() + TYPING_SECONDS
        self.listeners.tell("typing", chat=chat, typing=True)

    def is_typing(self, chat: int) -> bool:
        """Whether the chat shows that the bot is busy."""
        return self._typing_until.get(chat, 0.0) > monotonic()

    def set_reply_keyboard(self, chat: int, keyboard: Json | None) -> None:
        """Put a keyboard under the text field, or with None take it away."""
        self.chats.set_reply_keyboard(chat, keyboard)
        self.store.after_commit(
            lambda: self.listeners.tell(
                "keyboard", chat=chat, reply_keyboard=keyboard_view(keyboard)
            )
        )

    def close(self) -> None:
        """End every wait; the file is closed when all answers are out."""
        self.closing.set()
        self.updates.close()
        self.listeners.close()

    def _tell_page(self, what: str, message: Message) -> None:
        if what == "message" and message.from_bot:
            self._typing_until.pop(message.chat, None)
        self.listeners.tell(what, chat=message.chat, message=message_view(message))


def _bot_user(token: str) -> Json:
    number = token.partition(":")[0]
    return {
        "id": int(number) if number.isascii() and number.isdigit() else 1_000_001,
        "is_bot": True,
        "first_name": "Cuffbell",
        "username": "cuffbell_local_bot",
    }
