"""The messages that the benchmarks of understanding take, with what is known of each.

The contract's sample says all of a message; a row of the project's own tables says one thing:
the numbers, the symptoms or the intent. What a row does not say is None and is not judged.
Pressures in mmHg, pulse in beats per minute, moments with the writer's offset.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

from domain.danger import RED_FLAGS
from tests.domain.message_tables import all_number_rows, intent_rows, symptom_rows

SAMPLE = Path(__file__).parents[1] / "outside" / "data" / "messages_sample.jsonl"
NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)  #: the moment of rows that name none
#: What most phrases of time hold; as good as a measurement needs, no more.
TIME_WORD = re.compile(
    r"\b(?:yesterday|last|ago|morning|noon|midday|lunchtime|afternoon|evening|night|bedtime"
    r"|(?:mon|tues|wednes|thurs|fri|satur|sun)day|o'clock|past|half|quarter|at \d+"
    r"|\d+ ?[ap]\.?m|\d+[:.]\d\d)\b",
    re.IGNORECASE,
)

Numbers = tuple[int, int, int | None]  #: systolic, diastolic, pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    text: str
    now: datetime
    numbers: tuple[Numbers, ...] | None = None
    moments: tuple[datetime | None, ...] | None = None  #: one a reading; None is now
    emergency: bool | None = None
    by_flags: bool = True  #: an emergency here is a red flag; in the sample, the alarm level

    @property
    def names_a_time(self) -> bool:
        return TIME_WORD.search(self.text) is not None

    @property
    def timed(self) -> bool:
        """Does it say that a reading was measured at another time than now?"""
        return any(moment is not None for moment in self.moments or ())


def sample() -> list[Message]:
    """The messages of the contract's sample."""
    found = []
    for row in sample_rows():
        readings = row["expect"]["readings"]
        found.append(
            Message(
                text=row["text"],
                now=datetime.fromisoformat(row["now"]),
                numbers=tuple((r["systolic"], r["diastolic"], r["pulse"]) for r in readings),
                moments=tuple(r["at"] and datetime.fromisoformat(r["at"]) for r in readings),
                emergency=row["expect"]["alarm"] == "emergency",
                by_flags=False,
            )
        )
    return found


def sample_rows() -> list[dict[str, Any]]:
    return [json.loads(line) for line in SAMPLE.read_text("utf-8").splitlines()]


def tables() -> list[Message]:
    """All messages of the project's own tables, in the order of the files."""
    return [*_of_numbers(), *_of_symptoms(), *_of_intents()]


def _of_numbers() -> list[Message]:
    found = []
    for now, expected, text in all_number_rows():
        parts = [part for part in expected.split() if part[0].isdigit()]
        readings = [_reading(part, now) for part in parts]
        found.append(
            Message(
                text=text,
                now=now,
                numbers=tuple(numbers for numbers, _ in readings),
                moments=tuple(moment for _, moment in readings),
            )
        )
    return found


def _reading(part: str, now: datetime) -> tuple[Numbers, datetime | None]:
    """`142/91/68@-1/21:00` as values."""
    pair, _, at = part.partition("@")
    systolic, diastolic, *pulse = map(int, pair.split("/"))
    moment = None
    if at:
        back, _, clock = at.rpartition("/")
        day = now.date() + timedelta(days=int(back or 0))
        moment = datetime.combine(day, time.fromisoformat(clock), now.tzinfo)
    return (systolic, diastolic, pulse[0] if pulse else None), moment


def _of_symptoms() -> list[Message]:
    """A row where a red flag may be reported or not is not judged."""
    found = []
    for row in symptom_rows():
        must, may = bool(row.must & RED_FLAGS), bool(row.may & RED_FLAGS)
        found.append(Message(text=row.text, now=NOW, emergency=must if must == may else None))
    return found


def _of_intents() -> list[Message]:
    """Those that tell of symptoms may tell of danger."""
    return [
        Message(text=text, now=NOW, emergency=None if "symptom" in right else False)
        for right, text in intent_rows()
    ]
