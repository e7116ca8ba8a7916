"""How much of the project's own messages is read right, by category.

    uv run python -m tests.benchmarks.understanding_corpus [--misses]

(`-m`, from the root of the project, because the tables are read by a module of the tests.)
All rows of the tables under tests/domain and all of the contract's sample go through
`understand`; `--misses` prints every message that was read otherwise than its row says.
The rows are tests as well, so this shows what the figures are made of, not how unseen
wordings fare; only two rows joined to one message are no test. Nothing here fails.
"""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from domain.danger import RED_FLAGS, message_level
from domain.understanding import Intent, Understood, understand
from tests.benchmarks.messages import NOW, sample_rows
from tests.domain.message_tables import all_number_rows, intent_rows, shown, symptom_rows

HALF_AN_HOUR = timedelta(minutes=30)
JOINED, SEED = 3000, 4
#: Rows of symptoms do not say which reading they give, in digits or in words.
READING = re.compile(r"\d|\bover (?:\w+ty|\w+teen)\b")


@dataclass
class Tally:
    """How many of a kind were right, and which were not."""

    name: str
    aim: str = ""
    right: int = 0
    misses: list[str] = field(default_factory=list)

    def count(self, right: bool, miss: str) -> None:
        self.right += right
        if not right:
            self.misses.append(miss)

    def __str__(self) -> str:
        of = self.right + len(self.misses)
        share = f"{self.right / of:.4f}" if of else "-"
        return f"  {self.name:<34} {self.right:>5} of {of:>5}  {share}  {self.aim}".rstrip()


def main(show_misses: bool) -> None:
    tallies = [*_numbers(), *_symptoms(), *_joined(), *_intents(), *_sample()]
    if show_misses:
        for tally in tallies:
            for miss in tally.misses:
                print(f"{tally.name}: {miss}")


def _print(title: str, tallies: Iterable[Tally]) -> None:
    print(title)
    for tally in tallies:
        print(tally)


def _numbers() -> list[Tally]:
    rows = all_number_rows()
    whole = Tally("whole row: numbers, times, doubts")
    readings = Tally("readings exact", "aim 0.99")
    doubts = Tally("doubts exact, where any is due")
    needless = Tally("no doubt, where none is due")
    times = Tally("times exact, where not now")
    nothing = Tally("nothing found, where nothing is")
    for now, expected, text in rows:
        given = shown(understand(text, now), now)
        miss = f"{text!r} is {expected}, read as {given}"
        whole.count(given == expected, miss)
        if expected == "-":
            nothing.count(given == "-", miss)
        if expected[0].isdigit():
            readings.count(_pairs(given) == _pairs(expected), miss)
        if "@" in expected:
            times.count(_times(given) == _times(expected), miss)
        (doubts if "!" in expected else needless).count(_doubts(given) == _doubts(expected), miss)
    tallies = [readings, doubts, needless, times, nothing, whole]
    _print(f"numbers: {len(rows)} messages", tallies)
    return tallies


def _pairs(row: str) -> list[str]:
    return [part.split("@")[0] for part in row.split() if part[0].isdigit()]


def _times(row: str) -> list[str]:
    return [part.partition("@")[2] for part in row.split() if part[0].isdigit()]


def _doubts(row: str) -> set[str]:
    return {part for part in row.split() if part.startswith("!")}


def _symptoms() -> list[Tally]:
    rows = symptom_rows()
    found: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    needless: Counter[str] = Counter()
    whole = Tally("whole row: all codes")
    caught = Tally("messages with a red flag caught", "aim 1")
    quiet = Tally("ordinary messages without alarm", "aim 0.99")
    for row in rows:
        codes = _codes(understand(row.text, NOW))
        miss = f"{row.text!r} is {sorted(row.must)}, read as {sorted(codes)}"
        found.update(codes & row.must)
        missed.update(row.must - codes)
        needless.update(codes - row.may)
        whole.count(row.must <= codes <= row.may, miss)
        if row.must & RED_FLAGS:
            caught.count(bool(codes & RED_FLAGS), miss)
        elif not row.may & RED_FLAGS:
            quiet.count(not codes & RED_FLAGS, miss)
    _print(f"symptoms: {len(rows)} messages", [whole, caught, quiet])
    ordinary = quiet.right + len(quiet.misses)
    print(f"  false emergencies: {100 * len(quiet.misses) / ordinary:.2f} in 100 ordinary messages")
    print(f"  {'code':<22}{'present':>8}{'precision':>11}{'recall':>9}   (aim 0.97)")
    for code in sorted(found | missed | needless, key=lambda code: (code not in RED_FLAGS, code)):
        _print_code(code, found[code], missed[code], needless[code])
    _print_code("all", found.total(), missed.total(), needless.total())
    return [whole, caught, quiet]


