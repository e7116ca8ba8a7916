"""A local chat with invented people, and the real client library that talks to it."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from telegram import Bot
from telegram.request import HTTPXRequest

from bot.localchat.server import LocalChat
from bot.localchat.visitor import Visitor

TOKEN = "7000:invented-token-of-the-tests"


class HandClock:
    """Person time that stands still until a test moves it."""

    def __init__(self) -> None:
        self.moment = datetime(2025, 3, 1, 8, 0, tzinfo=UTC)
        self.due: datetime | None = None

    def now(self) -> datetime:
        return self.moment

    async def move(self, step: str) -> None:
        steps = {"minute": timedelta(minutes=1), "hour": timedelta(hours=1)}
        self.moment += steps.get(step, timedelta(days=1))

    async def next_due(self) -> datetime | None:
        return self.due


@pytest.fixture(autouse=True)
def _durations(monkeypatch: pytest.MonkeyPatch) -> None:
    """The client library warns aloud unless it gives waits as durations."""
    monkeypatch.setenv("PTB_TIMEDELTA", "1")


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
async def stack() -> AsyncIterator[AsyncExitStack]:
    async with AsyncExitStack() as stack:
        yield stack


@pytest.fixture
async def chat(tmp_path: Path, clock: HandClock) -> AsyncIterator[LocalChat]:
    chat = LocalChat(tmp_path / "folder", clock, TOKEN, limits=None, webhook_pause_seconds=0.01)
    yield chat
    await chat.stop()


@pytest.fixture
async def base(chat: LocalChat) -> str:
    return await chat.start()


OpenBot = Callable[..., Bot]


@pytest.fixture
def open_bot(base: str, stack: AsyncExitStack) -> OpenBot:
    """Makes more clients; `read_timeout` in seconds, `at` another server, `token` another one."""

    def make(token: str = TOKEN, read_timeout: float = 5.0, at: str = base) -> Bot:
        # A proxy of the environment must not stand between two ends on one machine.
        requests = [
            HTTPXRequest(read_timeout=read_timeout, httpx_kwargs={"trust_env": False})
            for _ in range(2)
        ]
        for request in requests:
            stack.push_async_callback(request.shutdown)
        return Bot(
            token,
            base_url=f"{at}/bot",
            base_file_url=f"{at}/file/bot",
            get_updates_request=requests[0],
            request=requests[1],
        )

    return make


@pytest.fixture
def bot(open_bot: OpenBot) -> Bot:
    return open_bot()


@pytest.fixture
def hollis_id(chat: LocalChat) -> int:
    return chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", "/start INVENTED")


@pytest.fixture
async def hollis(base: str, hollis_id: int, stack: AsyncExitStack) -> Visitor:
    """Has written first, so the bot may answer; that message waits as an update."""
    hollis = await stack.enter_async_context(Visitor(base, "Hollis Brandreth"))
    await hollis.say("/start")
    return hollis


@pytest.fixture
async def wren(base: str, chat: LocalChat, stack: AsyncExitStack) -> Visitor:
    """Known to the chat, but has never written to the bot."""
    chat.add_person("Wren Brandreth", "carer", "America/Halifax", None)
    return await stack.enter_async_context(Visitor(base, "Wren Brandreth"))
