"""getUpdates, setWebhook, deleteWebhook, getWebhookInfo, answerCallbackQuery, getFile."""

from __future__ import annotations

import re
from time import time
from typing import Any, Final
from urllib.parse import urlsplit

from bot.localchat.exchange import Exchange
from bot.localchat.files import MOST_FETCHED
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import bad_request

Json = dict[str, Any]

#: Machine seconds in which a button press can be answered (ours; the platform names none).
ANSWER_WITHIN: Final = 60.0
_MOST_ANSWER: Final = 200
_LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})
_SECRET: Final = re.compile(r"[A-Za-z0-9_-]{1,256}")


async def get_updates(exchange: Exchange, parameters: Parameters) -> list[Json]:
    """What waits from the offset on; confirms everything below it."""
    _allow(exchange, parameters)
    return await exchange.updates.fetch(
        parameters.integer("offset") or 0,
        parameters.integer("limit") or 100,
        parameters.number("timeout") or 0.0,
    )


async def set_webhook(exchange: Exchange, parameters: Parameters) -> bool:
    """Have updates posted to a loopback address; an empty one means no more."""
    url = parameters.text("url") or ""
    if not url:
        return await delete_webhook(exchange, parameters)
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or parts.hostname not in _LOOPBACK:
        raise bad_request("bad webhook: the local chat delivers to loopback addresses only")
    secret = parameters.text("secret_token")
    if secret and not _SECRET.fullmatch(secret):
        raise bad_request("secret token contains unallowed characters")
    _allow(exchange, parameters)
    if parameters.flag("drop_pending_updates"):
        exchange.updates.drop_all()
    most = parameters.integer("max_connections") or 40
    exchange.updates.set_webhook({"url": url, "secret": secret, "max_connections": most})
    return True


async def delete_webhook(exchange: Exchange, parameters: Parameters) -> bool:
    """Go back to getUpdates."""
    if parameters.flag("drop_pending_updates"):
        exchange.updates.drop_all()
    if exchange.updates.webhook is not None:
        exchange.updates.set_webhook(None)
    return True


async def get_webhook_info(exchange: Exchange, parameters: Parameters) -> Json:
    """Where updates go, how many wait, and the last thing that went wrong."""
    webhook = exchange.updates.webhook or {}
    info: Json = {
        "url": webhook.get("url", ""),
        "has_custom_certificate": False,
        "pending_update_count": exchange.updates.pending_count(),
    }
    for name in ("max_connections", "last_error_date", "last_error_message"):
        if name in webhook:
            info[name] = webhook[name]
    if exchange.updates.allowed():
        info["allowed_updates"] = list(exchange.updates.allowed())
    return info


async def answer_callback_query(exchange: Exchange, parameters: Parameters) -> bool:
    """Stop the waiting sign on a pressed button, with or without a short notice."""
    key = parameters.text("callback_query_id") or ""
    text = parameters.text("text") or ""
    if len(text) > _MOST_ANSWER:
        raise bad_request("MESSAGE_TOO_LONG")
    with exchange.store.transaction():
        pressed = exchange.store.row("SELECT * FROM callback WHERE id = ?", (key,))
        if pressed is None or time() - pressed["pressed_at"] > ANSWER_WITHIN:
            raise bad_request(
                "query is too old and response timeout expired or query ID is invalid"
            )
        exchange.store.execute("DELETE FROM callback WHERE id = ?", (key,))
    if text:
        chat, alert = int(pressed["chat"]), parameters.flag("show_alert")
        exchange.listeners.tell("notice", chat=chat, text=text, alert=alert)
    return True


async def get_file(exchange: Exchange, parameters: Parameters) -> Json:
    """The path under which a file can be fetched."""
    file = exchange.files.by_id(parameters.text("file_id") or "")
    if file is None:
        raise bad_request("invalid file_id")
    if file.size > MOST_FETCHED:
        raise bad_request("file is too big")
    return file.api()


def _allow(exchange: Exchange, parameters: Parameters) -> None:
    kinds = parameters.json("allowed_updates")
    if kinds is None:
        return
    if not isinstance(kinds, list) or not all(isinstance(kind, str) for kind in kinds):
        raise bad_request("can't parse allowed updates JSON object")
    if list(exchange.updates.allowed()) != kinds:
        exchange.updates.allow(kinds)
