"""The kinds of world that are simulated, by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from tests.simulation.faults import CALM
from tests.simulation.people import Habits
from tests.simulation.world import Shape

SHAPES: Final[Mapping[str, Shape]] = {
    # Danger every few days, and everything goes wrong.
    "stormy": Shape(),
    # Danger every other day, much is changed and taken back, chats are closed: few people.
    "rough": Shape(
        patients=4,
        weeks=1,
        patient=Habits(danger=0.5, severe=0.5, closes=0.2, edits=0.9),
        around=Habits(ordinary=0.3, danger=0.1, closes=0.6),
    ),
    # Nobody is in danger and nothing fails: what do ordinary messages lead to?
    "ordinary": Shape(
        weeks=4,
        rates=CALM,
        restarts=0,
        outages=0,
        patient=Habits(),
        around=Habits(ordinary=0.2),
        strangers=0,
    ),
}
