"""`understand` beside a pipeline of ready libraries, over the same messages in one run.

    uv run --group bench python -m tests.benchmarks.understanding_beside_libraries

The pipeline is library_pipeline.py. The messages are the contract's sample and a seeded pick
of the project's own tables, which are printed apart: our rows are tests of ours, so on them
only the other column says much. Both take each message in turn, and who begins changes from
round to round; a message counts with its best round, so that what else the machine does is
left out. Read the ratios: they carry over to other machines, microseconds do not.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial

from domain.danger import RED_FLAGS, message_level
from domain.understanding import understand
from tests.benchmarks.messages import Message, sample, tables
from tests.benchmarks.timing import percentile, taken

try:
    from tests.benchmarks.library_pipeline import Answer, LibraryPipeline
except ImportError as error:
    sys.exit(
        f"{error.name} is missing: run this as\n  uv run --group bench"
        " python -m tests.benchmarks.understanding_beside_libraries"
    )

PICK, SEED, ROUNDS = 600, 4, 5
HALF_AN_HOUR = timedelta(minutes=30)
Reader = Callable[[str, datetime], Answer]


@dataclass
class Column:
    """One reader: its answers, and the seconds of its best round for each message."""

    name: str
    read: Reader
    answers: list[Answer]
    seconds: list[float]


def main() -> None:
    picked = random.Random(SEED).sample(tables(), PICK)
    for title, messages in (
        ("sample of the contract", sample()),
        (f"own tables, {PICK} picked with seed {SEED}", picked),
    ):
        ours = Column("understand", _ours, [], [])
        theirs = Column("libraries", LibraryPipeline().read, [], [])
        _run((ours, theirs), messages)
        _print(title, messages, ours, theirs)


def _ours(text: str, now: datetime) -> Answer:
    understood = understand(text, now)
    found = understood.readings
    return Answer(
        numbers=tuple((r.systolic, r.diastolic, r.pulse) for r in found),
        moments=tuple(r.at for r in found),
        symptoms=frozenset(understood.symptoms),
    )


def _run(columns: tuple[Column, Column], messages: list[Message]) -> None:
    for column in columns:  # the first time loads what is loaded once
        column.answers = [column.read(message.text, message.now) for message in messages]
        column.seconds = [float("inf")] * len(messages)
    for turn in range(ROUNDS):
        order = columns if turn % 2 else columns[::-1]
        for index, message in enumerate(messages):
            for column in order:
                seconds = taken(partial(column.read, message.text, message.now))
                column.seconds[index] = min(column.seconds[index], seconds)


def _print(title: str, messages: list[Message], ours: Column, theirs: Column) -> None:
    print(f"{title}: {len(messages)} messages, {ROUNDS} rounds")
    print(f"  {'':<44}{ours.name:>12}{theirs.name:>12}{'ratio':>8}")
    for name, share in (("median", 0.5), ("99th percentile", 0.99), ("slowest", 1.0)):
        left, right = percentile(ours.seconds, share), percentile(theirs.seconds, share)
        print(f"  {name + ', us':<44}{left * 1e6:>12.0f}{right * 1e6:>12.0f}{right / left:>8.1f}")
    for label, judged in JUDGEMENTS:
        cases = [judged(messages, column.answers) for column in (ours, theirs)]
        shown = "".join(f"{_share(results):>12}" for results in cases)
        print(f"  {label + f' (of {len(cases[0])})':<44}{shown}")


def _share(results: list[bool]) -> str:
    return f"{100 * sum(results) / len(results):.1f} %" if results else "-"


def _readings_right(messages: list[Message], answers: list[Answer]) -> list[bool]:
    return [a.numbers == m.numbers for m, a in zip(messages, answers, strict=True) if m.numbers]


def _pairs_right(messages: list[Message], answers: list[Answer]) -> list[bool]:
    return [
        [pair[:2] for pair in a.numbers] == [pair[:2] for pair in m.numbers]
        for m, a in zip(messages, answers, strict=True)
        if m.numbers
    ]


def _times_right(messages: list[Message], answers: list[Answer]) -> list[bool]:
    """Of messages that say another time than now: all numbers and moments right."""
    return [
        a.numbers == m.numbers and all(map(_same, a.moments, m.moments or ()))
        for m, a in zip(messages, answers, strict=True)
        if m.timed
    ]


def _same(left: datetime | None, right: datetime | None) -> bool:
    if left is None or right is None:
        return left is right
    return abs(left - right) <= HALF_AN_HOUR


def _needless_readings(messages: list[Message], answers: list[Answer]) -> list[bool]:
    return [bool(a.numbers) for m, a in zip(messages, answers, strict=True) if m.numbers == ()]


def _missed_emergencies(messages: list[Message], answers: list[Answer]) -> list[bool]:
    return [
        not _emergency(m, a) for m, a in zip(messages, answers, strict=True) if m.emergency is True
    ]


def _false_emergencies(messages: list[Message], answers: list[Answer]) -> list[bool]:
    return [
        _emergency(m, a) for m, a in zip(messages, answers, strict=True) if m.emergency is False
    ]


def _emergency(message: Message, answer: Answer) -> bool:
    if message.by_flags:
        return bool(answer.symptoms & RED_FLAGS)
    pairs = [(systolic, diastolic) for systolic, diastolic, _ in answer.numbers]
    return message_level(pairs, answer.symptoms).code == "emergency"


JUDGEMENTS = (
    ("readings right", _readings_right),
    ("readings right but for the pulse", _pairs_right),
    ("readings with their time right", _times_right),
    ("readings where none is", _needless_readings),
    ("emergencies missed", _missed_emergencies),
    ("false emergencies", _false_emergencies),
)

if __name__ == "__main__":
    main()
