"""How dangerous numbers and symptoms are together: limits, lists and levels, as data.

Pressures in mmHg. A level is an internal name and never shown to a person; what is said
for each level is wording. Who is told, and when, is `escalation.py`. Guideline limits were
written for averages and clinic readings; applying them to one reading at home is a
deliberate choice for safety.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from typing import Final


class Level(IntEnum):
    """From harmless to worst, so that the highest of several is `max`."""

    NONE = 0
    LOW = 1
    URGENT = 2
    EMERGENCY = 3

    @property
    def code(self) -> str:
        """The name that `cuffbell understand` prints."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Limit:
    """Reached when either number is at or above; None is never reached."""

    systolic: int
    diastolic: int | None
    source: str

    def reached_by(self, systolic: int | None, diastolic: int | None) -> bool:
        return (systolic is not None and systolic >= self.systolic) or (
            self.diastolic is not None and diastolic is not None and diastolic >= self.diastolic
        )


#: Either number at or above: 180/109 and 179/110 both count.
SEVERE: Final = Limit(
    180, 110, source="ESC/ESH 2018 grade 3 (>=180 or >=110); practice says above, we say at"
)

#: Pregnant, or within six weeks of birth: at or above needs help at once. NICE NG133.
PREGNANCY_SEVERE: Final = Limit(160, 110, source="NICE NG133 / CG107: severe, >=160 or >=110")

#: Pregnant, or within six weeks of birth: at or above, the maternity unit the same day.
#: Definition NICE CG107/NG133; the timing is common practice.
PREGNANCY_HIGH: Final = Limit(140, 90, source="NICE CG107 / NG133: hypertension, >=140 or >=90")

#: From here on nothing is praised: "lower, still high".
STILL_HIGH: Final = Limit(160, 100, source="ESC/ESH/ISH grade 2, office >=160/100")

LOW_SYSTOLIC: Final = 90  # below: NEWS2 scores 3 at <=90 (from memory)
LOW_WITH_DIZZINESS: Final = 100  # below, with dizziness: NEWS2 91-100 scores 2 (from memory)

#: A sign of stroke, heart attack or the like: emergency whatever the reading.
#: Sources: NICE NG128 stroke 2019, NICE CG95 chest pain, AHA patient page, NHLBI patient
#: page (FAST signs, chest pain and the rest partly from memory), see the clinical facts.
RED_FLAGS: Final = frozenset(
    {
        "chest_pain",
        "breathlessness",
        "face_droop",
        "speech_trouble",
        "one_sided_weakness",
        "loss_of_balance",
        "seizure",
        "fainting",
        "tearing_back_pain",
        "sudden_vision_loss",
        "confusion",
        "worst_headache",
    }
)

#: More signs that cannot wait. The first two lead to a call at once; common practice.
MORE_RED_FLAGS: Final = frozenset(
    {
        "x_jaw_pain",
        "x_severe_belly_pain",
        "x_drowsiness",
        "x_heavy_bleeding",
        "x_double_vision_sudden",
        "x_overdose",
        "x_self_harm",
        "x_face_hand_swelling",
    }
)

#: With a severe reading these make an emergency. AHA and NHLBI patient pages; practice list.
SEVERE_SYMPTOMS: Final = frozenset(
    {"headache", "blurred_vision", "weakness", "numbness", "nausea", "vomiting"}
)


def is_severe(systolic: int | None, diastolic: int | None) -> bool:
    """Whether either number (mmHg; None when not given) is at or above `SEVERE`."""
    return SEVERE.reached_by(systolic, diastolic)


def message_level(readings: Iterable[tuple[int, int]], symptoms: Iterable[str]) -> Level:
    """The level of one message alone: (systolic, diastolic) pairs in mmHg and symptom codes.

    A floor: the bot knows more than the message and acts on the highest level.
    """
    pairs = list(readings)
    signs = set(symptoms)
    if signs & RED_FLAGS:
        return Level.EMERGENCY
    if any(is_severe(*pair) for pair in pairs):
        return Level.EMERGENCY if signs & SEVERE_SYMPTOMS else Level.URGENT
    return _low_level([systolic for systolic, _ in pairs], signs)


def _low_level(systolics: list[int], signs: set[str]) -> Level:
    if any(systolic < LOW_SYSTOLIC for systolic in systolics):
        return Level.LOW
    if "dizziness" in signs and any(systolic < LOW_WITH_DIZZINESS for systolic in systolics):
        return Level.LOW
    return Level.NONE


def is_low(systolic: int, symptoms: Iterable[str]) -> bool:
    """Whether a systolic (mmHg) is low enough, alone or with dizziness, for advice today."""
    return _low_level([systolic], set(symptoms)) is Level.LOW
