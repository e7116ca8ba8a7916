"""Long runs of the simulation.

    python -m tests.simulation                        # worlds from a random seed, for a minute
    python -m tests.simulation --minutes 60
    python -m tests.simulation --from 7 --worlds 1    # the world of seed 7 again, exactly
    python -m tests.simulation --shape ordinary       # ordinary life only: false alarms

Prints the first thing that did not hold with its seed and the steps before it; the exit
status is then 1.
"""

from __future__ import annotations

import argparse
import secrets
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from time import monotonic

from tests.simulation.shapes import SHAPES
from tests.simulation.world import Result, World


def main(arguments: Sequence[str]) -> int:
    wanted = _wanted(arguments)
    first = wanted.first if wanted.first is not None else secrets.randbelow(10**9)
    print(f"from seed {first}")
    total = Total()
    for result in _results(first, wanted):
        total.add(result)
        if result.broken is not None:
            print(result.told())
            return 1
    print(total.told())
    return 0


class Total:
    """What many worlds have in common."""

    def __init__(self) -> None:
        self.weeks = 0.0
        self.seconds = 0.0
        self.worlds = 0
        self.steps = 0
        self.judged: Counter[str] = Counter()

    def add(self, result: Result) -> None:
        self.weeks += result.patient_weeks
        self.seconds += result.seconds
        self.worlds += 1
        self.steps += result.steps
        self.judged += result.judged

    def told(self) -> str:
        pace = self.weeks / self.seconds * 60 if self.seconds else 0
        what = ", ".join(f"{count} {kind}" for kind, count in self.judged.most_common())
        return (
            f"{self.worlds} worlds, {self.weeks:.0f} patient-weeks, {self.steps} steps, "
            f"{pace:.0f} patient-weeks a minute of one processor\njudged: {what}"
        )


def _results(first: int, wanted: argparse.Namespace) -> Iterator[Result]:
    end = monotonic() + 60 * wanted.minutes
    seed = first
    while wanted.worlds is None or seed < first + wanted.worlds:
        if wanted.worlds is None and monotonic() > end:
            return
        yield World(seed, SHAPES[wanted.shape]).run()
        seed += 1


def _wanted(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("--from", dest="first", type=int, help="the first seed")
    parser.add_argument("--worlds", type=int, help="how many seeds")
    parser.add_argument("--minutes", type=float, default=1.0, help="of the clock on the wall")
    parser.add_argument("--shape", choices=sorted(SHAPES), default="stormy")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
