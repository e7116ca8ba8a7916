"""Messages in Spanish with full answers, in the format of the contract's sample.

All invented by the project. Times count as right within 30 minutes, codes in `accept` may be
there or not. They wait for review by a Spanish-speaking clinician, like the lexicon.
"""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bot.commands.understand import as_json
from domain.danger import RED_FLAGS
from domain.understanding import understand
from tests.domain.contract_answers import assert_answered_right

MESSAGES = Path(__file__).parent / "data" / "messages_es.jsonl"
CASES = [json.loads(line) for line in MESSAGES.read_text(encoding="utf-8").splitlines()]


@pytest.mark.parametrize("case", CASES, ids=[f"{case['id']}: {case['text']}" for case in CASES])
def test_a_message_in_spanish_is_answered_right(case: dict[str, Any]) -> None:
    given = as_json(understand(case["text"], datetime.fromisoformat(case["now"]), "es"))

    assert_answered_right(case, given)


def test_the_messages_hold_every_red_flag_and_every_intent() -> None:
    flags = Counter(code for case in CASES for code in case["expect"]["symptoms"])
    intents = {case["expect"]["intent"] for case in CASES}

    assert set(flags) >= RED_FLAGS
    assert intents >= {"reading", "correction", "undo", "stop", "symptom", "medicine"}
    assert intents >= {"postpone", "skip", "question", "other"}
