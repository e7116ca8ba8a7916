"""Messages in Spanish with full answers, in the format of the contract's sample.

All invented by the project. Times count as right within 30 minutes, codes in `accept` may be
there or not. They wait for review by a Spanish-speaking clinician, like the lexicon.
"""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.commands.understand import as_json
from domain.danger import RED_FLAGS
from domain.understanding import understand

MESSAGES = Path(__file__).parent / "data" / "messages_es.jsonl"
CASES = [json.loads(line) for line in MESSAGES.read_text(encoding="utf-8").splitlines()]
NUMBERS = ("systolic", "diastolic", "pulse")


def same_moment(left: str | None, right: str | None) -> bool:
    if left is None or right is None:
        return left is right
    apart = datetime.fromisoformat(left) - datetime.fromisoformat(right)
    return abs(apart) <= timedelta(minutes=30)


@pytest.mark.parametrize("case", CASES, ids=[f"{case['id']}: {case['text']}" for case in CASES])
def test_a_message_in_spanish_is_answered_right(case: dict[str, Any]) -> None:
    expected, accept = case["expect"], case.get("accept", {})
    optional = set(accept.get("symptoms", ()))

    given = as_json(understand(case["text"], datetime.fromisoformat(case["now"]), "es"))

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


def test_the_messages_hold_every_red_flag_and_every_intent() -> None:
    flags = Counter(code for case in CASES for code in case["expect"]["symptoms"])
    intents = {case["expect"]["intent"] for case in CASES}

    assert set(flags) >= RED_FLAGS
    assert intents >= {"reading", "correction", "undo", "stop", "symptom", "medicine"}
    assert intents >= {"postpone", "skip", "question", "other"}
