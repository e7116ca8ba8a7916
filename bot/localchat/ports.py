"""What the local chat needs from outside: the clock by which its people live.

Person time, always aware and in UTC. The local chat takes the date of every message from
this clock and never moves it by itself; its own limits and waits run on machine time.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final, Protocol

#: How far the chat page may move the clock in one go.
STEPS: Final = ("minute", "hour", "next", "morning")


class PersonClock(Protocol):
    """The time in which the people of the chat live; it may be moved forward."""

    def now(self) -> datetime:
        """The present moment, aware, UTC."""

    async def move(self, step: str) -> None:
        """Go forward by one of `STEPS`, handling everything that falls due on the way."""

    async def next_due(self) -> datetime | None:
        """When the next thing falls due, aware, UTC; None when nothing is planned."""
