"""Puts the parts together: the only place that knows all of them.

`Office` is what works without a platform (database, desk), `Program` the whole bot on one.
"""

from __future__ import annotations

import asyncio
import logging
import signal
import sys
import threading
from collections.abc import Callable, Collection, Coroutine
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy.exc import SQLAlchemyError
from telegram.error import InvalidToken, TelegramError

from bot import gazetteer
from bot.alarm_clock import AlarmClock
from bot.attachments import Attachments
from bot.counters import Counters
from bot.delivery import Delivery
from bot.desk import Desk
from bot.errors import CuffbellError, TokenRefusedError
from bot.health_server import HealthServer
from bot.heartbeat import Heartbeat
from bot.life_sign import LifeSign
from bot.send_slots import SendSlots
from bot.settings import Address, Settings
from bot.telegram.client import Client, make_client
from bot.telegram.menu import set_menu
from bot.telegram.update_loop import UpdateLoop
from bot.threads import Threads, database_threads
from bot.vitals import Vitals
from domain.conversation import respond
from domain.events import DeliveryProblem
from storage.engine import Database, open_database
from storage.errors import StorageError
from storage.messages import Claim, Lane, Waiting
from storage.notices import OutboxListener
from storage.outbox import CHAT_PAUSE
from storage.sole import SoleRun

log = logging.getLogger(__name__)

_RENDERERS: Final = 2
_LONGEST_PAUSE_SECONDS: Final = 30.0
_PLACES_AFTER_SECONDS: Final = 5.0
#: Whatever does not end by itself is left behind after this: the host waits for five.
_STOP_SECONDS: Final = 4.0


def _nothing(*_: object) -> None:
    """Nobody listens yet."""


