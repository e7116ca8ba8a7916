"""How long `understand` takes: `uv run python tests/benchmarks/understanding.py`.

The messages are those of the contract's sample, each taken many times in turn. Beside it,
in the same run, the plainest thing that could read a pair at all (one regular expression),
so that the ratio can be compared between machines. Nothing here fails.
"""

from __future__ import annotations

import json
import re
import statistics
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from time import perf_counter

from domain.understanding import understand

SAMPLE = Path(__file__).parents[1] / "outside" / "data" / "messages_sample.jsonl"
ROUNDS = 60
PAIR = re.compile(r"(\d{2,3})\s*(?:/|over|on|by|,|-)\s*(\d{2,3})")


def main() -> None:
    rows = [json.loads(line) for line in SAMPLE.read_text().splitlines()]
    messages = [(row["text"], datetime.fromisoformat(row["now"])) for row in rows]
    ours = _seconds(lambda text, now: understand(text, now), messages)
    plain = _seconds(lambda text, now: PAIR.findall(text), messages)
    median, worst = statistics.median(ours), sorted(ours)[int(len(ours) * 0.99)]
    print(f"{len(messages)} messages, {ROUNDS} rounds")
    print(f"understand: median {median * 1e6:.0f} us, 99th percentile {worst * 1e6:.0f} us")
    print(f"one regular expression: median {statistics.median(plain) * 1e6:.1f} us")
    print(f"ratio of the medians: {median / statistics.median(plain):.0f}")
    long_text = "my chest hurts a bit, 142/91 and then 138/88 after tea; " * 180
    begin = perf_counter()
    understand(long_text[:10_000], messages[0][1])
    print(f"10,000 characters: {(perf_counter() - begin) * 1e3:.0f} ms")


def _seconds(
    read: Callable[[str, datetime], object], messages: list[tuple[str, datetime]]
) -> list[float]:
    for text, now in messages:
        read(text, now)
    taken: list[float] = []
    for _ in range(ROUNDS):
        for text, now in messages:
            begin = perf_counter()
            read(text, now)
            taken.append(perf_counter() - begin)
    return taken


if __name__ == "__main__":
    main()
