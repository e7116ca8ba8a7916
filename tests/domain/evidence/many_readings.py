"""Invented readings of several people as the array way and the one-by-one way want them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from domain.evidence.columns import ReadingColumns, moment_of
from domain.readings import Bpm, Mmhg, Reading

#: Zones with summer time, with half hours, with a date that does not exist.
ZONES = tuple(
    ZoneInfo(name)
    for name in ("Europe/Lisbon", "America/Halifax", "Australia/Lord_Howe", "Asia/Kolkata")
)
_CLOCKS = (0, 30, 150, 239, 240, 450, 460, 465, 715, 719, 720, 840, 1015, 1019, 1020, 1205, 1434)
_PAUSES = (0, 1, 20, 59.999999, 60, 599, 600, 600.000001, 3600)


def columns_of(people: Sequence[Sequence[Reading]]) -> ReadingColumns:
    """The readings of each person behind one another, by moment."""
    rows = [
        (place, moment_of(one.at), one.systolic, one.diastolic, one.pulse or 0)
        for place, readings in enumerate(people)
        for one in sorted(readings, key=lambda reading: reading.at)
    ]
    table = np.array(rows, dtype=np.int64).reshape(len(rows), 5)
    return ReadingColumns(*table.T)


def series(seed: int, begin: datetime, days: int) -> list[Reading]:
    """A plan as people keep it: near round hours, in pairs, with gaps and slips of many kinds."""
    chance = random.Random(seed)
    level = chance.choice((88, 115, 125, 135, 145, 178))
    kept: list[Reading] = []
    share = chance.choice((0.3, 0.8, 1.0))
    for day in range(days):
        if chance.random() > share:
            continue
        for clock in chance.sample(_CLOCKS, chance.choice((0, 1, 2, 2, 2, 3))):
            at = begin.astimezone(UTC) + timedelta(days=day, minutes=clock)
            for _ in range(chance.choice((1, 2, 2, 2, 3, 5, 7))):
                kept.append(_reading(chance, at, level))
                at += timedelta(seconds=chance.choice(_PAUSES))
    again = [replace(one) for one in kept if chance.random() < 0.1]
    return sorted(kept + again, key=lambda one: one.at)


def _reading(chance: random.Random, at: datetime, level: int) -> Reading:
    systolic = level + chance.randint(-8, 8)
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(systolic - 45 + chance.randint(-6, 6)),
        pulse=Bpm(chance.randint(55, 57)) if chance.random() < 0.5 else None,
        at=at,
    )
