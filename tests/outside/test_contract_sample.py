"""The sample of the project's own contract for understanding a message, all fields.

Source: `messages_sample.jsonl`, published beside the contract; the copy here is unchanged.
Times count as right within 30 minutes, codes in `accept` may be there or not.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.commands.understand import answer
from tests.domain.message_tables import all_number_rows, intent_rows, symptom_rows

SAMPLE = Path(__file__).parent / "data" / "messages_sample.jsonl"
CASES = [json.loads(line) for line in SAMPLE.read_text(encoding="utf-8").splitlines()]
NUMBERS = ("systolic", "diastolic", "pulse")


def same_moment(left: str | None, right: str | None) -> bool:
    if left is None or right is None:
        return left is right
    apart = datetime.fromisoformat(left) - datetime.fromisoformat(right)
    return abs(apart) <= timedelta(minutes=30)


@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_an_example_of_the_contract_is_answered_right(case: dict[str, Any]) -> None:
    expected, accept = case["expect"], case.get("accept", {})
    optional = set(accept.get("symptoms", ()))

    given = answer(json.dumps(case).encode())

    codes = {code for code in given["symptoms"] if not code.startswith("x_")}
    assert given["id"] == case["id"]
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


def test_the_projects_own_messages_are_none_of_the_sample() -> None:
    published = {case["text"] for case in CASES}
    own = {row.text for row in symptom_rows()}
    own |= {text for _, _, text in all_number_rows()} | {text for _, text in intent_rows()}

    assert len(own) > 10_000
    assert own & published == set()
