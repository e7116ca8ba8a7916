"""One simulated world: people, platform, faults and the bot, under one seeded scheduler.

    world = World(seed=7, shape=SHAPES["stormy"])
    result = world.run()

The same seed and shape give the same world, step by step. Nothing waits: the clock goes from
one happening to the next. All moments are aware, UTC; person time and machine time are the
same simulated clock.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from heapq import heappop, heappush
from itertools import count
from random import Random
from time import process_time
from typing import Any, Final

from bot.incoming import Incoming
from storage.messages import Claim, Waiting
from tests.simulation import town
from tests.simulation.acts import Act
from tests.simulation.books import Books, Step
from tests.simulation.faults import Faults
from tests.simulation.invariants import Invariants
from tests.simulation.loop import SimulatedLoop
from tests.simulation.people import Person
from tests.simulation.platform import Platform
from tests.simulation.process import Process
from tests.simulation.shapes import Shape
from tests.simulation.surroundings import errors_heard, thrown_by, without_collecting
from tests.simulation.verdict import Verdict
from tests.simulation.watching import Change, WatchedDatabase

START: Final = datetime(2026, 3, 2, 5, tzinfo=UTC)  # a Monday; zones change their clocks soon
#: A clean-up after the last event that takes longer than this never ends.
_SETTLING: Final = timedelta(minutes=30)
_LONG_QUIET: Final = timedelta(hours=6)
_TRACE: Final = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What came of a world. `broken` is None when everything held."""

    seed: int
    shape: str
    broken: str | None
    trace: tuple[str, ...]
    judged: Counter[str]
    patient_weeks: float
    seconds: float  #: of the processor
    steps: int
    digest: str

    def told(self) -> str:
        """What did not hold, with the way there and how to see it again."""
        way = "\n".join(self.trace)
        again = f"python -m tests.simulation --shape {self.shape} --from {self.seed} --worlds 1"
        return f"seed {self.seed}: {self.broken}\n{way}\nagain: {again}"


