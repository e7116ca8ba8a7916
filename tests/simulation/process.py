"""One process of the bot, put together from its real parts, that may end at any step.

Real: the desk, the conversation, the storage, the loop of updates, the alarm clock's ringing,
the delivery with its send slots. In their place: threads (the work is done at once, in the
one thread that there is) and the attachments (values instead of drawn files). After its end
a process does nothing any more: whatever it asks of the database or the platform ends it
again.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Collection, Coroutine, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, NoReturn, ParamSpec, TypeVar, cast

from sqlalchemy.exc import OperationalError
from telegram import Bot
from telegram.error import NetworkError

from bot.alarm_clock import AlarmClock
from bot.attachments import Attachments
from bot.delivery import Delivery
from bot.desk import Desk
from bot.send_slots import SendSlots
from bot.telegram.client import Client
from bot.telegram.sending import MadeFile
from bot.telegram.update_loop import UpdateLoop
from bot.threads import Threads
from domain.conversation import respond
from domain.events import DeliveryProblem
from domain.people import Place
from storage.messages import Claim, Lane, ReadyMessage, Waiting
from tests.simulation.faults import Blow
from tests.simulation.platform import BOT_ID, Arrived

if TYPE_CHECKING:
    from tests.simulation.world import World

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")

#: Places that people name; the real gazetteer takes long to load and is tested elsewhere.
PLACES = {
    "lisbon": Place(name="Lisbon", zone="Europe/Lisbon", country="PT"),
    "pune": Place(name="Pune", zone="Asia/Kolkata", country="IN"),
    "halifax": Place(name="Halifax", zone="America/Halifax", country="CA"),
}


class Killed(BaseException):
    """The process ended inside a transaction."""


class StepThreads(Threads):
    """Does the work at once; every piece of work is a step before, in or after which the
    process may end."""

    def __init__(self, process: Process) -> None:
        self._process = process

    async def run(
        self, work: Callable[_Given, _Result], *args: _Given.args, **kwargs: _Given.kwargs
    ) -> _Result:
        process = self._process
        process.working += 1
        try:
            # Work takes its time, and others may come first, as with real threads.
            await asyncio.sleep(process.world.faults.seconds(0.0005, 0.002))
        finally:
            process.working -= 1
        process.goes_on()
        blow = process.world.faults.in_database()
        if blow is Blow.CRASH_BEFORE:
            process.end()
        with process.world.step(work, args):
            if blow in {Blow.CRASH_INSIDE, Blow.BUSY}:
                result = self._breaking_off(blow, lambda: work(*args, **kwargs))
            else:
                result = work(*args, **kwargs)
            process.world.did(work.__name__, args, result)
        if blow is Blow.CRASH_AFTER:
            process.end()
        return result

    def close(self) -> None:
        """There are no threads to end."""

    def _breaking_off(self, blow: Blow, work: Callable[[], _Result]) -> _Result:
        world = self._process.world
        problem = Killed() if blow is Blow.CRASH_INSIDE else _locked()
        try:
            with world.watched.failing_at(world.faults.statement(), problem):
                return work()
        except Killed:
            self._process.end()


class PlatformClient:
    """The bot's client of the simulated platform."""

    id = BOT_ID
    username = "simulated_bot"

    def __init__(self, process: Process) -> None:
        self._process = process
        self._platform = process.world.platform

    async def raw_updates(self, offset: int | None, wait_seconds: float) -> list[dict[str, Any]]:
        self._process.goes_on()
        blow = self._process.world.faults.in_fetching()
        if blow is Blow.BROKEN:
            raise NetworkError("Bad Gateway")
        given = await self._platform.updates(offset, wait=wait_seconds > 0)
        self._process.goes_on()
        if blow is Blow.CRASH_AFTER:
            self._process.end()
        if blow is Blow.LOST_AFTER:
            raise NetworkError("Bad Gateway")
        return given

    async def send_message(self, chat: int, text: str, **how: Any) -> Sent:
        markup = how.get("reply_markup")
        rows = getattr(markup, "inline_keyboard", ())
        tokens = tuple(str(button.callback_data) for row in rows for button in row)
        return await self._send(Arrived(chat=chat, message=0, text=text, tokens=tokens))

    async def send_photo(self, chat: int, content: bytes, *, caption: str, **how: Any) -> Sent:
        return await self._send(Arrived(chat=chat, message=0, text=caption, has_file=True))

    send_document = send_photo

    async def answer_callback_query(self, query: str) -> bool:
        return True

    async def send_chat_action(self, chat: int, action: str) -> bool:
        return True

    async def leave_chat(self, chat: int) -> bool:
        return True

    async def _send(self, arrived: Arrived) -> Sent:
        process = self._process
        process.goes_on()
        blow = process.world.faults.in_sending()
        if blow is not Blow.NONE:
            process.world.invariants.sending.concerned(arrived.chat)
            process.world.last_trouble = process.world.now()
        if blow is Blow.CRASH_BEFORE:
            process.end()
        number = await self._platform.deliver(arrived, blow)
        process.goes_on()
        if blow is Blow.CRASH_AFTER:
            process.end()
        return Sent(number)


