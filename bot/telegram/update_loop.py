"""Our own loop of `getUpdates`: nothing is confirmed before it is stored.

Asking with offset N+1 tells the platform to forget everything up to N. So that happens only
after the desk has committed every update up to N, at shutdown too; what a crash leaves
unconfirmed comes again, and the desk knows what it has seen. An offset is forgotten as soon as
it has been confirmed, because after a quiet week the platform's ids start anywhere, and one
below an old offset would be taken for confirmed.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Coroutine, Mapping
from contextlib import suppress
from datetime import datetime
from typing import Any, Final

from sqlalchemy.exc import SQLAlchemyError
from telegram import Update
from telegram.constants import ChatAction
from telegram.error import Conflict, InvalidToken, RetryAfter, TelegramError

from bot.desk import Desk
from bot.errors import TokenRefusedError
from bot.incoming import Incoming
from bot.telegram.client import Client
from bot.telegram.sending import seconds_of
from bot.telegram.updates import incoming
from bot.threads import Threads
from domain.events import Edited, Said

log = logging.getLogger(__name__)

_LONGEST_PAUSE_SECONDS: Final = 30.0
#: A server that is being restarted may answer so for a moment, so it is asked again.
_REFUSALS: Final = 5
#: How long the courtesies that have begun may take to end at shutdown.
_ENDING_SECONDS: Final = 1.0


class UpdateLoop:
    """The loop of one process. `run` goes on until `stop`."""

    def __init__(
        self,
        client: Client,
        desk: Desk,
        threads: Threads,
        *,
        person_now: Callable[[], datetime],
        poll_seconds: float,
        on_polled: Callable[[], None],
    ) -> None:
        """
        Args:
            person_now: person time, asked in a database thread.
            poll_seconds: how long the platform may keep a question without an answer.
            on_polled: called whenever the platform has answered one.
        """
        self._client = client
        self._desk = desk
        self._threads = threads
        self._person_now = person_now
        self._poll_seconds = poll_seconds
        self._on_polled = on_polled
        self._offset: int | None = None
        self._stopping = asyncio.Event()
        self._courtesies: set[asyncio.Task[None]] = set()

    async def run(self) -> None:
        """Fetch and handle until `stop`; then confirm what was handled.

        Raises:
            TokenRefusedError: the platform does not know the token any more.
        """
        failures = 0
        while not self._stopping.is_set():
            try:
                await self._handle_all(await self._fetch())
                failures = 0
            except InvalidToken:
                failures += 1
                if failures >= _REFUSALS:
                    raise TokenRefusedError from None
                await self._rest(_pause(None, failures))
            except (TelegramError, SQLAlchemyError, OSError, TimeoutError) as error:
                failures += 1
                await self._rest(_pause(error, failures))
            except Exception:
                failures += 1
                log.exception("updates not handled", extra={"action": "update"})
                await self._rest(_pause(None, failures))
        await self._confirm()

    def stop(self) -> None:
        """Fetch nothing more. What is being handled is finished."""
        self._stopping.set()

    async def _fetch(self) -> list[dict[str, Any]]:
        """What is new; nothing when `stop` comes first."""
        asking = asyncio.create_task(self._client.raw_updates(self._offset, self._poll_seconds))
        ending = asyncio.create_task(self._stopping.wait())
        await asyncio.wait((asking, ending), return_when=asyncio.FIRST_COMPLETED)
        ending.cancel()
        if asking.done():
            raw = asking.result()
            self._on_polled()
            if not raw:
                self._offset = None
            return raw
        asking.cancel()
        with suppress(asyncio.CancelledError, TelegramError):
            await asking
        return []

    async def _handle_all(self, raw: list[dict[str, Any]]) -> None:
        for data in sorted(raw, key=lambda one: int(one["update_id"])):
            if self._stopping.is_set():
                return
            await self._handle(data)
            self._offset = int(data["update_id"]) + 1

    async def _handle(self, data: Mapping[str, Any]) -> None:
        try:
            update = Update.de_json(dict(data), self._client)
            # A button's own moment is not told by the platform: it is now.
            now = await self._threads.run(self._person_now) if update.callback_query else None
            found = incoming(update, self._client.id, now)
        except (SQLAlchemyError, OSError):
            raise
        except Exception:
            # One update that cannot be read must not hide those behind it.
            log.exception("update cannot be read", extra={"action": "update"})
            return
        self._answer_button(update)
        if found is not None:
            self._show_typing(found)
            await self._threads.run(self._desk.handle, found)

    def _answer_button(self, update: Update) -> None:
        """Let the button stop turning at once; the answer itself comes from the outbox."""
        query = update.callback_query
        if query is not None:
            self._courtesy(lambda: self._client.answer_callback_query(query.id))

    def _show_typing(self, found: Incoming) -> None:
        if isinstance(found.event, Said | Edited):
            self._courtesy(lambda: self._client.send_chat_action(found.chat, ChatAction.TYPING))

    def _courtesy(self, call: Callable[[], Coroutine[Any, Any, bool]]) -> None:
        """A call that may fail without harm, beside everything else."""

        async def try_once() -> None:
            with suppress(TelegramError):
                await call()

        task = asyncio.create_task(try_once())
        self._courtesies.add(task)
        task.add_done_callback(self._courtesies.discard)

    async def _confirm(self) -> None:
        """Tell the platform what was handled, so that it is not given again after a restart."""
        with suppress(TelegramError, TimeoutError):
            async with asyncio.timeout(_ENDING_SECONDS):
                if self._offset is not None:
                    await self._client.raw_updates(self._offset, 0)
        if self._courtesies:
            await asyncio.wait(self._courtesies, timeout=_ENDING_SECONDS)

    async def _rest(self, seconds: float) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await self._stopping.wait()


def _pause(error: Exception | None, failures: int) -> float:
    """Seconds to wait after a failed round; logs why."""
    pause = min(2.0 ** min(failures - 1, 10), _LONGEST_PAUSE_SECONDS)
    match error:
        case RetryAfter():
            pause = seconds_of(error)
        case Conflict():
            log.warning(
                "another program fetches this bot's updates: stop one of the two, "
                "or delete the bot's webhook",
                extra={"action": "update"},
            )
            pause = max(pause, 3.0)
        case None:
            pass
        case _:
            kind = type(error).__name__
            log.warning("updates not fetched", extra={"action": "update", "kind": kind})
    return pause
