"""The simulation finds every defect that is put in on purpose, in a few small worlds."""

from __future__ import annotations

import pytest

from tests.simulation.defects import DEFECTS, Defect
from tests.simulation.shapes import SHAPES
from tests.simulation.world import World

#: Worlds that are searched at most for one defect; without any defect all of them hold.
SEEDS = range(1, 9)


@pytest.mark.parametrize("defect", DEFECTS, ids=[defect.__name__ for defect in DEFECTS])
def test_a_defect_is_found(defect: Defect) -> None:
    found = None
    for seed in SEEDS:
        with defect():
            found = World(seed, SHAPES["rough"]).run().broken
        if found is not None:
            break
    assert found is not None


@pytest.mark.parametrize("seed", SEEDS)
def test_without_a_defect_everything_holds_in_the_same_worlds(seed: int) -> None:
    result = World(seed, SHAPES["rough"]).run()
    assert result.broken is None, result.told()
