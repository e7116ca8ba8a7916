"""What the program wants said: keys of the wording with their values, never finished text.

The words stand in the message catalogues of the shell. A value that stands for words
itself (a symptom, a part of the day) is passed as `Words`, so that it is translated too.
Moments are passed aware and already in the zone in which they are to be read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Words:
    """Keys of the wording that are read as a list: "headache and dizziness"."""

    keys: tuple[str, ...]


def symptom_words(codes: Iterable[str]) -> Words:
    """The words for codes of symptoms."""
    return Words(tuple(f"symptom.{code}" for code in codes))


Value = str | int | Fraction | date | datetime | time | Words


@dataclass(frozen=True, slots=True)
class Line:
    """One entry of the wording with its values."""

    key: str
    values: Mapping[str, Value] = field(default_factory=dict)


def line(key: str, **values: Value) -> Line:
    """A `Line`; the keyword names are the names that the wording uses in braces."""
    return Line(key, values)
