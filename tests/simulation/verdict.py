"""What was judged in a world, and the first thing that did not hold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable


class Verdict:
    """`broken` is None while everything holds; `stop` is called when something does not."""

    def __init__(self, stop: Callable[[], None]) -> None:
        self._stop = stop
        self.broken: str | None = None
        self.seen: Counter[str] = Counter()  #: how often each kind of thing was judged

    def demand(self, holds: object, what: str) -> None:
        if not holds and self.broken is None:
            self.broken = what
            self._stop()
