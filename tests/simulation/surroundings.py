"""What is put in place of the machine around a world: its log, its dice, its memory."""

from __future__ import annotations

import gc
import logging
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from unittest.mock import patch

from sqlalchemy.exc import OperationalError

from tests.simulation.verdict import Verdict

_OURS = ("bot", "storage", "domain")


class _Listening(logging.Handler):
    """An error that is logged and was not thrown by the simulation itself breaks the world."""

    def __init__(self, verdict: Verdict) -> None:
        super().__init__(logging.ERROR)
        self._verdict = verdict

    def emit(self, record: logging.LogRecord) -> None:
        if not record.name.startswith(_OURS):
            return  # asyncio's own, of tasks that ended with their process
        problem = record.exc_info[1] if record.exc_info else None
        thrown = isinstance(problem, OperationalError) and problem.statement == "simulated"
        kind = getattr(record, "kind", "")
        self._verdict.demand(thrown, f"logged: {record.getMessage()} {kind} {problem!r}")


@contextmanager
def errors_heard(verdict: Verdict) -> Iterator[None]:
    """Warnings are many here, and every one would be written down: only errors are heard."""
    root = logging.getLogger()
    handlers, level = root.handlers, root.level
    root.handlers = [_Listening(verdict)]
    root.setLevel(logging.ERROR)
    try:
        yield
    finally:
        root.handlers = handlers
        root.setLevel(level)


@contextmanager
def thrown_by(dice: Random) -> Iterator[None]:
    """Ids, codes and tokens come from the seed, so that a world can be replayed."""
    with (
        patch.object(secrets, "token_bytes", lambda count=32: dice.randbytes(count)),
        patch.object(secrets, "token_hex", lambda count=32: dice.randbytes(count).hex()),
        patch.object(secrets, "token_urlsafe", lambda count=32: dice.randbytes(count).hex()),
    ):
        yield


@contextmanager
def without_collecting() -> Iterator[None]:
    """A world is small and short: looking for garbage all the time takes longer than it."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
