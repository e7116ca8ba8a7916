"""What the bot says about itself and asks about chats: getMe, commands, texts, getChat.

Limits of commands and texts: the platform's description (from memory).
"""

from __future__ import annotations

import json
import re
from collections.abc import Awaitable, Callable
from typing import Any, Final

from bot.localchat.chats import Chat, Standing
from bot.localchat.exchange import Exchange
from bot.localchat.parameters import Parameters
from bot.localchat.people import membership_changed
from bot.localchat.refusals import bad_request

Json = dict[str, Any]
Method = Callable[[Exchange, Parameters], Awaitable[Any]]

_COMMAND: Final = re.compile(r"[a-z0-9_]{1,32}")
_MOST_COMMANDS: Final = 100
_MOST_DESCRIPTION: Final = 256


async def get_me(exchange: Exchange, parameters: Parameters) -> Json:
    """The bot itself."""
    return exchange.bot | {
        "can_join_groups": True,
        "can_read_all_group_messages": True,
        "supports_inline_queries": False,
        "can_connect_to_business": False,
        "has_main_web_app": False,
    }


async def accept(exchange: Exchange, parameters: Parameters) -> bool:
    """Say yes to what has no effect here."""
    return True


async def set_my_commands(exchange: Exchange, parameters: Parameters) -> bool:
    """Replace the list of commands for a scope and language."""
    given = parameters.json("commands")
    if not isinstance(given, list):
        raise bad_request("can't parse commands JSON object")
    if len(given) > _MOST_COMMANDS:
        raise bad_request("BOT_COMMANDS_TOO_MUCH")
    _put_commands(exchange, parameters, [_command(command) for command in given])
    return True


async def delete_my_commands(exchange: Exchange, parameters: Parameters) -> bool:
    """Forget the list of commands for a scope and language."""
    _put_commands(exchange, parameters, [])
    return True


async def get_my_commands(exchange: Exchange, parameters: Parameters) -> list[Json]:
    """The list that was set for exactly this scope and language."""
    found = exchange.store.setting("commands", {}).get(_scope(parameters), [])
    return list(found)


async def get_chat(exchange: Exchange, parameters: Parameters) -> Json:
    """What a bot may know about a chat."""
    chat = exchange.known_chat(parameters.integer("chat_id"))
    return chat.api() | {
        "accent_color_id": 0,
        "max_reaction_count": 11,
        "accepted_gift_types": dict.fromkeys(
            (
                "unlimited_gifts",
                "limited_gifts",
                "unique_gifts",
                "premium_subscription",
                "gifts_from_channels",
            ),
            False,
        ),
    }


async def leave_chat(exchange: Exchange, parameters: Parameters) -> bool:
    """Leave a group."""
    chat = exchange.known_chat(parameters.integer("chat_id"))
    if not chat.is_group:
        raise bad_request("chat member status can't be changed in private chats")
    exchange.reachable_chat(chat.id)
    with exchange.store.transaction():
        exchange.chats.set_standing(chat.id, Standing.LEFT)
        membership_changed(exchange, chat, exchange.bot, "member", "left")
    return True


def setter(name: str, longest: int) -> Method:
    """A method that keeps one of the bot's own texts."""

    async def keep(exchange: Exchange, parameters: Parameters) -> bool:
        text = parameters.text(name) or ""
        if len(text) > longest:
            raise bad_request(f"bot {name.replace('_', ' ')} is too long")
        language = parameters.text("language_code") or ""
        exchange.store.put_setting(f"{name} {language}", text)
        return True

    return keep


def getter(name: str) -> Method:
    """The method that gives back what `setter` keeps."""

    async def give(exchange: Exchange, parameters: Parameters) -> Json:
        language = parameters.text("language_code") or ""
        default = exchange.bot["first_name"] if name == "name" else ""
        return {name: exchange.store.setting(f"{name} {language}", default)}

    return give


def commands_shown(exchange: Exchange, chat: Chat) -> list[Json]:
    """The commands a person sees in a chat: the narrowest scope that has any.

    In each the person's own language comes before that of everybody.
    """
    kept = exchange.store.setting("commands", {})
    kind = "all_group_chats" if chat.is_group else "all_private_chats"
    for scope in ({"type": "chat", "chat_id": chat.id}, {"type": kind}, {"type": "default"}):
        for language in (chat.language, ""):
            found = kept.get(_scope_key(scope, language))
            if found:
                return list(found)
    return []


def _put_commands(exchange: Exchange, parameters: Parameters, commands: list[Json]) -> None:
    with exchange.store.transaction():
        kept = exchange.store.setting("commands", {})
        exchange.store.put_setting("commands", kept | {_scope(parameters): commands})
    exchange.listeners.tell("chats")


def _command(given: Any) -> Json:
    if not isinstance(given, dict):
        raise bad_request("can't parse commands JSON object")
    command = str(given.get("command", "")).removeprefix("/")
    description = str(given.get("description", ""))
    if not _COMMAND.fullmatch(command):
        raise bad_request("BOT_COMMAND_INVALID")
    if not 1 <= len(description) <= _MOST_DESCRIPTION:
        raise bad_request("BOT_COMMAND_DESCRIPTION_INVALID")
    return {"command": command, "description": description}


def _scope(parameters: Parameters) -> str:
    scope = parameters.json("scope") or {"type": "default"}
    if not isinstance(scope, dict):
        raise bad_request("can't parse bot command scope JSON object")
    return _scope_key(scope, parameters.text("language_code") or "")


def _scope_key(scope: Json, language: str) -> str:
    return json.dumps([scope, language], sort_keys=True)
