"""Bad moments on order, and the list of all calls: how tests try what a bot does then.

Moments are machine time (`time.monotonic`, seconds).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

_MOST_CALLS: Final = 100_000


class Fault(StrEnum):
    """What goes wrong with a call.

    The two drops close the connection without an answer, before anything was done or after
    everything was done; `TIMEOUT` does nothing and never answers.
    """

    SERVER_ERROR = "500"
    FLOOD = "429"
    DROP_BEFORE_EFFECT = "drop-before-effect"
    DROP_AFTER_EFFECT = "drop-after-effect"
    TIMEOUT = "timeout"


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One call of the bot. `outcome` is "ok", the refusal's code and text, the fault,
    or "client gone" for a call that waited in vain."""

    method: str
    chat: int | None
    machine_time: float
    outcome: str


@dataclass(slots=True, kw_only=True)
class _Order:
    method: str
    fault: Fault
    left: int
    chat: int | None


class Faults:
    """Orders that wait for their call."""

    def __init__(self) -> None:
        self._orders: list[_Order] = []

    def fail_next(self, method: str, fault: Fault, count: int, chat: int | None) -> None:
        """Let the next `count` calls of the method fail, in one chat or in any."""
        self._orders.append(_Order(method=method.lower(), fault=fault, left=count, chat=chat))

    def take(self, method: str, chat: int | None) -> Fault | None:
        """The fault for this call, None for none; it is used up by asking."""
        for order in self._orders:
            if order.method == method.lower() and order.chat in (None, chat) and order.left > 0:
                order.left -= 1
                return order.fault
        return None


class Calls(deque[Call]):
    """The last calls, oldest first."""

    def __init__(self) -> None:
        super().__init__(maxlen=_MOST_CALLS)

    def of(self, method: str, chat: int | None = None) -> list[Call]:
        """The calls of one method, in one chat or in any."""
        return [
            call
            for call in self
            if call.method.lower() == method.lower() and chat in (None, call.chat)
        ]
