"""Turns what the domain wants said into finished messages: words, buttons with tokens.

A text longer than the platform takes is split at the ends of paragraphs; buttons and
keyboards go with the last piece. Lengths are counted as the platform counts them: in
UTF-16 units of the text without marks.
"""

from __future__ import annotations

import html as escaping
import logging
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bot.wording.catalogue import MissingWordsError, Wording, wording
from domain.events import Action
from domain.messages import Line
from domain.outcome import Button, Outgoing
from storage.fresh import button_token
from storage.messages import Lane, ReadyMessage, ShownButton, ShownKeyboard

log = logging.getLogger(__name__)

#: The platform's limits, in UTF-16 units.
LONGEST_TEXT: Final = 4096
LONGEST_CAPTION: Final = 1024

_MARK = re.compile(r"<(/?)([a-z]+)[^<>]*>")
_PARAGRAPH: Final = "\n\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """Finished messages in order, and what the tokens of their buttons stand for."""

    messages: tuple[ReadyMessage, ...]
    actions: Mapping[str, Action]


def render(outgoing: Outgoing) -> Rendered:
    """The message in its language; empty when there is nothing to say and nothing to attach."""
    words = wording(outgoing.language)
    actions: dict[str, Action] = {}
    buttons = tuple(
        tuple(_button(button, words, actions) for button in row) for row in outgoing.buttons
    )
    first = LONGEST_TEXT if outgoing.attachment is None else LONGEST_CAPTION
    pieces = list(split(_paragraphs(outgoing.lines, words), first, LONGEST_TEXT))
    if not pieces and outgoing.attachment is None:
        return Rendered(messages=(), actions={})
    bare = ReadyMessage(
        chat=outgoing.chat,
        rank=outgoing.rank,
        # What follows a caption waits behind it, in the same lane.
        lane=Lane.TEXT if outgoing.attachment is None else Lane.FILE,
        language=outgoing.language,
        about=outgoing.about,
        to=outgoing.to,
    )
    messages = [replace(bare, html=piece, plain=plain(piece)) for piece in pieces or [""]]
    messages[0] = replace(messages[0], attachment=outgoing.attachment)
    messages[-1] = replace(messages[-1], buttons=buttons, keyboard=_keyboard(outgoing, words))
    return Rendered(messages=tuple(messages), actions=actions)


def split(paragraphs: Sequence[str], first: int, longest: int) -> Iterator[str]:
    """The paragraphs (HTML) put together into as few pieces as fit the limits, in order."""
    piece, limit = "", first
    for paragraph in _short_enough(paragraphs, min(first, longest)):
        joined = f"{piece}{_PARAGRAPH}{paragraph}" if piece else paragraph
        if length(joined) <= limit:
            piece = joined
            continue
        yield piece
        piece, limit = paragraph, longest
    if piece:
        yield piece


def plain(html: str) -> str:
    """The text without marks, as it is read."""
    return escaping.unescape(_MARK.sub("", html))


def length(html: str) -> int:
    """How long the platform says that a text is."""
    return len(plain(html).encode("utf-16-le", "surrogatepass")) // 2


def _paragraphs(lines: Sequence[Line], words: Wording) -> list[str]:
    found: list[str] = []
    for line in lines:
        text = _worded(line, words)
        parts = text.split(_PARAGRAPH)
        # A mark that spans two paragraphs keeps them together.
        found.extend(parts if all(_balanced(part) for part in parts) else [text])
    return [paragraph for paragraph in found if paragraph.strip()]


def _worded(line: Line, words: Wording) -> str:
    try:
        return words.html(line)
    except (MissingWordsError, LookupError, ValueError):
        # Tests walk all keys. Should one slip through, the rest of the message goes out:
        # an alarm that lacks a sentence is better than no alarm.
        log.exception("wording failed", extra={"action": "render", "key": line.key})
        return ""


def _short_enough(paragraphs: Sequence[str], longest: int) -> Iterator[str]:
    for paragraph in paragraphs:
        if length(paragraph) <= longest:
            yield paragraph
        else:
            yield from _cut(plain(paragraph), longest)


def _cut(text: str, longest: int) -> Iterator[str]:
    """One very long paragraph, cut between words where there are some; marks are lost."""
    piece = ""
    for word in re.split(r"(?<=\s)", text):
        rest = word
        while length(escaping.escape(rest, quote=False)) > longest:
            # Half the limit in characters always fits, whatever they are.
            if piece.strip():
                yield escaping.escape(piece.strip(), quote=False)
            piece = ""
            yield escaping.escape(rest[: longest // 2], quote=False)
            rest = rest[longest // 2 :]
        if length(escaping.escape(piece + rest, quote=False)) > longest:
            yield escaping.escape(piece.strip(), quote=False)
            piece = ""
        piece += rest
    if piece.strip():
        yield escaping.escape(piece.strip(), quote=False)


def _balanced(part: str) -> bool:
    open_marks: list[str] = []
    for closing, name in _MARK.findall(part):
        if not closing:
            open_marks.append(name)
        elif not open_marks or open_marks.pop() != name:
            return False
    return not open_marks


def _button(button: Button, words: Wording, actions: dict[str, Action]) -> ShownButton:
    token = button_token()
    actions[token] = button.action
    return ShownButton(label=plain(_worded(button.label, words)) or button.label.key, token=token)


def _keyboard(outgoing: Outgoing, words: Wording) -> ShownKeyboard | None:
    keyboard = outgoing.keyboard
    if keyboard is None:
        return None
    return ShownKeyboard(
        keys=tuple(plain(_worded(key, words)) for key in keyboard.keys),
        locate=None if keyboard.locate is None else plain(_worded(keyboard.locate, words)),
        remove=keyboard.remove,
    )
