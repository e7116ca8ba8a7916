"""From text with entities back to HTML that is safe to put into the chat page.

Everything that is not one of our own tags is escaped; newlines stay newlines. Offsets are
UTF-16 code units. Links are kept for http and https only.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from itertools import pairwise
from typing import Final

from bot.localchat.entities import Entity

_TAGS: Final = {
    "bold": ("<b>", "</b>"),
    "italic": ("<i>", "</i>"),
    "underline": ("<u>", "</u>"),
    "strikethrough": ("<s>", "</s>"),
    "spoiler": ('<span class="spoiler">', "</span>"),
    "code": ("<code>", "</code>"),
    "pre": ("<pre>", "</pre>"),
    "blockquote": ("<blockquote>", "</blockquote>"),
    "expandable_blockquote": ("<blockquote>", "</blockquote>"),
}


def safe_html(text: str, entities: Iterable[Entity]) -> str:
    """HTML with the same words; entities that overlap are closed and opened again."""
    marks = [entity for entity in entities if _tags(entity) is not None]
    units = text.encode("utf-16-le")
    size = len(units) // 2
    cuts = {0, size}
    for mark in marks:
        cuts |= {min(size, mark["offset"]), min(size, mark["offset"] + mark["length"])}
    borders = sorted(cuts)
    pieces: list[str] = []
    open_marks: list[Entity] = []
    for start, end in pairwise(borders):
        wanted = [m for m in marks if m["offset"] <= start and m["offset"] + m["length"] >= end]
        pieces.extend(_turn(open_marks, wanted))
        open_marks = wanted
        piece = units[start * 2 : end * 2].decode("utf-16-le", "replace")
        pieces.append(html.escape(piece))
    pieces.extend(_turn(open_marks, []))
    return "".join(pieces)


def _turn(before: list[Entity], after: list[Entity]) -> list[str]:
    """The tags between two pieces: what ends is closed, what begins is opened."""
    same = 0
    while same < min(len(before), len(after)) and before[same] is after[same]:
        same += 1
    closing = [(_tags(mark) or ("", ""))[1] for mark in reversed(before[same:])]
    opening = [(_tags(mark) or ("", ""))[0] for mark in after[same:]]
    return closing + opening


def _tags(entity: Entity) -> tuple[str, str] | None:
    if entity["type"] == "text_link":
        url = str(entity.get("url", ""))
        if not url.lower().startswith(("http://", "https://")):
            return None
        address = html.escape(url, quote=True)
        return f'<a href="{address}" target="_blank" rel="noopener noreferrer">', "</a>"
    return _TAGS.get(str(entity["type"]))
