"""What a worried person and their family meet in an alarm and around it, as they live it.

All people are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from domain.events import Do
from domain.people import AlarmStage, Note, NoteKind, Step
from domain.plans import Plan, PlanKind
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage

EVENING_PROMPT = datetime(2026, 3, 10, 19, 30, tzinfo=UTC)


def alone(stage: Stage) -> None:
    stage.patient = replace(stage.patient, contacts=())


# --- nothing is said that is not so


@pytest.mark.parametrize(
    ("do", "said"),
    [(Do.CANNOT_PHONE, "cannot_phone"), (Do.HELP_NOT_YET, "no_help_yet")],
)
def test_who_has_nobody_is_not_told_that_somebody_was_asked(
    stage: Stage, do: Do, said: str
) -> None:
    alone(stage)
    stage.says("my chest hurts")
    stage.take_sent()
    stage.presses(do)
    assert stage.heard() == [f"said.{said}.alone"]


def test_after_some_calls_the_person_is_to_wait_for_nobody_and_calling_goes_on(
    stage: Stage,
) -> None:
    stage.says("my chest hurts")
    stage.passes(minutes=16)
    stage.take_sent()
    stage.passes(minutes=3)
    assert stage.heard() == ["emergency.call", "emergency.alone_last"]
    assert stage.heard(CARER_CHAT)[0] == "contact.emergency"


def test_contacts_who_are_called_again_do_not_read_what_holds_no_more(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.presses(Do.AMBULANCE)
    stage.presses(Do.HELP_NOT_YET)
    stage.take_sent()
    stage.passes(minutes=3)
    assert "contact.said.no_help_yet" in stage.heard(CARER_CHAT)
    assert "contact.said.ambulance" not in stage.heard(CARER_CHAT)


def test_what_the_carer_wrote_is_not_called_the_patients_words(stage: Stage) -> None:
    stage.says("my mother cannot speak", chat=CARER_CHAT)
    assert stage.values("seen.reported")["by"] == "Wren"
    assert "seen.symptoms" not in stage.heard()


def test_who_reported_that_they_are_there_is_not_told_of_it_as_news(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.presses(Do.I_AM_THERE, chat=CARER_CHAT)
    assert stage.values("ended.telling")["names"] == "Dr. Okafor-Lindqvist"


# --- an alarm does not end by a word that answers something else


def test_no_to_the_advice_to_call_is_no_denial_of_signs(stage: Stage) -> None:
    stage.says("my speech is slurred")
    stage.says("no")
    for text in ("129/80", "128/79"):
        stage.passes(minutes=1)
        stage.says(text)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "emergency.calm_pair" in stage.heard()
    stage.taps("button.no_signs")
    assert stage.alarm is None


def test_no_signs_said_with_the_calm_pair_ends_it(stage: Stage) -> None:
    stage.says("192/114 and a headache")
    stage.passes(minutes=1)
    stage.says("129/80")
    stage.passes(minutes=1)
    stage.says("128/79, no symptoms")
    assert stage.alarm is None


@pytest.mark.parametrize("text", ["I think so", "not sure", "maybe", "I don't know", "a bit"])
def test_an_unsure_answer_about_signs_counts_as_a_yes(stage: Stage, text: str) -> None:
    stage.says("192/114")
    stage.says(text)
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize("text", ["no i feel fine", "No, I'm fine.", "no none", "not at all"])
def test_a_clear_no_is_taken_as_one(stage: Stage, text: str) -> None:
    stage.says("192/114")
    stage.says(text)
    assert stage.alarm is AlarmStage.REPEATING


@pytest.mark.parametrize("text", ["fine", "ok", "good morning"])
def test_a_word_that_is_neither_has_the_question_put_again(stage: Stage, text: str) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says(text)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.heard()[0] == "severe.ask.again"


# --- no more words than help


@pytest.mark.parametrize("do", [Do.AMBULANCE, Do.HELPER])
def test_who_is_being_helped_is_not_told_every_3_minutes_to_call(stage: Stage, do: Do) -> None:
    stage.says("my chest hurts")
    stage.presses(do)
    stage.take_sent()
    stage.passes(minutes=6)
    assert stage.heard() == []
    assert stage.heard(CARER_CHAT).count("contact.emergency") == 2


def test_while_resting_a_question_is_not_answered_with_measure_now(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.take_sent()
    stage.says("should I take another pill?")
    assert stage.heard() == ["severe.go_on"]


def test_who_sees_to_a_severe_reading_does_not_send_anybody_to_the_ambulance(
    stage: Stage,
) -> None:
    stage.says("192/114")
    stage.passes(minutes=8)
    stage.take_sent()
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    assert stage.heard() == ["said.see_to_it.today"]
    assert stage.heard(DOCTOR_CHAT) == ["contact.other_sees"]


def test_a_slip_where_only_a_sign_was_told_does_not_ask_for_a_number_as_if_that_ended_it(
    stage: Stage,
) -> None:
    stage.says("my chest hurts")
    stage.take_sent()
    stage.presses(Do.SLIP)
    assert stage.heard() == ["slip.ask.sign"]


def test_an_open_question_is_put_again_when_a_prompt_would_have_come(stage: Stage) -> None:
    stage.says("192/114")
    stage.timers["prompt"] = EVENING_PROMPT
    stage.passes(hours=1)
    stage.take_sent()
    stage.passes(until=EVENING_PROMPT)
    assert stage.heard()[0] == "severe.ask.again"
    assert stage.step is None


# --- low pressure


def test_dizzy_and_low_is_for_today_and_not_also_for_the_next_visit(stage: Stage) -> None:
    stage.says("95/60 a bit dizzy")
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("96/61")
    assert "low.today" in stage.heard()
    assert "symptom.next_visit" not in stage.heard()


@pytest.mark.parametrize(
    ("reading", "hours", "said"),
    [
        ("99/60", 11.9, "low.today"),
        ("99/60", 12.1, "symptom.next_visit"),
        ("100/60", 1, "symptom.next_visit"),
    ],
)
def test_dizziness_after_a_low_reading_counts_with_it(
    stage: Stage, reading: str, hours: float, said: str
) -> None:
    stage.says(reading)
    stage.passes(hours=hours)
    stage.take_sent()
    stage.says("I am dizzy")
    assert stage.heard()[0] == said


# --- around measuring


def test_who_took_the_tablets_already_is_asked_to_measure_all_the_same(stage: Stage) -> None:
    stage.timers["prompt"] = stage.now
    stage.passes(minutes=1)
    assert stage.step is Step.PROMPTED
    stage.take_sent()
    stage.says("I took my pills already")
    assert stage.heard() == ["medicine.noted", "medicine.measure"]


def test_what_now_gets_the_step_too(stage: Stage) -> None:
    stage.presses(Do.READY)
    stage.take_sent()
    stage.says("what now?")
    assert stage.heard() == ["question", "step.resting"]


@pytest.mark.parametrize(("minutes", "pairs"), [(60, [(142, 91)]), (61, [])])
def test_a_number_long_after_half_a_reading_is_not_its_other_half(
    stage: Stage, minutes: int, pairs: list[tuple[int, int]]
) -> None:
    stage.says("142")
    stage.passes(minutes=minutes)
    stage.says("91")
    assert stage.pairs() == pairs


# --- pregnancy


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        ("139/89", "declined.still"),
        ("140/89", "declined.today"),
        ("139/90", "declined.today"),
        ("159/109", "declined.today"),
        ("160/90", "declined.danger"),
    ],
)
def test_in_pregnancy_140_or_90_sends_to_the_maternity_unit_today(
    newcomer: Stage, pair: str, said: str
) -> None:
    # An earlier version declined whoever was pregnant; now they are looked after.
    note = Note(kind=NoteKind.DECLINED, at=newcomer.now, code="pregnant")
    state = replace(newcomer.patient.state, declined=True)
    newcomer.patient = replace(newcomer.patient, chat=PATIENT_CHAT, state=state, notes=(note,))
    newcomer.says(pair)
    assert newcomer.heard() == [said]


def test_who_is_declined_is_not_led_through_measuring(newcomer: Stage) -> None:
    newcomer.patient = replace(newcomer.patient, chat=PATIENT_CHAT)
    newcomer.presses(Do.JOIN, "adult:under_18")
    newcomer.take_sent()
    newcomer.says("/ready")
    assert newcomer.heard() == ["declined.still"]


# --- what the carer tells while a severe reading is open


@pytest.mark.parametrize("text", ["headache and vomiting", "her arm is numb"])
def test_a_listed_sign_told_by_the_carer_counts_with_the_open_severe_reading(
    stage: Stage, text: str
) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says(text, chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard()[:2] == ["emergency.call", "seen.reported.both"]


def test_whatever_the_carer_writes_then_is_answered_with_the_signs_to_ask_for(
    stage: Stage,
) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("she does not look well to me", chat=CARER_CHAT)
    what, *rest = stage.heard(CARER_CHAT)
    assert what.startswith("contact.seen")
    assert rest == ["contact.severe.do"]


def test_a_headache_told_by_the_carer_alone_is_no_emergency(stage: Stage) -> None:
    stage.says("she has a headache", chat=CARER_CHAT)
    assert stage.alarm is None


# --- settings and short answers


def test_changing_one_time_of_asking_leaves_the_other(stage: Stage) -> None:
    stage.presses(Do.SET, "prompt")
    stage.says("8:15 and 21:00")
    stage.presses(Do.SET, "prompt")
    assert stage.values("join.prompt") == {"morning": "08:15", "evening": "21:00"}
    stage.says("8:30")
    profile = stage.patient.state.profile
    assert (profile.morning_prompt, profile.evening_prompt) == (time(8, 30), time(21))


def test_a_change_in_the_settings_shows_what_is_known_now(stage: Stage) -> None:
    stage.presses(Do.SET, "number")
    stage.take_sent()
    stage.says("999")
    assert stage.heard() == ["settings.changed", "settings.number"]
    assert stage.values("settings.number")["number"] == "999"


def test_who_takes_no_medicine_is_not_told_of_the_time_before_it(stage: Stage) -> None:
    profile = replace(stage.patient.state.profile, medicine_times=())
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=profile))
    stage.presses(Do.SET, "prompt")
    assert stage.heard() == ["join.prompt.no_medicine"]


@pytest.mark.parametrize(
    ("text", "said", "paused"),
    [("yes", "stop.done", True), ("no", "resume.done", False), ("hello", "other", False)],
)
def test_the_question_about_stopping_may_be_answered_by_word(
    stage: Stage, text: str, said: str, paused: bool
) -> None:
    stage.patient = replace(
        stage.patient,
        state=replace(
            stage.patient.state,
            plan=Plan(kind=PlanKind.FIRST_WEEK, first_day=stage.now.date()),
        ),
    )
    stage.says("/stop")
    stage.take_sent()
    stage.says(text)
    assert stage.heard() == [said]
    assert stage.patient.state.paused is paused
    assert stage.patient.state.asking == ""


def test_a_yes_to_the_next_prompt_does_not_answer_an_older_question(stage: Stage) -> None:
    stage.says("/stop")
    stage.timers["prompt"] = stage.now
    stage.passes(minutes=1)
    stage.says("yes")
    assert stage.step is Step.RESTING
    assert not stage.patient.state.paused


def test_no_is_not_the_name_of_a_carer(stage: Stage) -> None:
    stage.says("/invite")
    stage.take_sent()
    stage.says("no")
    assert stage.heard() == ["cancelled"]


def test_two_readings_of_one_stated_time_are_no_repeats_of_each_other(stage: Stage) -> None:
    stage.says("135/85 135/85 both taken at ten past six this morning")
    first, second = (kept.reading.at for kept in stage.patient.readings)
    assert (second - first).total_seconds() == 1


# --- typed words while an alarm is open


def severe_twice(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("none")
    stage.passes(minutes=6)
    stage.says("188/112")
    stage.passes(minutes=1)
    stage.says("186/111")
    stage.take_sent()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("I have spoken to the doctor", "doctor.noted"),
        ("he hablado con el médico", "doctor.noted"),
        ("nobody answers at the practice", "severe.today"),
        ("I phoned the doctor", "severe.today"),  # whether anybody spoke is not said
    ],
)
def test_who_should_see_a_doctor_today_is_never_asked_for_a_reading_instead(
    stage: Stage, text: str, said: str
) -> None:
    severe_twice(stage)
    stage.says(text)
    assert stage.heard()[0] == said


def test_a_typed_no_says_that_no_help_has_come(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.says("I have called 112")
    stage.passes(minutes=31)
    stage.take_sent()
    stage.says("no")
    assert "said.no_help_yet" in stage.heard()
    assert stage.patient.state.alarm is not None


def test_a_typed_no_before_that_question_is_no_news_of_help(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.take_sent()
    stage.says("no")
    assert "said.no_help_yet" not in stage.heard()


@pytest.mark.parametrize("first", ["my chest hurts", "192/114 and headache"])
def test_whatever_a_contact_writes_in_an_emergency_brings_the_buttons_again(
    stage: Stage, first: str
) -> None:
    stage.says(first)
    stage.take_sent()
    stage.says("what should I do?", chat=CARER_CHAT)
    answer = stage.take_sent()[-1]
    what, *rest = [part.key for part in answer.lines]
    assert what.startswith("contact.seen")
    assert rest == ["contact.severe.do", "contact.do"]
    assert len(answer.buttons) == 3


def test_who_has_not_answered_finds_the_buttons_below_the_last_message(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=9)
    last = [o for o in stage.take_sent() if o.chat == PATIENT_CHAT][-1]
    assert [row[0].label.key for row in last.buttons] == ["button.no_signs", "button.signs"]


def test_as_always_answers_whether_a_long_standing_sign_is_worse(stage: Stage) -> None:
    profile = replace(stage.patient.state.profile, long_standing=("chest_pain",))
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=profile))
    stage.says("my chest hurts")
    stage.says("it's like always")
    assert stage.patient.state.alarm is None
