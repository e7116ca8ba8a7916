"""Whether an answer of `cuffbell understand` is right, as the contract says.

Times count as right within 30 minutes, codes in `accept` may be there or not, codes that
begin with x_ are passed over.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

NUMBERS = ("systolic", "diastolic", "pulse")


def same_moment(left: str | None, right: str | None) -> bool:
    if left is None or right is None:
        return left is right
    apart = datetime.fromisoformat(left) - datetime.fromisoformat(right)
    return abs(apart) <= timedelta(minutes=30)


def assert_answered_right(case: Mapping[str, Any], given: Mapping[str, Any]) -> None:
    """Compare what was given with what a row of a sample expects."""
    expected, accept = case["expect"], case.get("accept", {})
    optional = set(accept.get("symptoms", ()))
    codes = {code for code in given["symptoms"] if not code.startswith("x_")}
    assert [[r[n] for n in NUMBERS] for r in given["readings"]] == [
        [r[n] for n in NUMBERS] for r in expected["readings"]
    ]
    assert all(
        same_moment(ours["at"], theirs["at"])
        for ours, theirs in zip(given["readings"], expected["readings"], strict=True)
    )
    assert codes - optional == set(expected["symptoms"]) - optional
    assert given["doubts"] == expected["doubts"]
    assert given["intent"] in {expected["intent"], *accept.get("intent", ())}
    assert given["alarm"] == expected["alarm"]
