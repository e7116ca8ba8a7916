"""An event loop that never waits: when nothing is ready, the simulated clock goes on instead.

Two clocks, as on a machine that may be suspended. `moment` is the wall clock (aware, UTC),
which the database and the platform read. `time()` is the monotonic clock, in seconds, which
asyncio's sleeps and time-outs read. Both go on together while something is under way; while
nothing is, the wall clock jumps and the monotonic one stands, so that no poll that would
find nothing is ever run.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime, timedelta

#: Decides what happens when nothing is ready. Takes the seconds until the loop's own next
#: timer, None when it has none.
WhenIdle = Callable[[float | None], None]


class SimulatedLoop(asyncio.BaseEventLoop):
    """Runs in one thread, without sockets, signals or real time; so it replays exactly."""

    def __init__(self, start: datetime) -> None:
        super().__init__()
        self.moment = start
        self.when_idle: WhenIdle = lambda seconds: self.stop()
        self._monotonic = 0.0
        # asyncio asks its selector to wait: that is the one place where time may pass.
        self._selector = self

    def time(self) -> float:
        return self._monotonic

    def advance(self, seconds: float) -> None:
        """Both clocks go on, as on a machine that is awake."""
        self._monotonic += seconds
        self.moment += timedelta(seconds=seconds)

    def jump(self, to: datetime) -> None:
        """Only the wall clock goes on, as on a machine that was suspended."""
        self.moment = max(self.moment, to)

    # --- what asyncio asks of a loop and its selector

    def select(self, seconds: float | None) -> list[object]:
        if seconds is None or seconds > 0:
            self.when_idle(seconds)
        return []

    def _process_events(self, event_list: list[object]) -> None:
        assert not event_list

    def _write_to_self(self) -> None:
        """Nobody else's thread has to be woken."""
