"""One occasion: the prompt, the rest, the readings, and what is said of them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.events import Do, TimerFell
from domain.people import NoteKind, Step
from domain.talk import coaching
from domain.talk.coaching import STEPS, Happening, next_step
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, Stage

MORNING = "prompt.morning.before_medicine"


def prompted(stage: Stage) -> None:
    """The doctor gives a plan at 07:00; at 07:30 the first prompt comes."""
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=30)
    assert stage.heard()[-2] == MORNING
    stage.take_sent()


def then(stage: Stage, minutes: float) -> list[str]:
    stage.take_sent()
    stage.passes(minutes=minutes)
    return stage.heard()


# --- the table


@pytest.mark.parametrize("happening", list(Happening))
@pytest.mark.parametrize("step", [None, *Step])
def test_every_step_answers_every_happening(step: Step | None, happening: Happening) -> None:
    after = next_step(step, happening)
    assert after == STEPS[step].get(happening, step)
    if happening is Happening.ENOUGH:
        assert after is None
    if happening is Happening.READING:
        assert after is Step.PAUSE
    if happening is Happening.FAR_APART:
        assert after is Step.THIRD
    if happening is Happening.GIVEN_UP:
        assert after is None
    if happening is Happening.POSTPONED and step in {None, Step.PROMPTED, Step.RESTING, Step.FIRST}:
        assert after is Step.PROMPTED
    if happening is Happening.MINUTE_OVER:
        assert after is (Step.SECOND if step is Step.PAUSE else step)


def test_every_step_can_be_reached_and_left() -> None:
    reached = {after for row in STEPS.values() for after in row.values()}
    assert reached == {None, *Step}
    assert all(Happening.READING in STEPS[step] for step in (None, *Step))


# --- by the prompt


def test_prompt_ready_rest_reading_minute_second_average(stage: Stage) -> None:
    prompted(stage)
    stage.taps("button.ready")
    assert (stage.step, stage.heard()) == (Step.RESTING, ["rest.begin"])
    assert then(stage, 4.9) == []
    assert then(stage, 0.1) == ["measure.first"]
    stage.says("142 over 91")
    assert (stage.step, stage.heard()[1:]) == (Step.PAUSE, ["reading.first", "reading.wait"])
    assert then(stage, 0.9) == []
    assert then(stage, 0.1) == ["measure.second"]
    assert stage.step is Step.SECOND
    stage.take_sent()
    stage.says("138/88, slight headache")
    assert stage.step is None
    assert stage.values("average")["shown"] == "140/90"
    assert stage.heard() == ["average", "target.above", "symptom.next_visit", "caution.short"]


@pytest.mark.parametrize("ready", ["ready", "I'm ready", "start", "yes"])
def test_ready_may_be_typed(stage: Stage, ready: str) -> None:
    prompted(stage)
    stage.says(ready)
    assert stage.step is Step.RESTING


@pytest.mark.parametrize("how", ["button", "word", "while resting"])
def test_who_has_rested_measures_at_once(stage: Stage, how: str) -> None:
    prompted(stage)
    if how == "while resting":
        stage.taps("button.ready")
    stage.says("already rested") if how == "word" else stage.taps("button.rested")
    assert stage.step is Step.FIRST
    assert stage.heard()[-1] == "measure.first"


def test_the_prompt_names_the_arm_and_the_medicine(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=30)
    assert stage.heard()[-2:] == [MORNING, "technique"]


# --- a third reading


@pytest.mark.parametrize(
    ("second", "third"),
    [("132/91", False), ("131/91", True), ("152/91", False), ("153/91", True), ("142/81", False)],
)
def test_a_third_is_asked_for_only_when_the_two_differ_by_more_than_10(
    stage: Stage, second: str, third: bool
) -> None:
    stage.says("142/91")
    stage.passes(minutes=1)
    stage.says(second)
    assert (stage.step is Step.THIRD) is third
    assert ("average" in stage.heard()) is not third


def test_the_lower_number_alone_may_ask_for_a_third(stage: Stage) -> None:
    stage.says("142/91")
    stage.says("142/80")
    assert stage.step is Step.THIRD


def test_the_value_of_three_is_the_mean_of_all_three(stage: Stage) -> None:
    stage.says("152/90")
    stage.passes(minutes=1)
    stage.says("138/84")
    assert then(stage, 1) == ["measure.third"]
    stage.says("136/84")
    assert stage.values("average")["shown"] == "142/86"
    assert stage.values("average")["count"] == 3
    assert stage.step is None


# --- by themselves


def test_unprompted_readings_are_the_same_occasion(stage: Stage) -> None:
    stage.says("142/91")
    assert stage.step is Step.PAUSE
    assert then(stage, 1) == ["measure.second"]
    stage.says("138/88")
    assert stage.values("average")["shown"] == "140/90"


def test_two_in_one_message_are_an_occasion(stage: Stage) -> None:
    stage.says("142/91 138/88")
    assert stage.step is None
    assert stage.values("average")["shown"] == "140/90"


def test_nothing_of_a_finished_occasion_is_left_to_fall_due(stage: Stage) -> None:
    stage.says("142/91")
    stage.says("138/88")
    assert not set(coaching.TIMERS) & set(stage.timers)


def test_two_far_apart_in_one_message_ask_for_a_third(stage: Stage) -> None:
    stage.says("152/91 138/88")
    assert stage.step is Step.THIRD


def test_a_lone_reading_stands_after_ten_minutes(stage: Stage) -> None:
    stage.says("142/91")
    stage.passes(minutes=10)
    assert stage.step is Step.SECOND
    stage.passes(minutes=0.1)
    assert stage.step is None
    assert "reading.single" in stage.heard()
    assert stage.values("average")["count"] == 1


def test_a_reading_of_an_earlier_hour_is_kept_and_asks_for_nothing(stage: Stage) -> None:
    stage.now = datetime(2026, 3, 10, 12, tzinfo=UTC)
    stage.says("142/91 at 8 this morning")
    assert stage.step is None
    assert "reading.earlier" in stage.heard()
    assert stage.patient.readings[0].reading.at.hour == 8


# --- nobody answers


def test_one_reminder_at_30_minutes_then_missed_at_two_hours(stage: Stage) -> None:
    prompted(stage)
    assert then(stage, 29.9) == []
    assert then(stage, 0.1) == ["prompt.reminder"]
    assert "prompt.reminder" not in then(stage, 89.9)
    assert stage.noted(NoteKind.MISSED) == []
    stage.passes(minutes=0.1)
    assert stage.noted(NoteKind.MISSED) == ["morning"]
    assert stage.step is None
    assert "contact.missed" in stage.heard(CARER_CHAT)
    assert stage.heard(DOCTOR_CHAT) == ["contact.missed"]


def test_contacts_who_are_told_alarms_only_or_nothing_hear_of_nothing_missed(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.presses(Do.CONSENT_ALARMS, "wren")
    stage.presses(Do.CONSENT_WITHDRAW, "okafor")
    stage.passes(hours=3)
    assert stage.noted(NoteKind.MISSED) == ["morning"]
    assert "contact.missed" not in stage.heard(CARER_CHAT)
    assert "contact.missed" not in stage.heard(DOCTOR_CHAT)


def test_an_answer_stops_the_reminder(stage: Stage) -> None:
    prompted(stage)
    stage.says("142/91 138/88")
    assert "prompt.reminder" not in then(stage, 60 * 3)
    assert stage.noted(NoteKind.MISSED) == []


def test_who_measured_shortly_before_is_not_prompted(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=10)
    stage.says("142/91 138/88")
    assert MORNING not in then(stage, 60)
    assert stage.noted(NoteKind.MISSED) == []


@pytest.mark.parametrize(("hours", "asks"), [(2, True), (2.01, False)])
def test_a_prompt_that_comes_late_after_an_outage(stage: Stage, hours: float, asks: bool) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    due = stage.timers["prompt"]
    stage.take_sent()
    stage.passes(minutes=0)
    del stage.timers["prompt"]
    stage.now = due + (coaching.TOO_LATE * (hours / 2))
    stage.happens(TimerFell(key="prompt", due=due), chat=None)
    assert (MORNING in stage.heard()) is asks
    assert stage.noted(NoteKind.MISSED) == ([] if asks else ["morning"])
    assert stage.timers["prompt"] > stage.now, "the next prompt is set all the same"


# --- later, or not this time


@pytest.mark.parametrize(("how", "minutes"), [("button", 20), ("later", 20), ("in 45 minutes", 45)])
def test_a_postponed_prompt_comes_again(stage: Stage, how: str, minutes: float) -> None:
    prompted(stage)
    stage.taps("button.later") if how == "button" else stage.says(how)
    assert "prompt.postponed" in stage.heard()
    assert then(stage, minutes - 0.1) == []
    assert then(stage, 0.1)[0] == MORNING


def test_a_postponed_prompt_that_nobody_answers_is_missed(stage: Stage) -> None:
    prompted(stage)
    stage.taps("button.later")
    stage.passes(hours=3)
    assert stage.noted(NoteKind.MISSED) == ["morning"]


@pytest.mark.parametrize("how", ["button", "skip", "not today"])
def test_a_skipped_occasion_is_noted_without_blame(stage: Stage, how: str) -> None:
    prompted(stage)
    stage.taps("button.skip") if how == "button" else stage.says(how)
    assert stage.noted(NoteKind.SKIPPED) == ["morning"]
    assert stage.step is None
    assert then(stage, 60 * 3) == []
    assert stage.noted(NoteKind.MISSED) == []
    assert stage.heard(CARER_CHAT) == []


# --- what is said of an average


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("134/84 134/84", "target.below"),
        ("135/84 135/84", "target.above"),
        ("134/85 134/85", "target.above"),
        ("159/99 159/99", "target.above"),
        ("160/99 160/99", "target.high"),
        ("159/100 159/100", "target.high"),
        ("134/84 134/84 and a cough", "target.below.symptom"),
        ("89/60 89/60", "low.today"),
        ("90/60 90/60", "low.medicine"),  # takes medicine: below 100 is for today
        ("100/60 100/60", "target.below"),
        ("95/60 95/60, dizzy", "low.today"),
    ],
)
def test_an_average_is_compared_with_the_target(stage: Stage, text: str, key: str) -> None:
    stage.says(text)
    assert key in stage.heard()


def test_the_week_so_far_is_told_from_the_second_occasion_on(stage: Stage) -> None:
    stage.says("142/91 138/88")
    assert "week.so_far" not in stage.heard()
    stage.passes(hours=12)
    stage.says("130/80 130/80")
    week = stage.values("week.so_far")
    assert (week["shown"], week["count"]) == ("135/85", 2)


def test_the_caution_comes_with_every_average_and_whole_on_request(stage: Stage) -> None:
    stage.says("142/91 138/88")
    assert stage.heard()[-1] == "caution.short"
    stage.taps("button.cautions")
    assert stage.heard()[-1] == "cautions.whole"
