"""editMessageText, editMessageCaption, editMessageReplyMarkup, deleteMessage.

As on the platform, an edit without reply_markup takes the buttons away, and an edit that
changes nothing is refused.
"""

from __future__ import annotations

from typing import Any, Final

from bot.localchat.chats import Message
from bot.localchat.exchange import Exchange
from bot.localchat.formatting import read_caption, read_text
from bot.localchat.markups import read_markup
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import bad_request

Json = dict[str, Any]

#: Seconds of person time after which a bot may no longer delete a message.
_DELETE_WITHIN: Final = 48 * 3600
_BUTTONS: Final = "reply_markup"


async def edit_message_text(exchange: Exchange, parameters: Parameters) -> Json:
    """Replace the text of one of the bot's messages."""
    text = read_text(parameters)
    message = _own_message(exchange, parameters)
    if "text" not in message.content:
        raise bad_request("there is no text in the message to edit")
    return _apply(exchange, parameters, message, text)


async def edit_message_caption(exchange: Exchange, parameters: Parameters) -> Json:
    """Replace the words below one of the bot's pictures or files."""
    caption = read_caption(parameters)
    message = _own_message(exchange, parameters)
    if "text" in message.content:
        raise bad_request("there is no caption in the message to edit")
    kept = {k: v for k, v in message.content.items() if k in ("photo", "document")}
    return _apply(exchange, parameters, message, kept | caption)


async def edit_message_reply_markup(exchange: Exchange, parameters: Parameters) -> Json:
    """Replace or take away the buttons of one of the bot's messages."""
    message = _own_message(exchange, parameters)
    kept = {k: v for k, v in message.content.items() if k != _BUTTONS}
    return _apply(exchange, parameters, message, kept)


async def delete_message(exchange: Exchange, parameters: Parameters) -> bool:
    """Delete a message of the last 48 hours, whoever wrote it (in a private chat)."""
    chat = exchange.known_chat(parameters.integer("chat_id"))
    key = parameters.integer("message_id")
    message = None if key is None else exchange.chats.message(chat.id, key)
    if message is None or message.deleted:
        raise bad_request("message to delete not found")
    too_old = exchange.now() - message.date >= _DELETE_WITHIN
    if too_old or (chat.is_group and not message.from_bot):
        raise bad_request("message can't be deleted for everyone")
    exchange.chats.delete(message)
    return True


def _own_message(exchange: Exchange, parameters: Parameters) -> Message:
    if parameters.text("inline_message_id"):
        raise bad_request("MESSAGE_ID_INVALID")
    chat = exchange.reachable_chat(parameters.integer("chat_id"))
    key = parameters.integer("message_id")
    if key is None:
        raise bad_request("message identifier is not specified")
    message = exchange.chats.message(chat.id, key)
    if message is None or message.deleted:
        raise bad_request("message to edit not found")
    if not message.from_bot:
        raise bad_request("message can't be edited")
    return message


def _apply(exchange: Exchange, parameters: Parameters, message: Message, content: Json) -> Json:
    markup = read_markup(parameters, inline_only=True)
    if markup.inline is not None:
        content = content | {_BUTTONS: markup.inline}
    if content == message.content:
        raise bad_request(
            "message is not modified: specified new message content and reply markup are "
            "exactly the same as a current content and reply markup of the message"
        )
    chat = exchange.chats.chat(message.chat)
    exchange.limiter.admit(chat.id, group=chat.is_group)
    only_buttons = _without_buttons(content) == _without_buttons(message.content)
    edited = None if only_buttons else exchange.now()
    return exchange.chats.api(exchange.chats.rewrite(message, content, edited))


def _without_buttons(content: Json) -> Json:
    return {name: value for name, value in content.items() if name != _BUTTONS}
