"""What people do in the chats, and the updates that the bot gets of it.

Used by the chat page (`pages.py`) and by tests. Everything here is written and queued in
one transaction. Dates are person time; how old a press is counts in machine time.
"""

from __future__ import annotations

import secrets
from time import time
from typing import Any, Final

from bot.localchat.chats import Chat, Message, Standing
from bot.localchat.entities import command_entities, utf16_length
from bot.localchat.exchange import Exchange
from bot.localchat.files import MOST_UPLOADED, Upload, is_photo
from bot.localchat.formatting import MOST_CAPTION, MOST_TEXT

Json = dict[str, Any]

_STICKER: Final = Upload(
    name="sticker.webp", content=b"RIFF\x04\x00\x00\x00WEBP", mime="image/webp"
)
_VOICE: Final = Upload(name="voice.oga", content=b"OggS", mime="audio/ogg")


class NotPossibleError(Exception):
    """A person cannot do this now. The text says why, for the one who tried."""


class People:
    """The people's hands."""

    def __init__(self, exchange: Exchange) -> None:
        self._exchange = exchange

    def say(
        self,
        chat_id: int,
        text: str,
        *,
        reply_to: int | None = None,
        author: int | None = None,
        forwarded_from: str | None = None,
    ) -> tuple[int, ...]:
        """Send a text; one that is too long goes out in parts, as chat programs do it.

        Returns:
            The ids of the new messages, at least one.
        """
        chat = self._open_chat(chat_id)
        text = _clean(text)
        if not text:
            raise NotPossibleError("There is nothing to send.")
        if reply_to is not None and self._exchange.chats.message(chat_id, reply_to) is None:
            raise NotPossibleError("The message to reply to is not in this chat.")
        extra = {} if forwarded_from is None else self._forwarded(forwarded_from)
        with self._exchange.store.transaction():
            self._notice_taps(chat, text)
            return tuple(
                self._send(chat, _with_commands("text", part) | extra, reply_to, author)
                for part in _parts(text)
            )

    def edit(self, chat_id: int, message_id: int, text: str) -> None:
        """Change the words of one of the person's own messages, however old it is."""
        exchange = self._exchange
        chat = self._open_chat(chat_id)
        message = self._message(chat, message_id)
        if message.from_bot:
            raise NotPossibleError("Only your own messages can be changed.")
        name, most = ("text", MOST_TEXT) if "text" in message.content else ("caption", MOST_CAPTION)
        text = _clean(text)
        if not text or utf16_length(text) > most:
            raise NotPossibleError(f"The text must have 1 to {most} characters.")
        if text == message.text:
            return
        words = ("text", "entities", "caption", "caption_entities")
        kept = {key: value for key, value in message.content.items() if key not in words}
        with exchange.store.transaction():
            content = kept | _with_commands(name, text)
            changed = exchange.chats.rewrite(message, content, exchange.now())
            exchange.updates.add("edited_message", exchange.chats.api(changed))

    def press(
        self,
        chat_id: int,
        message_id: int,
        data: str,
        *,
        author: int | None = None,
        stale: bool = False,
    ) -> str:
        """Press a button below a message of the bot.

        `stale` presses also what is no longer there, as a second phone does that has not
        heard of the change yet.

        Returns:
            The id of the callback query.
        """
        exchange = self._exchange
        chat = self._open_chat(chat_id)
        message = exchange.chats.message(chat_id, message_id)
        if message is None:
            raise NotPossibleError("There is no such message in this chat.")
        if not stale and (message.deleted or data not in button_data(message)):
            raise NotPossibleError("The button is no longer there.")
        key = str(secrets.randbits(62))
        with exchange.store.transaction():
            exchange.store.insert("INSERT INTO callback VALUES (?, ?, ?)", (key, chat.id, time()))
            exchange.updates.add(
                "callback_query",
                {
                    "id": key,
                    "from": exchange.chats.chat(self._author(chat, author)).user(),
                    "message": exchange.chats.api(message),
                    "chat_instance": str(abs(chat.id)),
                    "data": data,
                },
            )
        return key

    def send_file(self, chat_id: int, upload: Upload, caption: str = "") -> int:
        """Send a picture (PNG or JPEG: as a photo) or any other file (as a document)."""
        chat = self._open_chat(chat_id)
        caption = _clean(caption)
        if utf16_length(caption) > MOST_CAPTION:
            raise NotPossibleError(f"The caption must have at most {MOST_CAPTION} characters.")
        if not 0 < len(upload.content) <= MOST_UPLOADED:
            raise NotPossibleError("The file must not be empty, nor larger than 50 MB.")
        kind = "photo" if is_photo(upload.content) else "document"
        with self._exchange.store.transaction():
            file = self._exchange.files.keep(kind, upload)
            content: Json = {kind: file.as_photo() if kind == "photo" else file.as_document()}
            return self._send(chat, content | _with_commands("caption", caption))

    def send_sticker(self, chat_id: int) -> int:
        """Send a sticker."""
        chat = self._open_chat(chat_id)
        with self._exchange.store.transaction():
            file = self._exchange.files.keep("sticker", _STICKER)
            shape = {"type": "regular", "width": 512, "height": 512, "emoji": "👍"}
            still = {"is_animated": False, "is_video": False}
            ids = {"file_id": file.id, "file_unique_id": file.unique_id}
            return self._send(chat, {"sticker": ids | shape | still})

    def send_voice(self, chat_id: int) -> int:
        """Send a voice note of three seconds."""
        chat = self._open_chat(chat_id)
        with self._exchange.store.transaction():
            file = self._exchange.files.keep("voice", _VOICE)
            ids = {"file_id": file.id, "file_unique_id": file.unique_id, "file_size": file.size}
            return self._send(chat, {"voice": ids | {"duration": 3, "mime_type": file.mime}})

    def send_location(self, chat_id: int, latitude: float, longitude: float) -> int:
        """Share a place, in degrees."""
        if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
            raise NotPossibleError("Latitude is -90 to 90 and longitude -180 to 180 degrees.")
        chat = self._open_chat(chat_id)
        with self._exchange.store.transaction():
            self._hide_one_time(chat)
            return self._send(chat, {"location": {"latitude": latitude, "longitude": longitude}})

    def send_contact(self, chat_id: int, phone_number: str) -> int:
        """Share the person's own phone number."""
        chat = self._open_chat(chat_id)
        user = chat.user()
        contact = {
            "phone_number": phone_number,
            "first_name": user["first_name"],
            "user_id": chat.id,
        }
        with self._exchange.store.transaction():
            self._hide_one_time(chat)
            return self._send(chat, {"contact": contact})

    def block(self, chat_id: int, blocked: bool) -> None:
        """Block the bot, or let it write again."""
        exchange = self._exchange
        chat = exchange.chats.chat(chat_id)
        before = chat.standing is Standing.BLOCKED
        if chat.is_group or chat.standing is Standing.DEACTIVATED or before == blocked:
            return
        with exchange.store.transaction():
            exchange.chats.set_standing(chat_id, Standing.BLOCKED if blocked else Standing.OPEN)
            old, new = ("member", "kicked") if blocked else ("kicked", "member")
            membership_changed(exchange, chat, chat.user(), old, new)

    def deactivate(self, chat_id: int) -> None:
        """The person's account is gone; the bot is told only when it writes."""
        self._exchange.chats.set_standing(chat_id, Standing.DEACTIVATED)

    def create_group(self, title: str, members: tuple[int, ...]) -> int:
        """A new group of these people, to which the first of them adds the bot."""
        exchange = self._exchange
        with exchange.store.transaction():
            chat = exchange.chats.add_group(title, members)
            adder = exchange.chats.chat(members[0]).user()
            membership_changed(exchange, chat, adder, "left", "member")
            self._send(chat, {"new_chat_members": [exchange.bot]})
        return chat.id

    def kick(self, group: int) -> None:
        """The first member removes the bot from the group."""
        exchange = self._exchange
        chat = exchange.chats.chat(group)
        with exchange.store.transaction():
            exchange.chats.set_standing(group, Standing.KICKED)
            remover = exchange.chats.chat(chat.members[0]).user()
            membership_changed(exchange, chat, remover, "member", "kicked")

    def _open_chat(self, chat_id: int) -> Chat:
        chat = self._exchange.chats.find(chat_id)
        if chat is None:
            raise NotPossibleError("There is no such chat.")
        if chat.standing is Standing.BLOCKED:
            raise NotPossibleError("The bot is blocked. Unblock it first.")
        if chat.standing is Standing.DEACTIVATED:
            raise NotPossibleError("The account is deactivated.")
        return chat

    def _message(self, chat: Chat, message_id: int) -> Message:
        message = self._exchange.chats.message(chat.id, message_id)
        if message is None or message.deleted:
            raise NotPossibleError("There is no such message in this chat.")
        return message

    def _author(self, chat: Chat, author: int | None) -> int:
        if not chat.is_group:
            return chat.id
        chosen = chat.members[0] if author is None else author
        if chosen not in chat.members:
            raise NotPossibleError("Only members of the group can write in it.")
        return chosen

    def _send(
        self, chat: Chat, content: Json, reply_to: int | None = None, author: int | None = None
    ) -> int:
        exchange = self._exchange
        sender = self._author(chat, author)
        if not chat.started:
            exchange.chats.set_started(chat.id)
        message = exchange.chats.write(chat.id, sender, exchange.now(), content, reply_to)
        if chat.standing is Standing.OPEN:
            exchange.updates.add("message", exchange.chats.api(message))
        return message.id

    def _notice_taps(self, chat: Chat, text: str) -> None:
        if text == chat.invitation:
            self._exchange.chats.use_invitation(chat.id)
            self._exchange.store.after_commit(lambda: self._exchange.listeners.tell("chats"))
        rows = (chat.reply_keyboard or {}).get("keyboard", [])
        if any(button["text"] == text for row in rows for button in row):
            self._hide_one_time(chat)

    def _hide_one_time(self, chat: Chat) -> None:
        if (chat.reply_keyboard or {}).get("one_time_keyboard"):
            self._exchange.set_reply_keyboard(chat.id, None)

    def _forwarded(self, name: str) -> Json:
        origin = {"type": "hidden_user", "date": self._exchange.now(), "sender_user_name": name}
        return {"forward_origin": origin}


