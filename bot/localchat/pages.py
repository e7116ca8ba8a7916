"""The people's side over HTTP: the chat page, its state, its events and its actions.

Only for a browser on the same machine: other Host names are refused (a foreign page could
point its own name at this address), and so is every POST without the header `X-Cuffbell: 1`
(a foreign page cannot send it). Shapes: `views.py`; what the actions do: `people.py`.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from aiohttp import web

from bot.localchat.exchange import Exchange
from bot.localchat.files import Upload
from bot.localchat.methods.about import commands_shown
from bot.localchat.people import NotPossibleError, People
from bot.localchat.ports import STEPS
from bot.localchat.views import chat_view

Json = dict[str, Any]

PAGE_FOLDER: Final = Path(__file__).parent / "page"
_MOST_SHOWN: Final = 500
_KEEP_ALIVE_SECONDS: Final = 15.0
_HOSTS: Final = frozenset({"127.0.0.1", "localhost"})
_POLICY: Final = (
    "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
_TYPES: Final = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".webmanifest": "application/manifest+json",
}
#: What a browser may show by itself; everything else it only saves.
_SHOWN_INLINE: Final = frozenset(
    {"image/png", "image/jpeg", "application/pdf", "text/plain", "text/csv"}
)


class Pages:
    """Routes of the people's side."""

    def __init__(self, exchange: Exchange, people: People) -> None:
        self._exchange = exchange
        self._people = people
        self._moving = asyncio.Lock()
        self._moves: set[asyncio.Task[None]] = set()

    def routes(self) -> list[web.RouteDef]:
        """The paths that the page uses."""
        action = r"/chat/{id:-?\d+}/"
        return [
            web.get("/", self._index),
            web.get("/static/{name:.+}", self._static),
            web.get("/chat/state", self._state),
            web.get("/chat/events", self._events),
            web.get("/chat/file/{id}", self._file),
            web.post(action + "send", self._send),
            web.post(action + "edit", self._edit),
            web.post(action + "press", self._press),
            web.post(action + "location", self._location),
            web.post(action + "contact", self._contact),
            web.post(action + "sticker", self._sticker),
            web.post(action + "voice", self._voice),
            web.post(action + "file", self._upload),
            web.post(action + "block", self._block),
            web.post("/clock/move", self._move),
        ]

    async def close(self) -> None:
        """End moves of the clock that are still under way."""
        for move in tuple(self._moves):
            move.cancel()
        await asyncio.gather(*self._moves, return_exceptions=True)

    async def clock_view(self) -> Json:
        """The clock as the page shows it, ISO 8601 in UTC."""
        due = await self._exchange.clock.next_due()
        return {"now": _iso(self._exchange.clock.now()), "next_due": due and _iso(due)}

    async def _index(self, request: web.Request) -> web.StreamResponse:
        return _page_file("index.html")

    async def _static(self, request: web.Request) -> web.StreamResponse:
        return _page_file(request.match_info["name"])

    async def _state(self, request: web.Request) -> web.Response:
        exchange = self._exchange
        chats = [
            chat_view(
                chat,
                exchange.chats.history(chat.id, _MOST_SHOWN),
                commands_shown(exchange, chat),
                typing=exchange.is_typing(chat.id),
            )
            for chat in exchange.chats.all()
        ]
        folder = {"folder": str(exchange.folder)}
        return web.json_response(await self.clock_view() | folder | {"chats": chats})

    async def _events(self, request: web.Request) -> web.StreamResponse:
        response = web.StreamResponse(
            headers={"Content-Type": "text/event-stream", "Cache-Control": "no-store"}
        )
        # A page that was closed has nothing more to be told.
        with suppress(ConnectionResetError), self._exchange.listeners.listening() as queue:
            await response.prepare(request)
            await response.write(b": connected\n\n")
            while True:
                try:
                    event = await asyncio.wait_for(queue.get(), _KEEP_ALIVE_SECONDS)
                except TimeoutError:
                    await response.write(b": still here\n\n")
                    continue
                if event is None:
                    break
                await response.write(f"data: {json.dumps(event)}\n\n".encode())
        return response

    async def _file(self, request: web.Request) -> web.StreamResponse:
        file = self._exchange.files.by_id(request.match_info["id"])
        if file is None:
            raise web.HTTPNotFound
        inline = file.mime in _SHOWN_INLINE
        response = web.Response(
            body=self._exchange.files.content(file),
            content_type=file.mime if inline else "application/octet-stream",
            headers={"Cache-Control": "private, max-age=86400"},
        )
        if inline and file.mime.startswith("text/"):
            response.charset = "utf-8"
        way = "inline" if inline else "attachment"
        response.headers["Content-Disposition"] = _disposition(way, file.name)
        return response

    async def _send(self, request: web.Request) -> web.Response:
        body = await _body(request)
        ids = self._people.say(
            _chat(request),
            _text(body, "text"),
            reply_to=_optional_integer(body, "reply_to"),
            author=_optional_integer(body, "author"),
            forwarded_from=_text(body, "forwarded_from") if body.get("forwarded_from") else None,
        )
        return web.json_response({"id": ids[0], "ids": ids})

    async def _edit(self, request: web.Request) -> web.Response:
        body = await _body(request)
        self._people.edit(_chat(request), _integer(body, "message_id"), _text(body, "text"))
        return web.json_response({})

    async def _press(self, request: web.Request) -> web.Response:
        body = await _body(request)
        self._people.press(
            _chat(request),
            _integer(body, "message_id"),
            _text(body, "data"),
            author=_optional_integer(body, "author"),
            stale=bool(body.get("stale")),
        )
        return web.json_response({})

    async def _location(self, request: web.Request) -> web.Response:
        body = await _body(request)
        place = _number(body, "latitude"), _number(body, "longitude")
        return web.json_response({"id": self._people.send_location(_chat(request), *place)})

    async def _contact(self, request: web.Request) -> web.Response:
        number = _text(await _body(request), "phone_number")
        return web.json_response({"id": self._people.send_contact(_chat(request), number)})

    async def _sticker(self, request: web.Request) -> web.Response:
        return web.json_response({"id": self._people.send_sticker(_chat(request))})

    async def _voice(self, request: web.Request) -> web.Response:
        return web.json_response({"id": self._people.send_voice(_chat(request))})

    async def _upload(self, request: web.Request) -> web.Response:
        form = await request.post()
        field = form.get("file")
        if not isinstance(field, web.FileField):
            raise NotPossibleError('A file is needed, in the field "file".')
        with field.file as file:
            content = file.read()
        upload = Upload(name=field.filename, content=content, mime=field.content_type)
        caption = form.get("caption")
        key = self._people.send_file(
            _chat(request), upload, caption if isinstance(caption, str) else ""
        )
        return web.json_response({"id": key})

    async def _block(self, request: web.Request) -> web.Response:
        chat = self._exchange.chats.find(_chat(request))
        if chat is None:
            raise NotPossibleError("There is no such chat.")
        self._people.block(chat.id, bool((await _body(request)).get("blocked")))
        return web.json_response({})

    async def _move(self, request: web.Request) -> web.Response:
        step = _text(await _body(request), "step")
        if step not in STEPS:
            raise NotPossibleError(f"The step must be one of {', '.join(STEPS)}.")
        # A page that goes away meanwhile must not leave the clock half moved.
        move = asyncio.create_task(self._move_clock(step))
        self._moves.add(move)
        move.add_done_callback(self._moves.discard)
        await asyncio.shield(move)
        return web.json_response(await self.clock_view())

    async def _move_clock(self, step: str) -> None:
        async with self._moving:
            await self._exchange.clock.move(step)
        self._exchange.listeners.tell("clock", **await self.clock_view())


