"""The bot's side: what it says about itself, and calls over plain HTTP."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from typing import Any, Final

import aiohttp
import pytest
from telegram import Bot, BotCommand, BotCommandScopeChat
from telegram.error import BadRequest

from bot.localchat import LocalChat, Visitor
from bot.localchat.methods import METHODS

TOKEN = "7000:invented-token-of-the-tests"


@pytest.fixture
async def http() -> AsyncIterator[aiohttp.ClientSession]:
    async with aiohttp.ClientSession() as session:
        yield session


async def test_the_bot_reads_itself_and_a_chat(bot: Bot, hollis: Visitor, hollis_id: int) -> None:
    me = await bot.get_me()
    chat = await bot.get_chat(hollis_id)

    assert (me.id, me.username, me.is_bot) == (7000, "cuffbell_local_bot", True)
    assert (chat.type, chat.first_name, chat.last_name) == ("private", "Hollis", "Brandreth")
    assert await bot.log_out()
    assert await bot.close()


async def test_commands_are_kept_by_scope_and_shown_to_the_person(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    week, undo = BotCommand("week", "The week's picture"), BotCommand("undo", "Take back")
    await bot.set_my_commands([week])
    await bot.set_my_commands([undo], scope=BotCommandScopeChat(hollis_id))

    assert await bot.get_my_commands() == (week,)
    assert (await hollis.chat())["commands"] == [undo.to_dict()]
    await bot.delete_my_commands(scope=BotCommandScopeChat(hollis_id))
    assert (await hollis.chat())["commands"] == [week.to_dict()]
    with pytest.raises(BadRequest, match="Bot_command_invalid"):
        await bot.set_my_commands([BotCommand("Week!", "x")])
    with pytest.raises(BadRequest, match="Bot_command_description_invalid"):
        await bot.set_my_commands([BotCommand("week", "x" * 257)])


async def test_commands_are_shown_in_the_language_of_the_persons_program(
    bot: Bot, chat: LocalChat, hollis: Visitor
) -> None:
    for description, language in (("The picture", None), ("La imagen", "es")):
        await bot.set_my_commands([BotCommand("week", description)], language_code=language)

    async def shown(language: str) -> str:
        chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", None, language)
        return str((await hollis.chat())["commands"][0]["description"])

    assert await shown("en") == "The picture"
    assert await shown("es") == "La imagen"


async def test_texts_about_the_bot_are_kept(bot: Bot) -> None:
    await bot.set_my_description("Blood pressure at home")
    await bot.set_my_short_description("Short", language_code="en")
    await bot.set_my_name("Cuffbell here")

    assert (await bot.get_my_description()).description == "Blood pressure at home"
    assert (await bot.get_my_short_description("en")).short_description == "Short"
    assert (await bot.get_my_short_description()).short_description == ""
    assert (await bot.get_my_name()).name == "Cuffbell here"
    with pytest.raises(BadRequest):
        await bot.set_my_name("x" * 65)


@pytest.mark.parametrize("way", ["query", "json", "form", "multipart"])
async def test_parameters_are_read_from_every_place(
    base: str, http: aiohttp.ClientSession, hollis: Visitor, hollis_id: int, way: str
) -> None:
    url = f"{base}/bot{TOKEN}/SENDmessage"  # names of methods have no case
    markup = {"inline_keyboard": [[{"text": "Ready", "callback_data": "t"}]]}
    as_text = {"chat_id": str(hollis_id), "text": "é 🩺", "reply_markup": json.dumps(markup)}
    multipart = aiohttp.FormData(as_text, default_to_multipart=True)
    arguments: dict[str, dict[str, Any]] = {
        "query": {"params": as_text},
        "json": {"json": {"chat_id": hollis_id, "text": "é 🩺", "reply_markup": markup}},
        "form": {"data": as_text},
        "multipart": {"data": multipart},
    }
    method = "GET" if way == "query" else "POST"

    async with http.request(method, url, **arguments[way]) as answer:
        body = await answer.json()

    assert body["ok"] is True
    assert body["result"]["text"] == "é 🩺"
    assert body["result"]["reply_markup"] == markup


@pytest.mark.parametrize(
    ("path", "data", "status", "description"),
    [
        (f"bot{TOKEN}/getMee", b"", 404, "Not Found: method not found"),
        ("bot7000:wrong/getMe", b"", 401, "Unauthorized"),
        (f"bot{TOKEN}/sendMessage", b"{", 400, "Bad Request: can't parse JSON object"),
        (f"bot{TOKEN}/sendMessage", b"[]", 400, "Bad Request: can't parse JSON object"),
        (f"bot{TOKEN}/sendMessage", b'{"text": "x"}', 400, "Bad Request: chat_id is empty"),
        (
            f"bot{TOKEN}/getChat",
            b'{"chat_id": 99999999999999999999}',
            400,
            "Bad Request: chat_id is empty",
        ),
        (
            f"bot{TOKEN}/sendMessage",
            b'{"text": "\\ud83e"}',
            400,
            "Bad Request: strings must be encoded in UTF-8",
        ),
        (
            f"bot{TOKEN}/sendMessage",
            b'{"text": "x", "parse_mode": "Markdown"}',
            400,
            "Bad Request: unsupported parse_mode",
        ),
        (
            f"bot{TOKEN}/sendMessage",
            b'{"text": "x", "reply_markup": "{"}',
            400,
            "Bad Request: can't parse reply markup JSON object",
        ),
    ],
)
async def test_refusals_have_the_shape_of_the_platform(
    base: str, http: aiohttp.ClientSession, path: str, data: bytes, status: int, description: str
) -> None:
    headers = {"Content-Type": "application/json"}

    async with http.post(f"{base}/{path}", data=data, headers=headers) as answer:
        assert answer.status == status
        assert await answer.json() == {
            "ok": False,
            "error_code": status,
            "description": description,
        }


_ODD: Final[list[Any]] = [
    None,
    "",
    "x",
    "-1",
    -1,
    0,
    10**30,
    1.5,
    True,
    [],
    [1],
    [[]],
    [[1]],
    {},
    {"a": []},
]
_NAMES: Final = [
    "text",
    "parse_mode",
    "entities",
    "caption",
    "caption_entities",
    "reply_markup",
    "reply_parameters",
    "message_id",
    "photo",
    "document",
    "action",
    "callback_query_id",
    "file_id",
    "commands",
    "scope",
    "offset",
    "limit",
    "allowed_updates",
    "url",
    "secret_token",
    "name",
]


@pytest.mark.parametrize("method", sorted(METHODS))
async def test_odd_parameters_are_taken_or_refused_and_break_nothing(
    base: str, http: aiohttp.ClientSession, hollis: Visitor, hollis_id: int, method: str
) -> None:
    usual = {"chat_id": hollis_id, "text": "x", "message_id": 1}
    bodies = [usual | {name: odd} for name in _NAMES for odd in _ODD]
    bodies += [usual | {"chat_id": odd} for odd in _ODD]

    statuses = set()
    for body in bodies:
        async with http.post(f"{base}/bot{TOKEN}/{method}", json=body) as answer:
            statuses.add(answer.status)
            assert (await answer.json())["ok"] is (answer.status == 200), body

    assert statuses <= {200, 400}


async def test_a_file_can_be_sent_along_under_another_name(
    base: str, http: aiohttp.ClientSession, hollis: Visitor, hollis_id: int
) -> None:
    usual = {"chat_id": str(hollis_id), "document": "attach://later"}
    form = aiohttp.FormData(usual, quote_fields=False)
    form.add_field("later", b"142,91", filename="/home/hollis/my wéek.csv")

    async with http.post(f"{base}/bot{TOKEN}/sendDocument", data=form) as answer:
        assert answer.status == 200

    shown = (await hollis.messages())[-1]["document"]
    assert (shown["name"], shown["size"]) == ("my wéek.csv", 6)
    assert await hollis.download(shown["url"]) == b"142,91"


async def test_a_picture_that_was_not_sent_along_is_missed(
    base: str, http: aiohttp.ClientSession, hollis: Visitor, hollis_id: int
) -> None:
    for given in ("", "attach://nothing"):
        body = {"chat_id": hollis_id, "photo": given}
        async with http.post(f"{base}/bot{TOKEN}/sendPhoto", json=body) as answer:
            assert answer.status == 400
    assert len(await hollis.messages()) == 1


async def test_a_file_is_found_only_by_its_path_and_token(
    base: str, http: aiohttp.ClientSession, hollis: Visitor, bot: Bot
) -> None:
    await hollis.send_file("values.csv", b"142,91")

    for path, status in [
        (f"bot{TOKEN}/documents/file_0.csv", 200),
        (f"bot{TOKEN}/documents/file_1.csv", 404),
        ("bot7000:wrong/documents/file_0.csv", 401),
    ]:
        async with http.get(f"{base}/file/{path}") as answer:
            assert answer.status == status
