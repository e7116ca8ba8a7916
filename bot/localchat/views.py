"""Chats and messages as the chat page gets them: plain JSON, with HTML that is safe.

Dates are ISO 8601 in UTC, person time. The shapes are the page's contract; the Bot API's
own objects are made in `chats.py`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Final
from urllib.parse import quote

from bot.localchat.chats import Chat, Message, Standing
from bot.localchat.rebuilding import safe_html

Json = dict[str, Any]

_KINDS: Final = ("photo", "document", "sticker", "voice", "location", "contact")


def message_view(message: Message) -> Json:
    """One message for the page. A deleted one keeps its place and loses its content."""
    content: Json = {} if message.deleted else message.content
    text = "" if message.deleted else message.text
    entities = content.get("entities") or content.get("caption_entities") or []
    return {
        "id": message.id,
        "from": "bot" if message.from_bot else "person",
        "date": iso(message.date),
        "edited": None if message.edited is None else iso(message.edited),
        "html": safe_html(text, entities),
        "text": text,
        "photo": _photo(content),
        "document": _document(content),
        "kind": next((kind for kind in _KINDS if kind in content), "text"),
        "buttons": _buttons(content),
        "reply_to": message.reply_to,
        "deleted": message.deleted,
    }


def chat_view(
    chat: Chat, messages: tuple[Message, ...], commands: list[Json], *, typing: bool
) -> Json:
    """One pane of the page."""
    return {
        "id": chat.id,
        "name": chat.name,
        "role": chat.role,
        "zone": chat.zone,
        "language": chat.language,
        "invitation": chat.invitation,
        "blocked": chat.standing is Standing.BLOCKED,
        "typing": typing,
        "reply_keyboard": keyboard_view(chat.reply_keyboard),
        "commands": commands,
        "messages": [message_view(message) for message in messages],
    }


def keyboard_view(keyboard: Json | None) -> Json | None:
    """The keyboard under the text field, None for none."""
    if keyboard is None:
        return None
    return {
        "rows": [
            [
                {
                    "text": button["text"],
                    "request_location": bool(button.get("request_location")),
                    "request_contact": bool(button.get("request_contact")),
                }
                for button in row
            ]
            for row in keyboard["keyboard"]
        ],
        "one_time": bool(keyboard.get("one_time_keyboard")),
        "placeholder": keyboard.get("input_field_placeholder"),
    }


def iso(seconds: int) -> str:
    """Unix seconds as ISO 8601 in UTC."""
    return datetime.fromtimestamp(seconds, UTC).isoformat()


def _photo(content: Json) -> Json | None:
    if "photo" not in content:
        return None
    size = content["photo"][-1]
    return {"url": _url(size["file_id"]), "width": size["width"], "height": size["height"]}


def _document(content: Json) -> Json | None:
    if "document" not in content:
        return None
    document = content["document"]
    return {
        "url": _url(document["file_id"]),
        "name": document["file_name"],
        "size": document["file_size"],
    }


def _buttons(content: Json) -> list[list[Json]]:
    rows = content.get("reply_markup", {}).get("inline_keyboard", [])
    return [
        [{"text": b["text"], "data": b.get("callback_data"), "url": b.get("url")} for b in row]
        for row in rows
    ]


def _url(file: str) -> str:
    return f"/chat/file/{quote(file)}"
