"""`cuffbell average` against the examples that were agreed on with its users.

Source: `data/average_sample.jsonl`, twelve inputs with their answers, written apart from the
code. Numbers are compared by value; "TEXT" stands for any text.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from bot.commands import average

_SAMPLE = Path(__file__).parent / "data" / "average_sample.jsonl"
_LINES = _SAMPLE.read_text(encoding="utf-8").splitlines()
_EXAMPLES: list[dict[str, Any]] = [json.loads(line) for line in _LINES]


def test_the_sample_holds_twelve_examples() -> None:
    assert len({example["id"] for example in _EXAMPLES}) == 12


@pytest.mark.parametrize("example", _EXAMPLES, ids=lambda example: str(example["id"]))
def test_the_command_answers_as_agreed(
    example: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    parser = argparse.ArgumentParser()
    average.register(parser.add_subparsers(required=True))
    data = io.BytesIO(example["input"].encode())
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(data, encoding="utf-8"))
    arguments = parser.parse_args(["average", *example["args"], "--json"])

    status = arguments.run(arguments)

    printed = capsys.readouterr()
    assert status == example["status"]
    errors = printed.err.splitlines()
    if example["stderr"] is None:
        assert len(errors) == 1
    else:
        assert len(errors) == len(example["stderr"])
        for line, begin in zip(errors, example["stderr"], strict=True):
            assert line.startswith(begin)
    if example["expect"] is None:
        assert printed.out == ""
    else:
        _assert_holds(json.loads(printed.out), example["expect"])


def _assert_holds(printed: dict[str, Any], expected: dict[str, Any]) -> None:
    for key, value in expected.items():
        if value == "TEXT":
            assert isinstance(printed[key], str)
            assert printed[key]
        elif isinstance(value, dict):
            _assert_holds(printed[key], value)
        else:
            assert printed[key] == value, key
