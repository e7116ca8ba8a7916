"""A day of the past and a pair of readings, for tests of what is said beside a reading."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from domain.people import Kept, MessageRef, ReadingId
from domain.readings import Mmhg, Reading
from tests.domain.conftest import PATIENT_CHAT, Stage


def has_measured(
    stage: Stage, systolic: int, diastolic: int = 78, *, days: int, readings: int = 1
) -> None:
    """One day's readings in the past, as the storage gives them."""
    at = stage.now - timedelta(days=days)
    made = tuple(
        Kept(
            id=ReadingId(f"old{days}.{n}"),
            reading=Reading(
                systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at + timedelta(minutes=n)
            ),
            made_by=MessageRef(chat=PATIENT_CHAT, message=-100 * days - n),
            text="",
            written_at=at,
        )
        for n in range(readings)
    )
    every = sorted((*stage.patient.readings, *made), key=lambda k: k.reading.at)
    stage.patient = replace(stage.patient, readings=tuple(every))


def both(stage: Stage, first: str, second: str) -> list[str]:
    """Two readings a minute apart; what was said after the second."""
    stage.says(first)
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says(second)
    return stage.heard()
