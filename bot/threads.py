"""Blocking work (the database, the renderer) done away from the event loop.

SQLite gets one thread, because it has one writer and a second would only wait for it;
PostgreSQL gets as many as its pool has connections.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, ParamSpec, TypeVar

from storage.engine import POOL_SIZE

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")

_SQLITE_THREADS: Final = 1


class Threads:
    """A few threads of a kind. Close it with `close`."""

    def __init__(self, count: int, name: str) -> None:
        self._pool = ThreadPoolExecutor(max_workers=count, thread_name_prefix=name)

    async def run(
        self, work: Callable[_Given, _Result], *args: _Given.args, **kwargs: _Given.kwargs
    ) -> _Result:
        """The result of `work`; it is finished even when the caller is cancelled."""
        future = self._pool.submit(work, *args, **kwargs)
        return await asyncio.wrap_future(future)

    def close(self) -> None:
        """Wait for what runs and take nothing more."""
        self._pool.shutdown(wait=True, cancel_futures=True)


def database_threads(*, is_postgres: bool) -> Threads:
    """The threads in which the database is used."""
    return Threads(POOL_SIZE if is_postgres else _SQLITE_THREADS, "database")
