"""An emergency: who is told what, the buttons, and that it ends only honestly."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from domain.events import Do
from domain.outcome import Rank
from domain.people import AlarmStage
from tests.domain.conftest import (
    CARER_CHAT,
    DOCTOR_CHAT,
    PATIENT_CHAT,
    Stage,
)

FLAGGED = "192/114 and my chest hurts"


def alone(stage: Stage) -> None:
    stage.patient = replace(stage.patient, contacts=())


@pytest.mark.parametrize(
    "text", [FLAGGED, "my chest hurts", "120/80, chest pain", "192/114, headache"]
)
def test_the_person_is_answered_first_and_everybody_told_in_the_same_moment(
    stage: Stage, text: str
) -> None:
    stage.says(text)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert [out.chat for out in stage.sent] == [PATIENT_CHAT, CARER_CHAT, DOCTOR_CHAT]
    assert {out.rank for out in stage.sent} == {Rank.ALARM}
    assert stage.heard()[0] == "emergency.call"
    assert stage.values("emergency.call")["number"] == "112"
    assert stage.heard(CARER_CHAT)[0] == "contact.emergency"


def test_contacts_get_the_reading_the_signs_and_the_patients_time(stage: Stage) -> None:
    stage.says(FLAGGED)
    seen = stage.values("contact.seen.both", CARER_CHAT)
    assert seen["shown"] == "192/114"
    assert seen["symptoms"].keys == ("symptom.chest_pain",)
    assert f"{stage.values('contact.when', CARER_CHAT)['at']:%H:%M}" == "07:00"


def test_the_reading_is_kept_in_an_emergency_too(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.says("190/112")
    assert stage.pairs() == [(192, 114), (190, 112)]


def test_contacts_are_called_again_every_3_minutes_until_one_answers(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=2.9)
    assert stage.heard(CARER_CHAT).count("contact.emergency") == 1
    stage.passes(minutes=0.1)
    assert stage.heard(CARER_CHAT).count("contact.emergency") == 2
    assert "emergency.no_answer" in stage.heard()
    stage.passes(minutes=3)
    assert stage.heard(CARER_CHAT).count("contact.emergency") == 3
    stage.taps("button.see_to_it", chat=CARER_CHAT)
    stage.passes(minutes=19.9)  # then whoever answered has been asked in vain: `test_calling`
    assert stage.heard(CARER_CHAT).count("contact.emergency") == 3


def test_when_nobody_answers_the_person_is_told_what_to_do_next(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=29)
    assert stage.heard()[-1] == "emergency.alone_last"


def test_without_contacts_the_person_is_told_so_at_once_and_again(stage: Stage) -> None:
    alone(stage)
    stage.says(FLAGGED)
    assert "emergency.no_contacts" in stage.heard()
    stage.take_sent()
    stage.passes(minutes=3)
    assert "emergency.no_contacts" in stage.heard()
    assert "emergency.alone_last" not in stage.heard()  # nobody was asked, so nobody kept silent
    assert {out.chat for out in stage.sent} == {PATIENT_CHAT}


def test_i_will_see_to_it_is_seen_by_the_patient_and_the_others(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    assert stage.values("said.see_to_it")["name"] == "Wren"
    assert stage.values("contact.other_sees", DOCTOR_CHAT)["name"] == "Wren"
    assert stage.heard(CARER_CHAT) == ["contact.thanks"]


@pytest.mark.parametrize(
    ("do", "what"),
    [(Do.AMBULANCE, "ambulance"), (Do.HELPER, "helper"), (Do.CANNOT_PHONE, "cannot_phone")],
)
def test_what_the_person_presses_is_answered_and_told_to_the_contacts(
    stage: Stage, do: Do, what: str
) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.presses(do)
    assert stage.heard() == [f"said.{what}"]
    for chat in (CARER_CHAT, DOCTOR_CHAT):
        assert stage.heard(chat) == [f"contact.said.{what}"]
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("The ambulance is coming.", "ambulance"),
        ("I called 112", "ambulance"),
        ("Someone is here", "helper"),
        ("I can’t phone", "cannot_phone"),
    ],
)
def test_the_buttons_may_be_typed(stage: Stage, text: str, what: str) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.says(text)
    assert stage.heard() == [f"said.{what}"]
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize("do", [Do.READY, Do.RESTED, Do.LATER])
def test_an_old_button_of_a_prompt_begins_nothing_in_an_emergency(stage: Stage, do: Do) -> None:
    stage.says(FLAGGED)
    stage.take_sent()
    stage.presses(do, "20")
    assert stage.heard()[0] == "emergency.call"
    assert stage.step is None


def test_who_cannot_phone_has_their_contacts_called_again(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.CANNOT_PHONE)
    stage.take_sent()
    stage.passes(minutes=3)
    assert "contact.said.cannot_phone" in stage.heard(CARER_CHAT)


def test_half_an_hour_after_the_ambulance_is_called_help_is_asked_for(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=10)
    stage.presses(Do.AMBULANCE)
    stage.passes(minutes=29)
    assert "emergency.check" not in stage.heard()
    stage.passes(minutes=1)
    assert "emergency.check" in stage.heard()


def test_no_help_yet_calls_everybody_anew(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.passes(minutes=30)
    stage.take_sent()
    stage.presses(Do.HELP_NOT_YET)
    stage.passes(minutes=3)
    assert "contact.emergency" in stage.heard(CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


# --- the end


def test_it_ends_with_a_fresh_pair_below_and_none_of_the_signs(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=10)
    stage.says("150/90")
    stage.passes(minutes=1)
    stage.says("148/88")
    assert stage.alarm is AlarmStage.EMERGENCY
    stage.taps("button.no_signs")
    assert stage.alarm is None
    assert "ended.calm" in stage.heard()
    assert "contact.ended.calm" in stage.heard(CARER_CHAT)


def test_none_of_the_signs_alone_does_not_end_it(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.says("none of these signs")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_pair_below_alone_does_not_end_it(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.passes(minutes=10)
    stage.says("120/80 118/78")
    stage.passes(hours=2)
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize(("do", "how"), [(Do.HELP_CAME, "helped"), (Do.I_AM_THERE, "there")])
def test_it_ends_when_somebody_is_there_and_those_told_hear_it(
    stage: Stage, do: Do, how: str
) -> None:
    stage.says(FLAGGED)
    stage.presses(do, chat=CARER_CHAT if do is Do.I_AM_THERE else PATIENT_CHAT)
    assert stage.alarm is None
    assert f"ended.{how}" in stage.heard()
    assert f"contact.ended.{how}" in stage.heard(DOCTOR_CHAT)
    assert not {key for key in stage.timers if key.startswith("emergency")}


def test_a_new_sign_after_an_answer_is_told_at_once(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SEE_TO_IT, chat=CARER_CHAT)
    stage.take_sent()
    stage.says("now I can't breathe")
    assert stage.heard(CARER_CHAT)[0] == "contact.emergency.more"


# --- edits, corrections, slips


def test_a_slip_without_a_sign_is_over_with_the_right_number(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=9)  # the contacts have been told
    stage.presses(Do.SLIP)
    assert stage.alarm is AlarmStage.ASKED
    stage.says("142/91")
    assert stage.alarm is None
    assert stage.pairs() == [(142, 91)]
    assert "contact.ended.corrected" in stage.heard(CARER_CHAT)


def test_a_slip_takes_back_a_number_never_a_sign(stage: Stage) -> None:
    stage.says(FLAGGED)
    stage.presses(Do.SLIP)
    stage.take_sent()
    stage.says("142/91")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.pairs() == [(142, 91)]
    assert stage.heard()[0] == "emergency.call"
    assert "contact.changed" in stage.heard(CARER_CHAT)
    assert "contact.changed" in stage.heard(DOCTOR_CHAT)


def test_a_slip_that_is_severe_again_leaves_the_alarm_open(stage: Stage) -> None:
    stage.says("192/114")
    stage.presses(Do.SLIP)
    stage.says("182/114")
    assert stage.alarm is AlarmStage.ASKED
    assert stage.pairs() == [(182, 114)]


def test_a_slip_where_only_a_sign_was_told_leaves_an_old_reading_alone(stage: Stage) -> None:
    stage.says("138/84")
    stage.passes(hours=20)
    stage.says("my chest hurts")
    stage.presses(Do.SLIP)
    stage.says("144/82")
    assert stage.pairs() == [(138, 84), (144, 82)]


def test_after_a_slip_only_the_next_reading_is_the_right_number(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.says("138/84")
    stage.presses(Do.SLIP)
    stage.says("148/84")
    stage.passes(minutes=1)
    stage.says("144/82")
    assert stage.pairs() == [(148, 84), (144, 82)]


def test_the_edit_of_a_message_with_a_sign_is_no_half_of_a_calm_pair(stage: Stage) -> None:
    stage.says("195/104")
    stage.passes(minutes=2)
    message = stage.says("190/99 and I can't breathe")
    stage.edits(message, "132/89")
    stage.says("none of these signs")
    stage.passes(minutes=20)
    stage.says("146/84")
    assert stage.alarm is AlarmStage.EMERGENCY
    stage.passes(minutes=1)
    stage.says("142/84")
    stage.says("none of these signs")
    assert stage.alarm is None


def test_what_is_measured_long_after_a_slip_is_a_reading_of_its_own(stage: Stage) -> None:
    stage.says("192/114")
    stage.presses(Do.SLIP)
    stage.passes(minutes=61)
    stage.says("144/82")
    assert stage.pairs() == [(192, 114), (144, 82)]


def test_after_a_slip_a_reading_of_the_morning_keeps_its_place(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.passes(hours=9)
    stage.says("131/80 at 6am")
    stage.presses(Do.SLIP)
    stage.says("155/70")
    assert stage.pairs() == [(131, 80), (155, 70)]


@pytest.mark.parametrize("way", ["edit", "correction", "undo"])
def test_a_number_that_is_changed_is_told_to_everybody_who_was_told(stage: Stage, way: str) -> None:
    message = stage.says("192/114, headache")
    assert "contact.emergency" in stage.heard(CARER_CHAT)
    stage.take_sent()
    if way == "edit":
        stage.edits(message, "142/91, headache")
    else:
        stage.says("correction: 142/91" if way == "correction" else "/undo")
    assert stage.alarm is None
    for chat in (CARER_CHAT, DOCTOR_CHAT):
        assert "contact.ended.corrected" in stage.heard(chat)


def test_the_edit_of_a_message_in_doubt_that_caused_an_alarm_is_told_too(stage: Stage) -> None:
    message = stage.says("192 over ?, headache")
    assert stage.alarm is AlarmStage.EMERGENCY
    stage.take_sent()
    stage.edits(message, "142/91, headache")
    assert "contact.ended.corrected" in stage.heard(CARER_CHAT)


def test_the_edit_of_a_sign_does_not_take_it_back(stage: Stage) -> None:
    message = stage.says("chest pain")
    stage.edits(message, "all well")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "contact.changed" in stage.heard(CARER_CHAT)


def test_an_edit_to_a_severe_number_is_judged_when_it_appears(stage: Stage) -> None:
    message = stage.says("142/91, headache")
    assert stage.alarm is None
    stage.edits(message, "192/91, headache")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_an_emergency_holds_prompts_and_pictures_until_it_ends(stage: Stage) -> None:
    stage.now += timedelta(days=5)  # Sunday, 07:00
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.says(FLAGGED)
    stage.take_sent()
    stage.passes(hours=14)
    assert not any(out.rank is Rank.PROMPT for out in stage.sent)
    stage.presses(Do.HELP_CAME)
    stage.take_sent()
    stage.passes(hours=12)
    assert "prompt.morning.before_medicine" in stage.heard()


def test_an_emergency_in_the_middle_of_an_occasion_closes_it(stage: Stage) -> None:
    stage.says("142/91")
    stage.says("my chest hurts")
    stage.take_sent()
    stage.passes(minutes=2)
    assert "measure.second" not in stage.heard()
    assert stage.step is None


def test_an_answer_of_yesterdays_alarm_says_that_nothing_is_open(stage: Stage) -> None:
    for do in (Do.AMBULANCE, Do.HELP_CAME, Do.HELP_NOT_YET, Do.SYMPTOMS_NONE, Do.SYMPTOMS_YES):
        stage.take_sent()
        stage.presses(do)
        assert stage.heard() == ["alarm.none"]
    for do in (Do.SEE_TO_IT, Do.I_AM_THERE, Do.NOT_ABOUT):
        stage.take_sent()
        stage.presses(do, chat=CARER_CHAT)
        assert stage.heard(CARER_CHAT) == ["alarm.over"]


def test_a_forwarded_alarm_is_not_filed_and_is_answered(stage: Stage) -> None:
    stage.says("192/114", forwarded=True)
    assert stage.pairs() == []
    assert stage.heard() == ["other.severe", "forwarded"]
    stage.take_sent()
    stage.says("chest pain", forwarded=True)
    assert stage.heard() == ["other.emergency"]
    assert stage.alarm is None


def test_somebody_elses_red_flag_gets_the_advice_in_the_patients_chat(stage: Stage) -> None:
    stage.says("my wife collapsed")
    assert stage.heard() == ["other.emergency"]
    assert stage.alarm is None


def test_readings_after_an_outage_count_from_when_they_were_written(stage: Stage) -> None:
    written = stage.now
    stage.now += timedelta(hours=14)
    message = stage.says("hello")
    stage.edits(message, "192/114", written_at=written)
    assert stage.alarm is AlarmStage.ASKED