def membership_changed(exchange: Exchange, chat: Chat, actor: Json, old: str, new: str) -> None:
    """Queue that the bot's place in a chat has changed, and tell the pages."""
    exchange.updates.add(
        "my_chat_member",
        {
            "chat": chat.api(),
            "from": actor,
            "date": exchange.now(),
            "old_chat_member": _member(exchange, old),
            "new_chat_member": _member(exchange, new),
        },
    )
    exchange.store.after_commit(lambda: exchange.listeners.tell("chats"))


def button_data(message: Message) -> tuple[str, ...]:
    """The callback data of the buttons below a message."""
    rows = message.content.get("reply_markup", {}).get("inline_keyboard", [])
    return tuple(b["callback_data"] for row in rows for b in row if "callback_data" in b)


def _member(exchange: Exchange, status: str) -> Json:
    member: Json = {"status": status, "user": exchange.bot}
    return member | {"until_date": 0} if status == "kicked" else member


def _with_commands(name: str, text: str) -> Json:
    if not text:
        return {}
    entities = list(command_entities(text))
    entities_name = "entities" if name == "text" else "caption_entities"
    return {name: text} | ({entities_name: entities} if entities else {})


def _clean(text: str) -> str:
    """Without white space at the ends, and without the half characters JSON can carry."""
    return text.encode(errors="replace").decode().strip()


def _parts(text: str) -> list[str]:
    """The text in pieces of at most `MOST_TEXT` UTF-16 code units, no character cut in two."""
    parts, start, size = [], 0, 0
    for position, character in enumerate(text):
        width = utf16_length(character)
        if size + width > MOST_TEXT:
            parts.append(text[start:position])
            start, size = position, 0
        size += width
    return [*parts, text[start:]]
