"""The text or caption of a call, with its entities, within the platform's limits.

Limits are UTF-16 code units after the tags are taken out: 4,096 for a text and 1,024 for
a caption.
"""

from __future__ import annotations

from typing import Any, Final

from bot.localchat.entities import Entity, parse_html, tidied, utf16_length
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import bad_request

MOST_TEXT: Final = 4_096
MOST_CAPTION: Final = 1_024


def read_text(parameters: Parameters) -> dict[str, Any]:
    """`text` and `entities` of a message.

    Raises:
        Refusal: 400 for an empty or too long text, or broken formatting.
    """
    text, entities = _formatted(parameters, "text", "entities")
    if not text:
        raise bad_request("message text is empty")
    if utf16_length(text) > MOST_TEXT:
        raise bad_request("message is too long")
    return {"text": text, "entities": list(entities)} if entities else {"text": text}


def read_caption(parameters: Parameters) -> dict[str, Any]:
    """`caption` and `caption_entities`; nothing for an empty caption.

    Raises:
        Refusal: 400 for a too long caption or broken formatting.
    """
    caption, entities = _formatted(parameters, "caption", "caption_entities")
    if utf16_length(caption) > MOST_CAPTION:
        raise bad_request("message caption is too long")
    if not caption:
        return {}
    shown: dict[str, Any] = {"caption": caption}
    return shown | {"caption_entities": list(entities)} if entities else shown


def _formatted(
    parameters: Parameters, name: str, entities_name: str
) -> tuple[str, tuple[Entity, ...]]:
    source = parameters.text(name) or ""
    mode = (parameters.text("parse_mode") or "").lower()
    if mode == "html":
        return tidied(*parse_html(source))
    if mode:
        raise bad_request("unsupported parse_mode")
    given = parameters.json(entities_name) or []
    if not isinstance(given, list) or not all(_is_entity(entity) for entity in given):
        raise bad_request("can't parse entities: expected an Array of MessageEntity")
    kept = tuple(entity for entity in given if entity["type"] != "bot_command")
    return tidied(source, kept)


def _is_entity(entity: Any) -> bool:
    return (
        isinstance(entity, dict)
        and isinstance(entity.get("type"), str)
        and isinstance(entity.get("offset"), int)
        and isinstance(entity.get("length"), int)
    )
