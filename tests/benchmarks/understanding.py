"""How long `understand` takes.

    uv run python -m tests.benchmarks.understanding

(`-m`, from the root of the project, because the messages are read by a module of the tests.)
The messages are the contract's sample and all of the project's own tables, together and
by whether a phrase of time stands in them. Every message is taken in turn, many
times over. "Best round" counts each message once, with its fastest round, which leaves out
what else a shared machine does; "all rounds" counts every round of every message, as they
came. Beside it, in the same run, the plainest thing that could read a pair at all (one regular
expression), so that the ratios can be compared between machines. Aims of the design: median
under 100 us, 99th percentile under 1 ms, 10,000 characters under 20 ms. Of the long texts the
first are such as people write; the last are wordings over and over that cost most for their
length, to show how far from the aim the worst is. Nothing here fails.
"""

from __future__ import annotations

import random
import re
import statistics
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path

from domain.understanding import understand
from tests.benchmarks.messages import NOW, Message, sample, tables
from tests.benchmarks.timing import percentile, taken

PAIR = re.compile(r"(\d{2,3})\s*(?:/|over|on|by|,|-)\s*(\d{2,3})")
CALLS = 7_000  #: about as many for each mix
STARTS = 9
LONGEST = 10_000
LONG_PIECES = (
    "my chest hurts a bit, 142/91 and then 138/88 after tea; ",
    "no headache, ",
    "142/91 ",
    "if i get dizzy ",
    "at half past seven this morning one forty two over ninety one. ",
    "zq ",
    "<",
    "½",
    "chest pain ",
    "a hundred ",
    "one ",
    "7❤️",
)
FIRST_MESSAGE = (
    "from datetime import datetime, UTC\n"
    "from domain.understanding import understand\n"
    "understand('142/91, a bit dizzy', datetime(2026, 3, 10, 10, 42, tzinfo=UTC))"
)

Reader = Callable[[str, datetime], object]


def main() -> None:
    outside, own = sample(), tables()
    print(f"{'':<36}{'best round':>16}{'all rounds':>16}")
    print(f"{'us a message':<36}{'median':>8}{'99th':>8}{'median':>8}{'99th':>8}{'ratio':>8}")
    for title, messages in (
        ("sample of the contract", outside),
        ("  with a phrase of time", [m for m in outside if m.names_a_time]),
        ("  without", [m for m in outside if not m.names_a_time]),
        ("own tables", own),
        ("  with a phrase of time", [m for m in own if m.names_a_time]),
        ("  without", [m for m in own if not m.names_a_time]),
    ):
        _print_mix(f"{title} ({len(messages)})", messages)
    print("ratio: our median of best rounds to that of one regular expression")
    _print_longest()
    _print_start()


def _print_mix(title: str, messages: list[Message]) -> None:
    rounds = max(3, CALLS // len(messages))
    ours = _seconds(lambda text, now: understand(text, now), messages, rounds)
    plain = _seconds(lambda text, now: PAIR.findall(text), messages, rounds)
    best, plainest = [min(each) for each in ours], [min(each) for each in plain]
    everything = [seconds for each in ours for seconds in each]
    print(f"{title:<36}", end="")
    for seconds in (best, everything):
        figures = (statistics.median(seconds), percentile(seconds, 0.99))
        print("".join(f"{figure * 1e6:>8.0f}" for figure in figures), end="")
    print(f"{statistics.median(best) / statistics.median(plainest):>8.0f}")


def _seconds(read: Reader, messages: list[Message], rounds: int) -> list[list[float]]:
    """For each message, what every round took."""
    for message in messages:
        read(message.text, message.now)
    results: list[list[float]] = [[] for _ in messages]
    for _ in range(rounds):
        for message, result in zip(messages, results, strict=True):
            result.append(taken(partial(read, message.text, message.now)))
    return results


def _print_longest() -> None:
    dice = random.Random(4)
    letters = [
        chr(dice.choice((dice.randrange(0xD800), dice.randrange(0x250)))) for _ in "x" * LONGEST
    ]
    texts = {piece[:24]: (piece * LONGEST)[:LONGEST] for piece in LONG_PIECES}
    texts["any characters"] = "".join(letters)
    print(f"{LONGEST} characters, ms (best of three), and the ratio to one regular expression:")
    for title, text in texts.items():
        ours = min(taken(partial(understand, text, NOW)) for _ in range(3))
        plain = min(taken(partial(PAIR.findall, text)) for _ in range(3))
        print(f"  {title!r:<34}{ours * 1e3:>8.1f}{ours / plain:>8.0f}")


def _print_start() -> None:
    """New processes in turn, so that a slow moment of the machine meets both."""
    nothing, first = [], []
    for _ in range(STARTS):
        nothing.append(taken(partial(_python, "pass")))
        first.append(taken(partial(_python, FIRST_MESSAGE)))
    ours, plain = statistics.median(first), statistics.median(nothing)
    print(
        f"start, import and first message: {ours * 1e3:.0f} ms; Python alone"
        f" {plain * 1e3:.0f} ms; ratio {ours / plain:.1f}"
    )


def _python(program: str) -> None:
    subprocess.run([sys.executable, "-c", program], check=True, cwd=Path(__file__).parents[2])


if __name__ == "__main__":
    main()
