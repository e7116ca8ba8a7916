"""What the benchmarks of understanding need of a clock. Seconds throughout."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from time import perf_counter


def percentile(seconds: Sequence[float], share: float) -> float:
    """The value below which this share (0 to 1) of them lies; 1 is the greatest."""
    ordered = sorted(seconds)
    return ordered[min(int(len(ordered) * share), len(ordered) - 1)]


def taken(call: Callable[[], object]) -> float:
    begun = perf_counter()
    call()
    return perf_counter() - begun
