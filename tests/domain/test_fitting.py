"""Whom the limits for adults do not fit: asked at joining, at each plan's start, and later."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from bot.wording.catalogue import languages, wording
from domain.events import Actor, Do, Situation
from domain.messages import Line
from domain.people import Helpline, JoinStep, NoteKind, Patient, PersonId, Profile
from domain.plans import PlanKind
from domain.readings import Arm
from domain.talk import fitting, out_of_hours
from domain.talk.turn import Turn
from storage import codec
from tests.domain.conftest import DOCTOR_CHAT, Stage
from tests.domain.test_joining import joins, starts, step

TODAY = date(2026, 3, 9)  # of `newcomer`, a Monday


def profile(stage: Stage) -> Profile:
    return stage.patient.state.profile


def labels(stage: Stage) -> list[str]:
    """The buttons of the newest message."""
    return [button.label.key for row in stage.sent[-1].buttons for button in row]


# --- one tap each


def test_the_question_offers_each_case_and_none(newcomer: Stage) -> None:
    starts(newcomer)
    cases = [f"join.adult.{option}" for option in fitting.OPTIONS]
    assert labels(newcomer) == [*cases, "join.adult.none"]
    assert all(len(row) == 1 for row in newcomer.sent[-1].buttons)


def test_several_may_apply_with_one_tap_each(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.pregnant")
    assert labels(newcomer)[-2:] == ["join.adult.done", "join.adult.anew"]
    assert not {"join.adult.pregnant", "join.adult.birth"} & set(labels(newcomer))
    newcomer.taps("join.adult.irregular")
    newcomer.taps("join.adult.one_arm")
    newcomer.taps("join.barred_arm.left")
    newcomer.taps("join.adult.done")

    known = profile(newcomer)
    assert (known.adult, known.pregnant, known.irregular) == (True, True, True)
    assert (known.barred_arm, known.arm) == (Arm.LEFT, Arm.RIGHT)
    assert step(newcomer) is JoinStep.NUMBER
    assert newcomer.noted(NoteKind.CONDITION) == ["pregnant", "irregular", "one_arm"]


def test_none_says_that_nothing_applies(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.none")
    known = profile(newcomer)
    assert (known.adult, known.pregnant, known.irregular) == (True, False, False)
    assert step(newcomer) is JoinStep.NUMBER


def test_each_answer_holds_before_that_is_all(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.pregnant")
    assert step(newcomer) is JoinStep.ADULT
    assert profile(newcomer).pregnant


def test_none_of_the_first_message_takes_nothing_back(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.pregnant")
    newcomer.taps("join.adult.none")
    assert profile(newcomer).pregnant
    assert step(newcomer) is JoinStep.NUMBER


def test_a_mistake_is_asked_about_anew(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.pregnant")
    newcomer.taps("join.adult.anew")
    newcomer.taps("join.adult.none")
    assert not profile(newcomer).pregnant
    assert "fitting.again" not in newcomer.timers


def test_that_is_all_does_not_lose_which_arm(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.taps("join.adult.irregular")
    newcomer.taps("join.adult.one_arm")
    newcomer.taps("join.adult.done")
    assert newcomer.heard()[-1] == "join.barred_arm"
    newcomer.says("left")
    newcomer.says("that is all")
    assert profile(newcomer).barred_arm is Arm.LEFT
    assert step(newcomer) is JoinStep.NUMBER


# --- typed


@pytest.mark.parametrize(
    ("language", "text", "options"),
    [
        ("en", "I am pregnant", "pregnant"),
        ("en", "gave birth 3 weeks ago", "birth"),
        ("en", "just had a baby", "birth"),
        ("en", "expecting a child", "pregnant"),
        ("en", "I'm 16", "under_18"),
        ("en", "fistula", "one_arm"),
        ("en", "operation on my left arm", "one_arm"),
        ("en", "I have AF", "irregular"),
        ("en", "known atrial fibrillation", "irregular"),
        ("en", "an irregular heartbeat", "irregular"),
        ("en", "pregnant and a fistula in my left arm", "pregnant,one_arm"),
        ("en", "not pregnant but I have an arrhythmia", "irregular"),
        ("en", "none of these", "none"),
        ("en", "No", "none"),
        ("en", "no, none of them apply to me", "none"),
        ("en", "nothing like that", "none"),
        ("en", "not pregnant nor a fistula", None),
        ("en", "I'm seventeen", "under_18"),
        ("en", "I am 71", None),
        ("en", "banana", None),
        ("en", "I'm not pregnant", None),
        ("en", "done", None),  # with what?
        ("es", "estoy embarazada y tengo arritmia", "pregnant,irregular"),
        ("es", "di a luz hace un mes", "birth"),
        ("es", "tuve una niña", "birth"),
        ("es", "tengo 16", "under_18"),
        ("es", "tengo una fístula", "one_arm"),
        ("es", "tengo fibrilación auricular", "irregular"),
        ("es", "no estoy embarazada", None),
        ("es", "en ninguno", "none"),
        ("es", "no tengo nada de eso", "none"),
        ("es", "no estoy embarazada ni tengo fístula", None),
        ("es", "tengo 71 años", None),
        ("es", "plátano", None),
    ],
)
def test_the_question_is_answered_by_typing_too(
    newcomer: Stage, language: str, text: str, options: str | None
) -> None:
    newcomer.patient = replace(newcomer.patient, language=language)
    assert fitting.read(turn_of(newcomer), text) == options


def turn_of(stage: Stage) -> Turn:
    situation = Situation(actor=Actor(chat=stage.patient.chat), patient=stage.patient)
    return Turn(situation, stage.patient, stage.now)


def test_a_known_irregular_heartbeat_is_no_sign_of_today(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.says("I have an irregular heartbeat")
    assert profile(newcomer).irregular
    assert newcomer.noted(NoteKind.SYMPTOM) == []
    newcomer.says("nothing else")
    assert step(newcomer) is JoinStep.NUMBER


def test_a_red_flag_beside_it_comes_first(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.take_sent()
    newcomer.says("irregular heartbeat and chest pain")
    assert newcomer.heard()[0] == "emergency.call"


# --- pregnant


def test_who_is_pregnant_is_told_limits_signs_and_who_sets_the_plan(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.take_sent()
    newcomer.taps("join.adult.pregnant")
    assert newcomer.heard()[:4] == [
        "fitting.pregnant.limits",
        "fitting.pregnant.signs",
        "fitting.pregnant.plan",
        "fitting.pregnant.monitor",
    ]
    assert not newcomer.patient.state.declined


@pytest.mark.parametrize("language", languages())
def test_the_limits_for_pregnancy_are_said_as_published(language: str) -> None:
    """NICE NG133 / CG107: 160/110 severe, 140/90 hypertension."""
    said = wording(language).plain(Line("fitting.pregnant.limits", {"number": "999"}))
    assert all(limit in said for limit in ("160", "110", "140", "90", "999"))


@pytest.mark.parametrize(("option", "weeks"), [("birth", 6), ("pregnant", 46)])
def test_the_limits_hold_until_a_day_and_until_it_is_answered(
    newcomer: Stage, option: str, weeks: int
) -> None:
    starts(newcomer)
    newcomer.taps(f"join.adult.{option}")
    newcomer.taps("join.adult.done")
    until = TODAY + timedelta(weeks=weeks)
    assert profile(newcomer).pregnant_until == until
    for text in ("112", "yes", "upper arm", "31", "left"):
        newcomer.says(text)
    newcomer.says("/stop")
    newcomer.taps("button.stop_yes")
    newcomer.take_sent()

    newcomer.passes(until=datetime(until.year, until.month, until.day, 23, tzinfo=UTC))
    assert "fitting.over" not in newcomer.heard()
    newcomer.passes(hours=14)
    assert newcomer.heard()[-1] == "fitting.over"
    assert profile(newcomer).pregnant
    newcomer.says("none")
    assert not profile(newcomer).pregnant
    assert newcomer.heard()[-1] == "fitting.done"


def test_a_later_birth_shortens_nothing_but_pregnancy_lengthens(newcomer: Stage) -> None:
    starts(newcomer)
    newcomer.says("gave birth and pregnant")
    assert profile(newcomer).pregnant_until == TODAY + timedelta(weeks=46)


# --- irregular heartbeat


@pytest.mark.parametrize(("irregular", "readings"), [(True, 3), (False, 2)])
def test_an_irregular_heartbeat_asks_for_three_readings(
    stage: Stage, irregular: bool, readings: int
) -> None:
    """NICE NG136 1.1.2, TSOC/THS 2020: at least three on each occasion."""
    known = replace(profile(stage), irregular=irregular)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=known))
    for number in range(1, 4):
        stage.says("132/82")
        if number == readings:
            break
        assert stage.step is not None
        stage.passes(minutes=1.1)
    assert stage.step is None
    assert ("fitting.third" in stage.heard()) == irregular


# --- each plan's start


def starts_plan(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "own-days", chat=DOCTOR_CHAT)


def test_a_new_plan_asks_once_more(stage: Stage) -> None:
    starts_plan(stage)
    assert stage.heard()[-1] == "fitting.plan"
    stage.taps("join.adult.pregnant")
    stage.taps("join.adult.done")
    assert profile(stage).pregnant
    assert stage.patient.state.asking == ""


def test_a_plan_that_begins_in_an_alarm_asks_when_that_is_over(stage: Stage) -> None:
    stage.says("my chest hurts")
    starts_plan(stage)
    stage.passes(hours=2)
    assert "fitting.plan" not in stage.heard()
    stage.presses(Do.HELP_CAME)
    stage.passes(hours=30)
    assert "fitting.plan" in stage.heard()


def test_a_slip_of_the_thumb_at_a_plans_start_ends_nothing(stage: Stage) -> None:
    starts_plan(stage)
    assert "join.adult.under_18" not in labels(stage)
    stage.says("/settings")
    stage.taps("settings.change.adult")
    assert "join.adult.under_18" in labels(stage)


def test_the_next_plan_of_itself_asks_too(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, PlanKind.FIRST_WEEK, chat=DOCTOR_CHAT)
    stage.take_sent()
    stage.passes(hours=24 * 9)
    assert "plan.over" in stage.heard()
    assert "fitting.plan" in stage.heard()


def test_who_has_told_before_needs_one_tap(stage: Stage) -> None:
    known = replace(profile(stage), irregular=True, barred_arm=Arm.RIGHT)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=known))
    starts_plan(stage)
    assert labels(stage)[0] == "join.adult.same"
    stage.taps("join.adult.same")
    assert profile(stage) == known
    assert stage.heard()[-2:] == ["fitting.done", "fitting.known"]


def test_a_typed_no_takes_back_nothing_that_is_known(stage: Stage) -> None:
    known = replace(profile(stage), irregular=True)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=known))
    starts_plan(stage)
    stage.says("no")
    assert profile(stage).irregular
    stage.says("/settings")
    stage.taps("settings.change.adult")
    stage.taps("join.adult.none")
    assert not profile(stage).irregular


def test_a_no_to_a_later_question_answers_that_one(stage: Stage) -> None:
    starts_plan(stage)
    stage.says("131/85 or 141/85")
    stage.take_sent()
    stage.says("no")
    assert stage.heard() == ["doubt.type_again"]


def test_a_prompt_ends_the_question(stage: Stage) -> None:
    starts_plan(stage)
    stage.passes(until=datetime(2026, 3, 11, 7, 31, tzinfo=UTC))
    assert stage.patient.state.asking == ""


# --- the number for nights and weekends


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("111", Helpline(number="111")),
        ("116 117", Helpline(number="116 117")),
        ("+351 808 24 24 24", Helpline(number="+351 808 24 24 24")),
        (
            "Night clinic, 020 7946 0000",
            Helpline(number="020 7946 0000", name="Night clinic"),
        ),
        ("020 7946 0000 (Harbour clinic)", Helpline(number="020 7946 0000", name="Harbour clinic")),
    ],
)
def test_the_number_for_nights_is_offered_after_joining(
    newcomer: Stage, text: str, kept: Helpline
) -> None:
    joins(newcomer)
    assert "join.out_of_hours.offer" in newcomer.heard()
    newcomer.taps("button.out_of_hours")
    newcomer.says(text)
    assert profile(newcomer).out_of_hours == kept
    assert newcomer.heard()[-2:] == ["settings.changed", "settings.out_of_hours"]


@pytest.mark.parametrize("text", ["my practice", "11", "x" * 80 + " 020 7946 0000"])
def test_what_holds_no_number_is_not_kept(newcomer: Stage, text: str) -> None:
    joins(newcomer)
    newcomer.taps("button.out_of_hours")
    newcomer.says(text)
    assert profile(newcomer).out_of_hours is None


def test_without_a_tap_no_reading_is_taken_for_a_number(newcomer: Stage) -> None:
    joins(newcomer)
    newcomer.says("142/91")
    assert newcomer.pairs() == [(142, 91)]
    assert profile(newcomer).out_of_hours is None


def test_it_can_be_changed_and_taken_away(newcomer: Stage) -> None:
    joins(newcomer)
    newcomer.says("/settings")
    newcomer.taps("settings.change.out_of_hours")
    newcomer.says("111")
    newcomer.says("/settings")
    newcomer.taps("settings.change.out_of_hours")
    newcomer.taps("join.out_of_hours.none")
    assert profile(newcomer).out_of_hours is None


@pytest.mark.parametrize(
    ("known", "key"),
    [
        (None, "out_of_hours.unknown"),
        (Helpline(number="111"), "out_of_hours.call"),
        (Helpline(number="111", name="Night clinic"), "out_of_hours.named"),
    ],
)
def test_advice_for_today_names_the_number_or_where_to_go(
    stage: Stage, known: Helpline | None, key: str
) -> None:
    changed = replace(profile(stage), out_of_hours=known)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=changed))
    (said,) = out_of_hours.advice(turn_of(stage))
    assert said.key == key
    assert all(wording(language).plain(said) for language in languages())


# --- stored before there was any of this


def test_a_state_of_an_earlier_version_is_read_with_nothing_known() -> None:
    text = (
        '{"joining":null,"asking":"","profile":{"zone":"Europe/Lisbon","country":"PT",'
        '"emergency_number":"112","medicine_times":["08:00:00"],"morning_prompt":"07:30:00",'
        '"evening_prompt":"19:30:00","monitor":"upper_arm","arm_cm":31.0,"arm":"left",'
        '"barred_arm":null,"adult":true,"target":[135,85]},"plan":{"kind":"regular-days",'
        '"first_day":"2026-03-02","weekdays":null},"wanted_plan":null,"occasion":null,'
        '"in_doubt":null,"alarm":null,"paused":false,"joined_at":"2026-03-01T12:00:00Z",'
        '"declined":false,"cautions_shown":true}'
    )
    state = codec.state(text)
    assert (state.profile.adult, state.profile.pregnant, state.profile.irregular) == (
        True,
        False,
        False,
    )
    assert (state.profile.out_of_hours, state.picked) == (None, ())
    assert Patient(id=PersonId("hollis"), name="Hollis", chat=None, state=state).zone.key
