"""What a message is for: the table beside this file, the lexicon's examples, pauses."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from domain.understanding import Intent, understand
from domain.understanding.lexicon_files import lexicon
from tests.domain.message_tables import intent_rows

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)


@pytest.mark.parametrize(("right", "text"), intent_rows())
def test_a_message_is_for_what_stands_beside_it(right: frozenset[str], text: str) -> None:
    assert understand(text, NOW).intent in right


@pytest.mark.parametrize(
    "item",
    [e for e in lexicon().examples if e.kind == "intent"],
    ids=lambda e: f"{e.code} {'yes' if e.expected else 'no'}: {e.text}",
)
def test_the_examples_in_the_lexicon_hold(item: object) -> None:
    code, text, expected = (getattr(item, name) for name in ("code", "text", "expected"))

    assert (understand(text, NOW).intent == code) is expected


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        # In the order of the contract: the first that fits wins.
        ("oops, typo, it was 131/81 and my head hurts", Intent.CORRECTION),
        ("131/81, please delete the last one", Intent.READING),
        ("131/81, headache, took my tablet, stop", Intent.READING),
        ("delete the last one and stop messaging me", Intent.UNDO),
        ("stop messaging me, I have a headache", Intent.STOP),
        ("I have a headache and took a tablet", Intent.SYMPTOM),
        ("took my tablet, will measure later", Intent.MEDICINE),
        ("not now, skip this one, I'll do it tonight", Intent.POSTPONE),
        ("skip today, when is the next one?", Intent.SKIP),
        ("no headache today, when is the next one?", Intent.QUESTION),
        ("no headache today", Intent.SYMPTOM),
        ("lovely day", Intent.OTHER),
        ("", Intent.OTHER),
    ],
)
def test_the_first_intent_that_fits_wins(text: str, intent: Intent) -> None:
    assert understand(text, NOW).intent is intent


@pytest.mark.parametrize(
    ("text", "wait"),
    [
        ("in 20 minutes", timedelta(minutes=20)),
        ("in 20 min", timedelta(minutes=20)),
        ("give me half an hour", timedelta(minutes=30)),
        ("in an hour", timedelta(hours=1)),
        ("in an hour and a half", timedelta(minutes=90)),
        ("in a couple of hours", timedelta(hours=2)),
        ("in quarter of an hour", timedelta(minutes=15)),
        ("I'll do it in twenty five minutes", timedelta(minutes=25)),
        ("after church", None),
        ("later", None),
        ("I will do it later, in 900 hours", None),
    ],
)
def test_a_pause_is_as_long_as_the_writer_says(text: str, wait: timedelta | None) -> None:
    understood = understand(text, NOW)

    assert understood.intent is Intent.POSTPONE
    assert understood.postponed == wait


def test_only_a_pause_has_a_length() -> None:
    assert understand("rested 5 minutes, 131/81", NOW).postponed is None
