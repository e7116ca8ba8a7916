"""The tables of invented messages, read for the tests and for the benchmarks.

Numbers (`understanding_numbers/*.txt`, Spanish in `understanding_numbers_es/`): what is
expected, a colon, the message as a JSON string:

    142/91/68@-1/21:00 !swapped : "the message"

systolic, diastolic, pulse, then the local time it was measured with the days back from the
message; `!doubt`; `-` when nothing is found. `now` sets the moment of the rows that follow.

Symptoms and intents (`data/*.txt`): codes, a bar, the message. `-` is no symptom; a code in
brackets is right too. A line that begins with `## ` heads the rows after it.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from domain.understanding import Doubt, Found

NUMBERS = Path(__file__).with_name("understanding_numbers")
NUMBERS_IN = {"en": NUMBERS, "es": NUMBERS.with_name("understanding_numbers_es")}
DATA = Path(__file__).with_name("data")
#: language -> its tables
SYMPTOM_TABLES = {
    "en": (
        "symptom_messages.txt",
        "symptom_messages_typed.txt",
        "symptom_messages_more.txt",
        "symptom_messages_fresh.txt",
        "symptom_messages_roundabout.txt",
        "symptom_messages_kinds.txt",
        "symptom_messages_plain.txt",
    ),
    "es": ("symptom_messages_es.txt", "symptom_messages_plain_es.txt"),
}
INTENT_TABLES = {
    "en": (
        "intent_messages.txt",
        "intent_messages_fresh.txt",
        "intent_messages_wide.txt",
        "intent_messages_kinds.txt",
    ),
    "es": ("intent_messages_es.txt",),
}
REMARK_TABLES = {"en": ("remarks_en.txt",), "es": ("remarks_es.txt",)}
URGENT_TABLES = {"en": ("urgent_en.txt",), "es": ("urgent_es.txt",)}


class _Numbers(Protocol):
    """What was found in a message, with or without the rest that it says."""

    @property
    def readings(self) -> Collection[Found]: ...
    @property
    def doubts(self) -> Collection[Doubt]: ...


@dataclass(frozen=True, slots=True)
class SymptomRow:
    """`must` be reported, `may` be reported; `may` holds `must`."""

    heading: str
    must: frozenset[str]
    may: frozenset[str]
    text: str


def number_rows(path: Path) -> Iterator[tuple[datetime, str, str]]:
    """Moment, expectation and message of every row of one table of numbers."""
    now: datetime | None = None
    for line in path.read_text("utf-8").splitlines():
        if not line or line.startswith(("#", "=")):
            continue
        if line.startswith("now "):
            now = datetime.fromisoformat(line.removeprefix("now "))
            continue
        expected, separator, text = line.partition(" : ")
        assert now is not None, f"{path.name}: no `now` before {line!r}"
        assert separator, f"{path.name}: no colon in {line!r}"
        yield now, expected, json.loads(text)


def all_number_rows(language: str = "en") -> list[tuple[datetime, str, str]]:
    tables = sorted(NUMBERS_IN[language].glob("*.txt"))
    return [row for path in tables for row in number_rows(path)]


def symptom_rows(language: str = "en") -> list[SymptomRow]:
    rows = []
    for heading, codes, text in _coded(SYMPTOM_TABLES[language]):
        wanted = set(codes.split()) - {"-"}
        must = frozenset(code for code in wanted if not code.startswith("["))
        may = frozenset(code.strip("[]") for code in wanted)
        rows.append(SymptomRow(heading, must, may, text))
    return rows


def intent_rows(language: str = "en") -> list[tuple[frozenset[str], str]]:
    """All intents that are right, and the message."""
    return [
        (frozenset(code.strip("[]") for code in codes.split()), text)
        for _, codes, text in _coded(INTENT_TABLES[language])
    ]


def remark_rows(language: str = "en") -> list[tuple[frozenset[str], frozenset[str], str]]:
    """The remarks that must be found, those that may be, and the message."""
    rows = []
    for _, codes, text in _coded(REMARK_TABLES[language]):
        wanted = set(codes.split()) - {"-"}
        must = frozenset(code for code in wanted if not code.startswith("["))
        rows.append((must, frozenset(code.strip("[]") for code in wanted), text))
    return rows


def urgent_rows(language: str = "en") -> list[tuple[frozenset[str], str]]:
    """What must be found, in the notation of those tables, and the message."""
    return [
        (frozenset(codes.split()) - {"-"}, text)
        for _, codes, text in _coded(URGENT_TABLES[language])
    ]


def _coded(names: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    for name in names:
        heading = ""
        for line in (DATA / name).read_text("utf-8").splitlines():
            if line.startswith("## "):
                heading = line[3:]
            elif line and not line.startswith("#"):
                codes, _, text = line.partition(" | ")
                yield heading, codes, text


def shown(found: _Numbers, now: datetime) -> str:
    """Readings and doubts in the notation of the tables of numbers."""
    parts = []
    for reading in found.readings:
        part = f"{reading.systolic}/{reading.diastolic}"
        if reading.pulse is not None:
            part += f"/{reading.pulse}"
        if reading.at is not None:
            back = (now.date() - reading.at.date()).days
            part += "@" + (f"-{back}/" if back else "") + reading.at.strftime("%H:%M")
        parts.append(part)
    parts.extend(f"!{doubt}" for doubt in sorted(found.doubts))
    return " ".join(parts) or "-"