class World:
    """Everything of one run. Run it once."""

    def __init__(self, seed: int, shape: Shape) -> None:
        self.seed = seed
        self.shape = shape
        self.loop = SimulatedLoop(START)
        self.loop.when_idle = self.idle
        self.loop.set_task_factory(self._task)
        self.faults = Faults(Random(f"{seed} faults"), shape.rates)
        self.books = Books()
        self.verdict = Verdict(self.stop)
        self.invariants = Invariants(self, self.verdict)
        self.watched = WatchedDatabase(self.now)
        self.watched.on_commit = self._committed
        self.database = self.watched.database
        self.last_trouble = START  #: a fault, or a process that began or ended
        self.last_down = START  #: a process that began or ended
        self.platform = Platform(
            now=self.now,
            faults=self.faults,
            dice=Random(f"{seed} platform"),
            arrived=self.invariants.sending.arrived,
            refused=self.invariants.sending.refused,
            confirmed=self.invariants.sending.confirmed,
        )
        self.people: list[Person] = []
        self.process: Process | None = None
        self.over = False
        self.steps = 0
        self._coming: list[tuple[datetime, int, bool, Callable[[], object]]] = []
        self._numbers = count()
        self._step = Step("outside")
        self._trace: deque[tuple[datetime, Step, list[Change]]] = deque(maxlen=_TRACE)
        self._digest = hashlib.sha256()
        self._rang = START
        self._ends = START + timedelta(weeks=shape.weeks)

    # --- time

    def now(self) -> datetime:
        return self.loop.moment

    def later(self, seconds: float, act: Callable[[], object], *, needed: bool = False) -> None:
        """Let something happen. What is not `needed` happens no more when the world is over."""
        at = self.loop.moment + timedelta(seconds=seconds)
        heappush(self._coming, (at, next(self._numbers), needed, act))

    def stop(self) -> None:
        """Nothing more happens."""
        self.loop.stop()

    # --- the run

    def run(self) -> Result:
        begun = process_time()
        with ExitStack() as stack:
            stack.enter_context(errors_heard(self.verdict))
            stack.enter_context(without_collecting())
            stack.enter_context(thrown_by(Random(f"{self.seed} values")))
            stack.callback(self.watched.close)
            stack.callback(self.loop.close)
            self.people = town.settle(self)
            for person in self.people:
                person.lives()
            self._outages()
            self.later(self.shape.weeks * 7 * 86400, self._end, needed=True)
            self._start()
            self.loop.run_forever()
            self._finish()
        return Result(
            seed=self.seed,
            shape=self.shape.name,
            broken=self.verdict.broken,
            trace=tuple(self._told()),
            judged=self.verdict.seen,
            patient_weeks=(self.shape.patients + 2 * self.shape.couples) * self.shape.weeks,
            seconds=process_time() - begun,
            steps=self.steps,
            digest=self._digest.hexdigest(),
        )

    def idle(self, seconds: float | None) -> None:
        """Nothing is ready: time goes on to whatever comes next."""
        coming = self._next()
        busy = self._busy()
        if self.over and self.process is not None and not busy and not self._due():
            self.stop()
            return
        left = None if coming is None else (coming - self.now()).total_seconds()
        if busy and seconds is not None and (left is None or seconds < left):
            self.loop.advance(seconds)
            return
        if coming is None or left is None:
            self.stop()
            return
        if busy:
            self.loop.advance(max(left, 0.0))
        else:
            if coming - self.now() > _LONG_QUIET:
                self.platform.quiet()
            self.loop.jump(coming)
        self.loop.call_soon(self._happen)

    def _busy(self) -> bool:
        """Whether the process has something to do besides waiting."""
        process = self.process
        if process is None:
            return False
        under_way = process.stopping or process.working > 0
        return under_way or self.books.waits() or bool(self.platform.pending)

    def _next(self) -> datetime | None:
        coming = self._coming[0][0] if self._coming else None
        due = self._ringing()
        if due is None or self.over:
            return coming
        return due if coming is None else min(coming, due)

    def _ringing(self) -> datetime | None:
        """When the alarm clock rings next: at the next due moment, at most once a second."""
        due = self.books.next_due() if self.process else None
        return None if due is None else max(due, self._rang + timedelta(seconds=1))

    def _due(self) -> bool:
        due = self._ringing()
        return due is not None and due <= self.now()

    def _happen(self) -> None:
        if self._coming and self._coming[0][0] <= self.now():
            heappop(self._coming)[3]()
        elif self.process is not None and self._due():
            self._rang = self.now()
            self.process.ring()

    def _end(self) -> None:
        """Nobody does anything any more; what is under way may end."""
        self.over = True
        self.faults.calm = True
        self._coming = [entry for entry in self._coming if entry[2]]
        self._coming.sort()
        for person in self.people:
            person.chat.closed = False
        self._start()
        self.later(_SETTLING.total_seconds(), self.stop, needed=True)

    def _finish(self) -> None:
        if self.verdict.broken is None:
            self.invariants.sending.at_rest(self.platform.pending)
        process = self.process
        if process is not None:
            self.over = True
            process.kill()
        self.loop.when_idle = lambda seconds: self.loop.stop()
        self.loop.run_forever()

    # --- processes

    def _start(self) -> None:
        if self.process is None:
            self.process = Process(self)
            self._rang = self.now()
            self.last_trouble = self.last_down = self.now()
            self.process.start()

    def process_ended(self) -> None:
        """The process was killed; the host starts it again."""
        self.invariants.sending.ended()
        self.process = None
        self.last_trouble = self.last_down = self.now()
        seconds = 1.0 if self.faults.calm else self.faults.downtime()
        self.later(seconds, self._start, needed=True)

    def _task(self, loop: asyncio.AbstractEventLoop, work: Any, **how: Any) -> asyncio.Task[Any]:
        """Every task belongs to the process that made it, and ends with it."""
        task = asyncio.Task(work, loop=loop, **how)
        if self.process is not None:
            self.process.own(task)
        return task

    def _outages(self) -> None:
        dice = Random(f"{self.seed} outages")
        week = 7 * 86400

        def now_and_then(times: float, act: Callable[[], object]) -> None:
            if times:
                moment = dice.expovariate(times) * week
                while moment < self.shape.weeks * week:
                    self.later(moment, act)
                    moment += dice.expovariate(times) * week

        now_and_then(self.shape.outages, self._kill)
        now_and_then(self.shape.restarts, self._restart)

    def _kill(self) -> None:
        if self.process is not None:
            self.process.kill()

    def _restart(self) -> None:
        if self.process is not None:
            self.process.stop()

    def process_stopped(self) -> None:
        """It has ended in good order, and the next one begins."""
        self.invariants.sending.ended()
        self.process = None
        self.last_trouble = self.last_down = self.now()
        self.later(2.0, self._start, needed=True)

    # --- steps

    @contextmanager
    def step(self, work: Callable[..., object], args: Sequence[object]) -> Iterator[None]:
        """One piece of work on the database."""
        act = update = None
        if args and isinstance(args[0], Incoming):
            update = args[0].update_id
            found = self.platform.acts.get(update or 0)
            act = found if isinstance(found, Act) else None
        self._step = Step(work.__name__, act, update)
        try:
            yield
        finally:
            self._step = Step("outside")

    def did(self, name: str, args: Sequence[object], result: Any) -> None:
        """What a piece of work of the delivery has given."""
        sending = self.invariants.sending
        if name == "claim_or_wait":
            sending.claimed(result[0])
        elif name == "begin" and result is not None:
            sending.began(result.id, args[0].until)
        elif name in {"begin", "retry", "release"} and isinstance(args[0], Claim):
            sending.given_back(args[0])
            if name == "retry" and isinstance(args[1], Waiting):
                self.books.rows[args[1].id].began = False

    def _committed(self, changes: list[Change]) -> None:
        step = self._step
        self.steps += 1
        if changes:
            self._trace.append((self.now(), step, changes))
            self._digest.update(repr((self.now(), step.name, changes)).encode())
        if changes or step.update is not None:
            self.invariants.committed(step, changes)

    def _told(self) -> Iterator[str]:
        for moment, step, changes in self._trace:
            yield f"{moment:%m-%d %H:%M:%S.%f} {step}"
            for table, what, values in changes:
                if table not in {"seen_updates", "buttons"}:
                    shown = [str(v)[:70] for v in values]
                    yield f"    {table} {what}: {' | '.join(shown)}"
