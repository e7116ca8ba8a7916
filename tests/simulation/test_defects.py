"""The simulation finds every defect that is put in on purpose, in a few small worlds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from functools import cache

import pytest

from tests.simulation.defects import DEFECTS, IN_A_RUSH, Defect
from tests.simulation.shapes import SHAPES
from tests.simulation.world import Result, World

#: Worlds that are searched at most for one defect; without any defect all of them hold.
SEEDS = (*range(1, 9), 11)
#: Such a world takes some seconds, so it is one in which an alarm meets a long queue.
RUSH_SEEDS = (5,)


@pytest.mark.parametrize("defect", DEFECTS, ids=[defect.__name__ for defect in DEFECTS])
def test_a_defect_is_found(defect: Defect) -> None:
    assert found(defect, "rough", SEEDS) is not None


@pytest.mark.parametrize("defect", IN_A_RUSH, ids=[defect.__name__ for defect in IN_A_RUSH])
def test_a_defect_that_shows_only_where_much_waits_is_found(defect: Defect) -> None:
    assert found(defect, "rush", RUSH_SEEDS) is not None


def found(defect: Defect, shape: str, seeds: Iterable[int]) -> str | None:
    """What breaks first with the defect; None when nothing does in any of the worlds."""
    for seed in seeds:
        with defect():
            broken = World(seed, SHAPES[shape]).run().broken
        if broken is not None:
            print(f"seed {seed}: {broken}")
            return broken
    return None


@pytest.mark.parametrize(
    ("shape", "seed"),
    [*(("rough", seed) for seed in SEEDS), *(("rush", seed) for seed in RUSH_SEEDS)],
)
def test_without_a_defect_everything_holds_in_the_same_worlds(shape: str, seed: int) -> None:
    result = without_defect(shape, seed)
    assert result.broken is None, result.told()


@cache
def without_defect(shape: str, seed: int) -> Result:
    return World(seed, SHAPES[shape]).run()


def test_every_kind_of_thing_is_judged() -> None:
    """A check that never sees anything would hold for ever."""
    judged = sum((without_defect("rough", seed).judged for seed in SEEDS), Counter[str]())
    assert set(judged) >= {
        "alarm ended",
        "danger",
        "danger of another",
        "danger of either",
        "edit",
        "failed alarm",
        "message",
        "owned reading",
        "reading",
        "repeated update",
        "silence",
        "stranger",
        "timer of an alarm",
        "told with consent",
        "told without consent",
    }
