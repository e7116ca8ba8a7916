"""The flood limits: how many messages a bot may send, in machine seconds.

Per private chat a bucket that refills at a steady rate and allows a short burst; per group
and for the whole bot a sliding window. Source of the numbers: the platform's public bot
FAQ ("avoid sending more than one message per second", "more than 20 messages per minute to
the same group", "about 30 messages per second" in bulk); the size of the burst is ours.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

from bot.localchat import refusals


@dataclass(frozen=True, slots=True, kw_only=True)
class FloodLimits:
    """What is allowed. Rates are messages a second, the group's is messages a minute."""

    chat_rate: float = 1.0
    chat_burst: int = 5
    overall_rate: int = 30
    group_per_minute: int = 20


class FloodLimiter:
    """Counts messages and refuses what is too fast. With `limits` None it refuses nothing."""

    def __init__(
        self, limits: FloodLimits | None, machine_time: Callable[[], float] = monotonic
    ) -> None:
        self._limits = limits
        self._machine_time = machine_time
        self._buckets: dict[int, tuple[float, float]] = {}
        self._groups: dict[int, deque[float]] = {}
        self._overall: deque[float] = deque()

    def admit(self, chat: int, *, group: bool) -> None:
        """Count one message to `chat`.

        Raises:
            Refusal: 429 with the whole seconds to wait; the message is then not counted.
        """
        limits = self._limits
        if limits is None:
            return
        now = self._machine_time()
        wait = _window_wait(self._overall, now, limits.overall_rate, 1.0)
        if group:
            window = self._groups.setdefault(chat, deque())
            wait = max(wait, _window_wait(window, now, limits.group_per_minute, 60.0))
        tokens = self._tokens(chat, now, limits)
        if tokens < 1:
            wait = max(wait, (1 - tokens) / limits.chat_rate)
        if wait > 0:
            raise refusals.flood(max(1, math.ceil(wait)))
        self._overall.append(now)
        self._buckets[chat] = (tokens - 1, now)
        if group:
            self._groups[chat].append(now)

    def _tokens(self, chat: int, now: float, limits: FloodLimits) -> float:
        tokens, since = self._buckets.get(chat, (float(limits.chat_burst), now))
        return min(float(limits.chat_burst), tokens + (now - since) * limits.chat_rate)


def _window_wait(window: deque[float], now: float, most: int, seconds: float) -> float:
    """Seconds until the window has room again, 0 when it has."""
    while window and window[0] <= now - seconds:
        window.popleft()
    return 0.0 if len(window) < most else window[0] + seconds - now
