"""sendMessage, sendPhoto, sendDocument, sendChatAction."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from bot.localchat.chats import Chat
from bot.localchat.exchange import Exchange
from bot.localchat.files import StoredFile
from bot.localchat.formatting import read_caption, read_text
from bot.localchat.markups import Markup, read_markup
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import bad_request

Json = dict[str, Any]

_ACTIONS: Final = frozenset(
    {
        "typing",
        "upload_photo",
        "record_video",
        "upload_video",
        "record_voice",
        "upload_voice",
        "upload_document",
        "choose_sticker",
        "find_location",
        "record_video_note",
        "upload_video_note",
    }
)


async def send_message(exchange: Exchange, parameters: Parameters) -> Json:
    """Write a text into a chat."""
    content = read_text(parameters)
    return _post(exchange, parameters, lambda: content)


async def send_photo(exchange: Exchange, parameters: Parameters) -> Json:
    """Send a picture: uploaded, or by the id of one that is known."""
    caption = read_caption(parameters)

    def content() -> Json:
        file = _file(exchange, parameters, "photo")
        if file.width is None:
            raise bad_request("can't use file of type Document as Photo")
        return {"photo": file.as_photo()} | caption

    return _post(exchange, parameters, content)


async def send_document(exchange: Exchange, parameters: Parameters) -> Json:
    """Send a file: uploaded, or by the id of one that is known."""
    caption = read_caption(parameters)

    def content() -> Json:
        return {"document": _file(exchange, parameters, "document").as_document()} | caption

    return _post(exchange, parameters, content)


async def send_chat_action(exchange: Exchange, parameters: Parameters) -> bool:
    """Show for a few seconds that the bot is busy."""
    chat = exchange.reachable_chat(parameters.integer("chat_id"))
    if parameters.text("action") not in _ACTIONS:
        raise bad_request("wrong parameter action in request")
    exchange.show_typing(chat.id)
    return True


def _post(exchange: Exchange, parameters: Parameters, make_content: Callable[[], Json]) -> Json:
    """Check in the platform's order, count against the flood limits, then write.

    The content is made last, so that a refused call leaves no file behind.
    """
    markup = read_markup(parameters)
    chat = exchange.reachable_chat(parameters.integer("chat_id"))
    reply_to = _reply_to(exchange, parameters, chat)
    exchange.limiter.admit(chat.id, group=chat.is_group)
    with exchange.store.transaction():
        content = make_content()
        if markup.inline is not None:
            content = content | {"reply_markup": markup.inline}
        message = exchange.chats.write(chat.id, None, exchange.now(), content, reply_to)
        _put_keyboard(exchange, chat, markup)
    return exchange.chats.api(message)


def _put_keyboard(exchange: Exchange, chat: Chat, markup: Markup) -> None:
    if markup.reply is not None:
        exchange.set_reply_keyboard(chat.id, markup.reply)
    elif markup.remove and chat.reply_keyboard is not None:
        exchange.set_reply_keyboard(chat.id, None)


def _reply_to(exchange: Exchange, parameters: Parameters, chat: Chat) -> int | None:
    given = parameters.json("reply_parameters")
    if given is None:
        key = parameters.integer("reply_to_message_id")
        lenient = parameters.flag("allow_sending_without_reply")
    elif isinstance(given, dict) and isinstance(given.get("message_id"), int):
        key = given["message_id"]
        lenient = bool(given.get("allow_sending_without_reply"))
    else:
        raise bad_request("can't parse reply parameters JSON object")
    if key is None:
        return None
    message = exchange.chats.message(chat.id, key)
    if message is not None and not message.deleted:
        return key
    if lenient:
        return None
    raise bad_request("message to be replied not found")


def _file(exchange: Exchange, parameters: Parameters, kind: str) -> StoredFile:
    upload = parameters.upload(kind)
    if upload is not None:
        return exchange.files.keep(kind, upload)
    given = parameters.text(kind)
    if not given:
        raise bad_request(f"there is no {kind} in the request")
    if given.startswith(("http://", "https://")):
        raise bad_request("failed to get HTTP URL content")
    file = exchange.files.by_id(given)
    if file is None:
        raise bad_request("wrong remote file identifier specified: Wrong character in the string")
    return file
