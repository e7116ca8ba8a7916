"""What a process knows of its own life: when the platform last answered, the clock last rang.

Kept in memory, machine time. `heartbeat.py` writes it down, `life_sign.py` tells the outside.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime

from storage.runs import Run


class Vitals:
    """The moments of one process. Used in the event loop only."""

    def __init__(self, machine_clock: Callable[[], datetime]) -> None:
        self._clock = machine_clock
        self._id = secrets.token_hex(8)
        self._started_at = machine_clock()
        self._polled_at: datetime | None = None
        self._rang_at: datetime | None = None

    def polled(self) -> None:
        """The platform has answered the question for updates."""
        self._polled_at = self._clock()

    def rang(self) -> None:
        """The alarm clock has handled what was due, or some of very much."""
        self._rang_at = self._clock()

    def run(self) -> Run:
        """All of it, as it stands now."""
        return Run(
            id=self._id,
            started_at=self._started_at,
            seen_at=self._clock(),
            polled_at=self._polled_at,
            rang_at=self._rang_at,
        )
