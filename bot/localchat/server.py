"""The local chat: one loopback HTTP server with the bot's side and the people's side.

    chat = LocalChat(folder, clock, token)
    base = await chat.start()        # "http://127.0.0.1:40213"
    hollis = chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", "/start CODE")

A client library for the Bot API runs unmodified against `base + "/bot"` and
`base + "/file/bot"`. Everything is kept in the folder and goes on after a restart.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from aiohttp import web

from bot.localchat.bot_side import BotSide
from bot.localchat.exchange import Exchange
from bot.localchat.faults import Calls, Fault
from bot.localchat.files import MOST_UPLOADED
from bot.localchat.limiter import FloodLimits
from bot.localchat.pages import Pages, guard, harden
from bot.localchat.people import People
from bot.localchat.ports import PersonClock
from bot.localchat.webhook import WebhookDelivery

HOST: Final = "127.0.0.1"
_CLOCK_LOOK_SECONDS: Final = 1.0
_STOP_WITHIN_SECONDS: Final = 2.0


class LocalChat:
    """The server and what people do in it.

    Args:
        folder: where the chats are kept; made when it is missing.
        clock: person time, which dates every message.
        token: the only bot token that is let in.
        port: 0 takes any free one.
        limits: flood limits; None switches them off.
        webhook_pause_seconds: machine time before a failed webhook delivery is tried
            again, doubled each time up to 30.

    Raises:
        FolderInUseError: another local chat runs on the folder.
        NewerFolderError: a newer version of the program wrote the folder.
    """

    def __init__(
        self,
        folder: Path,
        clock: PersonClock,
        token: str,
        port: int = 0,
        *,
        limits: FloodLimits | None = FloodLimits(),  # noqa: B008 - frozen
        webhook_pause_seconds: float = 1.0,
    ) -> None:
        self._exchange = Exchange(folder, clock, token, limits)
        self._port = port
        self._bot_side = BotSide(self._exchange)
        self._webhook = WebhookDelivery(
            self._exchange.updates, first_pause_seconds=webhook_pause_seconds
        )
        self._runner: web.AppRunner | None = None
        self._tasks: list[asyncio.Task[None]] = []
        #: What people do, without HTTP; the page and `Visitor` do the same over HTTP.
        self.people = People(self._exchange)
        self._pages = Pages(self._exchange, self.people)

    @property
    def calls(self) -> Calls:
        """The bot's calls since the start, oldest first."""
        return self._bot_side.calls

    @property
    def is_polled(self) -> bool:
        """Whether a getUpdates call of the bot waits at this moment."""
        return self._exchange.updates.is_polled

    async def start(self) -> str:
        """Listen on the loopback address; the base URL, without a slash at the end.

        Raises:
            OSError: the port is taken; `stop` still has to be called.
        """
        application = web.Application(middlewares=[guard], client_max_size=MOST_UPLOADED + 2**20)
        application.on_response_prepare.append(harden)
        application.add_routes(self._pages.routes() + self._bot_side.routes())
        # Paths hold the token, so there is no access log.
        self._runner = web.AppRunner(
            application,
            access_log=None,
            handler_cancellation=True,
            shutdown_timeout=_STOP_WITHIN_SECONDS,
        )
        await self._runner.setup()
        site = web.TCPSite(self._runner, HOST, self._port)
        try:
            await site.start()
        except OSError:
            await self._runner.cleanup()
            self._runner = None
            raise
        self._tasks = [
            asyncio.create_task(self._webhook.run()),
            asyncio.create_task(self._watch_clock()),
        ]
        self._port = int(self._runner.addresses[0][1])
        return f"http://{HOST}:{self._port}"

    async def stop(self) -> None:
        """Stop listening, end every wait and close the folder. Cannot be started again."""
        self._exchange.close()
        for task in self._tasks:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task
        await self._pages.close()
        if self._runner is not None:
            await self._runner.cleanup()
        self._exchange.store.close()

    def add_person(
        self, name: str, role: str, zone: str, invitation: str | None, language: str | None = None
    ) -> int:
        """The id of the person's private chat, the same one for the same name.

        Args:
            role: "patient", "carer", "practitioner" or "other"; only for the page.
            zone: the IANA zone in which the page shows times.
            invitation: the text to send to join, offered until it was sent; None keeps
                the one from before.
            language: of the person's chat program, as the bot is told it; None keeps the
                one from before, at first English.
        """
        chat = self._exchange.chats.add_person(name, role, zone, invitation, language)
        self._exchange.listeners.tell("chats")
        return chat.id

    def fail_next(
        self, method: str, kind: Fault | str, count: int = 1, chat: int | None = None
    ) -> None:
        """Let the next calls of a method fail; `kind` is a `Fault` or its value."""
        self._bot_side.faults.fail_next(method, Fault(kind), count, chat)

    def continue_updates_at(self, update_id: int) -> None:
        """Number the next updates from here, as the platform does after a quiet week."""
        self._exchange.updates.continue_at(update_id)

    async def _watch_clock(self) -> None:
        """Tell open pages when the minute, or the next thing due, has changed."""
        shown: dict[str, Any] = {}
        while True:
            await asyncio.sleep(_CLOCK_LOOK_SECONDS)
            if not len(self._exchange.listeners):
                continue
            view = await self._pages.clock_view()
            minute = {"now": view["now"][:16], "next_due": view["next_due"]}
            if minute != shown:
                shown = minute
                self._exchange.listeners.tell("clock", **view)
