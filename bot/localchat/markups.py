"""Keyboards: what the platform accepts as reply_markup, and how it refuses the rest.

Limits: 64 bytes of callback data, 100 buttons, 300 reply buttons (from memory of the
platform's description). An inline keyboard belongs to its message, any other markup to
the person's text field.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from bot.localchat.entities import link_target
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import bad_request

Json = dict[str, Any]

_MOST_DATA_BYTES: Final = 64
_MOST_INLINE: Final = 100
_MOST_REPLY: Final = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Markup:
    """What one reply_markup asks for; everything None or False when there was none."""

    inline: Json | None = None
    reply: Json | None = None
    remove: bool = False


def read_markup(parameters: Parameters, *, inline_only: bool = False) -> Markup:
    """The reply_markup of a call.

    Raises:
        Refusal: 400 for anything the platform would not take.
    """
    given = parameters.json("reply_markup")
    if given is None:
        return Markup()
    if not isinstance(given, dict):
        raise bad_request("object expected as reply markup")
    if "inline_keyboard" in given:
        return Markup(inline=_inline(given["inline_keyboard"]))
    if inline_only and given:
        raise bad_request("inline keyboard expected")
    if "keyboard" in given:
        return Markup(reply=_reply(given))
    return Markup(remove=bool(given.get("remove_keyboard")))


def _inline(rows: Any) -> Json | None:
    kept = [[_inline_button(b) for b in row] for row in _rows(rows, "InlineKeyboardButton")]
    kept = [row for row in kept if row]
    if sum(len(row) for row in kept) > _MOST_INLINE:
        raise bad_request("reply markup is too long")
    return {"inline_keyboard": kept} if kept else None


def _inline_button(button: Any) -> Json:
    if not isinstance(button, dict):
        raise bad_request("can't parse inline keyboard button: expected an Object")
    text = button.get("text")
    if not isinstance(text, str) or not text.strip():
        raise bad_request('can\'t parse inline keyboard button: Field "text" must be non-empty')
    if "url" in button:
        url = str(button["url"])
        target = link_target(url)
        if target is None:
            raise bad_request(f"inline keyboard button URL '{url}' is invalid: Wrong HTTP URL")
        return {"text": text, "url": target}
    if "callback_data" in button:
        data = str(button["callback_data"])
        if not 1 <= len(data.encode()) <= _MOST_DATA_BYTES:
            raise bad_request("BUTTON_DATA_INVALID")
        return {"text": text, "callback_data": data}
    raise bad_request(
        "can't parse inline keyboard button: Text buttons are unallowed in the inline keyboard"
    )


def _reply(given: Json) -> Json:
    rows = [[_reply_button(b) for b in row] for row in _rows(given["keyboard"], "KeyboardButton")]
    rows = [row for row in rows if row]
    if not rows:
        raise bad_request("reply keyboard must be non-empty")
    if sum(len(row) for row in rows) > _MOST_REPLY:
        raise bad_request("reply markup is too long")
    return {**given, "keyboard": rows}


def _reply_button(button: Any) -> Json:
    whole = {"text": button} if isinstance(button, str) else button
    if not isinstance(whole, dict) or not str(whole.get("text", "")).strip():
        raise bad_request('can\'t parse keyboard button: Field "text" must be non-empty')
    return whole


def _rows(rows: Any, kind: str) -> list[list[Any]]:
    if not isinstance(rows, list) or not all(isinstance(row, list) for row in rows):
        raise bad_request(f"field must be an Array of Arrays of {kind}")
    return rows
