"""Logging: lines on standard error, of our own records only.

A record is a fixed message and a few fields (`extra={"action": …}`). What could hold health
data, names, texts or the token never gets here: other libraries' records are left out (their
debug lines hold whole requests), and an exception is shown by its type and its place in
the code, never by its text.
"""

from __future__ import annotations

import logging
import sys
import traceback
from types import TracebackType
from typing import Final

OUR_PACKAGES: Final = ("bot", "storage", "domain")

#: The only fields that a record may carry besides its message.
FIELDS: Final = ("action", "count", "status", "attempt", "seconds", "kind", "lane", "key")

_LEVELS: Final = {"debug": logging.DEBUG, "info": logging.INFO, "warning": logging.WARNING}


class Lines(logging.Formatter):
    """`2026-03-10T07:42:00+0000 info bot.delivery: outgoing sent action=deliver count=3`."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(level)s %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%S%z")

    def format(self, record: logging.LogRecord) -> str:
        record.level = record.levelname.lower()
        # A cached text may have been made by another formatter, with the exception's words.
        record.exc_text = None
        return super().format(record)

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802
        fields = [f" {name}={getattr(record, name)}" for name in FIELDS if hasattr(record, name)]
        return super().formatMessage(record) + "".join(fields)

    def formatException(  # noqa: N802
        self,
        ei: tuple[type[BaseException], BaseException, TracebackType | None]
        | tuple[None, None, None],
    ) -> str:
        error, parts = ei[1], []
        while error is not None:
            frames = traceback.extract_tb(error.__traceback__)
            places = [f"  {frame.filename}:{frame.lineno} in {frame.name}" for frame in frames]
            parts.append("\n".join([type(error).__qualname__, *places]))
            error = error.__cause__ or error.__context__
        return "\nafter ".join(parts)


def set_up(level: str) -> None:
    """Send our records at or above `level` ("debug", "info", "warning") to standard error."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines())
    for name in OUR_PACKAGES:
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.setLevel(_LEVELS[level])
        logger.propagate = False
    # Without a handler at the root, Python would print other libraries' warnings by itself.
    logging.getLogger().handlers = [logging.NullHandler()]
