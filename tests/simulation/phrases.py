"""What the simulated people type: ordinary messages, readings in many shapes, and danger.

Ordinary texts come from the tables of invented messages beside the tests of understanding,
as far as they hold no danger of the writer's own: no red flag, no number in the severe range,
nothing of another person. Numbers are drawn: a person's level, the scatter from day to day and
from reading to reading. mmHg.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Final

from domain.danger import MORE_RED_FLAGS, RED_FLAGS
from tests.domain.message_tables import all_number_rows, intent_rows, remark_rows, symptom_rows

Pair = tuple[int, int]

#: Between persons and from day to day. Kato, Ohasama, Am J Hypertens 2010.
LEVEL_SD: Final = (15.1, 9.0)
DAY_SD: Final = (8.6, 5.8)
#: Between two readings a minute apart; from memory.
MINUTE_SD: Final = (4.0, 3.0)
#: Of people treated for high pressure: around the usual limit at home.
LEVEL: Final = (135.0, 80.0)

#: Plain words for signs that cannot wait, of the writer, now.
DANGER: Final = (
    "I have a crushing pain in my chest",
    "my chest hurts badly",
    "I can't breathe",
    "my face is drooping on one side",
    "my left arm is suddenly weak",
    "I fainted just now",
    "sudden severe headache, the worst of my life",
    "I have suddenly lost the sight of one eye",
)
#: Signs that make an emergency of a severe reading.
WITH_SEVERE: Final = ("headache", "blurred vision", "I feel sick", "numb hand")
#: What a carer writes when they see it.
REPORTED: Final = ("she has chest pain", "he can't speak properly and his face is drooping")
#: What somebody who measures too writes of whom they look after, in their own chat.
TOLD: Final = ("my husband has chest pain", "mum can't speak and her face is drooping")
NO_SIGN: Final = ("none of these", "no", "none of them")

#: Remarks by which somebody is said to be with who is in trouble.
_BEING_THERE: Final = frozenset({"is_there", "ambulance_here"})
#: What practitioners, and others, ask for.
ASKED: Final = (
    "/patients", "/week", "/report", "/plan", "/hours", "/hours 8-18", "/seen", "/limits",
    "/limits 170/105", "/limits 500/20", "/known", "/target 130/80", "/guideline", "/changed",
    "/family", "/help", "/settings", "/nonsense",
)  # fmt: skip

_SHAPES: Final = (
    "{s}/{d}",
    "{s}/{d}",
    "{s}/{d} pulse {p}",
    "{s} over {d}",
    "{s}/{d}/{p}",
    "{s} {d}",
    "BP {s}/{d}, pulse {p}",
    "it says {s} over {d}",
    "hello, {s}/{d}",
)
_NOT_ORDINARY: Final = re.compile(
    r"past|passed|earlier|another time|another person|somebody else|other people|danger|severe"
    r"|present|overdose|tablets|worst in|beside a pair|remark"
)
#: Danger that stands in the tables of intents, or under another heading.
_DANGER: Final = re.compile(
    r"\b(112|911|999)\b|black(ed|ing)? ?out|double|two doses|by (mistake|accident)"
    r"|nose bled|nostril|hundred|wo?n.?t stop|\bfit\b"
)
#: Somebody else, and what is danger in whomever: not ordinary where a message holds both.
_ANOTHER: Final = re.compile(
    r"\b(she|he|hers?|his|him|they|neighbours?|(grand)?(dad|mum|mother|father)|wife|husband"
    r"|sister|brother|daughter|son|aunt|uncle|friend|mate|lady|man|margaret|elsie|siobhan)\b"
)
_SIGN: Final = re.compile(
    r"chest pain|blind|\bfits\b|arm is weak|speak|speech|faint|confus|breathless|sei?zure"
    r"|nonsense|collapsed|ambulance|breathe|passed out|balance|angina|drunk"
)
#: Anything that may be read as 180 or more, or 110 or more beside it, in whatever unit.
_HIGH: Final = re.compile(r"1[89]\d|2\d\d|[3-9]\d\d|\b1[89]\b|\b2\d\b|1[1-3]\d\b.*\b1[1-3]\d\b")


@dataclass(frozen=True, slots=True)
class Body:
    """A person's usual level, mmHg and beats per minute."""

    systolic: float
    diastolic: float
    pulse: float

    @staticmethod
    def of(dice: Random) -> Body:
        systolic = min(max(dice.gauss(LEVEL[0], LEVEL_SD[0]), 105), 160)
        usual = LEVEL[1] + 0.4 * (systolic - LEVEL[0])
        diastolic = min(max(dice.gauss(usual, 6.0), 58), 95)
        return Body(systolic, diastolic, dice.gauss(70, 8))

    def today(self, dice: Random) -> Body:
        """The level of one occasion."""
        return Body(
            dice.gauss(self.systolic, DAY_SD[0]),
            dice.gauss(self.diastolic, DAY_SD[1]),
            dice.gauss(self.pulse, 5),
        )

    def pair(self, dice: Random) -> Pair:
        """One reading of this occasion."""
        systolic = round(dice.gauss(self.systolic, MINUTE_SD[0]))
        diastolic = round(dice.gauss(self.diastolic, MINUTE_SD[1]))
        return max(systolic, 90), min(max(diastolic, 45), systolic - 20)


def typed(pair: Pair, pulse: float, dice: Random) -> str:
    """A reading as one message that nobody can misread."""
    shape = dice.choice(_SHAPES)
    return shape.format(s=pair[0], d=pair[1], p=max(45, min(round(pulse), 110)))


def severe(dice: Random) -> Pair:
    return dice.randint(182, 214), dice.randint(96, 124)


def slipped(text: str, dice: Random) -> str:
    """The text with one slip of the finger among its letters."""
    places = [at for at in range(len(text) - 1) if text[at : at + 2].isalpha()]
    if not places:
        return text
    at = dice.choice(places)
    match dice.randrange(3):
        case 0:
            return text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        case 1:
            return text[:at] + text[at + 1 :]
        case _:
            return text[: at + 1] + text[at:]


def ordinary(dice: Random) -> str:
    """A message of daily life."""
    return dice.choice(_ordinary()[dice.choices((0, 1, 2), (5, 4, 1))[0]])


def remark(dice: Random) -> tuple[str, bool]:
    """What is typed instead of a button pressed in an alarm, and whether it may end one."""
    return dice.choice(_remarks())


@cache
def _remarks() -> tuple[tuple[str, bool], ...]:
    return tuple((text, bool(may & _BEING_THERE)) for _, may, text in remark_rows())


@cache
def _ordinary() -> tuple[tuple[str, ...], ...]:
    """Of symptoms that can wait and of none; of intents; with numbers."""
    red = RED_FLAGS | MORE_RED_FLAGS
    calm = [
        row.text
        for row in symptom_rows()
        if not row.may & red and not _NOT_ORDINARY.search(row.heading)
    ]
    meant = [text for codes, text in intent_rows() if not codes & {"stop", "symptom"}]
    numbers = [text for _, expected, text in all_number_rows() if "!" not in expected]
    kinds = (calm, meant, numbers)
    return tuple(tuple(text for text in kind if _is_ordinary(text)) for kind in kinds)


def _is_ordinary(text: str) -> bool:
    folded = text.casefold()
    if not folded.strip() or _HIGH.search(text) or _DANGER.search(folded):
        return False
    return not (_ANOTHER.search(folded) and _SIGN.search(folded))
