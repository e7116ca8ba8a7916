"""The cuff for an arm, against Pickering, AHA recommendations, Hypertension 2005;45:142.

The table gives whole centimetres; what lies between two rows is common practice (the
range that is printed on the person's own cuff wins).
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from domain.talk.joining import CUFFS, cuff_size

#: least and most circumference in cm (both included), size
_PICKERING_2005 = [(22, 26, "small"), (27, 34, "adult"), (35, 44, "large"), (45, 52, "extra_large")]


@pytest.mark.parametrize(("least", "most", "size"), _PICKERING_2005)
def test_the_whole_range_of_a_row_gets_its_cuff(least: int, most: int, size: str) -> None:
    assert {cuff_size(cm) for cm in range(least, most + 1)} == {size}


def test_beyond_the_table_a_professional_is_asked() -> None:
    """Below 22 cm and above 52 cm no cuff is listed: common practice."""
    assert cuff_size(21) == "below"
    assert cuff_size(53) == "above"


@pytest.mark.parametrize(
    ("cm", "size"),
    [
        (21.9, "below"),
        (22, "small"),
        (26.4, "small"),
        (26.5, "adult"),
        (34.4, "adult"),
        (34.5, "large"),
        (44.4, "large"),
        (44.5, "extra_large"),
        (52.4, "extra_large"),
        (52.5, "above"),
    ],
)
def test_sizes_on_both_sides_of_each_limit(cm: float, size: str) -> None:
    assert cuff_size(cm) == size


def test_the_sizes_leave_no_gap_and_do_not_overlap() -> None:
    for (_, most, _), (least, _, _) in pairwise(CUFFS):
        assert most == least
