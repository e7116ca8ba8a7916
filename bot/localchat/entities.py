"""Formatted text: from the HTML that bots write to text with entities.

Offsets and lengths are counted in UTF-16 code units, as the Bot API counts them; an emoji
outside the basic plane is two. The way back, to HTML for the page: `rebuilding.py`.
Error texts: observed behaviour of the public server (from memory).
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import urlsplit

from bot.localchat.refusals import bad_request

Entity = dict[str, Any]

_TYPES: Final = {
    "b": "bold",
    "strong": "bold",
    "i": "italic",
    "em": "italic",
    "u": "underline",
    "ins": "underline",
    "s": "strikethrough",
    "strike": "strikethrough",
    "del": "strikethrough",
    "tg-spoiler": "spoiler",
    "code": "code",
    "pre": "pre",
    "blockquote": "blockquote",
    "a": "text_link",
    "span": "spoiler",
}
_TAG: Final = re.compile(r"<(/?)([a-zA-Z][a-zA-Z0-9-]*)((?:[^<>\"']|\"[^\"]*\"|'[^']*')*)>")
_ATTRIBUTE: Final = re.compile(r"([a-zA-Z-]+)(?:\s*=\s*(?:\"([^\"]*)\"|'([^']*)'|([^\s\"'>]+)))?")
_REFERENCE: Final = re.compile(r"&(?:lt|gt|amp|quot|#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6});")
_COMMAND: Final = re.compile(r"(?<![\w/])/[a-zA-Z0-9_]{1,32}(?:@[a-zA-Z0-9_]{3,32})?(?![\w/])")
#: Other schemes (tel:, javascript:) are dropped by the platform: the words stay, the link goes.
_LINK_SCHEMES: Final = frozenset({"http", "https", "ftp", "tg"})


@dataclass(slots=True)
class _Open:
    tag: str
    start: int
    attributes: dict[str, str]


@dataclass(slots=True)
class _Parsing:
    text: list[str] = field(default_factory=list)
    length: int = 0
    open: list[_Open] = field(default_factory=list)
    entities: list[Entity] = field(default_factory=list)

    def add(self, piece: str) -> None:
        self.text.append(piece)
        self.length += utf16_length(piece)


def utf16_length(text: str) -> int:
    """How many UTF-16 code units the text takes."""
    return len(text) + sum(1 for character in text if ord(character) > 0xFFFF)


def parse_html(source: str) -> tuple[str, tuple[Entity, ...]]:
    """The plain text and its entities, in order of offset, the longer first.

    Raises:
        Refusal: 400 "can't parse entities" with what is wrong and at which byte.
    """
    parsing = _Parsing()
    position = 0
    while position < len(source):
        character = source[position]
        if character == "<":
            position = _tag(source, position, parsing)
        elif character == "&":
            position = _reference(source, position, parsing)
        else:
            end = position
            while end < len(source) and source[end] not in "<&":
                end += 1
            parsing.add(source[position:end])
            position = end
    if parsing.open:
        tag = parsing.open[-1].tag
        raise _broken(f'Can\'t find end tag corresponding to start tag "{tag}"')
    return "".join(parsing.text), _ordered(parsing.entities)


def command_entities(text: str) -> tuple[Entity, ...]:
    """The commands in a text, as the platform marks them by itself."""
    return tuple(
        {
            "type": "bot_command",
            "offset": utf16_length(text[: found.start()]),
            "length": utf16_length(found.group()),
        }
        for found in _COMMAND.finditer(text)
    )


def tidied(text: str, entities: tuple[Entity, ...]) -> tuple[str, tuple[Entity, ...]]:
    """Text without white space at both ends, entities cut to fit, commands marked."""
    left = utf16_length(text) - utf16_length(text.lstrip())
    stripped = text.strip()
    most = utf16_length(stripped)
    kept: list[Entity] = []
    for entity in entities:
        start = max(0, entity["offset"] - left)
        end = min(most, entity["offset"] + entity["length"] - left)
        if end > start:
            kept.append({**entity, "offset": start, "length": end - start})
    literal = [entity for entity in kept if entity["type"] in ("code", "pre", "text_link")]
    for command in command_entities(stripped):
        if not any(_overlap(command, entity) for entity in literal):
            kept.append(command)
    return stripped, _ordered(kept)


def _tag(source: str, position: int, parsing: _Parsing) -> int:
    found = _TAG.match(source, position)
    at = len(source[:position].encode())
    if found is None:
        if source.startswith("</", position):
            raise _broken(f"Unclosed end tag at byte offset {at}")
        raise _broken(f"Unclosed start tag at byte offset {at}")
    closing, tag = found.group(1), found.group(2).lower()
    if closing:
        _close(tag, at, parsing)
        return found.end()
    attributes = {
        name.lower(): html.unescape(double or single or bare)
        for name, double, single, bare in _ATTRIBUTE.findall(found.group(3))
    }
    if tag not in _TYPES:
        raise _broken(f'Unsupported start tag "{tag}" at byte offset {at}')
    if tag == "span" and attributes.get("class") != "tg-spoiler":
        raise _broken(f'Tag "span" must have class "tg-spoiler" at byte offset {at}')
    parsing.open.append(_Open(tag, parsing.length, attributes))
    return found.end()


def _close(tag: str, at: int, parsing: _Parsing) -> None:
    if not parsing.open:
        raise _broken(f"Unexpected end tag at byte offset {at}")
    opened = parsing.open.pop()
    if opened.tag != tag:
        raise _broken(
            f'Unmatched end tag at byte offset {at}, expected "</{opened.tag}>", found "</{tag}>"'
        )
    length = parsing.length - opened.start
    if length == 0:
        return
    entity: Entity = {"type": _TYPES[tag], "offset": opened.start, "length": length}
    if tag == "a":
        url = link_target(opened.attributes.get("href", ""))
        if url is None:
            return
        entity["url"] = url
    if tag == "blockquote" and "expandable" in opened.attributes:
        entity["type"] = "expandable_blockquote"
    parsing.entities.append(entity)


def link_target(url: str) -> str | None:
    """The address if the platform would keep it as a link, else None."""
    try:
        parts = urlsplit(url if "://" in url else f"http://{url}")
    except ValueError:
        return None
    if parts.scheme.lower() not in _LINK_SCHEMES or not parts.netloc:
        return None
    host = parts.hostname or ""
    if parts.scheme.lower() != "tg" and "." not in host and host != "localhost":
        return None
    return parts.geturl()


def _reference(source: str, position: int, parsing: _Parsing) -> int:
    found = _REFERENCE.match(source, position)
    if found is None:
        parsing.add("&")  # an ampersand that begins no known reference stands for itself
        return position + 1
    parsing.add(html.unescape(found.group()))
    return found.end()


def _broken(reason: str) -> Exception:
    return bad_request(f"can't parse entities: {reason}")


def _ordered(entities: list[Entity]) -> tuple[Entity, ...]:
    return tuple(sorted(entities, key=lambda entity: (entity["offset"], -entity["length"])))


def _overlap(one: Entity, other: Entity) -> bool:
    return bool(
        one["offset"] < other["offset"] + other["length"]
        and other["offset"] < one["offset"] + one["length"]
    )