class Sent:
    """The platform's answer to a message."""

    def __init__(self, message_id: int) -> None:
        self.message_id = message_id


class ValueAttachments(Attachments):
    """Attachments as values: what would be drawn, written down."""

    def __init__(self) -> None:
        """They need nothing."""

    async def make(self, message: ReadyMessage) -> MadeFile:
        content = repr(message.attachment).encode()
        return MadeFile(content=content, name="file", caption="", is_picture=True)

    async def in_words(self, message: ReadyMessage) -> str:
        return repr(message.attachment)


class Process:
    """A process from its start to its end, by `end` (at once) or `stop` (in good order)."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.alive = True
        self.stopping = False
        self.working = 0  #: pieces of work that have been asked for
        self._tasks: dict[asyncio.Task[Any], None] = {}
        threads = StepThreads(self)
        client = cast(Client, PlatformClient(self))
        self.desk = Desk(
            world.database,
            respond,
            look_up=find_place,
            on_outgoing=self._new_messages,
        )
        self.delivery = Delivery(
            world.database,
            threads,
            cast(Bot, client),
            SendSlots(world.database, threads, world.shape.rate),
            attachments=ValueAttachments(),
            refuse=self._refuse,
        )
        self.updates = UpdateLoop(
            client,
            self.desk,
            threads,
            person_now=self._person_now,
            poll_seconds=25,
            on_polled=_nothing,
        )
        self._clock = AlarmClock(self.desk, threads, on_rung=_nothing)
        self._threads = threads

    def start(self) -> None:
        for work in (self.delivery.run(), self.updates.run()):
            self.begin(work)

    def begin(self, work: Coroutine[Any, Any, Any]) -> None:
        """Do something as a task of this process."""
        self.world.loop.create_task(work)

    def own(self, task: asyncio.Task[Any]) -> None:
        """A task that was made while this process ran: it ends with it."""
        self._tasks[task] = None
        task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[Any]) -> None:
        self._tasks.pop(task, None)
        if self.stopping and self.alive and not self._tasks:
            self.alive = False
            self.world.process_stopped()

    def ring(self) -> None:
        """The alarm clock rings."""
        self.begin(self._clock.ring())

    def stop(self) -> None:
        """In good order: what was begun is finished, what was handled is confirmed."""
        self.stopping = True
        self.updates.stop()
        self.delivery.stop()

    def goes_on(self) -> None:
        """Ends whoever asks when the process has ended."""
        if not self.alive:
            raise asyncio.CancelledError

    def end(self) -> NoReturn:
        """The process is killed here and now."""
        self.kill()
        raise asyncio.CancelledError

    def kill(self) -> None:
        if self.alive:
            self.alive = False
            for task in tuple(self._tasks):
                task.cancel()
            self.world.process_ended()

    def _new_messages(self, lanes: Collection[Lane]) -> None:
        self.world.loop.call_soon(self._wake, lanes)

    def _wake(self, lanes: Collection[Lane]) -> None:
        if self.alive:
            self.delivery.wake(lanes)

    def _person_now(self) -> datetime:
        return self.world.loop.moment

    async def _refuse(self, claim: Claim, row: Waiting, problem: DeliveryProblem) -> None:
        await self._threads.run(self.desk.delivery_failed, claim, row, problem)


def _nothing() -> None:
    """Nobody watches over a simulated process."""


def find_place(text: str, language: str) -> Sequence[Place]:
    found = PLACES.get(text.strip().casefold())
    return () if found is None else (found,)


def _locked() -> OperationalError:
    return OperationalError("simulated", None, Exception("database is locked"))
