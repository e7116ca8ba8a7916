"""A rehearsal of an alarm: when it is held, who is written to, and how it ends."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.wording.catalogue import languages, wording
from domain.events import ChatClosed, ChatOpened, Do
from domain.outcome import Rank
from domain.people import AlarmStage, ChatId, Consent, Contact, NoteKind, PersonId, Role
from domain.talk import rehearsal
from domain.watch import Finding
from tests.domain.conftest import CARER, CARER_CHAT, PATIENT_CHAT, Stage, contact
from tests.domain.test_family import invitation
from tests.domain.test_wording_of_rehearsal import MARK
from tests.domain.watched_stage import fresh_stage

WREN = contact(CARER, "Wren", Role.CARER, CARER_CHAT)
ROBIN = contact(PersonId("robin"), "Robin", Role.CARER, ChatId(400))
THREE = datetime(2026, 3, 10, 15, tzinfo=UTC)  # Tuesday, in Lisbon; 12:00 in Halifax


def with_contacts(stage: Stage, *contacts: Contact) -> Stage:
    stage.patient = replace(stage.patient, contacts=contacts)
    return stage


def rehearsing(stage: Stage, *contacts: Contact) -> Stage:
    """A rehearsal has just begun, at three in the afternoon."""
    with_contacts(stage, *(contacts or (WREN, ROBIN)))
    stage.timers[rehearsal.DUE] = THREE
    stage.passes(until=THREE)
    assert stage.patient.state.rehearsal is not None
    return stage


def answers(stage: Stage, chat: ChatId) -> None:
    stage.presses(Do.REHEARSAL_SEEN, chat=chat)


# --- when


def test_it_is_due_the_day_the_first_carer_can_be_called(stage: Stage) -> None:
    with_contacts(stage, replace(WREN, chat=None))
    stage.starts(invitation(stage), chat=CARER_CHAT)
    assert stage.timers[rehearsal.DUE] == THREE


def test_never_at_night(stage: Stage) -> None:
    stage.now = datetime(2026, 3, 10, 22, tzinfo=UTC)
    with_contacts(stage, replace(WREN, chat=None))
    stage.starts(invitation(stage), chat=CARER_CHAT)
    assert stage.timers[rehearsal.DUE] == THREE + timedelta(days=1)


@pytest.mark.parametrize(
    ("zone", "hour"),
    [
        pytest.param("America/Halifax", 15, id="12:00 there"),
        pytest.param("America/Los_Angeles", 17, id="10:00 there, and 08:00 at three"),
        pytest.param("Australia/Sydney", 15, id="02:00 there; nobody sleeps at no hour of ours"),
        pytest.param("Asia/Kolkata", 11, id="16:30 there, and 20:30 at three"),
        pytest.param("UTC", 15, id="not known"),
    ],
)
def test_the_hour_is_one_at_which_the_contact_is_awake(stage: Stage, zone: str, hour: int) -> None:
    with_contacts(stage, replace(WREN, zone=zone, chat=None))
    stage.starts(invitation(stage), chat=CARER_CHAT)
    assert stage.timers[rehearsal.DUE].hour == hour


@pytest.mark.parametrize(
    ("weeks", "held"), [(12, 1), (14, 2)], ids=["not yet", "three months later"]
)
def test_it_is_held_again_after_three_months(stage: Stage, weeks: int, held: int) -> None:
    rehearsing(stage)
    stage.presses(Do.RESUME)  # the weekly timer runs
    for _ in range(weeks):
        stage.passes(hours=24 * 7)
    assert stage.heard().count("rehearsal.begin") == held


def alarm_open(stage: Stage) -> None:
    stage.says("my chest hurts")


def paused(stage: Stage) -> None:
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, paused=True))


def declined(stage: Stage) -> None:
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, declined=True))


def nobody(stage: Stage) -> None:
    with_contacts(stage)


def measuring(stage: Stage) -> None:
    stage.says("/ready")


def at_night(stage: Stage) -> None:
    stage.now = datetime(2026, 3, 10, 23, tzinfo=UTC)


@pytest.mark.parametrize("holds", [alarm_open, paused, declined, nobody, measuring, at_night])
def test_nothing_begins_while_something_else_holds(stage: Stage, holds: object) -> None:
    assert callable(holds)
    stage.now = THREE
    with_contacts(stage, WREN)
    holds(stage)
    stage.take_sent()
    stage.timers[rehearsal.DUE] = THREE
    stage.passes(minutes=0)
    assert stage.patient.state.rehearsal is None
    assert "rehearsal.contact" not in stage.heard(CARER_CHAT)


def test_who_measures_at_the_time_rehearses_an_hour_later(stage: Stage) -> None:
    stage.now = THREE
    with_contacts(stage, WREN)
    stage.says("132/82")
    stage.timers[rehearsal.DUE] = THREE
    stage.passes(minutes=59)
    assert stage.patient.state.rehearsal is None
    stage.passes(minutes=2)
    assert stage.patient.state.rehearsal is not None


# --- how


def test_the_patient_and_each_contact_are_written_to_as_in_an_alarm(stage: Stage) -> None:
    rehearsing(stage)
    begun = [out for out in stage.sent if any(x.key.startswith("rehearsal.") for x in out.lines)]
    assert [out.chat for out in begun] == [PATIENT_CHAT, CARER_CHAT, ChatId(400)]
    assert {out.rank for out in begun} == {Rank.ALARM}
    assert stage.heard()[-3:] == ["rehearsal.begin", "rehearsal.how", "rehearsal.lasts"]


def test_every_line_and_button_of_it_says_what_it_is(stage: Stage) -> None:
    rehearsing(stage)
    stage.passes(minutes=4)
    answers(stage, CARER_CHAT)
    stage.passes(minutes=15)
    answers(stage, ChatId(400))
    for out in stage.sent:
        if not any(said.key.startswith("rehearsal.") for said in out.lines):
            continue
        labels = [button.label for row in out.buttons for button in row]
        for language in languages():
            words = wording(language)
            unmarked = [
                text
                for text in map(words.plain, (*out.lines, *labels))
                if not re.search(MARK[language], text, re.I)
            ]
            assert unmarked == []


def test_who_does_not_answer_is_written_to_every_three_minutes(stage: Stage) -> None:
    rehearsing(stage)
    stage.passes(minutes=1)
    answers(stage, CARER_CHAT)
    stage.passes(minutes=30)
    assert stage.heard(ChatId(400)).count("rehearsal.contact.again") == 4  # at 3, 6, 9, 12
    assert "rehearsal.contact.again" not in stage.heard(CARER_CHAT)


def test_it_ends_with_the_last_answer_and_says_how_long_each_took(stage: Stage) -> None:
    rehearsing(stage)
    stage.passes(minutes=0.5)
    answers(stage, CARER_CHAT)
    stage.passes(minutes=4)
    stage.take_sent()
    answers(stage, ChatId(400))
    took = [
        (said.values["name"], said.values["count"])
        for out in stage.sent
        for said in out.lines
        if said.key == "rehearsal.result.answered"
    ]
    assert took == [("Wren", 1), ("Robin", 5)]
    assert stage.patient.state.rehearsal is None
    assert not {rehearsal.AGAIN, rehearsal.END} & set(stage.timers)
    assert [(n.code, n.text) for n in stage.patient.notes if n.kind is NoteKind.REHEARSAL] == [
        ("all", "Wren: 1, Robin: 5")
    ]


def test_it_ends_after_a_quarter_of_an_hour_with_who_did_not_answer(stage: Stage) -> None:
    rehearsing(stage)
    stage.passes(minutes=2)
    answers(stage, CARER_CHAT)
    stage.passes(minutes=12)
    assert "rehearsal.result" not in stage.heard()
    stage.passes(minutes=1)
    assert stage.values("rehearsal.result.silent") == {"name": "Robin", "count": 15}
    assert stage.heard(ChatId(400))[-1] == "rehearsal.over"
    assert stage.noted(NoteKind.REHEARSAL) == ["some"]


def test_when_nobody_answers_the_number_is_what_counts(stage: Stage) -> None:
    rehearsing(stage)
    stage.passes(minutes=16)
    assert stage.values("rehearsal.result.nobody")["number"] == "112"
    assert stage.noted(NoteKind.REHEARSAL) == ["none"]


def test_a_chat_that_is_blocked_is_named(stage: Stage) -> None:
    rehearsing(stage)
    stage.happens(ChatClosed(chat=CARER_CHAT), chat=CARER_CHAT)
    answers(stage, ChatId(400))
    assert stage.values("rehearsal.result.blocked")["name"] == "Wren"
    (note,) = [n for n in stage.patient.notes if n.kind is NoteKind.REHEARSAL]
    assert sorted(note.text.split(", ")) == ["Robin: 1", "Wren: blocked"]
    found = [n.text for n in stage.patient.notes if n.code == Finding.REHEARSAL]
    assert found == ["Wren"]


@pytest.mark.parametrize(
    ("text", "answered"), [("ok, seen", True), ("142/91", False), ("/week", False)]
)
def test_an_answer_may_be_typed(stage: Stage, text: str, answered: bool) -> None:
    rehearsing(stage)
    stage.says(text, chat=CARER_CHAT)
    state = stage.patient.state.rehearsal
    assert state is not None
    assert bool(state.answers) == answered


def test_signs_told_in_answer_to_it_are_an_alarm(stage: Stage) -> None:
    rehearsing(stage)
    stage.says("she has chest pain, really", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.patient.state.rehearsal is None


def test_an_answer_counts_once_and_after_the_end_not_at_all(stage: Stage) -> None:
    rehearsing(stage)
    answers(stage, CARER_CHAT)
    answers(stage, CARER_CHAT)
    assert stage.patient.state.rehearsal is not None
    stage.passes(minutes=16)
    stage.take_sent()
    answers(stage, ChatId(400))
    assert stage.heard(ChatId(400)) == ["rehearsal.over"]


def test_who_was_withdrawn_in_between_hears_no_more_of_it(stage: Stage) -> None:
    rehearsing(stage)
    stage.presses(Do.CONSENT_WITHDRAW, CARER)
    stage.take_sent()
    stage.passes(minutes=16)
    answers(stage, CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["contact.wait"]
    assert stage.values("rehearsal.result.silent")["name"] == "Robin"


def test_only_those_who_may_be_told_are_written_to(stage: Stage) -> None:
    rehearsing(stage, WREN, replace(ROBIN, consent=Consent.REFUSED))
    assert stage.heard(ChatId(400)) == []


@pytest.mark.parametrize(("late", "key"), [(4, "rehearsal.result"), (6, "rehearsal.void")])
def test_an_outage_says_nothing_of_the_people(stage: Stage, late: int, key: str) -> None:
    rehearsing(stage)
    stage.now += timedelta(minutes=15 + late)
    stage.take_sent()
    stage.passes(minutes=0)
    assert key in stage.heard()
    assert stage.patient.state.rehearsal is None
    assert (stage.timers.get(rehearsal.DUE) is not None) == (key == "rehearsal.void")


def test_the_patient_can_end_it(stage: Stage) -> None:
    rehearsing(stage)
    stage.taps("button.rehearsal_end")
    assert stage.patient.state.rehearsal is None
    assert "rehearsal.result" in stage.heard()


# --- an alarm


@pytest.mark.parametrize("text", ["my chest hurts", "192/114"])
def test_an_alarm_ends_it_at_once(stage: Stage, text: str) -> None:
    rehearsing(stage)
    stage.passes(minutes=1)
    stage.take_sent()
    stage.says(text)
    assert stage.patient.state.rehearsal is None
    assert not {rehearsal.AGAIN, rehearsal.END} & set(stage.timers)
    assert stage.heard()[0] in {"emergency.call", "severe.ask"}
    assert stage.heard(CARER_CHAT)[-1] == "rehearsal.contact.cut"
    stage.passes(minutes=20)
    assert "rehearsal.contact.again" not in stage.heard(CARER_CHAT)
    assert "rehearsal.result" not in stage.heard()
    assert stage.noted(NoteKind.REHEARSAL) == ["cut"]


def test_the_alarm_is_sent_before_the_word_that_the_rehearsal_is_over(stage: Stage) -> None:
    rehearsing(stage)
    stage.take_sent()
    stage.says("my chest hurts")
    heard = stage.heard(CARER_CHAT)
    assert heard.index("contact.emergency") < heard.index("rehearsal.contact.cut")


_THINGS: dict[str, Callable[[Stage], None]] = {
    "Wren answers": lambda stage: answers(stage, CARER_CHAT),
    "Robin answers": lambda stage: answers(stage, ChatId(400)),
    "Wren blocks": lambda stage: _happens_to_wren(stage, ChatClosed(chat=CARER_CHAT)),
    "Wren opens": lambda stage: _happens_to_wren(stage, ChatOpened(chat=CARER_CHAT)),
    "Wren is withdrawn": lambda stage: stage.presses(Do.CONSENT_WITHDRAW, CARER),
    "Wren is agreed to": lambda stage: stage.presses(Do.CONSENT_YES, CARER),
    "the patient ends it": lambda stage: stage.presses(Do.REHEARSAL_END),
    "a reading": lambda stage: stage.says("132/82") and None,
    "a severe reading": lambda stage: stage.says("192/114") and None,
    "a red flag": lambda stage: stage.says("my chest hurts") and None,
    "help came": lambda stage: stage.presses(Do.HELP_CAME),
    "two minutes": lambda stage: stage.passes(minutes=2),
    "a quarter of an hour": lambda stage: stage.passes(minutes=15),
    "a day": lambda stage: stage.passes(hours=24),
}


def _happens_to_wren(stage: Stage, event: ChatClosed | ChatOpened) -> None:
    stage.happens(event, chat=CARER_CHAT)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(sorted(_THINGS)), max_size=12))
def test_whatever_happens_it_ends_and_never_runs_beside_an_alarm(things: list[str]) -> None:
    stage = rehearsing(fresh_stage())
    for thing in things:
        _THINGS[thing](stage)
        state = stage.patient.state
        assert state.rehearsal is None or state.alarm is None
        assert (state.rehearsal is not None) == (rehearsal.END in stage.timers)
    stage.passes(minutes=16)
    assert stage.patient.state.rehearsal is None
    noted = stage.noted(NoteKind.REHEARSAL)
    begun = sum(said.key == "rehearsal.begin" for out in stage.given for said in out.lines)
    assert len(noted) == begun
