"""Old severe readings, falls, errors of the monitor, standing up: no alarm, and answered.

All people are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from domain.events import Do
from domain.outcome import Rank
from domain.people import AlarmStage, NoteKind, Step
from domain.readings import CameAs
from tests.domain.conftest import CARER_CHAT, PATIENT_CHAT, Stage
from tests.domain.measured import both, has_measured

# --- old readings


def severe_yesterday(stage: Stage) -> None:
    stage.now = datetime(2026, 3, 10, 12, tzinfo=UTC)
    stage.says("192/114 yesterday evening")


def test_an_old_severe_reading_calls_nobody_and_asks_how_the_person_is(stage: Stage) -> None:
    severe_yesterday(stage)
    assert stage.alarm is None
    assert stage.heard() == [
        "old.severe",
        "signs.ask",
        "severe.signs",
        "severe.if_sign",
        "reading.earlier",
        "old.measure",
        "caution.short",
    ]
    assert stage.heard(CARER_CHAT) == []
    assert stage.noted(NoteKind.FINDING) == ["old_severe"]


def test_a_sign_now_makes_an_old_severe_reading_an_emergency(stage: Stage) -> None:
    severe_yesterday(stage)
    stage.taps("button.signs")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.values("seen.both")["shown"] == "192/114"


@pytest.mark.parametrize("together", [True, False])
def test_a_listed_sign_within_a_day_of_an_old_severe_reading_is_an_emergency(
    stage: Stage, together: bool
) -> None:
    stage.now = datetime(2026, 3, 10, 12, tzinfo=UTC)
    stage.says("192/114 yesterday evening" + (" and I have a headache" if together else ""))
    if not together:
        stage.passes(hours=5)
        stage.says("I have a headache")
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize(("hours", "alarm"), [(6.9, AlarmStage.EMERGENCY), (7.1, None)])
def test_a_day_after_the_severe_reading_a_sign_stands_alone(
    stage: Stage, hours: float, alarm: AlarmStage | None
) -> None:
    severe_yesterday(stage)  # at 19:00, 17 hours before
    stage.passes(hours=hours)
    stage.says("I have a headache")
    assert stage.alarm is alarm


def test_a_pair_below_takes_an_old_severe_reading_back(stage: Stage) -> None:
    severe_yesterday(stage)
    stage.says("150/90 148/88")
    stage.says("I have a headache")
    assert stage.alarm is None


def test_no_sign_after_an_old_severe_reading_asks_to_measure(stage: Stage) -> None:
    severe_yesterday(stage)
    stage.take_sent()
    stage.taps("button.no_signs")
    assert stage.heard() == ["signs.none", "old.measure", "severe.if_starts"]
    assert stage.alarm is None


def test_a_severe_reading_of_the_clinic_calls_nobody(stage: Stage) -> None:
    stage.says("the nurse at the surgery measured 192/114")
    assert stage.alarm is None
    assert stage.heard()[0] == "old.severe"
    stage.says("I have a headache")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_an_imported_severe_reading_counts_with_a_sign_only(stage: Stage) -> None:
    has_measured(stage, 192, 114, days=0)
    kept = stage.patient.readings[0]
    imported = replace(kept, reading=replace(kept.reading, came_as=CameAs.IMPORTED))
    stage.patient = replace(stage.patient, readings=(imported,))
    stage.says("good morning")
    assert stage.alarm is None
    stage.says("I feel sick and my head aches")
    assert stage.alarm is AlarmStage.EMERGENCY


# --- falls


def test_after_a_fall_the_question_comes_first(stage: Stage) -> None:
    stage.says("I fell this morning")
    heard = stage.heard()
    assert heard[:4] == ["fall.seen", "signs.ask", "signs.fall", "severe.if_sign"]
    assert "fall.next_visit" in heard
    assert stage.noted(NoteKind.SYMPTOM) == ["x_fall"]
    assert stage.alarm is None
    stage.taps("button.signs")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "contact.emergency" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize("before", ["a bit dizzy", "I fell over in the garden", "95/60 95/60"])
def test_a_fall_with_dizziness_low_pressure_or_a_second_one_is_for_today(
    stage: Stage, before: str
) -> None:
    stage.says(before)
    stage.passes(hours=2)
    stage.take_sent()
    stage.says("I fell in the kitchen")
    assert {"fall.today", "low.today"} & set(stage.heard())
    assert "fall.next_visit" not in stage.heard()


@pytest.mark.parametrize("text", ["I fell yesterday", "my wife had a fall"])
def test_another_days_fall_or_another_persons_is_asked_about_and_not_noted(
    stage: Stage, text: str
) -> None:
    stage.says(text)
    assert "signs.fall" in stage.heard()
    assert stage.noted(NoteKind.SYMPTOM) == []


def test_whoever_lies_on_the_floor_is_not_asked(stage: Stage) -> None:
    stage.says("I've fallen and can't get up")
    assert stage.alarm is AlarmStage.EMERGENCY


# --- errors of the monitor


@pytest.mark.parametrize("text", ["E3", "Err 2", "error on the display", "what does E3 mean?"])
def test_an_error_is_a_failed_try_and_what_to_check_is_said(stage: Stage, text: str) -> None:
    stage.presses(Do.RESTED)
    stage.take_sent()
    stage.says(text)
    assert stage.heard() == ["error.check", "error.unwell"]
    assert stage.noted(NoteKind.FAILED) == ["monitor_error"]
    assert stage.pairs() == []
    assert stage.step is Step.FIRST


def test_three_tries_without_a_number_are_left_for_now(stage: Stage) -> None:
    stage.presses(Do.RESTED)
    for _ in range(3):
        stage.passes(minutes=2)
        stage.take_sent()
        stage.says("E3")
    assert stage.heard() == ["error.later", "error.unwell", "prompt.postponed"]
    assert stage.values("error.later")["tries"] == 3
    stage.passes(hours=1)
    assert "prompt.morning.before_medicine" in stage.heard()


@pytest.mark.parametrize(("minutes", "number"), [(31, False), (1, True)])
def test_tries_count_within_an_hour_and_since_the_last_number(
    stage: Stage, minutes: int, number: bool
) -> None:
    for _ in range(2):
        stage.says("E3")
        stage.passes(minutes=minutes)
    if number:
        stage.says("132/81 130/80")
        stage.passes(minutes=1)
    stage.take_sent()
    stage.says("E3")
    assert stage.heard()[0] == "error.check"


def test_an_error_beside_a_reading_is_only_noted(stage: Stage) -> None:
    stage.says("it said E3 first, then 132/81")
    assert stage.noted(NoteKind.FAILED) == ["monitor_error"]
    assert stage.heard() == ["reading.first", "reading.wait"]


def test_an_error_while_a_second_pair_is_awaited_leaves_that_open(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.take_sent()
    stage.says("E3")
    assert stage.heard() == ["error.check", "error.unwell", "severe.go_on"]
    assert all(out.rank is not Rank.PROMPT for out in stage.sent)


def test_an_error_while_the_person_joins_leaves_the_question_open(newcomer: Stage) -> None:
    newcomer.patient = replace(newcomer.patient, chat=PATIENT_CHAT)
    newcomer.says("E3")
    assert newcomer.heard()[:2] == ["error.check", "error.unwell"]


# --- for the practitioner


def test_what_was_said_is_noted_once_for_an_occasion_with_its_number(stage: Stage) -> None:
    both(stage, "86/52", "87/53")
    notes = [n for n in stage.patient.notes if n.kind is NoteKind.FINDING]
    assert [(n.code, n.text) for n in notes] == [("low", "86/52")]


# --- corrections


def test_a_number_corrected_to_a_low_one_is_answered(stage: Stage) -> None:
    stage.says("186/52")
    stage.taps("button.no_signs")
    stage.take_sent()
    stage.says("sorry, 86 not 186")
    assert "low.today" in stage.heard()


# --- from sitting to standing


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("128/78 sitting, 109/70 standing", None),
        ("128/78 sitting, 108/70 standing", "standing.next_visit"),
        ("128/78 sitting, 120/69 standing", None),
        ("128/78 sitting, 120/68 standing", "standing.next_visit"),
        ("standing 108/70, sitting 128/78", "standing.next_visit"),
        ("lying down 140/80, after standing one minute 118/70", "standing.next_visit"),
        ("128/78 sitting, 108/70 standing, a bit dizzy", "standing.today"),
        ("128/78 108/70", None),
        ("128/78 and 108/70 both standing", None),
        ("128/78, 108/70, I was sitting", None),
    ],
)
def test_a_fall_of_pressure_on_standing_up_is_told(
    stage: Stage, text: str, said: str | None
) -> None:
    """NICE NG136 1.1.6: >=20 systolic; ESC 2024: >=20 or >=10 diastolic (both secondary)."""
    stage.says(text)
    assert [key for key in stage.heard() if key.startswith("standing.")] == ([said] if said else [])


def test_a_drop_after_a_fall_is_for_today(stage: Stage) -> None:
    stage.says("I fell over in the kitchen")
    stage.passes(hours=20)
    stage.says("128/78 sitting, 108/70 standing")
    assert "standing.today" in stage.heard()


# --- in Spanish


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("86/52", "low.today"),
        ("128/78 pulso 38", "pulse.slow.today"),
        ("me he caído esta mañana", "fall.next_visit"),
        ("sale error", "error.check"),
        ("132/81 con la señal de pulso irregular", "irregular.once"),
        ("128/78 sentado, 108/70 de pie", "standing.next_visit"),
        ("pulso 45 y mareado", "pulse.slow.today"),
        ("anteayer por la noche 192/114", "old.severe"),
    ],
)
def test_the_same_is_said_to_who_writes_spanish(stage: Stage, text: str, said: str) -> None:
    stage.patient = replace(stage.patient, language="es")
    stage.says(text)
    assert said in stage.heard()


def test_the_fall_of_a_low_reading_is_not_headed_twice(stage: Stage) -> None:
    stage.says("I fell this morning, 95/60")
    assert stage.heard().count("low.today") == 1
    assert "signs.fall" in stage.heard()