class Office:
    """The desk with its database and threads. Make it in the event loop, end it with `close`."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.threads = database_threads(is_postgres=database.is_postgres)
        self.on_outgoing: Callable[[Collection[Lane]], None] = _nothing
        self.on_timer: Callable[[], None] = _nothing
        self.counters = Counters()
        loop = asyncio.get_running_loop()
        self.desk = Desk(
            database,
            respond,
            look_up=gazetteer.find,
            # The desk calls these in its own thread.
            on_outgoing=lambda lanes: _tell(loop, lambda: self.on_outgoing(lanes)),
            on_timer=lambda: _tell(loop, lambda: self.on_timer()),
            on_alarm=self.counters.alarm,
        )

    def person_now(self) -> datetime:
        """Person time. Call it in a database thread."""
        return self.database.machine_clock() + self.desk.ahead()

    def close(self) -> None:
        """Finish what runs and close the database."""
        self.threads.close()
        self.database.dispose()


class Program:
    """The running bot: updates in, messages out, timers.

    Args:
        rate: messages a second that the platform allows.
        invented: pictures and reports say that the readings are made up.
        chat_pause: between two messages to one chat.
        poll_seconds: how long the platform may keep a question for updates.
        health: where a monitor may ask how it goes; None for nowhere.
        life_sign: an address that is called every minute while all goes well.
    """

    def __init__(
        self,
        office: Office,
        client: Client,
        *,
        rate: float,
        invented: bool = False,
        chat_pause: timedelta = CHAT_PAUSE,
        poll_seconds: float = 25.0,
        health: Address | None = None,
        life_sign: str | None = None,
    ) -> None:
        self._office = office
        self._client = client
        self._renderers = Threads(_RENDERERS, "renderer")
        self._stopping = asyncio.Event()
        self._tasks: set[asyncio.Task[None]] = set()
        database, threads = office.database, office.threads
        vitals = Vitals(database.machine_clock)
        self._vitals = vitals
        self._updates = UpdateLoop(
            client,
            office.desk,
            threads,
            person_now=office.person_now,
            poll_seconds=poll_seconds,
            on_polled=vitals.polled,
        )
        self._clock = AlarmClock(office.desk, threads, on_rung=vitals.rang)
        self.delivery = Delivery(
            database,
            threads,
            client,
            SendSlots(database, threads, rate),
            attachments=Attachments(database, threads, self._renderers, invented=invented),
            refuse=self._refuse,
            counters=office.counters,
            chat_pause=chat_pause,
        )
        loop = asyncio.get_running_loop()
        self._listener = OutboxListener(database, lambda: _tell(loop, self.delivery.wake))
        self._heartbeat = Heartbeat(database, threads, vitals, on_timers=self._set_next)
        self._health_address = health
        self.health = HealthServer(database, threads, office.counters)
        self._life_sign = LifeSign(life_sign, database, threads, vitals) if life_sign else None
        office.on_outgoing = self.delivery.wake
        office.on_timer = self._set_next

    async def run(self) -> None:
        """Work until `stop`, then finish what was begun, within `_STOP_SECONDS`.

        Raises:
            TokenRefusedError: the platform does not know the token.
            HealthAddressError: nobody can listen where a monitor should ask.
        """
        try:
            if self._health_address is not None:
                await self.health.start(self._health_address)
            if await self._unless_stopped(self._meet_platform()):
                # Before the clock: after an outage that is said before what was due in it.
                self._vitals.polled()
                await self._first_beat()
                self._beside(self._heartbeat.run())
                if self._life_sign is not None:
                    self._beside(self._life_sign.run())
                self._beside(self._set_menu())
                self._beside(_load_places())
                self._clock.start()
                if self._office.database.is_postgres:
                    self._listener.start()
                self._set_next()
                await self._work()
        finally:
            await self._end()

    def stop(self) -> None:
        """End `run` soon. Call it in the event loop."""
        self._stopping.set()

    async def _work(self) -> None:
        sending = asyncio.create_task(self.delivery.run())
        fetching = asyncio.create_task(self._updates.run())
        stopping = asyncio.create_task(self._stopping.wait())
        await asyncio.wait((fetching, stopping), return_when=asyncio.FIRST_COMPLETED)
        stopping.cancel()
        self._updates.stop()
        self.delivery.stop()
        clock = asyncio.create_task(self._clock.stop())
        _, left = await asyncio.wait((fetching, sending, clock), timeout=_STOP_SECONDS)
        for task in left:
            log.warning("not ended in time", extra={"action": "stop"})
            task.cancel()
        if fetching.done():
            fetching.result()

    async def _unless_stopped(self, meeting: Coroutine[None, None, bool]) -> bool:
        """What it gives; False when `stop` comes first, also before a server that is silent."""
        met = asyncio.create_task(meeting)
        stopping = asyncio.create_task(self._stopping.wait())
        await asyncio.wait((met, stopping), return_when=asyncio.FIRST_COMPLETED)
        stopping.cancel()
        if met.done():
            return met.result()
        met.cancel()
        await asyncio.wait((met,))
        return False

    async def _meet_platform(self) -> bool:
        """Learn the bot's name; tried until it works. False when `stop` came first."""
        failures = 0
        while not self._stopping.is_set():
            try:
                await self._client.initialize()
                await self._drop_webhook()
                await self._office.threads.run(self._store_name)
            except InvalidToken:
                raise TokenRefusedError from None
            except (TelegramError, SQLAlchemyError) as error:
                pause = min(2.0**failures, _LONGEST_PAUSE_SECONDS)
                failures += 1
                kind = type(error).__name__
                log.warning(
                    "platform or database not reached", extra={"action": "start", "kind": kind}
                )
                with suppress(TimeoutError):
                    async with asyncio.timeout(pause):
                        await self._stopping.wait()
            else:
                log.info("ready", extra={"action": "start"})
                return True
        return False

    async def _drop_webhook(self) -> None:
        """While a webhook is set the platform gives no updates. What waits is kept.

        A Bot API server that does not know of webhooks has none to drop; the client library
        takes its "no such method" for a refused token, so it must not end the start.
        """
        try:
            if (await self._client.get_webhook_info()).url:
                await self._client.delete_webhook(drop_pending_updates=False)
        except (TelegramError, TypeError, AttributeError) as error:
            kind = type(error).__name__
            log.warning("webhook not looked up", extra={"action": "start", "kind": kind})

    def _store_name(self) -> None:
        with self._office.database.work() as work:
            work.set_bot(self._client.id, self._client.username or "")

    async def _set_menu(self) -> None:
        try:
            await set_menu(self._client)
        except TelegramError as error:
            kind = type(error).__name__
            log.warning("menu not set", extra={"action": "start", "kind": kind})

    async def _refuse(self, claim: Claim, row: Waiting, problem: DeliveryProblem) -> None:
        await self._office.threads.run(self._office.desk.delivery_failed, claim, row, problem)

    async def _first_beat(self) -> None:
        with suppress(Exception):  # it has been logged, and the next one comes
            await self._heartbeat.beat()

    def _set_next(self) -> None:
        self._beside(self._clock.set_next())

    def _beside(self, work: Coroutine[None, None, None]) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _end(self) -> None:
        for task in tuple(self._tasks):
            task.cancel()
        self._office.on_outgoing = self._office.on_timer = _nothing
        await asyncio.to_thread(self._listener.stop)
        await self.health.stop()
        with suppress(TelegramError, RuntimeError):
            await self._client.shutdown()
        self._renderers.close()


def run_bot(settings: Settings) -> int:
    """Run the bot until a signal; the exit status.

    Raises:
        CuffbellError: no or a wrong token, or a database that cannot be used.
    """
    token = settings.token
    try:
        return asyncio.run(_until_signal(settings, token))
    except StorageError as error:
        raise CuffbellError(str(error)) from error


async def _until_signal(settings: Settings, token: str) -> int:
    office = Office(open_database(settings.database_url))
    try:
        sole = SoleRun(office.database)
        try:
            client = make_client(token, settings.telegram_api)
            program = Program(
                office,
                client,
                rate=settings.send_rate,
                health=settings.health_address,
                life_sign=settings.life_sign_url,
            )
            stop_at_signals(program.stop)
            await program.run()
        finally:
            sole.release()
    finally:
        office.close()
    return 0


def stop_at_signals(stop: Callable[[], None]) -> None:
    """Call `stop` in the event loop at SIGTERM and SIGINT."""
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        if sys.platform == "win32":  # its loops take no signals
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop))
        else:
            loop.add_signal_handler(number, stop)


async def _load_places() -> None:
    """Load the gazetteer, but not in the first busy moments, and in nobody's way."""
    await asyncio.sleep(_PLACES_AFTER_SECONDS)
    threading.Thread(target=gazetteer.load, name="places", daemon=True).start()


def _tell(loop: asyncio.AbstractEventLoop, hook: Callable[[], None]) -> None:
    with suppress(RuntimeError):  # the loop has ended: nobody is left to be told
        loop.call_soon_threadsafe(hook)
