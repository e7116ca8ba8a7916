"""Readings of nobody: made up by a seeded generator for the demo, the README and the tests.

Hollis Brandreth of the scenario: two weeks in Europe/Lisbon, mornings higher than evenings,
a few occasions missed, two readings each time. Pressures in mmHg. Everything that shows
these must say that they are invented. The same seed gives the same readings.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from random import Random
from typing import Final
from zoneinfo import ZoneInfo

from domain.people import Note, NoteKind
from domain.readings import Arm, Bpm, Mmhg, Reading

NAME: Final = "Hollis Brandreth"
ZONE: Final = ZoneInfo("Europe/Lisbon")
TARGET: Final = (135, 85)
FIRST_DAY: Final = date(2026, 3, 2)  #: a Monday, and the day of the new dose
DAYS: Final = 14
SEED: Final = 74

#: (day counted from 0, morning) of the occasions that were missed.
MISSED: Final = frozenset({(3, False), (8, False), (11, True), (11, False)})

_MORNING, _EVENING = time(7, 35), time(19, 20)
_USUAL_MORNING, _USUAL_EVENING = (145, 88), (137, 83)
_FALL_BY_THE_END = 5  # mmHg systolic over the two weeks


def invented_readings(*, first_day: date = FIRST_DAY, seed: int = SEED) -> tuple[Reading, ...]:
    """Two weeks of invented readings from `first_day`, oldest first."""
    random = Random(seed)
    found: list[Reading] = []
    for number in range(DAYS):
        for morning in (True, False):
            pair = _occasion(random, first_day + timedelta(days=number), number, morning=morning)
            if (number, morning) not in MISSED:
                found += pair
    return tuple(found)


def invented_notes(*, first_day: date = FIRST_DAY) -> tuple[Note, ...]:
    """Two symptoms that were never felt, in the second of the two weeks."""
    moments = ((8, time(7, 50), "dizziness"), (10, time(19, 30), "ankle_swelling"))
    return tuple(
        Note(
            kind=NoteKind.SYMPTOM,
            at=datetime.combine(first_day + timedelta(days=n), clock, ZONE),
            code=code,
        )
        for n, clock, code in moments
    )


def _occasion(random: Random, day: date, number: int, *, morning: bool) -> list[Reading]:
    usual = _USUAL_MORNING if morning else _USUAL_EVENING
    begin = datetime.combine(day, _MORNING if morning else _EVENING, ZONE)
    begin += timedelta(minutes=random.randint(-12, 18))
    fall = _FALL_BY_THE_END * number / (DAYS - 1)
    systolic = usual[0] - fall + random.gauss(0, 4)
    diastolic = usual[1] - fall / 2 + random.gauss(0, 3)
    pulse = 70 + random.gauss(0, 3)
    # The second reading of a pair is usually a little lower.
    return [
        Reading(
            systolic=Mmhg(round(systolic - 3 * place + random.gauss(0, 1.5))),
            diastolic=Mmhg(round(diastolic - 1 * place + random.gauss(0, 1.2))),
            pulse=Bpm(round(pulse + random.gauss(0, 1))),
            at=begin + timedelta(seconds=80 * place),
            arm=Arm.LEFT,
        )
        for place in range(2)
    ]