def _print_code(code: str, found: int, missed: int, needless: int) -> None:
    precision = found / (found + needless) if found + needless else 1.0
    recall = found / (found + missed) if found + missed else 1.0
    print(f"  {code:<22}{found + missed:>8}{precision:>11.4f}{recall:>9.4f}")


def _codes(understood: Understood) -> set[str]:
    return {code for code in understood.symptoms if not code.startswith("x_")}


def _joined() -> list[Tally]:
    """A reading without doubt, then how the writer is: no such message is a test."""
    dice = random.Random(SEED)
    numbers = [row for row in all_number_rows() if row[1][0].isdigit() and "!" not in row[1]]
    signs = [row for row in symptom_rows() if not READING.search(row.text)]
    readings = Tally("readings exact", "aim 0.99")
    symptoms = Tally("all that is told", "aim 0.97")
    caught = Tally("messages with a red flag caught", "aim 1")
    for now, expected, text in dice.choices(numbers, k=JOINED):
        row = dice.choice(signs)
        joined = f"{text.rstrip(' .')}. {row.text}"
        understood = understand(joined, now)
        given, codes = shown(understood, now), _codes(understood)
        readings.count(_pairs(given) == _pairs(expected), f"{joined!r} read as {given}")
        miss = f"{joined!r} is {sorted(row.must)}, read as {sorted(codes)}"
        symptoms.count(row.must <= codes, miss)
        if row.must & RED_FLAGS:
            caught.count(bool(codes & RED_FLAGS), miss)
    tallies = [readings, symptoms, caught]
    _print(f"a row of numbers and one of symptoms in one message: {JOINED}, seed {SEED}", tallies)
    return tallies


def _intents() -> list[Tally]:
    rows = intent_rows()
    whole = Tally("all", "aim 0.96")
    each = {intent.value: Tally(intent.value) for intent in Intent}
    quiet = Tally("no alarm, where no symptom is told")
    for right, text in rows:
        understood = understand(text, NOW)
        miss = f"{text!r} is {sorted(right)}, read as {understood.intent}"
        whole.count(understood.intent in right, miss)
        if len(right) == 1:
            each[next(iter(right))].count(understood.intent in right, miss)
        if "symptom" not in right:
            quiet.count(not _codes(understood) & RED_FLAGS, f"{text!r}: {understood.symptoms}")
    used = [tally for tally in each.values() if tally.right or tally.misses]
    _print(f"intents: {len(rows)} messages", [*used, whole, quiet])
    return [whole, quiet]


def _sample() -> list[Tally]:
    rows = sample_rows()
    names = ("readings", "times", "symptoms", "doubts", "intent", "alarm", "whole")
    tallies = {name: Tally(name) for name in names}
    for row in rows:
        understood = understand(row["text"], datetime.fromisoformat(row["now"]))
        right = _judged(understood, row["expect"], row.get("accept", {}))
        right["whole"] = all(right.values())
        for name, holds in right.items():
            tallies[name].count(holds, f"{row['id']}: {row['text']!r}")
    _print(f"sample of the contract: {len(rows)} messages", tallies.values())
    return list(tallies.values())


def _judged(
    understood: Understood, expect: dict[str, Any], accept: dict[str, Any]
) -> dict[str, bool]:
    ours, theirs = understood.readings, expect["readings"]
    optional = set(accept.get("symptoms", ()))
    pairs = [(found.systolic, found.diastolic) for found in ours]
    return {
        "readings": [(r.systolic, r.diastolic, r.pulse) for r in ours]
        == [(r["systolic"], r["diastolic"], r["pulse"]) for r in theirs],
        "times": len(ours) == len(theirs)
        and all(_same(r.at, t["at"]) for r, t in zip(ours, theirs, strict=True)),
        "symptoms": _codes(understood) - optional == set(expect["symptoms"]) - optional,
        "doubts": sorted(understood.doubts) == expect["doubts"],
        "intent": understood.intent in {expect["intent"], *accept.get("intent", ())},
        "alarm": message_level(pairs, understood.symptoms).code == expect["alarm"],
    }


def _same(ours: datetime | None, theirs: str | None) -> bool:
    if ours is None or theirs is None:
        return ours is None and theirs is None
    return abs(ours - datetime.fromisoformat(theirs)) <= HALF_AN_HOUR


if __name__ == "__main__":
    main("--misses" in sys.argv[1:])
