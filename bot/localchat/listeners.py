"""Who listens to what happens in the chats: the open pages and the tests' visitors.

Each listener gets every event in order. One that stops reading is dropped; its page
connects again and asks for the whole state.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

Json = dict[str, Any]

_MOST_WAITING: Final = 2_000


class Listeners:
    """A set of queues, one a listener. None in a queue means: this listener is dropped."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[Json | None]] = set()

    def __len__(self) -> int:
        return len(self._queues)

    @contextmanager
    def listening(self) -> Iterator[asyncio.Queue[Json | None]]:
        """A queue of all events from now on."""
        queue: asyncio.Queue[Json | None] = asyncio.Queue()
        self._queues.add(queue)
        try:
            yield queue
        finally:
            self._queues.discard(queue)

    def tell(self, kind: str, **content: Any) -> None:
        """Give an event to everyone who listens."""
        for queue in tuple(self._queues):
            queue.put_nowait({"type": kind, **content})
            if queue.qsize() > _MOST_WAITING:
                self._drop(queue)

    def close(self) -> None:
        """Drop everyone."""
        for queue in tuple(self._queues):
            self._drop(queue)

    def _drop(self, queue: asyncio.Queue[Json | None]) -> None:
        self._queues.discard(queue)
        queue.put_nowait(None)
