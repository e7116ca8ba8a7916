"""Chats and messages as the local chat keeps them, and as the Bot API shows them.

A message's content is the Bot API's own object, without what depends on the moment of
asking (the message replied to). Ids of messages count up over all chats, as a bot sees
them. Dates are whole Unix seconds of person time. Updates about changes: `people.py`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from bot.localchat.store import Store

Json = dict[str, Any]

_FIRST_PERSON: Final = 700_000_001
_FIRST_GROUP: Final = -400_000_001


class Standing(StrEnum):
    """Whether the bot may write into a chat."""

    OPEN = "open"
    BLOCKED = "blocked"
    DEACTIVATED = "deactivated"
    LEFT = "left"
    KICKED = "kicked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chat:
    """One private chat (then `id` is also the person's id) or group (`id` is negative)."""

    id: int
    kind: str
    name: str
    role: str
    zone: str
    language: str  #: of the person's chat program, a tag such as "es"
    invitation: str | None
    started: bool
    standing: Standing
    members: tuple[int, ...]
    reply_keyboard: Json | None

    @property
    def is_group(self) -> bool:
        """True for a group, False for a private chat."""
        return self.kind == "group"

    def api(self) -> Json:
        """The chat as an object of the Bot API."""
        if self.is_group:
            return {"id": self.id, "type": "group", "title": self.name}
        return {"id": self.id, "type": "private", **_names(self.name)}

    def user(self) -> Json:
        """The person of a private chat as an object of the Bot API."""
        return {"id": self.id, "is_bot": False, **_names(self.name), "language_code": self.language}


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message. `sender` is the person's id, None for the bot."""

    id: int
    chat: int
    sender: int | None
    date: int
    edited: int | None
    reply_to: int | None
    deleted: bool
    content: Json

    @property
    def from_bot(self) -> bool:
        """True when the bot wrote it."""
        return self.sender is None

    @property
    def text(self) -> str:
        """The text, or the caption of a picture or file."""
        return str(self.content.get("text", self.content.get("caption", "")))


class Chats:
    """All chats and messages of one folder."""

    def __init__(self, store: Store, bot_user: Json) -> None:
        self._store = store
        self._bot_user = bot_user
        self._changed: list[Callable[[str, Message], None]] = []

    def on_change(self, tell: Callable[[str, Message], None]) -> None:
        """Call `tell("message" | "edited" | "deleted", message)` after each commit."""
        self._changed.append(tell)

    # Chats

    def add_person(
        self, name: str, role: str, zone: str, invitation: str | None, language: str | None
    ) -> Chat:
        """The person's private chat; the same one again for the same name.

        Role and zone are renewed. A new invitation or language replaces the old one, None
        leaves it.
        """
        with self._store.transaction():
            known = self._store.row("SELECT id, invitation FROM chat WHERE name = ?", (name,))
            if known is None:
                chat = self._next_id("MAX(id) + 1", "id > 0", _FIRST_PERSON)
                self._insert_chat(chat, "private", name, role, zone, invitation, ())
            else:
                chat = int(known["id"])
            self._store.execute(
                "UPDATE chat SET role = ?, zone = ?, language = COALESCE(?, language) WHERE id = ?",
                (role, zone, language, chat),
            )
            if known is not None and invitation is not None and invitation != known["invitation"]:
                self._store.execute(
                    "UPDATE chat SET invitation = ?, invitation_used = 0 WHERE id = ?",
                    (invitation, chat),
                )
            return self.chat(chat)

    def add_group(self, title: str, members: tuple[int, ...]) -> Chat:
        """A new group of these people, with the bot in it."""
        with self._store.transaction():
            chat = self._next_id("MIN(id) - 1", "id < 0", _FIRST_GROUP)
            self._insert_chat(chat, "group", title, "other", "UTC", None, members)
            self._store.execute("UPDATE chat SET started = 1 WHERE id = ?", (chat,))
            return self.chat(chat)

    def find(self, chat: int) -> Chat | None:
        """The chat with this id, None when there is none."""
        row = self._store.row("SELECT * FROM chat WHERE id = ?", (chat,))
        return None if row is None else _chat(row)

    def chat(self, chat: int) -> Chat:
        """The chat with this id.

        Raises:
            KeyError: there is none.
        """
        found = self.find(chat)
        if found is None:
            raise KeyError(chat)
        return found

    def all(self) -> tuple[Chat, ...]:
        """Every chat, in the order in which they were added, groups last."""
        rows = self._store.rows("SELECT * FROM chat ORDER BY id < 0, ABS(id)")
        return tuple(_chat(row) for row in rows)

    def set_standing(self, chat: int, standing: Standing) -> None:
        """Note whether the bot may write there."""
        self._store.execute("UPDATE chat SET standing = ? WHERE id = ?", (standing, chat))

    def set_started(self, chat: int) -> None:
        """Note that the person has written first, so that the bot may write."""
        self._store.execute("UPDATE chat SET started = 1 WHERE id = ?", (chat,))

    def use_invitation(self, chat: int) -> None:
        """The invitation has been sent; it is no longer offered."""
        self._store.execute("UPDATE chat SET invitation_used = 1 WHERE id = ?", (chat,))

    def set_reply_keyboard(self, chat: int, keyboard: Json | None) -> None:
        """The keyboard under the person's text field, None for none."""
        value = None if keyboard is None else json.dumps(keyboard)
        self._store.execute("UPDATE chat SET reply_keyboard = ? WHERE id = ?", (value, chat))

    # Messages

    def write(
        self, chat: int, sender: int | None, date: int, content: Json, reply_to: int | None = None
    ) -> Message:
        """Add a message."""
        with self._store.transaction():
            key = self._store.insert(
                "INSERT INTO message (id, chat, sender, date, reply_to, content) VALUES "
                "((SELECT COALESCE(MAX(id), 0) + 1 FROM message), ?, ?, ?, ?, ?)",
                (chat, sender, date, reply_to, json.dumps(content)),
            )
            return self._tell("message", chat, key)

    def rewrite(self, message: Message, content: Json, edited: int | None) -> Message:
        """Replace the content; `edited` None keeps the old date of editing."""
        with self._store.transaction():
            self._store.execute(
                "UPDATE message SET content = ?, edited = COALESCE(?, edited) WHERE id = ?",
                (json.dumps(content), edited, message.id),
            )
            return self._tell("edited", message.chat, message.id)

    def delete(self, message: Message) -> None:
        """Mark as deleted; its id is never used again."""
        with self._store.transaction():
            self._store.execute("UPDATE message SET deleted = 1 WHERE id = ?", (message.id,))
            self._tell("deleted", message.chat, message.id)

    def message(self, chat: int, key: int) -> Message | None:
        """A message by id, deleted ones too; None when that chat has none such."""
        row = self._store.row("SELECT * FROM message WHERE id = ? AND chat = ?", (key, chat))
        return None if row is None else _message(row)

    def history(self, chat: int, most: int) -> tuple[Message, ...]:
        """The last messages of a chat, oldest first, deleted ones too."""
        rows = self._store.rows(
            "SELECT * FROM message WHERE chat = ? ORDER BY id DESC LIMIT ?", (chat, most)
        )
        return tuple(_message(row) for row in reversed(rows))

    def api(self, message: Message, *, nested: bool = False) -> Json:
        """The message as an object of the Bot API, with the message it replies to."""
        chat = self.chat(message.chat)
        if message.deleted:
            return {"message_id": message.id, "chat": chat.api(), "date": 0}
        author = self._bot_user if message.sender is None else self.chat(message.sender).user()
        shown: Json = {
            "message_id": message.id,
            "from": author,
            "chat": chat.api(),
            "date": message.date,
        }
        if message.edited is not None:
            shown["edit_date"] = message.edited
        if message.reply_to is not None and not nested:
            first = self.message(message.chat, message.reply_to)
            if first is not None and not first.deleted:
                shown["reply_to_message"] = self.api(first, nested=True)
        return shown | message.content

    def _tell(self, what: str, chat: int, key: int) -> Message:
        message = self.message(chat, key)
        assert message is not None
        for tell in self._changed:
            self._store.after_commit(lambda tell=tell: tell(what, message))  # type: ignore[misc]
        return message

    def _next_id(self, expression: str, condition: str, first: int) -> int:
        query = f"SELECT {expression} AS id FROM chat WHERE {condition}"  # noqa: S608 - ours
        row = self._store.row(query)
        return first if row is None or row["id"] is None else int(row["id"])

    def _insert_chat(
        self,
        chat: int,
        kind: str,
        name: str,
        role: str,
        zone: str,
        invitation: str | None,
        members: tuple[int, ...],
    ) -> None:
        self._store.insert(
            "INSERT INTO chat (id, kind, name, role, zone, invitation, members) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (chat, kind, name, role, zone, invitation, json.dumps(members)),
        )


def _names(name: str) -> Json:
    first, _, last = name.partition(" ")
    return {"first_name": first, "last_name": last} if last else {"first_name": first}


def _chat(row: sqlite3.Row) -> Chat:
    keyboard = row["reply_keyboard"]
    return Chat(
        id=row["id"],
        kind=row["kind"],
        name=row["name"],
        role=row["role"],
        zone=row["zone"],
        language=row["language"],
        invitation=None if row["invitation_used"] else row["invitation"],
        started=bool(row["started"]),
        standing=Standing(row["standing"]),
        members=tuple(json.loads(row["members"])),
        reply_keyboard=None if keyboard is None else json.loads(keyboard),
    )


def _message(row: sqlite3.Row) -> Message:
    return Message(
        id=row["id"],
        chat=row["chat"],
        sender=row["sender"],
        date=row["date"],
        edited=row["edited"],
        reply_to=row["reply_to"],
        deleted=bool(row["deleted"]),
        content=json.loads(row["content"]),
    )
