"""What a patient is asked once, by buttons and by free text, and changed later."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest

from domain.events import Do, SharedLocation
from domain.people import (
    AlarmStage,
    ChatId,
    Invitation,
    JoinStep,
    MessageRef,
    Monitor,
    Note,
    NoteKind,
    PersonId,
    Place,
    Profile,
    Role,
)
from domain.plans import PlanKind
from domain.readings import Arm
from tests.domain.conftest import PATIENT_CHAT, Stage

LISBON = Place(name="Lisbon", zone="Europe/Lisbon", country="PT")
PUNE = Place(name="Pune", zone="Asia/Kolkata", country="IN")


def invitation(stage: Stage, **values: object) -> Invitation:
    made = Invitation(
        person=PersonId("hollis"),
        name="Hollis",
        role=Role.PATIENT,
        expires=stage.now + timedelta(days=7),
    )
    return replace(made, **values)  # type: ignore[arg-type]


def starts(stage: Stage) -> None:
    stage.starts(invitation(stage), chat=PATIENT_CHAT)


def empty(stage: Stage) -> Stage:
    """An invitation that says nothing but the name."""
    state = replace(stage.patient.state, profile=Profile())
    stage.patient = replace(stage.patient, state=state)
    return stage


def step(stage: Stage) -> JoinStep | None:
    return stage.patient.state.joining


def test_the_welcome_has_the_cautions_before_the_first_question(newcomer: Stage) -> None:
    starts(newcomer)
    assert newcomer.heard() == ["join.welcome", "join.cautions", "join.adult"]


def test_the_whole_joining_by_buttons(newcomer: Stage) -> None:
    starts(newcomer)
    for label in (
        "join.adult.none",
        "join.number.yes",
        "join.prompt.yes",
        "join.monitor.upper_arm",
        "join.cuff.30",
        "join.arm.left",
    ):
        newcomer.taps(label)
    profile = newcomer.patient.state.profile
    assert step(newcomer) is None
    assert profile.emergency_number == "112"
    assert (profile.morning_prompt, profile.evening_prompt) == (time(7, 30), time(19, 30))
    assert (profile.monitor, profile.arm_cm, profile.arm) == (Monitor.UPPER_ARM, 30, Arm.LEFT)
    assert "join.done" in newcomer.heard()
    assert set(newcomer.timers) == {"prompt", "week", "plan.end"}


def test_the_whole_joining_by_free_text(newcomer: Stage) -> None:
    empty(newcomer)
    starts(newcomer)
    newcomer.says("none of these")
    newcomer.places = (PUNE,)
    newcomer.says("Pune")
    newcomer.places = ()
    for text in ("yes", "7am and 9 at night", "6:45", "it is for the upper arm", "33 cm", "right"):
        newcomer.says(text)
    profile = newcomer.patient.state.profile
    assert step(newcomer) is None
    assert (profile.zone, profile.country) == ("Asia/Kolkata", "IN")
    assert profile.emergency_number == "112"
    assert profile.medicine_times == (time(7), time(21))
    assert (profile.morning_prompt, profile.evening_prompt) == (time(6, 45), time(20, 30))
    assert (profile.monitor, profile.arm_cm, profile.arm) == (Monitor.UPPER_ARM, 33, Arm.RIGHT)


def test_what_the_invitation_said_is_not_asked(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.none")
    newcomer.taps("join.number.yes")
    asked = newcomer.heard()
    assert "join.place" not in asked
    assert "join.medicine" not in asked


def test_joining_starts_the_plan_of_the_invitation(newcomer: Stage) -> None:
    state = replace(newcomer.patient.state, wanted_plan=PlanKind.OWN_DAYS)
    newcomer.patient = replace(newcomer.patient, state=state)
    joins(newcomer)
    plan = newcomer.patient.state.plan
    assert plan is not None
    assert plan.kind is PlanKind.OWN_DAYS


def joins(stage: Stage) -> None:
    starts(stage)
    for text in ("none", "112", "yes", "upper arm", "31", "left"):
        stage.says(text)
    assert step(stage) is None


@pytest.mark.parametrize(("hour", "days_later"), [(7, 0), (8, 1)])
def test_day_one_is_today_only_when_the_morning_prompt_is_still_to_come(
    newcomer: Stage, hour: int, days_later: int
) -> None:
    newcomer.now = newcomer.now.replace(hour=hour)
    joins(newcomer)
    plan = newcomer.patient.state.plan
    assert plan is not None
    assert (plan.first_day - newcomer.now.date()).days == days_later


# --- interrupted


def test_an_answer_that_is_none_is_asked_for_again_once(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.take_sent()
    newcomer.says("banana")
    assert newcomer.heard() == ["join.adult.again", "join.adult"]


def test_joining_goes_on_where_it_was_left(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.none")
    newcomer.passes(hours=50)
    newcomer.take_sent()
    newcomer.says("/start")
    assert newcomer.heard() == ["join.number"]


def test_a_reading_in_between_is_kept_and_the_question_put_again(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.none")
    newcomer.says("142/91")
    assert newcomer.pairs() == [(142, 91)]
    assert newcomer.heard()[-1] == "join.number"


def test_an_emergency_in_between_comes_first(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.take_sent()
    newcomer.says("192/114 and my chest hurts")
    assert newcomer.heard()[0] == "emergency.call"
    assert newcomer.alarm is AlarmStage.EMERGENCY


def test_a_severe_reading_in_between_is_asked_about_first(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.says("192/114")
    newcomer.take_sent()
    newcomer.says("none")
    assert newcomer.alarm is AlarmStage.REPEATING
    assert newcomer.patient.state.profile.adult is None


@pytest.mark.parametrize("text", ["192 over ?", "19 over 11"])
@pytest.mark.parametrize("before", [(), ("none",), ("none", "112", "yes", "upper arm")])
def test_a_number_that_may_be_severe_answers_no_question_of_joining(
    newcomer: Stage, before: tuple[str, ...], text: str
) -> None:
    starts(newcomer)
    for answer in before:
        newcomer.says(answer)
    open_question = step(newcomer)
    newcomer.says(text)
    assert newcomer.alarm is AlarmStage.ASKED
    assert step(newcomer) is open_question


@pytest.mark.parametrize("number", ["192", "190", "999"])
def test_a_bare_number_answers_the_question_about_the_number(newcomer: Stage, number: str) -> None:
    starts(newcomer)
    newcomer.says("none")
    newcomer.says(number)
    assert newcomer.patient.state.profile.emergency_number == number


def test_a_button_of_an_earlier_question_changes_that_answer(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.none")
    newcomer.taps("join.number.yes")
    newcomer.presses(Do.JOIN, "number:999")
    assert newcomer.patient.state.profile.emergency_number == "999"
    assert step(newcomer) is JoinStep.PROMPT


# --- adult limits


def declined_before(stage: Stage) -> None:
    """Of an earlier version, which declined whoever was pregnant."""
    starts(stage)
    note = Note(kind=NoteKind.DECLINED, at=stage.now, code="pregnant")
    profile = replace(stage.patient.state.profile, adult=False)
    state = replace(stage.patient.state, joining=None, declined=True, profile=profile)
    stage.patient = replace(stage.patient, state=state, notes=(note,))


def test_under_eighteen_is_declined_with_where_to_turn(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.under_18")
    assert newcomer.heard()[-2:] == ["join.declined.under_18", "join.declined.back"]
    assert newcomer.patient.state.declined
    assert newcomer.noted(NoteKind.DECLINED) == ["under_18"]
    assert "prompt" not in newcomer.timers


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("hello", "declined.still"),
        ("139/89", "declined.still"),
        ("140/89", "declined.today"),
        ("139/90", "declined.today"),
        ("159/109", "declined.today"),
        ("160/90", "declined.danger"),
        ("150/110", "declined.danger"),
        ("headache", "declined.danger"),
        ("chest pain", "declined.danger"),
        ("192 over ?", "declined.danger"),
    ],
)
def test_a_declined_person_still_gets_emergency_advice(
    newcomer: Stage, text: str, key: str
) -> None:
    declined_before(newcomer)
    newcomer.take_sent()
    newcomer.says(text)
    assert newcomer.heard() == [key]
    assert newcomer.pairs() == []


def test_not_pregnant_declines_nobody(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.says("I'm not pregnant")
    assert not newcomer.patient.state.declined
    assert step(newcomer) is JoinStep.ADULT


def test_who_was_declined_by_mistake_can_go_on_from_the_settings(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.under_18")
    newcomer.says("/settings")
    newcomer.taps("settings.change.adult")
    newcomer.taps("join.adult.none")
    assert not newcomer.patient.state.declined
    assert newcomer.heard()[-1] == "join.number"
    for text in ("112", "yes", "upper arm", "31", "left"):
        newcomer.says(text)
    assert newcomer.patient.state.joined_at is not None
    newcomer.says("142/91")
    assert newcomer.pairs() == [(142, 91)]


@pytest.mark.parametrize(("barred", "other"), [("left", Arm.RIGHT), ("right", Arm.LEFT)])
def test_an_arm_that_must_not_be_used_is_never_offered(
    newcomer: Stage, barred: str, other: Arm
) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.one_arm")
    newcomer.taps(f"join.barred_arm.{barred}")
    newcomer.taps("join.adult.done")
    for text in ("112", "yes", "upper arm", "31"):
        newcomer.says(text)
    assert step(newcomer) is None, "the arm is known"
    assert newcomer.patient.state.profile.arm is other
    newcomer.take_sent()
    newcomer.says("/settings")
    newcomer.taps("settings.change.arm")
    labels = {b.label.key for out in newcomer.sent for row in out.buttons for b in row}
    assert f"join.arm.{other}" in labels
    assert f"join.arm.{barred}" not in labels
    newcomer.says(f"the {barred} arm")
    assert newcomer.patient.state.profile.arm is other


# --- the place


def test_a_place_that_is_not_clear_is_chosen_by_button(newcomer: Stage) -> None:
    empty(newcomer)
    starts(newcomer)
    newcomer.says("none")
    newcomer.places = (LISBON, PUNE)
    newcomer.says("Springfield")
    assert newcomer.heard()[-1] == "join.place.which"
    newcomer.presses(Do.JOIN, "place:Asia/Kolkata|IN")
    assert newcomer.patient.state.profile.zone == "Asia/Kolkata"


def test_a_place_that_nobody_knows_is_asked_for_again(newcomer: Stage) -> None:
    empty(newcomer)
    starts(newcomer)
    newcomer.says("none")
    newcomer.take_sent()
    newcomer.says("Xyzzyville")
    assert newcomer.heard() == ["join.place.again", "join.place"]


def test_a_shared_position_is_the_place_only_when_it_was_asked_for(newcomer: Stage) -> None:
    empty(newcomer)
    starts(newcomer)
    shared = SharedLocation(
        place=PUNE, message=MessageRef(chat=ChatId(100), message=9), written_at=newcomer.now
    )
    newcomer.happens(shared)
    assert newcomer.heard()[-1] == "location.not_asked"
    newcomer.says("none")
    newcomer.happens(shared)
    assert newcomer.patient.state.profile.zone == "Asia/Kolkata"


def test_another_country_asks_for_its_emergency_number_anew(newcomer: Stage) -> None:
    joins(newcomer)
    newcomer.says("/settings")
    newcomer.taps("settings.change.place")
    newcomer.places = (Place(name="Halifax", zone="America/Halifax", country="CA"),)
    newcomer.says("Halifax")
    newcomer.places = ()
    assert newcomer.patient.state.profile.zone == "America/Halifax"
    newcomer.says("my chest hurts")
    assert newcomer.values("emergency.call")["number"] == "911"


# --- settings


@pytest.mark.parametrize(
    ("what", "text", "field", "value"),
    [
        ("number", "999", "emergency_number", "999"),
        ("medicine", "9am", "medicine_times", (time(9),)),
        ("medicine", "none", "medicine_times", ()),
        ("prompt", "6:15", "morning_prompt", time(6, 15)),
        ("prompt", "21:00", "evening_prompt", time(21)),
        ("monitor", "wrist", "monitor", Monitor.WRIST),
        ("cuff", "39", "arm_cm", 39),
        ("arm", "right", "arm", Arm.RIGHT),
    ],
)
def test_every_answer_can_be_changed_later(
    newcomer: Stage, what: str, text: str, field: str, value: object
) -> None:
    joins(newcomer)
    newcomer.says("/settings")
    newcomer.taps(f"settings.change.{what}")
    newcomer.take_sent()
    newcomer.says(text)
    assert getattr(newcomer.patient.state.profile, field) == value
    assert newcomer.heard()[0] == "settings.changed"
    # Other times of medicine may need other prompts.
    asked_next = "set:prompt" if what == "medicine" and value else ""
    assert newcomer.patient.state.asking == asked_next


def test_a_changed_prompt_moves_the_timer(newcomer: Stage) -> None:
    joins(newcomer)
    before = newcomer.timers["prompt"]
    newcomer.presses(Do.SET, "prompt")
    newcomer.says("6:15")
    assert before - newcomer.timers["prompt"] == timedelta(hours=1, minutes=15)


@pytest.mark.parametrize(
    ("cm", "advice"), [("21", "below"), ("33", "adult"), ("48", "extra_large")]
)
def test_the_arm_is_matched_with_a_cuff(newcomer: Stage, cm: str, advice: str) -> None:
    starts(newcomer)
    for text in ("none", "112", "yes", "upper arm", cm, "left"):
        newcomer.says(text)
    assert f"advice.cuff.{advice}" in newcomer.heard()


def test_a_wrist_monitor_needs_no_cuff_and_gets_advice(newcomer: Stage) -> None:
    starts(newcomer)
    for text in ("none", "112", "yes", "wrist", "left"):
        newcomer.says(text)
    assert step(newcomer) is None
    assert "join.cuff" not in newcomer.heard()
    assert "advice.wrist" in newcomer.heard()


def test_stop_and_resume_leave_alarms_working(newcomer: Stage) -> None:
    joins(newcomer)
    newcomer.says("/stop")
    newcomer.taps("button.stop_yes")
    assert not newcomer.timers
    newcomer.says("my chest hurts")
    assert newcomer.alarm is AlarmStage.EMERGENCY
    newcomer.presses(Do.HELP_CAME)
    assert "prompt" not in newcomer.timers
    newcomer.says("/resume")
    assert "prompt" in newcomer.timers
