"""A person of the local chat as a program: the people's side over HTTP, for tests.

    async with Visitor(base, "Hollis Brandreth") as hollis:
        await hollis.say("142/91")
        answer = await hollis.wait_for(lambda m: "average" in m["text"])
        await hollis.press("Ready")

Messages are the page's JSON objects (`views.py`). Waits are machine seconds.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from io import BytesIO
from types import TracebackType
from typing import Any, Final, Self

import aiohttp

Json = dict[str, Any]
Predicate = Callable[[Json], bool]

_HEADERS: Final = {"X-Cuffbell": "1"}


class RefusedError(Exception):
    """The local chat did not do it; the text says why."""


class Visitor:
    """One person, or with a group's title one group, found by name."""

    def __init__(self, base: str, name: str) -> None:
        self._base = base
        self._name = name
        self._id: int | None = None
        self._session = aiohttp.ClientSession(headers=_HEADERS)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self._session.close()

    async def state(self) -> Json:
        """The whole state of the local chat, as the page gets it."""
        async with self._session.get(f"{self._base}/chat/state") as answer:
            state: Json = await answer.json()
            return state

    async def chat(self) -> Json:
        """This person's chat in the state.

        Raises:
            LookupError: there is no chat with that name.
        """
        for chat in (await self.state())["chats"]:
            if chat["name"] == self._name:
                found: Json = chat
                return found
        raise LookupError(f"There is no chat named {self._name}.")

    async def messages(self) -> list[Json]:
        """The messages of this chat, oldest first, deleted ones included."""
        return list((await self.chat())["messages"])

    async def say(
        self,
        text: str,
        *,
        reply_to: int | None = None,
        author: int | None = None,
        forwarded_from: str | None = None,
    ) -> int:
        """Send a text; the id of the (first) new message."""
        body: Json = {
            "text": text,
            "reply_to": reply_to,
            "author": author,
            "forwarded_from": forwarded_from,
        }
        return int((await self._act("send", body))["id"])

    async def edit(self, message_id: int, text: str) -> None:
        """Change the words of an own message."""
        await self._act("edit", {"message_id": message_id, "text": text})

    async def press(self, label: str, message_id: int | None = None) -> int:
        """Press the button with that label, of the newest message that has it.

        Returns:
            The id of the message to which the button belongs.

        Raises:
            LookupError: no message shows such a button; the text lists those there are.
        """
        labels: list[str] = []
        for message in reversed(await self.messages()):
            if message_id not in (None, message["id"]):
                continue
            for button in (button for row in message["buttons"] for button in row):
                labels.append(button["text"])
                if button["text"] == label and button["data"] is not None:
                    await self.press_data(message["id"], button["data"])
                    return int(message["id"])
        raise LookupError(f"No button {label!r}; there are {labels}.")

    async def press_data(self, message_id: int, data: str, *, stale: bool = False) -> None:
        """Press a button by its data; `stale` also one that is no longer there."""
        await self._act("press", {"message_id": message_id, "data": data, "stale": stale})

    async def send_location(self, latitude: float, longitude: float) -> int:
        """Share a place, in degrees; the id of the new message."""
        body = {"latitude": latitude, "longitude": longitude}
        return int((await self._act("location", body))["id"])

    async def send_contact(self, phone_number: str) -> int:
        """Share the own phone number; the id of the new message."""
        return int((await self._act("contact", {"phone_number": phone_number}))["id"])

    async def send_sticker(self) -> int:
        """Send a sticker; the id of the new message."""
        return int((await self._act("sticker", {}))["id"])

    async def send_voice(self) -> int:
        """Send a voice note; the id of the new message."""
        return int((await self._act("voice", {}))["id"])

    async def send_file(self, name: str, content: bytes, caption: str = "") -> int:
        """Send a picture or another file; the id of the new message."""
        form = aiohttp.FormData(quote_fields=False)  # names as browsers send them
        form.add_field("file", BytesIO(content), filename=name)
        form.add_field("caption", caption)
        url = await self._url("file")
        async with self._session.post(url, data=form) as answer:
            return int((await _checked(answer))["id"])

    async def block(self, blocked: bool = True) -> None:
        """Block the bot, or with False let it write again."""
        await self._act("block", {"blocked": blocked})

    async def move_clock(self, step: str) -> Json:
        """Move person time by "minute", "hour", "next" or "morning"; the clock after it."""
        async with self._session.post(f"{self._base}/clock/move", json={"step": step}) as answer:
            return await _checked(answer)

    async def download(self, url: str) -> bytes:
        """The bytes behind the `url` of a photo or document."""
        async with self._session.get(self._base + url) as answer:
            answer.raise_for_status()
            return await answer.read()

    async def wait_for(
        self,
        predicate: Predicate,
        timeout: float = 10.0,
        *,
        after: int = 0,
    ) -> Json:
        """The first message of the bot with an id above `after` for which it holds.

        Edits count: a message that comes to fit later is found then.

        Raises:
            TimeoutError: none in that many machine seconds; the text lists what there was.
        """
        seen: list[Json] = []
        try:
            async with asyncio.timeout(timeout), self.events() as events:
                # The stream is open before the first look, so nothing falls in between.
                while True:
                    seen = [m for m in await self.messages() if m["id"] > after]
                    for message in seen:
                        if message["from"] == "bot" and predicate(message):
                            return message
                    await anext(events)
        except TimeoutError as error:
            texts = [message["text"] for message in seen if message["from"] == "bot"]
            raise TimeoutError(f"No such message in {timeout} s. The bot wrote: {texts}") from error

    @asynccontextmanager
    async def events(self) -> AsyncIterator[AsyncIterator[Json]]:
        """The stream of events from now on, of all chats."""
        url = f"{self._base}/chat/events"
        no_limit = aiohttp.ClientTimeout(total=None)
        async with self._session.get(url, timeout=no_limit) as answer:
            await answer.content.readline()  # the greeting: from here on nothing is missed
            yield _events(answer)

    async def _act(self, action: str, body: Json) -> Json:
        async with self._session.post(await self._url(action), json=body) as answer:
            return await _checked(answer)

    async def _url(self, action: str) -> str:
        if self._id is None:
            self._id = int((await self.chat())["id"])
        return f"{self._base}/chat/{self._id}/{action}"


async def _events(answer: aiohttp.ClientResponse) -> AsyncIterator[Json]:
    async for line in answer.content:
        if line.startswith(b"data: "):
            yield json.loads(line.removeprefix(b"data: "))


async def _checked(answer: aiohttp.ClientResponse) -> Json:
    body: Json = await answer.json()
    if answer.status != 200:
        raise RefusedError(body.get("error", f"Status {answer.status}"))
    return body
