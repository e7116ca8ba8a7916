"""One message of the outbox as one call of the Bot API, and what its answer means.

Nothing is retried here except an alarm that the platform refuses in its full shape: it
goes once more as plain text without buttons, because an alarm that looks plain is better
than one that never comes. When to try again is the business of `bot/delivery.py`.
"""

from __future__ import annotations

import asyncio
import logging
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from telegram import (
    Bot,
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    KeyboardButton,
    LinkPreviewOptions,
    Message,
    ReplyKeyboardMarkup,
    ReplyKeyboardRemove,
)
from telegram.constants import ParseMode
from telegram.error import BadRequest, ChatMigrated, Forbidden, RetryAfter, TelegramError

from domain.events import DeliveryProblem
from domain.outcome import Rank
from storage.messages import ReadyMessage, ShownKeyboard

log = logging.getLogger(__name__)

#: After these many seconds without an answer a send counts as failed. Leases last longer.
TEXT_SECONDS: Final = 10.0
FILE_SECONDS: Final = 60.0

# The platform answers 400 and not 403 for somebody who never opened the chat.
_UNKNOWN_CHAT: Final = ("chat not found", "user not found", "peer_id_invalid")

_Markup = InlineKeyboardMarkup | ReplyKeyboardMarkup | ReplyKeyboardRemove | None


@dataclass(frozen=True, slots=True)
class MadeFile:
    """An attachment, ready for the platform. A picture is shown, anything else is a document.

    `caption` is HTML of at most 1,024 characters after marks; it comes behind the message's
    own text.
    """

    content: bytes
    name: str
    caption: str
    is_picture: bool


@dataclass(frozen=True, slots=True)
class Taken:
    """The platform took it; its number of the message, None when it has none."""

    message: int | None


@dataclass(frozen=True, slots=True)
class TryLater:
    """It may succeed later. `seconds` is what the platform asks for, None when it says nothing."""

    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Failed:
    """It will never succeed."""

    problem: DeliveryProblem


Answer = Taken | TryLater | Failed


async def send(bot: Bot, message: ReadyMessage, file: MadeFile | None) -> Answer:
    """Send the message; what the platform made of it. Never raises an error of the network."""
    try:
        return Taken(await _in_time(bot, message, file))
    except (TelegramError, TimeoutError) as error:
        answer = meaning(error)
    refused = isinstance(answer, Failed) and answer.problem is DeliveryProblem.REFUSED
    if not refused or message.rank is not Rank.ALARM or message.leave:
        return answer
    log.warning("alarm refused as it was, sent again plain", extra={"action": "deliver"})
    try:
        return Taken(await _plain(bot, message))
    except (TelegramError, TimeoutError) as error:
        return meaning(error)


def meaning(error: TelegramError | TimeoutError) -> Answer:
    """What an error of the platform or of the way to it means for the message."""
    match error:
        case RetryAfter():
            return TryLater(seconds_of(error))
        case Forbidden():
            return Failed(DeliveryProblem.BLOCKED)
        case ChatMigrated():
            return Failed(DeliveryProblem.REFUSED)
        case BadRequest():
            text = error.message.casefold()
            unknown = any(part in text for part in _UNKNOWN_CHAT)
            return Failed(DeliveryProblem.BLOCKED if unknown else DeliveryProblem.REFUSED)
        case _:
            # Time-outs, 5xx, a broken answer, a token that is refused for now.
            return TryLater()


def seconds_of(error: RetryAfter) -> float:
    """How long the platform asks to wait. Needs the library's way of giving spans of time."""
    asked = error.retry_after
    return asked.total_seconds() if isinstance(asked, timedelta) else float(asked)


async def _in_time(bot: Bot, message: ReadyMessage, file: MadeFile | None) -> int | None:
    async with asyncio.timeout(FILE_SECONDS if file else TEXT_SECONDS):
        if message.leave:
            await _leave(bot, message)
            return None
        sent = await (_text(bot, message) if file is None else _file(bot, message, file))
        return sent.message_id


async def _leave(bot: Bot, message: ReadyMessage) -> None:
    try:
        await bot.leave_chat(message.chat)
    except (Forbidden, BadRequest):
        # Thrown out already, or the group is gone: that is what was wanted.
        log.info("group was left already", extra={"action": "leave"})


async def _text(bot: Bot, message: ReadyMessage) -> Message:
    return await bot.send_message(
        message.chat,
        message.html,
        parse_mode=ParseMode.HTML,
        reply_markup=_markup(message),
        link_preview_options=LinkPreviewOptions(is_disabled=True),
        read_timeout=TEXT_SECONDS,
    )


async def _plain(bot: Bot, message: ReadyMessage) -> int:
    async with asyncio.timeout(TEXT_SECONDS):
        sent = await bot.send_message(message.chat, message.plain, read_timeout=TEXT_SECONDS)
        return sent.message_id


async def _file(bot: Bot, message: ReadyMessage, file: MadeFile) -> Message:
    caption = "\n\n".join(text for text in (message.html, file.caption) if text)
    if file.is_picture:
        return await bot.send_photo(
            message.chat,
            file.content,
            caption=caption,
            parse_mode=ParseMode.HTML,
            reply_markup=_markup(message),
            filename=file.name,
            read_timeout=FILE_SECONDS,
        )
    return await bot.send_document(
        message.chat,
        file.content,
        caption=caption,
        parse_mode=ParseMode.HTML,
        reply_markup=_markup(message),
        filename=file.name,
        read_timeout=FILE_SECONDS,
    )


def _markup(message: ReadyMessage) -> _Markup:
    if message.buttons:
        return InlineKeyboardMarkup(
            [
                [InlineKeyboardButton(b.label, callback_data=b.token) for b in row]
                for row in message.buttons
            ]
        )
    return _keyboard(message.keyboard) if message.keyboard else None


def _keyboard(keyboard: ShownKeyboard) -> ReplyKeyboardMarkup | ReplyKeyboardRemove:
    if keyboard.remove:
        return ReplyKeyboardRemove()
    keys = [KeyboardButton(label) for label in keyboard.keys]
    if keyboard.locate is not None:
        keys.append(KeyboardButton(keyboard.locate, request_location=True))
    return ReplyKeyboardMarkup([keys], resize_keyboard=True)
