"""What danger asks for is asked until it is answered: rest, second pair, monitor, a doctor."""

from __future__ import annotations

import re
from datetime import timedelta
from types import SimpleNamespace
from typing import cast

import pytest

from bot.wording.catalogue import wording
from domain.danger import SEEN_WITHIN, STROKE_SEEN_WITHIN
from domain.events import ChatOpened, DeliveryFailed, DeliveryProblem, Do
from domain.outcome import Rank
from domain.people import AlarmStage, JoinStep, NoteKind
from domain.practice_list import Entry, Lately, Reason
from domain.talk import practice_talk
from domain.watch import Finding
from tests.domain.conftest import CARER, CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage


def found(stage: Stage) -> list[tuple[str, str]]:
    notes = (n for n in stage.patient.notes if n.kind is NoteKind.FINDING)
    return [(note.code, note.text) for note in notes]


def messages(stage: Stage, chat: int = PATIENT_CHAT) -> int:
    return sum(out.chat == chat for out in stage.sent)


def rows(text: str, width: int = 38) -> int:
    """How many lines a text takes on a narrow screen, words unbroken."""
    count = 0
    for paragraph in text.split("\n"):
        line = 0
        count += 1
        for word in paragraph.split():
            if line and line + 1 + len(word) > width:
                count, line = count + 1, 0
            line += len(word) + (1 if line else 0)
    return count


def shown(stage: Stage, language: str = "en") -> str:
    first = next(out for out in stage.sent if out.chat == PATIENT_CHAT)
    return re.sub(r"<[^>]+>", "", wording(language).message(first.lines))


# --- signs of an earlier day


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("ten days ago I had chest pain", "chest_pain"),
        ("hace diez días tuve dolor de pecho", "chest_pain"),
        ("two weeks ago my face drooped", "face_droop"),
        ("I had chest pain once", "chest_pain"),
    ],
)
def test_a_sign_of_long_ago_is_for_the_next_visit_and_for_the_practitioner(
    stage: Stage, text: str, code: str
) -> None:
    stage.says(text)
    assert stage.alarm is None
    assert stage.heard() == ["earlier.next_visit", "passed.back"]
    assert stage.values("earlier.next_visit")["symptoms"].keys == (f"symptom.{code}",)
    assert found(stage) == [(Finding.EARLIER_SIGN, code)]
    assert stage.heard(CARER_CHAT) == []


@pytest.mark.parametrize(
    ("text", "within"),
    [
        ("three days ago I had chest pain", SEEN_WITHIN),
        ("seven days ago my face drooped", STROKE_SEEN_WITHIN),
    ],
)
def test_on_the_last_day_of_its_window_it_is_for_today(
    stage: Stage, text: str, within: timedelta
) -> None:
    assert within in {timedelta(hours=72), timedelta(days=7)}
    stage.says(text)
    assert stage.alarm is AlarmStage.PASSED
    assert found(stage) == []


def test_a_sign_of_long_ago_beside_a_reading_is_said_too(stage: Stage) -> None:
    stage.says("142/88, ten days ago I had chest pain")
    assert stage.heard()[0] == "reading.first"
    assert "earlier.next_visit" in stage.heard()


def test_a_sign_of_long_ago_beside_a_symptom_of_today_is_said_too(stage: Stage) -> None:
    stage.says("ten days ago I had chest pain and today my head aches")
    assert "symptom.next_visit" in stage.heard()
    assert "earlier.next_visit" in stage.heard()


def test_the_practitioner_reads_which_sign_it_was(stage: Stage) -> None:
    stage.says("ten days ago I had chest pain and I fainted")
    [(code, signs)] = found(stage)
    entry = SimpleNamespace(lately=(Lately(day=stage.now.date(), code=code, number=signs),))
    [told] = practice_talk.lately_lines(cast(Entry, entry))
    text = wording("en").message((told,))
    assert "chest pain" in text
    assert "_" not in text


