"""The sample of the project's own contract for understanding a message, all fields.

Source: `messages_sample.jsonl`, published beside the contract; the copy here is unchanged.
Times count as right within 30 minutes, codes in `accept` may be there or not.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from bot.commands.understand import answer
from tests.domain.contract_answers import assert_answered_right
from tests.domain.message_tables import all_number_rows, intent_rows, symptom_rows

SAMPLE = Path(__file__).parent / "data" / "messages_sample.jsonl"
CASES = [json.loads(line) for line in SAMPLE.read_text(encoding="utf-8").splitlines()]


@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_an_example_of_the_contract_is_answered_right(case: dict[str, Any]) -> None:
    given = answer(json.dumps(case).encode())

    assert given["id"] == case["id"]
    assert_answered_right(case, given)


def test_the_projects_own_messages_are_none_of_the_sample() -> None:
    published = {case["text"] for case in CASES}
    own = {row.text for row in symptom_rows()}
    own |= {text for _, _, text in all_number_rows()} | {text for _, text in intent_rows()}

    assert len(own) > 10_000
    assert own & published == set()
