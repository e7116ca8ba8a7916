"""Bad moments on order, flood limits, webhooks and listeners that fall asleep."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from aiohttp import web
from telegram import Bot
from telegram.error import BadRequest, Conflict, NetworkError, RetryAfter, TimedOut

from bot.localchat.faults import Fault
from bot.localchat.limiter import FloodLimiter, FloodLimits
from bot.localchat.listeners import Listeners
from bot.localchat.refusals import Refusal
from bot.localchat.server import LocalChat
from bot.localchat.visitor import Visitor

TOKEN = "7000:invented-token-of-the-tests"


async def bot_texts(visitor: Visitor) -> list[str]:
    return [m["text"] for m in await visitor.messages() if m["from"] == "bot"]


@pytest.mark.parametrize(
    ("kind", "error", "arrived", "outcome"),
    [
        ("500", NetworkError, [], "500 Internal Server Error"),
        ("429", RetryAfter, [], "429 Too Many Requests: retry after 1"),
        ("drop-before-effect", NetworkError, [], "drop-before-effect"),
        ("drop-after-effect", NetworkError, ["Hello"], "drop-after-effect"),
        ("timeout", TimedOut, [], "timeout"),
    ],
)
async def test_an_ordered_fault_happens_as_often_as_ordered(
    chat: LocalChat,
    open_bot: Any,
    hollis: Visitor,
    hollis_id: int,
    kind: str,
    error: type[Exception],
    arrived: list[str],
    outcome: str,
) -> None:
    bot = open_bot(read_timeout=0.2 if kind == "timeout" else 5.0)
    chat.fail_next("sendMessage", kind, count=2)

    for _ in range(2):
        with pytest.raises(error):
            await bot.send_message(hollis_id, "Hello")

    assert await bot_texts(hollis) == arrived * 2
    await open_bot().send_message(hollis_id, "Again")
    assert await bot_texts(hollis) == [*arrived * 2, "Again"]
    assert sorted(c.outcome for c in chat.calls.of("sendMessage", hollis_id)) == sorted(
        [outcome, outcome, "ok"]
    )


async def test_a_fault_for_one_chat_and_method_spares_the_others(
    chat: LocalChat, bot: Bot, hollis: Visitor, hollis_id: int, wren: Visitor
) -> None:
    wren_id = (await wren.chat())["id"]
    await wren.say("/start")
    chat.fail_next("sendMessage", Fault.SERVER_ERROR, chat=wren_id)

    await bot.send_message(hollis_id, "Hello")
    await bot.send_chat_action(wren_id, "typing")

    with pytest.raises(NetworkError, match="Internal Server Error"):
        await bot.send_message(wren_id, "Hello")


async def test_calls_are_listed_with_their_outcome(
    chat: LocalChat, bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    await bot.send_message(hollis_id, "Hello")
    with pytest.raises(BadRequest):
        await bot.send_message(999, "Hello")

    assert [(c.method, c.chat, c.outcome) for c in chat.calls] == [
        ("sendMessage", hollis_id, "ok"),
        ("sendMessage", 999, "400 Bad Request: chat not found"),
    ]
    assert chat.calls[0].machine_time < chat.calls[1].machine_time


async def test_too_many_messages_are_refused_with_the_seconds_to_wait(
    tmp_path: Path, clock: Any, open_bot: Any
) -> None:
    limits = FloodLimits(chat_rate=0.25, chat_burst=2)
    chat = LocalChat(tmp_path / "flood", clock, TOKEN, limits=limits)
    bot = open_bot(at=await chat.start())
    try:
        hollis_id = chat.add_person("Hollis", "patient", "Europe/Lisbon", None)
        chat.people.say(hollis_id, "/start")
        await bot.send_message(hollis_id, "1")
        await bot.send_message(hollis_id, "2")

        with pytest.raises(RetryAfter) as refused:
            await bot.send_message(hollis_id, "3")
    finally:
        await chat.stop()

    assert refused.value._retry_after.total_seconds() in (3, 4)


class Stopwatch:
    """Machine time that a test moves."""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds


def waits(limiter: FloodLimiter, chats: list[int], *, group: bool = False) -> list[int]:
    """For each message in turn: 0 when it is let through, else the seconds to wait."""
    result = []
    for chat in chats:
        try:
            limiter.admit(chat, group=group)
            result.append(0)
        except Refusal as refusal:
            result.append(refusal.retry_after or -1)
    return result


def test_one_chat_gets_a_burst_and_then_one_a_second() -> None:
    watch = Stopwatch()
    limiter = FloodLimiter(FloodLimits(chat_burst=3), watch)

    assert waits(limiter, [1, 1, 1, 1]) == [0, 0, 0, 1]
    watch.seconds += 1.0
    assert waits(limiter, [1, 1]) == [0, 1]
    watch.seconds += 60.0
    assert waits(limiter, [1, 1, 1, 1]) == [0, 0, 0, 1]


def test_all_chats_together_get_30_in_a_second() -> None:
    watch = Stopwatch()
    limiter = FloodLimiter(FloodLimits(), watch)

    assert waits(limiter, list(range(31))) == [0] * 30 + [1]
    watch.seconds += 0.9
    assert waits(limiter, [99]) == [1]
    watch.seconds += 0.1
    assert waits(limiter, list(range(100, 131))) == [0] * 30 + [1]


def test_a_group_gets_20_in_a_minute() -> None:
    watch = Stopwatch()
    limiter = FloodLimiter(FloodLimits(chat_burst=100), watch)

    assert waits(limiter, [-1] * 21, group=True) == [0] * 20 + [60]
    watch.seconds += 59.0
    assert waits(limiter, [-1, -2], group=True) == [1, 0]
    watch.seconds += 1.0
    assert waits(limiter, [-1], group=True) == [0]


def test_switched_off_limits_refuse_nothing() -> None:
    assert waits(FloodLimiter(None, Stopwatch()), [1] * 100) == [0] * 100


class Hook:
    """A webhook's receiver: answers with the next of `statuses`, then 200."""

    def __init__(self, *statuses: int) -> None:
        self.statuses = list(statuses)
        self.taken: asyncio.Queue[tuple[int, str | None, Any]] = asyncio.Queue()
        application = web.Application()
        application.router.add_post("/hook", self._take)
        self._runner = web.AppRunner(application)

    async def __aenter__(self) -> str:
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0).start()
        return f"http://127.0.0.1:{self._runner.addresses[0][1]}/hook"

    async def __aexit__(self, *_: object) -> None:
        await self._runner.cleanup()

    async def _take(self, request: web.Request) -> web.Response:
        status = self.statuses.pop(0) if self.statuses else 200
        secret = request.headers.get("X-Telegram-Bot-Api-Secret-Token")
        self.taken.put_nowait((status, secret, await request.json()))
        return web.Response(status=status)