def test_a_sign_of_long_ago_does_not_take_the_place_of_the_question(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("ten days ago I had chest pain")
    assert stage.heard()[0] == "severe.ask.again"
    assert found(stage) == [(Finding.EARLIER_SIGN, "chest_pain")]


def test_another_sign_that_is_gone_is_told_with_the_first(stage: Stage) -> None:
    stage.says("my face drooped two days ago")
    stage.take_sent()
    stage.says("and I fainted yesterday at noon")
    both = ("symptom.face_droop", "symptom.fainting")
    assert stage.values("passed.seen")["symptoms"].keys == both
    assert stage.values("contact.passed", CARER_CHAT)["symptoms"].keys == both


def test_a_carer_who_tells_of_long_ago_hears_what_to_do(stage: Stage) -> None:
    stage.says("mum had chest pain ten days ago", chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["contact.earlier"]
    assert stage.heard() == []


# --- asked until it is answered


def to_today(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.says("190/112 188/110")
    assert stage.alarm is AlarmStage.TODAY
    stage.take_sent()


def test_a_doctor_is_asked_for_again_and_then_the_contacts_and_the_list_know(stage: Stage) -> None:
    to_today(stage)
    stage.passes(hours=4)
    assert stage.heard().count("doctor.asked") == 1
    assert found(stage) == []
    stage.passes(hours=4)
    assert stage.heard().count("doctor.asked") == 2
    assert stage.heard(CARER_CHAT)[0] == "contact.unseen"
    assert found(stage) == [(Finding.UNSEEN, "")]
    seen = Lately(day=stage.now.date(), code=Finding.UNSEEN)
    assert seen.reason is Reason.FOUND_TODAY


def test_nobody_is_asked_at_night_but_the_next_morning(stage: Stage) -> None:
    stage.passes(hours=10)  # 17:00
    to_today(stage)
    stage.passes(hours=15, minutes=50)  # 08:56
    assert stage.heard() == []
    stage.passes(minutes=10)
    assert stage.heard() == ["doctor.asked", "severe.if_starts"]
    stage.passes(hours=4)
    assert "contact.unseen" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize("how", ["button.seen", "I have spoken to the doctor"])
def test_once_a_doctor_has_heard_of_it_nothing_is_asked(stage: Stage, how: str) -> None:
    to_today(stage)
    (stage.taps if how.startswith("button") else stage.says)(how)
    stage.take_sent()
    stage.passes(hours=20)
    assert stage.heard() == []
    assert found(stage) == []


def test_without_any_answer_the_end_says_once_more_what_to_do(stage: Stage) -> None:
    to_today(stage)
    stage.passes(hours=24)
    assert stage.alarm is None
    assert "ended.no_word.unseen" in stage.heard()
    assert "contact.ended.no_word" in stage.heard(CARER_CHAT)


@pytest.mark.parametrize(
    ("answer", "key"), [("no", "severe.still_awaited"), ("", "severe.ask.again")]
)
def test_a_pair_or_an_answer_that_never_came_is_asked_for_by_day(
    stage: Stage, answer: str, key: str
) -> None:
    stage.says("192/114")
    if answer:
        stage.says(answer)
    stage.passes(minutes=21)
    stage.take_sent()
    stage.passes(hours=4)
    assert stage.heard()[0] == key
    stage.passes(hours=4)
    assert "contact.still_open" in stage.heard(CARER_CHAT)
    assert (Finding.UNSEEN, "") in found(stage)


# --- the rest before the second pair


def test_a_number_sent_with_the_answer_is_shown_and_what_comes_next(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says("no, none of these, and now 150/90")
    assert stage.alarm is AlarmStage.REPEATING
    assert stage.heard() == ["severe.early", "severe.if_starts"]
    values = stage.values("severe.early")
    assert (values["shown"], values["first"]) == ("150/90", "192/114")
    assert f"{values['at']:%H:%M}" == "07:06"
    assert stage.pairs()[-1] == (150, 90)


@pytest.mark.parametrize(
    ("minutes", "ends"), [(1, False), (3, False), (4, True), (5, True), (9, True)]
)
def test_only_a_pair_measured_after_the_rest_ends_it(
    stage: Stage, minutes: float, ends: bool
) -> None:
    """Five minutes (NHLBI patient page), less the minute between two readings of a message."""
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=minutes)
    stage.says("150/90")
    stage.passes(minutes=0.5)
    stage.says("148/88")
    assert (stage.alarm is None) is ends
    assert stage.pairs()[1:] == [(150, 90), (148, 88)]
    if not ends:
        assert "severe.early" in stage.heard()
        stage.passes(minutes=6)
        stage.says("149/89 147/87")
        assert stage.alarm is None


def test_two_severe_ones_before_the_rest_is_over_are_enough_for_today(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=1)
    stage.says("190/112 188/110")
    assert stage.alarm is AlarmStage.TODAY


def test_one_before_and_one_after_the_rest_are_no_pair(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=2)
    stage.says("185/112")
    stage.passes(minutes=4)
    stage.take_sent()
    stage.says("150/90")
    assert stage.heard() == ["severe.one_of_two"]
    stage.passes(minutes=1)
    stage.says("148/88")
    assert stage.alarm is None


def test_contacts_read_what_was_measured_when_the_pair_is_overdue(stage: Stage) -> None:
    stage.says("192/114")
    stage.passes(minutes=1)
    stage.says("no, and now 150/90")
    stage.passes(minutes=20)
    assert "contact.severe.no_pair" in stage.heard(CARER_CHAT)
    assert stage.values("contact.last", CARER_CHAT)["shown"] == "150/90"


# --- a monitor that fails


@pytest.mark.parametrize("text", ["E3", "the batteries are flat", "las pilas están agotadas"])
def test_a_monitor_that_fails_gets_one_answer_and_the_contacts_hear_why(
    stage: Stage, text: str
) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.take_sent()
    stage.says(text)
    assert messages(stage) == 1
    assert stage.heard()[-1] == "severe.go_on"
    stage.passes(minutes=15)
    assert "contact.severe.monitor" in stage.heard(CARER_CHAT)
    assert "contact.severe.no_pair" not in stage.heard(CARER_CHAT)
    assert "severe.told_monitor" in stage.heard()
    assert "severe.overdue" not in stage.heard()


def test_after_three_failures_nobody_waits_for_the_monitor(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    for _ in range(3):
        stage.passes(minutes=2)
        stage.take_sent()
        stage.says("E3")
    assert messages(stage) == 1
    assert stage.heard()[:2] == ["severe.monitor", "severe.today.do"]
    assert "error.later" not in stage.heard()


def test_a_number_after_the_failure_is_what_counts(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no")
    stage.passes(minutes=6)
    stage.says("E3")
    stage.passes(minutes=1)
    stage.says("150/90")
    stage.passes(minutes=20)
    assert "contact.severe.no_pair" in stage.heard(CARER_CHAT)


def test_while_the_signs_are_asked_about_the_monitor_can_wait(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("E3")
    assert messages(stage) == 1
    assert stage.heard()[:2] == ["error.none_came", "severe.ask.again"]


# --- a number that was mistyped


@pytest.mark.parametrize("text", ["sorry 129/84", "/undo"])
def test_the_right_number_and_the_end_of_the_alarm_are_one_message_or_in_order(
    stage: Stage, text: str
) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says(text)
    assert stage.alarm is None
    assert "ended.corrected" in stage.heard()
    if text == "/undo":
        assert stage.heard()[0] == "undo.done"
    else:
        assert messages(stage) == 1


def test_an_edit_within_the_minute_is_answered_once(stage: Stage) -> None:
    message = stage.says("192/114")
    stage.passes(minutes=0.5)
    stage.take_sent()
    stage.edits(message, "129/84")
    assert messages(stage) == 1
    assert {"ended.corrected", "correct.done"} <= set(stage.heard())


# --- who wants to sleep first


@pytest.mark.parametrize(
    "text", ["I'm going to bed", "going to sleep now", "good night", "me voy a la cama",
             "I'll do it tomorrow"],
)  # fmt: skip
@pytest.mark.parametrize(
    ("before", "key"),
    [
        (("192/114",), "severe.ask.again"),
        (("192/114", "no"), "severe.go_on"),
        (("192/114", "no", "190/112 188/110"), "severe.today"),
        (("my face drooped two days ago",), "severe.today"),
    ],
)
def test_whoever_wants_to_sleep_first_reads_that_this_cannot_wait(
    stage: Stage, before: tuple[str, ...], key: str, text: str
) -> None:
    for said in before:
        stage.says(said)
        stage.passes(minutes=2)
    stage.take_sent()
    stage.says(text)
    assert stage.heard()[:2] == ["severe.cannot_wait", key]
    assert messages(stage) == 1
    assert stage.alarm is not None


def test_whoever_has_spoken_to_a_doctor_may_sleep(stage: Stage) -> None:
    to_today(stage)
    stage.taps("button.seen")
    stage.take_sent()
    stage.says("good night")
    assert "severe.cannot_wait" not in stage.heard()


@pytest.mark.parametrize("text", ["leave me alone", "stop asking me", "/stop", "déjeme en paz"])
@pytest.mark.parametrize(
    ("before", "key"), [(("192/114",), "severe.ask.again"), (("192/114", "no"), "severe.go_on")]
)
def test_whoever_wants_no_more_questions_reads_first_what_is_open(
    stage: Stage, before: tuple[str, ...], key: str, text: str
) -> None:
    for said in before:
        stage.says(said)
    stage.take_sent()
    stage.says(text)
    assert stage.heard()[0] == key


# --- a contact whose chat takes nothing


def blocked(stage: Stage) -> None:
    stage.says("my chest hurts")
    failed = DeliveryFailed(
        chat=CARER_CHAT, to=CARER, problem=DeliveryProblem.BLOCKED, was_alarm=True
    )
    stage.fails_to_deliver(failed)
    stage.take_sent()


def test_a_chat_that_refused_is_not_tried_again_in_this_alarm(stage: Stage) -> None:
    blocked(stage)
    stage.passes(minutes=30)
    assert stage.heard(CARER_CHAT) == []
    assert "emergency.sent" not in stage.heard()


def test_a_message_refused_for_itself_does_not_end_the_calling(stage: Stage) -> None:
    stage.says("my chest hurts")
    failed = DeliveryFailed(
        chat=CARER_CHAT, to=CARER, problem=DeliveryProblem.REFUSED, was_alarm=True
    )
    stage.fails_to_deliver(failed)
    stage.take_sent()
    stage.passes(minutes=3)
    assert "contact.emergency" in stage.heard(CARER_CHAT)


def test_whoever_lets_the_bot_in_again_is_called_at_once(stage: Stage) -> None:
    blocked(stage)
    stage.happens(ChatOpened(chat=CARER_CHAT), chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT)[0] == "contact.emergency"


def test_whoever_writes_again_is_called_again(stage: Stage) -> None:
    blocked(stage)
    stage.says("hello", chat=CARER_CHAT)
    assert stage.patient.contacts[0].reachable
    stage.take_sent()
    stage.passes(minutes=3)
    assert "contact.emergency" in stage.heard(CARER_CHAT)


def test_in_the_next_alarm_a_blocked_chat_is_tried_once(stage: Stage) -> None:
    blocked(stage)
    stage.presses(Do.HELP_CAME)
    stage.take_sent()
    stage.says("my face droops now")
    assert stage.heard(CARER_CHAT)[0] == "contact.emergency"


# --- how long it is on a phone


@pytest.mark.parametrize(("language", "most"), [("en", 10), ("es", 13)])
def test_the_first_question_fits_a_small_screen(stage: Stage, language: str, most: int) -> None:
    """Lines of 38 characters, blank ones too; Spanish needs more for the same."""
    stage.says("180/110")
    assert rows(shown(stage, language)) <= most


@pytest.mark.parametrize(("language", "most"), [("en", 14), ("es", 15)])
def test_what_is_said_for_today_is_short(stage: Stage, language: str, most: int) -> None:
    """Lines of 38 characters with text."""
    to_today(stage)
    stage.says("192/114")
    text = shown(stage, language)
    assert rows(text) - text.count("\n\n") <= most


# --- what the practitioner reads


def test_a_pregnancy_told_after_joining_is_in_the_list_once(stage: Stage) -> None:
    stage.presses(Do.SET, JoinStep.ADULT)
    stage.taps("join.adult.pregnant")
    stage.presses(Do.JOIN, f"{JoinStep.ADULT}:birth")
    assert [code for code, _ in found(stage)] == [Finding.PREGNANT]


def test_what_is_high_in_pregnancy_is_not_called_still_very_high(stage: Stage) -> None:
    stage.presses(Do.SET, JoinStep.ADULT)
    stage.taps("join.adult.pregnant")
    stage.says("150/95")
    assert stage.alarm is AlarmStage.TODAY
    stage.take_sent()
    stage.says("good night")
    assert "severe.pregnant" in stage.heard()
    assert "severe.still" not in stage.heard()


def test_a_rehearsal_without_answers_is_in_the_list(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)
    stage.passes(hours=24 * 10)
    assert "rehearsal.contact" in " ".join(stage.heard(CARER_CHAT))
    codes = [code for code, _ in found(stage)]
    assert Finding.REHEARSAL in codes
    named = {text for code, text in found(stage) if code == Finding.REHEARSAL}
    assert named == {"Wren, Dr. Okafor-Lindqvist"}
    assert Lately(day=stage.now.date(), code=Finding.REHEARSAL).reason is Reason.FOUND


def test_the_alarm_of_a_person_is_ranked_as_one_whatever_is_said_in_it(stage: Stage) -> None:
    stage.says("192/114")
    stage.says("no, and now 150/90")
    stage.says("E3")
    stage.says("good night")
    assert all(out.rank is Rank.ALARM for out in stage.sent if out.chat == PATIENT_CHAT)
    assert DOCTOR_CHAT not in {out.chat for out in stage.sent}