@web.middleware
async def guard(
    request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
) -> web.StreamResponse:
    """Refuse foreign Host names and unmarked POSTs; turn a person's refusals into JSON."""
    if request.host.rpartition(":")[0] not in _HOSTS and request.host not in _HOSTS:
        return web.json_response({"error": "Use 127.0.0.1 or localhost."}, status=421)
    people_side = request.path.startswith(("/chat/", "/clock/"))
    if people_side and request.method == "POST" and request.headers.get("X-Cuffbell") != "1":
        return web.json_response({"error": "The header X-Cuffbell: 1 is missing."}, status=403)
    try:
        return await handler(request)
    except NotPossibleError as error:
        return web.json_response({"error": str(error)}, status=409)
    except web.HTTPRequestEntityTooLarge:
        return web.json_response({"error": "The file is larger than 50 MB."}, status=413)


async def harden(request: web.Request, response: web.StreamResponse) -> None:
    """Headers on every answer of the people's side."""
    if request.path.startswith(("/bot", "/file/")):
        return
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    # A browser's own viewer for PDF is an embedded object, which the policy would forbid.
    if response.content_type != "application/pdf":
        response.headers["Content-Security-Policy"] = _POLICY
    response.headers.setdefault("Cache-Control", "no-store")


def _page_file(name: str) -> web.StreamResponse:
    path = (PAGE_FOLDER / name).resolve()
    if not path.is_relative_to(PAGE_FOLDER.resolve()) or not path.is_file():
        raise web.HTTPNotFound
    kind = _TYPES.get(path.suffix)
    if kind is None:
        raise web.HTTPNotFound
    response = web.Response(body=path.read_bytes(), content_type=kind)
    if kind.startswith("text/"):
        response.charset = "utf-8"
    return response


async def _body(request: web.Request) -> Json:
    try:
        body = json.loads(await request.read() or b"{}")
    except ValueError as error:
        raise NotPossibleError("The body must be JSON.") from error
    if not isinstance(body, dict):
        raise NotPossibleError("The body must be a JSON object.")
    return body


def _chat(request: web.Request) -> int:
    chat = int(request.match_info["id"])
    if abs(chat) >= 2**63:
        raise NotPossibleError("There is no such chat.")
    return chat


def _text(body: Json, name: str) -> str:
    value = body.get(name)
    if not isinstance(value, str):
        raise NotPossibleError(f'A text is needed in "{name}".')
    return value


def _integer(body: Json, name: str) -> int:
    value = _optional_integer(body, name)
    if value is None:
        raise NotPossibleError(f'A whole number is needed in "{name}".')
    return value


def _optional_integer(body: Json, name: str) -> int | None:
    value = body.get(name)
    whole = isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**63
    return value if whole else None


def _number(body: Json, name: str) -> float:
    value = body.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NotPossibleError(f'A number is needed in "{name}".')
    return float(value)


def _disposition(way: str, name: str) -> str:
    return f"{way}; filename*=UTF-8''{quote(name, safe='')}"


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat()
