"""Corrections, edits, undo and doubts: which readings count afterwards."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from domain.events import Do
from domain.people import MessageRef, NoteKind, Step
from domain.readings import CameAs
from tests.domain.conftest import CARER_CHAT, Stage


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("I meant 132/91", (132, 91)),
        ("correction: 132/91", (132, 91)),
        ("bottom should be 81", (142, 81)),
        ("top should be 132", (132, 91)),
        ("should have been 81", (142, 81)),
        ("should have been 132", (132, 91)),
    ],
)
def test_a_correction_by_pair_or_by_number_replaces_the_last_reading(
    stage: Stage, text: str, pair: tuple[int, int]
) -> None:
    stage.says("142/91")
    at = stage.patient.readings[0].reading.at
    stage.passes(minutes=0.5)
    stage.says(text)
    assert stage.pairs() == [pair]
    assert stage.values("correct.done")["before"] == "142/91"
    assert stage.patient.readings[0].reading.at == at, "it was measured when it was measured"


def test_a_pair_that_names_no_wrong_one_is_no_correction_of_the_evening_before(
    stage: Stage,
) -> None:
    stage.says("172/98")
    stage.passes(hours=10)
    stage.says("sorry 129/84")
    assert stage.pairs() == [(172, 98), (129, 84)]
    stage.says("129/84 was wrong, it was 139/84")
    assert stage.pairs() == [(172, 98), (139, 84)]


def test_a_correction_that_gives_no_possible_reading_changes_nothing(stage: Stage) -> None:
    stage.says("142/91")
    stage.says("bottom should be 150")
    assert stage.pairs() == [(142, 91)]
    assert "correct.nothing" in stage.heard()


def test_a_correction_without_a_reading_says_that_there_is_nothing(stage: Stage) -> None:
    stage.says("bottom should be 81")
    assert stage.heard() == ["correct.nothing"]


def test_a_correction_by_pair_without_an_earlier_reading_is_a_reading(stage: Stage) -> None:
    stage.says("I meant 132/91")
    assert stage.pairs() == [(132, 91)]


def test_a_correction_after_a_doubt_leaves_older_readings_alone(stage: Stage) -> None:
    stage.says("135/80")
    stage.passes(hours=20)
    stage.says("142 over ?")
    stage.says("I meant 142/91")
    assert stage.pairs() == [(135, 80), (142, 91)]
    assert stage.patient.state.in_doubt is None


def test_the_pulse_may_be_corrected_alone(stage: Stage) -> None:
    stage.says("142/91/70")
    stage.says("pulse should be 77")
    (kept,) = stage.patient.readings
    assert (kept.reading.systolic, kept.reading.diastolic, kept.reading.pulse) == (142, 91, 77)


# --- edits


def test_an_edit_replaces_what_its_message_made(stage: Stage) -> None:
    first = stage.says("142/91")
    stage.passes(hours=3)
    stage.says("120/80")
    stage.edits(first, "132/91", written_at=stage.now - timedelta(hours=3))
    assert stage.pairs() == [(132, 91), (120, 80)]
    assert stage.values("correct.done")["after"] == "132/91"


def test_an_edit_without_a_reading_takes_it_out(stage: Stage) -> None:
    message = stage.says("142/91")
    stage.edits(message, "never mind")
    assert stage.pairs() == []
    assert stage.step is Step.FIRST
    assert "undo.done" in stage.heard()


def test_an_edit_may_bring_a_second_reading(stage: Stage) -> None:
    message = stage.says("142/91")
    stage.edits(message, "142/91 138/88")
    assert sorted(stage.pairs()) == [(138, 88), (142, 91)]
    assert stage.step is None, "two readings are enough"
    assert "average" in stage.heard()


def test_readings_that_an_edit_brings_are_as_far_apart_as_others_of_one_message(
    stage: Stage,
) -> None:
    message = stage.says("142/91")
    stage.edits(message, "142/91 142/91")
    first, second = (kept.reading.at for kept in stage.patient.readings)
    assert second - first == timedelta(seconds=1)


def test_an_edit_may_say_when_it_was_measured(stage: Stage) -> None:
    stage.now += timedelta(hours=5)
    message = stage.says("142/91")
    stage.edits(message, "142/91 at 8 this morning")
    (kept,) = stage.patient.readings
    assert kept.reading.at.hour == 8


def test_an_edit_may_take_a_second_reading_out(stage: Stage) -> None:
    message = stage.says("142/91 138/88")
    stage.edits(message, "142/91")
    assert stage.pairs() == [(142, 91)]


def test_an_edit_of_a_text_that_was_no_reading_makes_one(stage: Stage) -> None:
    message = stage.says("hello")
    stage.edits(message, "142/91")
    assert stage.pairs() == [(142, 91)]


def test_an_edit_that_is_in_doubt_takes_the_old_number_out_and_asks(stage: Stage) -> None:
    message = stage.says("142/91")
    stage.edits(message, "142/91 or 142/81")
    assert stage.pairs() == []
    assert "doubt.which" in stage.heard()
    stage.presses(Do.MEANT, "1")
    assert stage.pairs() == [(142, 81)]


def test_the_edit_of_a_message_in_doubt_answers_it(stage: Stage) -> None:
    message = stage.says("131/85 or 141/85")
    stage.edits(message, "141/85")
    assert stage.pairs() == [(141, 85)]
    assert stage.patient.state.in_doubt is None


def test_a_later_correction_stays_when_the_first_message_is_edited(stage: Stage) -> None:
    message = stage.says("142/91")
    stage.says("I meant 132/91")
    stage.edits(message, "152/91")
    assert stage.pairs() == [(132, 91)]
    assert stage.heard()[-1] == "edit.later_correction"


@pytest.mark.parametrize(("hours", "asked"), [(48, False), (48.1, True)])
@pytest.mark.parametrize("text", ["142/91", "hello"])
def test_edits_older_than_48_hours_are_asked_about(
    stage: Stage, hours: float, asked: bool, text: str
) -> None:
    message, written = stage.says(text), stage.now
    before = stage.pairs()
    stage.passes(hours=hours)
    stage.edits(message, "132/91", written_at=written)
    assert ("doubt.old_edit" in stage.heard()) is asked
    assert stage.pairs() == (before if asked else [(132, 91)])


def old_edit(stage: Stage, text: str = "132/91") -> MessageRef:
    message, written = stage.says("142/91"), stage.now
    stage.passes(hours=50)
    stage.edits(message, text, written_at=written)
    return message


@pytest.mark.parametrize("how", ["button", "word"])
def test_an_old_edit_counts_after_a_yes(stage: Stage, how: str) -> None:
    old_edit(stage)
    stage.taps("button.edit_yes") if how == "button" else stage.says("yes")
    assert stage.pairs() == [(132, 91)]


@pytest.mark.parametrize("how", ["button", "word"])
def test_an_old_edit_is_left_after_a_no(stage: Stage, how: str) -> None:
    old_edit(stage)
    stage.taps("button.edit_no") if how == "button" else stage.says("no")
    assert stage.pairs() == [(142, 91)]
    assert stage.heard()[-1] == "edit.left"


def test_danger_in_an_old_edit_does_not_wait_for_the_yes(stage: Stage) -> None:
    old_edit(stage, "142/91, chest pain")
    assert "emergency.call" in stage.heard()


# --- undo


@pytest.mark.parametrize("text", ["/undo", "undo", "delete the last one"])
def test_undo_takes_the_last_reading_back_and_says_which(stage: Stage, text: str) -> None:
    stage.says("142/91")
    stage.passes(hours=2)
    stage.says("120/80")
    stage.says(text)
    assert stage.pairs() == [(142, 91)]
    assert stage.values("undo.done")["shown"] == "120/80"


def test_undo_brings_no_older_version_back(stage: Stage) -> None:
    stage.says("142/91")
    stage.says("I meant 132/91")
    stage.says("/undo")
    assert stage.pairs() == []


def test_undo_without_a_reading_says_so(stage: Stage) -> None:
    stage.says("/undo")
    assert stage.heard() == ["undo.nothing"]


# --- doubts


def test_a_doubt_is_stored_as_text_and_counts_when_a_button_answers_it(stage: Stage) -> None:
    stage.says("131/85 or 141/85")
    assert stage.pairs() == []
    (note,) = [n for n in stage.patient.notes if n.kind is NoteKind.IN_DOUBT]
    assert note.text == "131/85 or 141/85"
    written = stage.now
    stage.passes(minutes=5)
    stage.presses(Do.MEANT, "1")
    (kept,) = stage.patient.readings
    assert (kept.reading.systolic, kept.reading.diastolic) == (141, 85)
    assert kept.reading.came_as is CameAs.CONFIRMED
    assert kept.reading.at == written


def test_none_of_the_options_asks_for_the_right_one(stage: Stage) -> None:
    stage.says("131/85 or 141/85")
    stage.taps("button.meant_none")
    assert stage.pairs() == []
    assert stage.heard()[-1] == "doubt.type_again"


@pytest.mark.parametrize(("answer", "pairs"), [("yes", [(142, 91)]), ("no", [])])
def test_a_single_option_is_answered_by_word(
    stage: Stage, answer: str, pairs: list[tuple[int, int]]
) -> None:
    stage.says("91/142")
    assert stage.heard() == ["doubt.swapped"]
    stage.says(answer)
    assert stage.pairs() == pairs


def test_yes_to_several_options_asks_again(stage: Stage) -> None:
    stage.says("131/85 or 141/85")
    stage.says("yes")
    assert stage.pairs() == []
    assert stage.heard() == ["doubt.which", "doubt.which"]


@pytest.mark.parametrize(
    ("first", "second"), [("142", "91"), ("142 over ?", "91"), ("top 142", "bottom 91")]
)
def test_an_incomplete_reading_is_completed_by_the_missing_number(
    stage: Stage, first: str, second: str
) -> None:
    stage.says(first)
    assert stage.heard() == ["doubt.incomplete"]
    stage.says(second)
    assert stage.pairs() == [(142, 91)]


def test_a_severe_pair_that_is_completed_is_answered_as_severe(stage: Stage) -> None:
    stage.says("142")
    stage.says("112")
    assert stage.pairs() == [(142, 112)]
    assert "severe.ask" in stage.heard()


def test_a_button_of_a_doubt_that_is_settled_does_nothing_twice(stage: Stage) -> None:
    stage.says("131/85 or 141/85")
    stage.presses(Do.MEANT, "0")
    stage.presses(Do.MEANT, "1")
    assert stage.pairs() == [(131, 85)]
    assert stage.heard()[-1] == "old_button"


@pytest.mark.parametrize("label", ["button.meant", "button.meant_none"])
def test_a_button_of_an_older_doubt_says_nothing_about_a_newer_one(
    stage: Stage, label: str
) -> None:
    stage.says("85/131")
    (older,) = [
        button.action
        for outgoing in stage.given
        for row in outgoing.buttons
        for button in row
        if button.label.key == label
    ]
    stage.says("91/142")
    stage.presses(older.do, older.argument)
    assert stage.pairs() == []
    assert stage.heard()[-1] == "old_button"
    stage.taps("button.meant")
    assert stage.pairs() == [(142, 91)]


@pytest.mark.parametrize("argument", ["7", "-1", "x", ""])
def test_an_option_that_was_never_offered_is_an_old_button(stage: Stage, argument: str) -> None:
    stage.says("131/85 or 141/85")
    stage.presses(Do.MEANT, argument)
    assert stage.pairs() == []
    assert stage.heard()[-1] == "old_button"


# --- a reading that a contact wrote


def test_a_contacts_reading_is_kept_only_when_they_say_whose_it_is(stage: Stage) -> None:
    stage.says("142/91", chat=CARER_CHAT)
    assert stage.pairs() == []
    stage.taps("button.owner", chat=CARER_CHAT)
    assert stage.pairs() == [(142, 91)]


def test_a_contacts_reading_of_nobody_here_is_not_kept(stage: Stage) -> None:
    stage.says("142/91", chat=CARER_CHAT)
    stage.taps("button.owner_none", chat=CARER_CHAT)
    assert stage.pairs() == []


def test_a_contacts_edit_is_no_second_reading(stage: Stage) -> None:
    message = stage.says("142/91", chat=CARER_CHAT)
    stage.taps("button.owner", chat=CARER_CHAT)
    stage.edits(message, "132/91")
    stage.taps("button.owner", chat=CARER_CHAT)
    assert stage.pairs() == [(132, 91)]


@pytest.mark.parametrize(
    ("language", "said", "pair"),
    [
        ("en", "200 by 100 sorry 120 by 80", (120, 80)),
        ("en", "one forty two over ninety, no, one thirty two over ninety", (132, 90)),
        ("en", "142 over ninety no wait one thirty two over ninety", (132, 90)),
        ("en", "142/90 - no, 132/90", (132, 90)),  # one number of the two is wrong
        ("es", "ciento cuarenta sobre noventa, no, ciento treinta sobre noventa", (130, 90)),
        ("es", "142 con 90, perdón, 132 con 90", (132, 90)),
    ],
)
def test_a_message_that_corrects_itself_leaves_the_reading_before_alone(
    stage: Stage, language: str, said: str, pair: tuple[int, int]
) -> None:
    stage.patient = replace(stage.patient, language=language)
    stage.says("138/88")
    stage.passes(minutes=1)

    stage.says(said)

    assert stage.pairs() == [(138, 88), pair]


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "sorry 134/82 not 184/82"),
        ("en", "one eighty four over eighty two, no, one thirty four over eighty two"),
        ("es", "ciento ochenta y cuatro sobre ochenta y dos, no, 134 sobre 82"),
        ("es", "perdón, 134/82, no 184/82"),
    ],
)
def test_a_pair_named_as_wrong_is_the_one_that_is_replaced(
    stage: Stage, language: str, said: str
) -> None:
    stage.patient = replace(stage.patient, language=language)
    stage.says("184/82")
    stage.passes(minutes=1)

    stage.says(said)

    assert stage.pairs() == [(134, 82)]


@pytest.mark.parametrize(
    "said", ["I put 184/82, it should be 134/82", "sorry 134/82 not 184/82", "not 184/82, 134/82"]
)
def test_a_pair_named_as_wrong_is_replaced_also_when_another_came_after_it(
    stage: Stage, said: str
) -> None:
    stage.says("184/82")
    stage.passes(minutes=1)
    stage.says("128/77")
    stage.passes(minutes=1)

    stage.says(said)

    assert stage.pairs() == [(134, 82), (128, 77)]


def test_a_question_with_a_number_changes_nothing(stage: Stage) -> None:
    stage.says("138/88")

    stage.says("is my pulse supposed to be 60?")

    assert stage.pairs() == [(138, 88)]
