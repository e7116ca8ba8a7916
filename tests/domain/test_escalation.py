"""A severe reading without a sign, minute by minute, to its end."""

from __future__ import annotations

from datetime import timedelta

import pytest

from domain.events import Do, Said
from domain.outcome import Rank
from domain.people import AlarmStage, ChatId, MessageRef, NoteKind
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage


def then(stage: Stage, minutes: float, chat: ChatId = PATIENT_CHAT) -> list[str]:
    """Keys that a chat gets while so many minutes pass."""
    stage.take_sent()
    stage.passes(minutes=minutes)
    return stage.heard(chat)


@pytest.mark.parametrize("text", ["180/109", "179/110", "150/111", "192/114"])
def test_a_severe_reading_is_answered_with_the_number_and_the_question(
    stage: Stage, text: str
) -> None:
    stage.says(text)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.heard()[0] == "severe.ask"
    assert stage.values("severe.ask")["shown"] == text
    assert stage.values("severe.if_sign")["number"] == "112"
    assert all(out.rank is Rank.ALARM for out in stage.sent)
    assert stage.heard(CARER_CHAT) == []


def test_just_below_the_limits_it_is_an_ordinary_reading(stage: Stage) -> None:
    stage.says("179/109")
    assert stage.alarm is None
    assert "reading.first" in stage.heard()


def test_the_question_is_repeated_at_3_and_contacts_told_at_8_minutes(stage: Stage) -> None:
    stage.says("192/114")
    assert then(stage, 2.9) == []
    assert then(stage, 0.1)[0] == "severe.ask.again"
    assert then(stage, 4.9) == []
    assert stage.heard(CARER_CHAT) == []
    assert then(stage, 0.1)[0] == "severe.told_unanswered"
    assert "contact.severe.unanswered" in stage.heard(CARER_CHAT)
    assert "contact.severe.unanswered" in stage.heard(DOCTOR_CHAT)


def test_without_an_answer_contacts_hear_at_20_minutes_that_no_pair_came(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=19.9)
    assert "contact.severe.no_pair" not in stage.heard(CARER_CHAT)
    stage.passes(minutes=0.1)
    assert "contact.severe.no_pair" in stage.heard(CARER_CHAT)


def test_no_sign_means_rest_then_a_pair_and_reminders_at_15_and_20(stage: Stage) -> None:
    stage.says("192/114")
    stage.taps("button.no_signs")
    assert stage.alarm is AlarmStage.REPEATING
    assert "severe.rest" in stage.heard()
    assert then(stage, 4.9) == []
    assert then(stage, 0.1) == ["severe.measure"]
    assert then(stage, 9.9) == []
    assert then(stage, 0.1) == ["severe.overdue"]
    assert then(stage, 4.9) == []
    assert "severe.told_no_pair" in then(stage, 0.1)
    assert "contact.severe.no_pair" in stage.heard(CARER_CHAT)


def test_an_answer_cancels_the_repeated_question_and_the_telling(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=14)
    assert "severe.ask.again" not in stage.heard()
    assert stage.heard(CARER_CHAT) == []


def test_what_was_measured_before_is_no_second_pair_even_when_the_hosts_clock_is_slow(
    stage: Stage,
) -> None:
    for number, text in enumerate(["130/80", "131/80", "192/114", "none of these"], start=900):
        message = MessageRef(chat=PATIENT_CHAT, message=number)
        written = stage.now + timedelta(minutes=10, seconds=number)
        stage.happens(Said(text=text, message=message, written_at=written))
    assert stage.alarm is AlarmStage.REPEATING


