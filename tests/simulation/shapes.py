"""The kinds of world that are simulated, by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from tests.simulation.faults import ABSENT, CALM, ROUGH, STORMY, Rates
from tests.simulation.people import Habits


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """How large a world is, what goes wrong in it, and how its people are."""

    name: str
    patients: int = 6
    couples: int = 0  #: two patients each, who share a chat
    weeks: float = 2.0
    rates: Rates = STORMY
    rate: float = 30.0  #: messages a second that the platform allows
    restarts: float = 1.0  #: in good order, a week
    outages: float = 0.3  #: kills at any moment, a week
    patient: Habits
    around: Habits
    strangers: int = 1


_SHAPES: Final = (
    # As in life, but for danger twice a year and everything that goes wrong.
    Shape(
        name="stormy",
        patients=8,
        couples=1,
        weeks=4,
        patient=Habits(danger=0.04, severe=0.06, closes=0.05, edits=0.2, silent=0.1),
        around=Habits(ordinary=0.3, danger=0.01, closes=0.05, silent=0.3),
    ),
    # Danger every other day, much is changed and taken back, chats are closed: few people.
    Shape(
        name="rough",
        patients=4,
        couples=1,
        weeks=1,
        rates=ROUGH,
        patient=Habits(danger=0.5, severe=0.6, closes=0.2, edits=0.9, silent=0.3),
        around=Habits(ordinary=0.3, danger=0.1, closes=0.6, silent=0.3),
    ),
    # A slow platform and long outages: much waits at a time.
    Shape(
        name="rush",
        patients=60,
        weeks=0.3,
        rates=ABSENT,
        rate=3,
        outages=10,
        patient=Habits(danger=1, severe=0.5),
        around=Habits(ordinary=0.3),
    ),
    # Nobody is in danger and nothing fails: what do ordinary messages lead to?
    Shape(
        name="ordinary",
        weeks=4,
        rates=CALM,
        restarts=0,
        outages=0,
        patient=Habits(),
        around=Habits(ordinary=0.2),
        strangers=0,
    ),
)
SHAPES: Final[Mapping[str, Shape]] = {shape.name: shape for shape in _SHAPES}
