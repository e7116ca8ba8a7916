"""What is no alarm is answered all the same: low pressure, pulse, the unusual, falls, errors.

All people are invented.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain.people import AlarmStage, Step
from tests.domain.conftest import CARER_CHAT, Stage
from tests.domain.measured import both, has_measured


def no_medicine(stage: Stage) -> None:
    state = stage.patient.state
    profile = replace(state.profile, medicine_times=())
    stage.patient = replace(stage.patient, state=replace(state, profile=profile))


# --- low pressure


def test_a_low_reading_is_for_today_with_the_question_and_goes_on(stage: Stage) -> None:
    stage.says("86/52")
    assert stage.heard() == [
        "low.today",
        "signs.ask",
        "signs.low",
        "severe.if_sign",
        "reading.first",
        "reading.wait",
    ]
    assert stage.values("low.today")["shown"] == "86/52"
    assert stage.step is Step.PAUSE
    assert stage.heard(CARER_CHAT) == []


@pytest.mark.parametrize("answer", ["button", "yes", "present"])
def test_a_sign_beside_a_low_reading_is_an_emergency(stage: Stage, answer: str) -> None:
    stage.says("86/52")
    if answer == "button":
        stage.taps("button.signs")
    else:
        stage.says({"yes": "yes", "present": "yes one"}[answer])
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.values("seen.both")["shown"] == "86/52"
    assert "contact.emergency" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize("answer", ["button", "none of these", "no"])
def test_none_of_the_signs_leaves_what_is_for_today(stage: Stage, answer: str) -> None:
    stage.says("86/52")
    stage.take_sent()
    stage.taps("button.no_signs") if answer == "button" else stage.says(answer)
    assert stage.alarm is None
    assert stage.heard() == ["signs.none", "signs.none.stands", "signs.low.if_starts"]
    stage.take_sent()
    stage.passes(minutes=1)
    stage.says("87/53")
    assert stage.heard()[1:3] == ["low.today", "signs.low.if_starts"]


@pytest.mark.parametrize("sign", ["I fainted", "I am confused", "I am bleeding heavily"])
def test_a_red_flag_beside_a_low_reading_is_an_emergency_at_once(stage: Stage, sign: str) -> None:
    stage.says(f"86/52, {sign}")
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("89/60 89/60", True),
        ("90/60 90/60", False),
        ("95/60 95/60, dizzy", True),
        ("100/60 100/60, dizzy", False),
        ("95/60 95/60, I fell this morning", True),
        ("95/60 95/60 and a cough", False),
    ],
)
def test_low_at_and_above_its_limits_without_medicine(stage: Stage, text: str, said: bool) -> None:
    no_medicine(stage)
    stage.says(text)
    assert ("low.today" in stage.heard()) is said
    assert "low.medicine" not in stage.heard()


def test_low_on_medicine_is_for_today_and_not_said_again_within_a_week(stage: Stage) -> None:
    stage.says("95/60 95/60")
    assert stage.heard()[0] == "low.medicine"
    for days, said in ((1, False), (5.9, False), (0.2, True)):
        stage.passes(hours=24 * days)
        stage.take_sent()
        stage.says("96/61 96/61")
        assert ("low.medicine" in stage.heard()) is said
        assert "target.below" not in stage.heard()


def test_what_is_for_today_is_not_also_for_the_next_visit(stage: Stage) -> None:
    stage.says("86/52 pulse 45 and a cough")
    assert "low.today" in stage.heard()
    assert not [key for key in stage.heard() if key.endswith("next_visit")]


def test_a_low_lower_number_is_mentioned_once_in_four_weeks(stage: Stage) -> None:
    for hours, said in ((0, True), (24, False), (24 * 27.5, True)):
        stage.passes(hours=hours)
        stage.take_sent()
        stage.says("128/55 128/55")
        assert ("low.diastolic" in stage.heard()) is said


def test_a_second_reading_that_is_low_is_answered_while_a_third_is_awaited(stage: Stage) -> None:
    assert both(stage, "128/78", "86/52")[:2] == ["low.today", "signs.ask"]
    assert "reading.far_apart" in stage.heard()
    assert stage.step is Step.THIRD


# --- pulse


@pytest.mark.parametrize(
    ("text", "alarm", "said"),
    [
        ("128/78 pulse 39", None, "pulse.slow.today"),
        ("128/78 pulse 39 a bit dizzy", AlarmStage.EMERGENCY, "emergency.call"),
        ("128/78 pulse 40 a bit dizzy", None, "pulse.slow.today"),
        ("128/78 pulse 49 a bit dizzy", None, "pulse.slow.today"),
        ("128/78 pulse 50 a bit dizzy", None, "symptom.next_visit"),
        ("128/78 pulse 121", None, "pulse.fast.rest"),
        ("128/78 pulse 130, my heart is racing", None, "pulse.fast.rest"),
        ("128/78 pulse 131, my heart is racing", AlarmStage.EMERGENCY, "emergency.call"),
        ("128/78 pulse 131 and a cough", None, "pulse.fast.rest"),
    ],
)
def test_a_first_reading_with_a_slow_or_fast_pulse(
    stage: Stage, text: str, alarm: AlarmStage | None, said: str
) -> None:
    stage.says(text)
    assert stage.alarm is alarm
    assert said in stage.heard()


@pytest.mark.parametrize(("minutes", "alarm"), [(60, AlarmStage.EMERGENCY), (61, None)])
def test_a_sign_within_an_hour_of_a_very_fast_pulse_is_an_emergency(
    stage: Stage, minutes: int, alarm: AlarmStage | None
) -> None:
    stage.says("128/78 pulse 140")
    stage.passes(minutes=minutes)
    stage.says("my heart is racing")
    assert stage.alarm is alarm
    assert "pulse.fast.today" in stage.heard() or alarm is not None


def test_the_pulse_that_raised_an_emergency_is_named(stage: Stage) -> None:
    stage.says("128/78 pulse 140, my heart is racing")
    keys = stage.values("seen.both")["symptoms"].keys
    assert keys == ("symptom.palpitations", "symptom.x_fast_pulse")


@pytest.mark.parametrize(
    ("second", "said"), [("127/77 pulse 125", "pulse.fast.today"), ("127/77 pulse 96", None)]
)
def test_a_fast_pulse_is_for_today_when_rest_does_not_slow_it(
    stage: Stage, second: str, said: str | None
) -> None:
    heard = both(stage, "128/78 pulse 125", second)
    assert [key for key in heard if key.startswith("pulse.")] == ([said] if said else [])


def test_above_100_twice_is_for_the_next_visit_and_once_a_week(stage: Stage) -> None:
    assert "pulse.fast.next_visit" in both(stage, "128/78 104", "127/77 102")
    stage.passes(hours=24)
    assert "pulse.fast.next_visit" not in both(stage, "128/78 104", "127/77 102")
    stage.passes(hours=24 * 7)
    assert "pulse.fast.next_visit" in both(stage, "128/78 104", "127/77 102")


def test_a_yes_to_the_question_about_a_slow_pulse_is_an_emergency(stage: Stage) -> None:
    stage.says("128/78 pulse 38")
    stage.taps("button.signs")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "symptom.x_slow_pulse" in stage.values("seen.both")["symptoms"].keys


# --- a yes that answers something else


def test_a_yes_after_the_next_step_is_no_answer_about_signs(stage: Stage) -> None:
    stage.says("86/52")
    stage.passes(minutes=1)  # "now measure once more"
    stage.says("ok yes")
    assert stage.alarm is None


def test_the_buttons_of_the_question_stay(stage: Stage) -> None:
    stage.says("86/52")
    stage.passes(hours=3)
    stage.taps("button.signs")
    assert stage.alarm is AlarmStage.EMERGENCY


# --- far from the usual, and rising


def test_a_reading_far_from_the_own_usual_is_said_plainly_and_kept(stage: Stage) -> None:
    no_medicine(stage)
    for days in (1, 2, 3):
        has_measured(stage, 118, days=days, readings=4)
    stage.says("162/84")
    assert "usual.far.first" in stage.heard()
    assert stage.values("usual.far.first")["usual"] == "118/78"
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("160/83")
    assert "usual.far" in stage.heard()
    assert stage.alarm is None
    assert len(stage.pairs()) == 14


def test_the_usual_comes_back_with_the_second_reading(stage: Stage) -> None:
    for days in (1, 2, 3):
        has_measured(stage, 118, days=days, readings=4)
    stage.says("162/84")
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("120/80")
    stage.passes(minutes=1)
    stage.says("119/79")
    assert "usual.far" not in stage.heard()


def test_a_rising_series_is_for_the_next_visit_once_a_week(stage: Stage) -> None:
    for days in range(7, 14):
        has_measured(stage, 128, days=days)
    for days in range(1, 7):
        has_measured(stage, 142, days=days)
    stage.says("143/84 141/83")
    rising = stage.values("usual.rising")
    assert (rising["rise"], rising["days"]) == (14, 7)
    stage.passes(hours=12)
    stage.take_sent()
    stage.says("143/84 141/83")
    assert "usual.rising" not in stage.heard()


# --- the monitor's mark


def test_one_mark_is_no_reason_for_an_ecg_and_a_third_reading_is_asked_for(stage: Stage) -> None:
    stage.says("132/81 with the irregular pulse symbol")
    assert "irregular.once" in stage.heard()
    assert "symptom.next_visit" not in stage.heard()
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("130/80")
    assert stage.heard() == ["irregular.third"]
    assert stage.step is Step.THIRD
    stage.says("131/80")
    assert "irregular.next_visit" not in stage.heard()


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("132/81 with the irregular pulse symbol", "130/80, the heart sign flashed again"),
        ("132/81 130/80 the irregular pulse symbol came up", "131/80"),
    ],
)
def test_a_mark_on_two_readings_is_for_a_doctor_and_asks_about_signs(
    stage: Stage, first: str, second: str
) -> None:
    stage.says(first)
    stage.passes(minutes=1)
    stage.says(second)
    stage.passes(minutes=1)
    if stage.step is not None:
        stage.says("131/80")
    heard = stage.heard()
    assert "irregular.next_visit" in heard
    assert "signs.irregular" in heard
    stage.taps("button.signs")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_mark_on_another_day_is_for_a_doctor_too_once_a_week(stage: Stage) -> None:
    asked = []
    for _ in range(3):
        stage.take_sent()
        stage.says("132/81 130/80 131/80")
        stage.says("the heart sign flashed")
        stage.says("132/81 130/80 131/80 with the irregular pulse symbol")
        asked.append("irregular.next_visit" in stage.heard())
        stage.passes(hours=24)
    assert asked.count(True) == 1


def test_the_mark_is_no_news_of_a_heartbeat_known_to_be_irregular(stage: Stage) -> None:
    state = stage.patient.state
    profile = replace(state.profile, irregular=True)
    stage.patient = replace(stage.patient, state=replace(state, profile=profile))
    for _ in range(3):
        stage.says("132/81 with the irregular pulse symbol")
        stage.passes(minutes=1)
    assert not [key for key in stage.heard() if key in {"irregular.next_visit", "irregular.once"}]
    assert "average" in stage.heard()


def test_a_mark_with_chest_pain_is_an_emergency(stage: Stage) -> None:
    stage.says("the heart sign flashed and my chest hurts")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_the_mark_alone_raises_nothing_with_a_severe_reading(stage: Stage) -> None:
    stage.says("192/114 with the irregular pulse symbol")
    assert stage.alarm is AlarmStage.ASKED


# --- a pulse without a pressure


@pytest.mark.parametrize(
    ("text", "alarm", "said"),
    [
        ("pulse 38", None, "pulse.slow.today"),
        ("my pulse is 38 and I feel dizzy", AlarmStage.EMERGENCY, "emergency.call"),
        ("pulse 45 and dizzy", None, "pulse.slow.today"),
        ("pulse 45", None, "pulse.slow.next_visit"),
        ("pulse 72", None, "pulse.alone"),
        ("my pulse is 125", None, "pulse.fast.today"),
        ("pulse 140 and my heart is racing", AlarmStage.EMERGENCY, "emergency.call"),
        ("my wife's pulse is 38", None, "other"),
        ("last Tuesday my pulse was 38", None, "other"),
    ],
)
def test_a_pulse_alone_is_answered_and_not_kept(
    stage: Stage, text: str, alarm: AlarmStage | None, said: str
) -> None:
    stage.says(text)
    assert stage.alarm is alarm
    assert said in stage.heard()
    assert stage.pairs() == []
