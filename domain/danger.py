"""How dangerous numbers and symptoms are together: limits, lists and levels, as data.

Pressures in mmHg. A level is an internal name and never shown to a person; what is said
for each level is wording. Who is told, and when, is `escalation.py`. Guideline limits were
written for averages and clinic readings; applying them to one reading at home is a
deliberate choice for safety.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
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

#: Pregnant, or within six weeks of birth: at or above needs help at once, without a sign and
#: without a second pair. Definition NICE NG133; the action NG133 (secondary).
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
        "x_black_stools",
        "x_double_vision_sudden",
        "x_overdose",
        "x_self_harm",
        "x_face_hand_swelling",
        "x_help",
    }
)

#: With a severe reading these make an emergency. AHA and NHLBI patient pages; practice list.
SEVERE_SYMPTOMS: Final = frozenset(
    {"headache", "blurred_vision", "weakness", "numbness", "nausea", "vomiting"}
)


#: Beyond the list that one message is judged by: AHA patient page and ESC name it too.
ALSO_WITH_SEVERE: Final = frozenset({"dizziness"})

#: Pregnant, or within six weeks of birth: each of these at once, whatever the reading.
#: NICE NG133 1.1.1: severe headache, vision, pain just below the ribs, vomiting, swelling.
#: A person's word does not tell a severe headache from another, so every headache counts.
PREGNANCY_SIGNS: Final = frozenset(
    {"headache", "blurred_vision", "vomiting", "x_severe_belly_pain", "x_face_hand_swelling"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What counts as dangerous for one person. Pressures in mmHg, signs by code."""

    severe: Limit = SEVERE  #: with a sign help now; alone a second pair, then advice today
    at_once: Limit | None = None  #: help now by the number alone
    same_day: Limit | None = None  #: advice today by the number alone
    red_flags: frozenset[str] = RED_FLAGS | MORE_RED_FLAGS  #: help now, whatever the reading
    with_severe: frozenset[str] = SEVERE_SYMPTOMS | ALSO_WITH_SEVERE | RED_FLAGS | MORE_RED_FLAGS

    def is_severe(self, systolic: int | None, diastolic: int | None) -> bool:
        """Whether either number (mmHg; None when not given) is at or above `severe`."""
        return self.severe.reached_by(systolic, diastolic)

    def is_emergency(self, systolic: int | None, diastolic: int | None) -> bool:
        """Whether the number alone needs help now."""
        return self.at_once is not None and self.at_once.reached_by(systolic, diastolic)

    def is_same_day(self, systolic: int | None, diastolic: int | None) -> bool:
        """Whether the number alone needs a doctor or midwife the same day."""
        return self.same_day is not None and self.same_day.reached_by(systolic, diastolic)

    def keeps_open(self, systolic: int | None, diastolic: int | None) -> bool:
        """Whether an alarm about pressure stays open while a reading is like this."""
        return self.is_severe(systolic, diastolic) or self.is_same_day(systolic, diastolic)


ADULT: Final = Limits()
PREGNANT: Final = Limits(
    severe=PREGNANCY_SEVERE,
    at_once=PREGNANCY_SEVERE,
    same_day=PREGNANCY_HIGH,
    red_flags=RED_FLAGS | MORE_RED_FLAGS | PREGNANCY_SIGNS,
    with_severe=ADULT.with_severe | PREGNANCY_SIGNS,
)

#: The least severe limit that a practitioner may set for one person (mmHg); the most is
#: `SEVERE`: the program may be made more careful, never less. Common practice.
LEAST_SEVERE: Final = Limit(
    STILL_HIGH.systolic, STILL_HIGH.diastolic, source="grade 2, where medicine is usually started"
)


def limits(*, pregnant: bool = False, severe: tuple[int, int] | None = None) -> Limits:
    """The limits of one person.

    Args:
        pregnant: pregnant, or within six weeks of birth.
        severe: systolic and diastolic (mmHg) from which the person's practitioner wants a
            reading to count as severe; taken into the bounds `LEAST_SEVERE` to `SEVERE`.
    """
    if pregnant:
        return PREGNANT
    if severe is None:
        return ADULT
    assert LEAST_SEVERE.diastolic is not None
    assert SEVERE.diastolic is not None
    own = Limit(
        min(max(severe[0], LEAST_SEVERE.systolic), SEVERE.systolic),
        min(max(severe[1], LEAST_SEVERE.diastolic), SEVERE.diastolic),
        source="the person's practitioner",
    )
    return Limits(severe=own)


#: Red flags that a practitioner may record as long-standing: angina, lung disease, what an
#: earlier stroke has left. Common practice. Whoever is confused cannot say whether it is worse.
MAY_BE_KNOWN: Final = frozenset(
    {"chest_pain", "breathlessness", "one_sided_weakness", "speech_trouble", "loss_of_balance"}
)

#: How long ago a red flag may have been and still has to be seen the same day, although it is
#: gone. National guidance on transient attacks, chest pain and collapse (from memory).
SEEN_WITHIN: Final = timedelta(hours=72)
STROKE_SEEN_WITHIN: Final = timedelta(days=7)
STROKE_SIGNS: Final = frozenset(
    {
        "face_droop",
        "speech_trouble",
        "one_sided_weakness",
        "loss_of_balance",
        "sudden_vision_loss",
        "x_double_vision_sudden",
        "confusion",
        "worst_headache",
    }
)


def to_be_seen(code: str, ago: timedelta) -> bool:
    """Whether a sign that was there so long ago, and is gone, has to be seen today."""
    return ago <= (STROKE_SEEN_WITHIN if code in STROKE_SIGNS else SEEN_WITHIN)


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
