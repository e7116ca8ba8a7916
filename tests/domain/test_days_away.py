"""Somebody who does not answer for days: less and less is said, and nothing is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from domain.people import NoteKind
from domain.plans import Plan, PlanKind
from domain.talk.scheduling import PROMPT
from tests.domain.conftest import CARER_CHAT, PATIENT_CHAT, Stage


def away(stage: Stage, days: int) -> None:
    """The plan asks twice a day and nobody answers."""
    plan = Plan(kind=PlanKind.FIRST_WEEK, first_day=date(2026, 3, 10))
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, plan=plan))
    stage.timers[PROMPT] = datetime(2026, 3, 10, 7, 30, tzinfo=UTC)
    stage.passes(hours=24 * days)


def said(stage: Stage, key: str) -> int:
    return stage.heard(PATIENT_CHAT).count(key)


def test_reminders_stop_after_two_misses_and_prompts_go_on(stage: Stage) -> None:
    away(stage, 4)

    assert said(stage, "prompt.reminder") == 2
    assert said(stage, "prompt.morning.before_medicine") == 4
    assert len(stage.noted(NoteKind.MISSED)) == 8


def test_the_carer_is_told_of_the_first_two_and_then_only_now_and_then(stage: Stage) -> None:
    away(stage, 4)

    assert stage.heard(CARER_CHAT).count("contact.missed") == 3


def test_a_reading_begins_the_count_anew(stage: Stage) -> None:
    away(stage, 2)
    stage.take_sent()
    stage.says("142/91 and 138/88")

    stage.passes(hours=24)

    # Measured half an hour before the morning's prompt: that was the morning's occasion.
    assert said(stage, "prompt.reminder") == 1
