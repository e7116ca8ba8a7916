"""Sends what waits in the outbox: in order per chat, within the rate, alarms first.

Two lanes run side by side, texts and files, so that no alarm waits for an upload. A lane
is asked when something new was stored (`wake`), when the next message may go, and in any
case every second. All times here are machine time. A message counts as sent only after
the platform's answer; a crash between the two sends it again, and never loses it.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections import Counter
from collections.abc import Awaitable, Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from typing import Final, TypeVar

from telegram import Bot

from bot.attachments import Attachments
from bot.counters import Counters
from bot.send_slots import SendSlots
from bot.telegram.sending import Answer, Failed, MadeFile, Taken, TryLater, send
from bot.threads import Threads
from domain.events import DeliveryProblem
from domain.outcome import Rank
from storage.engine import Database
from storage.messages import Claim, Lane, ReadyMessage, Waiting
from storage.moments import LONGEST_WAIT
from storage.outbox import CHAT_PAUSE, Outbox

log = logging.getLogger(__name__)

_POLL_SECONDS: Final = 1.0
_AFTER_ERROR_SECONDS: Final = 1.0
_LONGEST_BACK_OFF: Final = timedelta(seconds=30)
_LONGEST_ALARM_BACK_OFF: Final = timedelta(seconds=5)
_NOTING_TRIES: Final = 5
#: An attachment that cannot be made this often goes as its words alone, and is given up
#: when those cannot be made as often.
_MAKING_TRIES: Final = 3
#: How long sends that have begun may take to end at shutdown.
_ENDING_SECONDS: Final = 2.0
#: `drained` waits no longer for messages that the platform does not take.
_DRAINING_SECONDS: Final = 20.0


@dataclass(frozen=True, slots=True)
class Pace:
    """How a lane is worked: messages under way at once, and how long a claim holds.

    The lease is longer than the longest request with its second, plain attempt.
    """

    workers: int
    lease: timedelta


PACES: Final = {
    Lane.TEXT: Pace(workers=16, lease=timedelta(seconds=25)),
    Lane.FILE: Pace(workers=2, lease=timedelta(seconds=90)),
}

_Result = TypeVar("_Result")

#: Marks a message as failed for good and lets the conversation hear of it.
Refuse = Callable[[Claim, Waiting, DeliveryProblem], Awaitable[None]]


class Delivery:
    """The sender of one process. `run` goes on until `stop`."""

    def __init__(
        self,
        database: Database,
        threads: Threads,
        bot: Bot,
        slots: SendSlots,
        *,
        attachments: Attachments,
        refuse: Refuse,
        counters: Counters | None = None,
        chat_pause: timedelta = CHAT_PAUSE,
    ) -> None:
        self._database = database
        self._outbox = Outbox(database, chat_pause=chat_pause)
        self._threads = threads
        self._bot = bot
        self._slots = slots
        self._refuse = refuse
        self._attachments = attachments
        self._counters = counters or Counters()
        self._worker = secrets.token_hex(8)
        #: How often the file of a message could not be made. What could not be sent is no reason
        #: to leave the file away, so the row's own count does not serve.
        self._unmade: Counter[int] = Counter()
        self._wakes = {lane: asyncio.Event() for lane in Lane}
        self._running: dict[Lane, set[asyncio.Task[bool]]] = {lane: set() for lane in Lane}
        self._stopping = False
        self._settled = asyncio.Event()

    def wake(self, lanes: Iterable[Lane] = Lane) -> None:
        """Something new waits in these lanes. Call it in the event loop, after the commit."""
        for lane in lanes:
            self._wakes[lane].set()

    async def run(self) -> None:
        """Send until `stop`, then let what is under way end."""
        if not self._database.is_postgres:
            try:
                await self._threads.run(self._outbox.take_over)
            except Exception:
                # Then what a killed process held goes when its lease has run out.
                log.exception("lanes not taken over", extra={"action": "deliver"})
        await asyncio.gather(*(self._work(lane) for lane in Lane))
        under_way = [task for tasks in self._running.values() for task in tasks]
        if under_way:
            _, late = await asyncio.wait(under_way, timeout=_ENDING_SECONDS)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)

    def stop(self) -> None:
        """Begin no more sends."""
        self._stopping = True
        self.wake()

    async def drained(self) -> None:
        """Wait until nothing waits to be sent any more, or the platform takes nothing."""
        with suppress(TimeoutError):
            async with asyncio.timeout(_DRAINING_SECONDS):
                while await self._threads.run(self._outbox.waiting):
                    self._settled.clear()
                    self.wake()
                    with suppress(TimeoutError):
                        async with asyncio.timeout(_POLL_SECONDS):
                            await self._settled.wait()

    async def _work(self, lane: Lane) -> None:
        while not self._stopping:
            self._wakes[lane].clear()
            pause = _AFTER_ERROR_SECONDS
            try:
                pause = await self._begin_some(lane)
            except Exception:
                log.exception("claiming failed", extra={"action": "deliver", "lane": lane.value})
            await self._rest(lane, pause)

    async def _begin_some(self, lane: Lane) -> float:
        """Claim as much as there are free workers; seconds until it is worth asking again."""
        running, pace = self._running[lane], PACES[lane]
        free = pace.workers - len(running)
        if free <= 0:
            return _POLL_SECONDS
        now = self._database.machine_clock()
        asked = min(free, self._slots.few)
        claims, ready = await self._threads.run(
            self._outbox.claim_or_wait, self._worker, lane, asked, now, pace.lease
        )
        for claim in claims:
            task = asyncio.create_task(self._deliver(claim))
            running.add(task)
            task.add_done_callback(lambda done, lane=lane: self._ended(lane, done))  # type: ignore[misc]
        if len(claims) == asked:  # there may be more
            return 0.0 if len(running) < pace.workers else _POLL_SECONDS
        if ready is None:
            return _POLL_SECONDS
        return max(0.005, (ready - self._database.machine_clock()).total_seconds())

    async def _rest(self, lane: Lane, seconds: float) -> None:
        if seconds <= 0 or self._stopping:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(min(seconds, _POLL_SECONDS)):
                await self._wakes[lane].wait()

    def _ended(self, lane: Lane, task: asyncio.Task[bool]) -> None:
        running = self._running[lane]
        was_full = len(running) >= PACES[lane].workers
        running.discard(task)
        # Most messages leave nothing behind: then asking the database would find nothing.
        if was_full or task.cancelled() or task.result():
            self._wakes[lane].set()
        self._settled.set()

    async def _deliver(self, claim: Claim) -> bool:
        """Send one message; whether it is worth asking for the next one now."""
        try:
            return await self._deliver_one(claim)
        except Exception:
            # The lease runs out by itself and the message is tried again.
            log.exception("sending failed", extra={"action": "deliver", "lane": claim.lane.value})
            await asyncio.sleep(_AFTER_ERROR_SECONDS)
            return True

    async def _deliver_one(self, claim: Claim) -> bool:
        slot = await self._slots.wait()
        if self._stopping:
            await self._threads.run(self._outbox.release, claim)
            return True
        now = self._database.machine_clock()
        row = await self._threads.run(self._outbox.begin, claim, now)
        if row is None:
            return True
        message, file = row.message, None
        if message.attachment is not None:
            try:
                message, file = await self._complete(row)
            except Exception:
                log.exception("attachment could not be made", extra={"action": "attach"})
                self._unmade[row.id] += 1
                given_up = self._unmade[row.id] >= 2 * _MAKING_TRIES
                answer = Failed(DeliveryProblem.REFUSED) if given_up else TryLater()
                return await self._settle(claim, row, answer)
        await self._slots.in_time(slot)
        return await self._settle(claim, row, await send(self._bot, message, file))

    async def _complete(self, row: Waiting) -> tuple[ReadyMessage, MadeFile | None]:
        """The message with its file, or after too many failures with words instead."""
        if self._unmade[row.id] < _MAKING_TRIES:
            return row.message, await self._attachments.make(row.message)
        words = await self._attachments.in_words(row.message)
        text = "\n\n".join(part for part in (row.message.html, words) if part)
        return replace(row.message, html=text), None

    async def _settle(self, claim: Claim, row: Waiting, answer: Answer) -> bool:
        """Note what came of it; whether something of this lane still waits."""
        if not isinstance(answer, TryLater):
            self._unmade.pop(row.id, None)
        match answer:
            case Taken(message):
                return await self._note_sent(claim, row, message)
            case TryLater(seconds):
                log.warning(
                    "platform did not take a message, later again",
                    extra={"action": "deliver", "attempt": row.attempts + 1},
                )
                self._counters.tried_again(row.message.rank)
                await self._later(claim, row, seconds)
            case Failed(problem):
                log.warning(
                    "message refused for good",
                    extra={"action": "deliver", "kind": problem.value},
                )
                await self._noted(lambda: self._refuse(claim, row, problem))
                self._counters.failed(row.message.rank, problem)
        return True

    async def _note_sent(self, claim: Claim, row: Waiting, message: int | None) -> bool:
        now = self._database.machine_clock()
        note = partial(self._threads.run, self._outbox.sent, claim, row, message, now)
        more = await self._noted(note)
        self._counters.delivered(row.message.rank, now - row.queued_at)
        return more

    async def _noted(self, note: Callable[[], Awaitable[_Result]]) -> _Result:
        """Note what came of a message, several times if need be.

        What was sent and is not noted is sent twice; what failed and is not noted waits for the
        end of the lease.
        """
        for attempt in range(1, _NOTING_TRIES + 1):
            try:
                return await note()
            except Exception:
                if attempt == _NOTING_TRIES:
                    raise
                log.exception("noting failed", extra={"action": "note", "attempt": attempt})
                await asyncio.sleep(_AFTER_ERROR_SECONDS)
        raise AssertionError("the last attempt returns or raises")

    async def _later(self, claim: Claim, row: Waiting, asked_seconds: float | None) -> None:
        now = self._database.machine_clock()
        if asked_seconds is None:
            at = now + back_off(row.attempts, row.message.rank)
        else:
            # Asked for longer, it is asked again: a refusal costs less than an alarm's wait.
            at = now + min(timedelta(seconds=asked_seconds), LONGEST_WAIT)
            await self._slots.flooded(claim.chat, at)
        whole = asked_seconds is not None
        await self._noted(
            partial(self._threads.run, self._outbox.retry, claim, row, at, whole_chat=whole)
        )


def back_off(attempts: int, rank: Rank) -> timedelta:
    """How long to wait after a failed attempt: doubled each time, at most five seconds for
    an alarm and half a minute for the rest."""
    longest = _LONGEST_ALARM_BACK_OFF if rank is Rank.ALARM else _LONGEST_BACK_OFF
    return min(timedelta(seconds=2 ** min(attempts, 10)), longest)