def test_a_second_pair_below_ends_it_and_calls_nobody(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("none of these")
    stage.passes(minutes=6)
    stage.says("150/90")
    assert "severe.one_of_two" in stage.heard()
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("148/88")
    assert stage.alarm is None
    assert stage.heard()[0] == "severe.lower"
    assert then(stage, 60 * 25, CARER_CHAT) == []


@pytest.mark.parametrize(
    ("pair", "key"), [("159/99 158/98", "severe.lower"), ("150/90 165/95", "severe.lower.high")]
)
def test_lower_but_still_high_is_not_praised(stage: Stage, pair: str, key: str) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.says(pair)
    assert key in stage.heard()


@pytest.mark.parametrize("pair", ["185/100 150/90", "150/90 180/80", "179/109 179/110"])
def test_still_severe_if_either_number_of_either_is(stage: Stage, pair: str) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.take_sent()
    stage.says(pair)
    assert stage.alarm is AlarmStage.TODAY
    assert stage.heard()[0] == "severe.today"
    assert "contact.severe.still_severe" in stage.heard(CARER_CHAT)
    assert "contact.severe.still_severe" in stage.heard(DOCTOR_CHAT)


def to_today(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.says("190/112 188/110")
    stage.take_sent()


def test_after_today_another_severe_reading_repeats_the_advice_first(stage: Stage) -> None:
    to_today(stage)
    stage.passes(hours=5)
    stage.take_sent()
    stage.says("200/120")
    assert stage.heard()[0] == "severe.today"
    assert stage.values("severe.still")["shown"] == "200/120"


def test_after_today_a_pair_below_ends_it_and_those_who_were_told_hear_it(stage: Stage) -> None:
    to_today(stage)
    stage.passes(hours=3)
    stage.says("150/90 148/88")
    assert stage.alarm is None
    assert "contact.ended.below" in stage.heard(CARER_CHAT)


def test_a_day_without_a_word_ends_it_and_those_who_were_told_hear_it(stage: Stage) -> None:
    to_today(stage)
    stage.passes(hours=23, minutes=53)
    assert stage.alarm is AlarmStage.TODAY
    stage.passes(minutes=2)
    assert stage.alarm is None
    assert "contact.ended.no_word" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize("stage_of_alarm", list(AlarmStage)[:3])
def test_a_sign_at_any_stage_is_an_emergency(stage: Stage, stage_of_alarm: AlarmStage) -> None:
    stage.says("192/114")
    if stage_of_alarm is not AlarmStage.ASKED:
        stage.says("no")
    if stage_of_alarm is AlarmStage.TODAY:
        stage.passes(minutes=6)
        stage.says("190/112 188/110")
    assert stage.alarm is stage_of_alarm
    stage.take_sent()
    stage.says("my head aches, I have a headache")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard()[0] == "emergency.call"
    assert stage.heard(CARER_CHAT)[0].startswith("contact.emergency")


@pytest.mark.parametrize("answer", ["yes", "Yes I do"])
def test_yes_to_the_question_is_an_emergency(stage: Stage, answer: str) -> None:
    stage.says("192/114")
    stage.says(answer)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "contact.emergency" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize("answer", ["fine", "ok", "hello", "what?"])
def test_a_word_that_is_neither_yes_nor_no_is_asked_again_and_stops_no_timer(
    stage: Stage, answer: str
) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says(answer)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.heard()[0] == "severe.ask.again"
    stage.passes(minutes=8)
    assert "contact.severe.unanswered" in stage.heard(CARER_CHAT)


def test_no_sign_said_with_the_reading_is_not_asked_for_again(stage: Stage) -> None:
    stage.says("192/114, no symptoms")
    assert stage.alarm is AlarmStage.REPEATING
    assert "severe.ask" not in stage.heard()


def test_whoever_answers_late_may_rest_before_the_pair_is_overdue(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=14)
    stage.says("no")
    assert then(stage, 4.9) == []
    assert then(stage, 0.1) == ["severe.measure"]
    assert "severe.overdue" not in then(stage, 4.9)
    assert "severe.overdue" in then(stage, 0.1)


def test_a_harmless_doubt_does_not_take_the_place_of_the_question(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("131/85 or 141/85")
    assert stage.heard()[0] == "severe.ask.again"
    assert "doubt.which" not in stage.heard()
    stage.says("no")
    assert "doubt.which" in stage.heard()


# --- doubts


@pytest.mark.parametrize(
    "text", ["131/85 or 181/85", "192 over ?", "192", "310/150", "18 over 11", "110/190"]
)
def test_the_worst_of_a_doubt_asks_for_signs_before_what_was_meant(stage: Stage, text: str) -> None:
    stage.says(text)
    assert stage.alarm is AlarmStage.ASKED
    assert stage.heard()[0] == "severe.ask"
    assert not any(key.startswith("doubt.") for key in stage.heard())
    stage.says("no")
    assert any(key.startswith("doubt.") for key in stage.heard())


def test_a_doubt_that_is_harmless_whatever_it_means_asks_what_was_meant(stage: Stage) -> None:
    stage.says("131/85 or 141/85")
    assert stage.alarm is None
    assert stage.heard() == ["doubt.which"]


def test_the_harmless_one_of_a_doubt_ends_the_alarm_and_is_kept(stage: Stage) -> None:
    stage.says("131/85 or 181/85")
    stage.says("no")
    stage.presses(Do.MEANT, "0")
    assert stage.alarm is None
    assert stage.pairs() == [(131, 85)]
    assert "ended.corrected" in stage.heard()


def test_the_severe_one_of_a_doubt_leaves_the_alarm_open(stage: Stage) -> None:
    stage.says("131/85 or 181/85")
    stage.says("no")
    stage.presses(Do.MEANT, "1")
    assert stage.alarm is AlarmStage.REPEATING
    assert stage.pairs() == [(181, 85)]


def test_a_doubt_in_an_emergency_is_asked_about_when_it_is_over(stage: Stage) -> None:
    stage.says("131/85 or 141/85, chest pain")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "doubt.which" not in stage.heard()
    stage.presses(Do.I_AM_THERE, chat=CARER_CHAT)
    assert stage.heard()[-1] == "doubt.which"
    stage.presses(Do.MEANT, "1")
    assert stage.pairs() == [(141, 85)]


# --- symptoms and readings of other hours


@pytest.mark.parametrize(
    ("hours", "alarm"), [(23.9, AlarmStage.EMERGENCY), (24.1, AlarmStage.ASKED)]
)
def test_a_listed_symptom_of_the_last_day_counts_with_a_severe_reading(
    stage: Stage, hours: float, alarm: AlarmStage
) -> None:
    stage.says("130/80, headache")
    stage.passes(hours=hours)
    stage.says("192/100")
    assert stage.alarm is alarm


def test_a_symptom_that_was_denied_since_does_not_count(stage: Stage) -> None:
    stage.says("130/80, headache")
    stage.passes(hours=3)
    stage.says("no symptoms any more")
    stage.passes(hours=3)
    stage.says("192/100")
    assert stage.alarm is AlarmStage.ASKED


def test_a_red_flag_of_the_last_day_counts_with_a_severe_reading(stage: Stage) -> None:
    stage.says("chest pain")
    stage.presses(Do.HELP_CAME)
    assert stage.alarm is None
    stage.passes(hours=5)
    stage.says("192/100")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_a_symptom_outside_the_list_leaves_it_at_the_question(stage: Stage) -> None:
    stage.says("192/100 and a cough")
    assert stage.alarm is AlarmStage.ASKED


def test_an_old_severe_reading_calls_nobody(stage: Stage) -> None:
    stage.now += timedelta(hours=10)
    stage.says("192/114 yesterday evening")
    stage.passes(hours=1)
    assert stage.alarm is None
    assert len(stage.pairs()) == 1
    assert stage.heard(CARER_CHAT) == []


def test_a_present_sign_beside_an_old_reading_is_an_emergency(stage: Stage) -> None:
    stage.now += timedelta(hours=10)
    stage.says("192/114 yesterday evening, chest pain now")
    assert stage.alarm is AlarmStage.EMERGENCY


def test_prompts_wait_while_an_answer_is_awaited_and_go_on_afterwards(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(minutes=20)
    stage.says("192/114")
    assert "prompt.morning.before_medicine" not in then(stage, 20)
    stage.presses(Do.SYMPTOMS_NONE)
    stage.says("150/90 148/88")
    assert stage.alarm is None
    assert "prompt.evening.before_medicine" in then(stage, 60 * 14)


def test_both_ends_of_an_alarm_are_noted(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.says("150/90 148/88")
    assert stage.noted(NoteKind.ALARM) == ["urgent"]
    assert stage.noted(NoteKind.ALARM_ENDED) == ["below"]
