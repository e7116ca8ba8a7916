"""A change of medicine in the person's own words becomes a date, and nothing else does."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from domain.people import Note, NoteKind
from domain.plans import PlanKind
from domain.practice_marks import NO_CHANGE
from domain.report_evidence import medicine_changed
from domain.understanding import languages, understand
from domain.understanding.lexicon_files import Example, lexicon
from tests.domain.conftest import Stage

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
LISBON = ZoneInfo("Europe/Lisbon")

EXAMPLES = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "change"
]


@pytest.mark.parametrize(
    ("language", "example"),
    EXAMPLES,
    ids=[f"{lang} {'yes' if e.expected else 'no'}: {e.text}" for lang, e in EXAMPLES],
)
def test_the_examples_in_the_lexicon_hold(language: str, example: Example) -> None:
    assert understand(example.text, NOW, language).medicine_changed is example.expected


@pytest.mark.parametrize("language", languages())
def test_every_language_knows_changes(language: str) -> None:
    assert {e.expected for lang, e in EXAMPLES if lang == language} == {True, False}


def test_whoever_writes_of_a_change_is_asked_on_which_day_it_was(stage: Stage) -> None:
    stage.says("started a new dose today")
    assert stage.heard() == ["medicine.noted", "medicine.changed.ask"]
    assert stage.noted(NoteKind.CHANGED) == []

    stage.taps("button.practice_day")
    assert stage.noted(NoteKind.CHANGED) == ["2026-03-10"]
    assert stage.values("medicine.changed.done") == {"day": date(2026, 3, 10)}


def test_whoever_took_a_tablet_is_asked_nothing(stage: Stage) -> None:
    stage.says("took my tablet")

    assert stage.heard() == ["medicine.noted"]


# --- which date the report compares by


def note(kind: NoteKind, code: str, days: int = 0) -> Note:
    return Note(kind=kind, at=NOW + timedelta(days=days), code=code)


@pytest.mark.parametrize(
    ("notes", "day"),
    [
        ((), None),
        ((note(NoteKind.CHANGED, "2026-03-02"),), date(2026, 3, 2)),
        ((note(NoteKind.CHANGED, "2026-03-02"), note(NoteKind.CHANGED, NO_CHANGE, 1)), None),
        (
            (note(NoteKind.CHANGED, NO_CHANGE), note(NoteKind.CHANGED, "2026-03-02", 1)),
            date(2026, 3, 2),
        ),
        (
            (
                note(NoteKind.CHANGED, "2026-03-02"),
                note(NoteKind.PLAN, PlanKind.NEW_TABLETS_WEEK, 1),
            ),
            date(2026, 3, 11),
        ),
        ((note(NoteKind.PLAN, PlanKind.REGULAR_DAYS), note(NoteKind.MEDICINE, "")), None),
    ],
)
def test_the_last_recorded_change_that_was_not_taken_back_counts(
    notes: tuple[Note, ...], day: date | None
) -> None:
    assert medicine_changed(notes, LISBON) == day
