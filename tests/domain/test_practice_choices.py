"""What a practitioner decides for a patient, and that nobody else does."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from domain.averaging_rules import DEFAULT_RULE, RULES
from domain.events import Do
from domain.evidence.targets import BOUNDS
from domain.people import NoteKind, Step
from domain.practice_marks import Finding
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

TODAY = date(2026, 3, 10)  # where the stage begins


def orders(stage: Stage, text: str) -> list[str]:
    stage.take_sent()
    stage.says(text, chat=DOCTOR_CHAT)
    return stage.heard(DOCTOR_CHAT)


# --- target


def test_a_practitioner_chooses_a_target_and_the_person_is_told(stage: Stage) -> None:
    assert orders(stage, "/target 130/80") == ["practice.target.done"]

    assert stage.patient.state.profile.target == (130, 80)
    assert stage.values("practice.target.told") == {
        "target": "130/80",
        "doctor": "Dr. Okafor-Lindqvist",
    }
    assert stage.noted(NoteKind.TARGET) == ["130/80"]


def test_from_then_on_readings_are_held_against_it(stage: Stage) -> None:
    orders(stage, "/target 130/80")
    stage.says("132/78")
    stage.passes(minutes=1.5)
    stage.says("132/78")

    assert stage.values("target.above") == {"target": "130/80"}


@pytest.mark.parametrize(
    "text", ["/target 119/75", "/target 130/69", "/target 160/80", "/target 130/100"]
)
def test_a_target_outside_the_safe_bounds_changes_nothing(stage: Stage, text: str) -> None:
    assert orders(stage, text) == ["practice.target.unsafe"]

    assert stage.patient.state.profile.target == (135, 85)
    assert stage.heard(PATIENT_CHAT) == []


@pytest.mark.parametrize("pair", [BOUNDS.lowest, BOUNDS.highest])
def test_both_bounds_may_be_chosen(stage: Stage, pair: object) -> None:
    assert orders(stage, f"/target {pair}") == ["practice.target.done"]


def test_without_numbers_the_usual_targets_are_offered_as_buttons(stage: Stage) -> None:
    assert orders(stage, "/target") == ["practice.target.ask"]

    stage.taps("button.practice_target", chat=DOCTOR_CHAT)
    assert stage.patient.state.profile.target == (125, 75)


@pytest.mark.parametrize("chat", [CARER_CHAT, PATIENT_CHAT])
@pytest.mark.parametrize("text", ["/target 130/80", "/guideline nice", "/changed 0", "/seen 4"])
def test_nobody_else_chooses(stage: Stage, text: str, chat: int) -> None:
    before = stage.patient
    stage.says(text, chat=chat)  # type: ignore[arg-type]
    stage.presses(Do.PRACTICE, text[1:].replace(" ", ":"), chat=chat)  # type: ignore[arg-type]

    assert stage.patient.state == before.state
    assert stage.patient.notes == before.notes


# --- guideline


def test_a_practitioner_chooses_the_guideline(stage: Stage) -> None:
    assert stage.patient.state.rule == DEFAULT_RULE
    assert orders(stage, "/guideline nice") == ["practice.rule.done"]

    assert stage.patient.state.rule == "nice"


def test_every_guideline_is_offered(stage: Stage) -> None:
    orders(stage, "/guideline of my own")

    offered = [button.label.values["rule"] for row in stage.sent[-1].buttons for button in row]
    assert offered == list(RULES)


def test_the_result_of_a_plan_goes_by_the_chosen_guideline(stage: Stage) -> None:
    orders(stage, "/guideline aha-ama")
    orders(stage, "/plan")
    stage.taps("plan.first-week.name", chat=DOCTOR_CHAT)
    stage.says("142/91")
    stage.passes(hours=24 * 8)

    assert stage.values("plan.result.by_rule", DOCTOR_CHAT)["guideline"] == "ACC/AHA 2017"


# --- change of medicine


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("/changed 2026-03-02", "2026-03-02"),
        ("/changed 0", "2026-03-10"),
        ("/changed 8", "2026-03-02"),
        ("/changed none", "none"),
    ],
)
def test_a_change_of_medicine_is_recorded_by_its_date(stage: Stage, text: str, code: str) -> None:
    orders(stage, text)

    assert stage.noted(NoteKind.CHANGED) == [code]


@pytest.mark.parametrize(
    "text", ["/changed", "/changed soon", "/changed 2026-03-11", "/changed 999"]
)
def test_no_day_or_one_that_cannot_be_is_asked_for(stage: Stage, text: str) -> None:
    assert orders(stage, text) == ["practice.changed.ask"]
    assert stage.noted(NoteKind.CHANGED) == []

    stage.taps("button.practice_day", chat=DOCTOR_CHAT)
    assert stage.noted(NoteKind.CHANGED) == ["2026-03-10"]


def test_a_change_of_today_offers_the_week_for_new_tablets(stage: Stage) -> None:
    orders(stage, "/changed 0")
    stage.taps("plan.new-tablets-week.name", chat=DOCTOR_CHAT)

    assert stage.patient.state.plan is not None
    assert stage.patient.state.plan.first_day == TODAY


def test_what_was_recorded_can_be_taken_back(stage: Stage) -> None:
    orders(stage, "/changed 3")
    stage.taps("button.practice_changed_none", chat=DOCTOR_CHAT)

    assert stage.noted(NoteKind.CHANGED) == ["2026-03-07", "none"]


# --- seen


def test_a_mark_keeps_what_was_seen_and_until_when(stage: Stage) -> None:
    stage.says("142/91")
    stage.passes(hours=24)
    stage.says("146/93")
    assert orders(stage, "/seen 2026-04-30") == ["practice.seen.done"]

    seen = stage.patient.state.seen
    assert seen is not None
    assert (seen.until, seen.finding) == (date(2026, 4, 30), Finding("above_target"))
    assert seen.value == (146, 93)  # the first day is no part of that average
    assert stage.values("practice.seen.told")["doctor"] == "Dr. Okafor-Lindqvist"


def test_from_the_list_it_is_about_what_stood_there(stage: Stage) -> None:
    stage.presses(Do.PRACTICE, "seen:@poor_data@148/92", chat=DOCTOR_CHAT)
    assert stage.heard(DOCTOR_CHAT) == ["practice.seen.ask"]
    stage.taps("button.practice_day", chat=DOCTOR_CHAT)

    seen = stage.patient.state.seen
    assert seen is not None
    assert (seen.finding, seen.value) == (Finding("poor_data"), (148, 92))
    assert seen.until == TODAY + timedelta(weeks=1)


@pytest.mark.parametrize("text", ["/seen", "/seen 0", "/seen 2026-03-10", "/seen 27", "/seen x"])
def test_a_day_that_cannot_be_is_asked_for(stage: Stage, text: str) -> None:
    assert orders(stage, text) == ["practice.seen.ask"]
    assert stage.patient.state.seen is None


def test_what_cannot_wait_cannot_be_marked(stage: Stage) -> None:
    stage.presses(Do.PRACTICE, "seen:4@severe_lately@192/110", chat=DOCTOR_CHAT)

    assert stage.heard(DOCTOR_CHAT) == ["practice.seen.never"]
    assert stage.patient.state.seen is None


def test_a_button_that_says_nothing_known_does_nothing(stage: Stage) -> None:
    stage.presses(Do.PRACTICE, "dose:double", chat=DOCTOR_CHAT)

    assert stage.heard(DOCTOR_CHAT) == ["old_button"]
    assert stage.step is None or stage.step is Step.PROMPTED