async def test_a_webhook_gets_each_update_with_the_secret_until_it_takes_it(
    bot: Bot, hollis: Visitor, stack: Any
) -> None:
    hook = Hook(500, 503)
    url = await stack.enter_async_context(hook)

    await bot.set_webhook(url, secret_token="invented_secret")
    await hollis.say("142/91")
    taken = [await asyncio.wait_for(hook.taken.get(), 5) for _ in range(4)]

    assert [(status, secret) for status, secret, _ in taken] == [
        (500, "invented_secret"),
        (503, "invented_secret"),
        (200, "invented_secret"),
        (200, "invented_secret"),
    ]
    assert [update["message"]["text"] for *_, update in taken] == [*["/start"] * 3, "142/91"]
    info = await bot.get_webhook_info()
    assert info.url == url
    assert info.last_error_message == "Wrong response from the webhook: 503 Service Unavailable"


async def test_an_unreachable_webhook_keeps_the_updates(
    bot: Bot, hollis: Visitor, stack: Any
) -> None:
    hook = Hook()
    async with hook as url:
        pass

    await bot.set_webhook(url)
    async with asyncio.timeout(5):
        while (await bot.get_webhook_info()).last_error_message is None:
            await asyncio.sleep(0.01)

    info = await bot.get_webhook_info()
    assert (info.last_error_message, info.pending_update_count) == ("Connection failed", 1)
    await bot.delete_webhook()
    assert [u.message and u.message.text for u in await bot.get_updates()] == ["/start"]


async def test_a_webhook_and_polling_exclude_each_other(
    chat: LocalChat, bot: Bot, open_bot: Any, hollis: Visitor, stack: Any
) -> None:
    url = await stack.enter_async_context(Hook())
    (start,) = await bot.get_updates()
    poll = asyncio.create_task(bot.get_updates(offset=start.update_id + 1, timeout=30))
    async with asyncio.timeout(5):
        while not chat.is_polled:
            await asyncio.sleep(0)

    await open_bot().set_webhook(url)

    with pytest.raises(Conflict, match="terminated by setWebhook"):
        await poll
    with pytest.raises(Conflict, match="can't use getUpdates method while webhook is active"):
        await bot.get_updates()


async def test_pending_updates_can_be_dropped(bot: Bot, hollis: Visitor) -> None:
    await bot.delete_webhook(drop_pending_updates=True)

    assert await bot.get_updates() == ()


@pytest.mark.parametrize("url", ["https://example.org/hook", "ftp://127.0.0.1/", "hook"])
async def test_a_webhook_away_from_this_machine_is_refused(bot: Bot, url: str) -> None:
    with pytest.raises(BadRequest, match="Bad webhook"):
        await bot.set_webhook(url)


async def test_a_webhook_secret_has_plain_letters_only(bot: Bot) -> None:
    with pytest.raises(BadRequest, match="Secret token contains unallowed characters"):
        await bot.set_webhook("http://127.0.0.1:1/hook", secret_token="a b")


def test_a_listener_that_stops_reading_is_dropped_and_the_others_are_not() -> None:
    listeners = Listeners()
    with listeners.listening() as asleep, listeners.listening() as awake:
        for number in range(2_001):
            listeners.tell("clock", number=number)
            while not awake.empty():
                assert awake.get_nowait() == {"type": "clock", "number": number}

        assert len(listeners) == 1
        assert [asleep.get_nowait() for _ in range(2_002)][-1] is None
