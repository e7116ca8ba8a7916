"""What people tell of somebody else: the advice at once, and whoever it is is not left alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain.events import Action, Do, Edited, TimerFell
from domain.outcome import OwnerAwaited, OwnerSettled, Rank
from domain.people import AlarmStage, Consent, NoteKind, PersonId, Role, Tie
from domain.talk import routing, unowned
from domain.talk.unowned import FLAG_WAITS, NUMBER_WAITS
from tests.domain.conftest import CARER_CHAT, DOCTOR_CHAT, PATIENT_CHAT, Stage
from tests.domain.test_lobby import HOLLIS, NOW, TAMSIN, happens, heard, said, tie
from tests.domain.test_unowned import OF_ONE_CARER, awaited, button, pressed

WREN = PersonId("wren")


def cares_for(name: str, consent: Consent = Consent.AGREED, role: Role = Role.CARER) -> Tie:
    """A tie of Hollis's own chat: Hollis looks after somebody."""
    return tie(name, role, consent)


def waiting_of(stage: Stage) -> OwnerAwaited | None:
    return next((f for f in stage.facts if isinstance(f, OwnerAwaited)), None)


# --- in a patient's own chat


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("my wife collapsed", "other.emergency"),
        ("142/91, my wife collapsed", "other.emergency"),
        ("my mum has 192/114", "other.severe"),
        ("mum 131/118", "other.severe"),
        ("142/91 for me, mum had 192/114", "other.severe"),
        ("mum fainted two days ago", "other.passed"),
        ("my mum has 142/91", "other.not_yours"),
    ],
)
def test_advice_for_somebody_else_comes_before_everything_else(
    stage: Stage, text: str, key: str
) -> None:
    stage.says(text)
    assert stage.heard()[0] == key
    assert stage.alarm is None
    assert waiting_of(stage) is None
    assert set(stage.pairs()) <= {(142, 91)}  # never the other's
    assert not stage.heard(CARER_CHAT)


def test_the_writers_own_reading_beside_it_is_kept_and_answered(stage: Stage) -> None:
    stage.says("142/91, my wife collapsed")
    assert stage.pairs() == [(142, 91)]
    assert "reading.first" in stage.heard()


def test_the_writers_own_danger_comes_first(stage: Stage) -> None:
    stage.says("my chest hurts, my wife has chest pain too")
    assert stage.heard()[0] == "emergency.call"
    assert "other.emergency" in stage.heard()


def test_a_number_and_a_sign_that_may_be_eithers_count_for_both(stage: Stage) -> None:
    stage.says("my mum has 192/114 and chest pain")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "other.emergency" in stage.heard()


def test_while_joining_the_advice_comes_before_the_open_question(newcomer: Stage) -> None:
    newcomer.patient = type(newcomer.patient)(
        id=newcomer.patient.id,
        name="Hollis",
        chat=PATIENT_CHAT,
        state=newcomer.patient.state,
    )
    newcomer.says("my mum has 192/114")
    assert newcomer.heard()[0] == "other.severe"


# --- of somebody whom the writer looks after in the same chat


def test_a_sign_of_the_one_looked_after_counts_as_theirs_at_once(stage: Stage) -> None:
    stage.ties = (cares_for("Tamsin"),)
    stage.says("mum has chest pain")
    waiting = waiting_of(stage)
    assert waiting is not None
    assert (waiting.persons, waiting.due) == ((TAMSIN,), stage.now)
    assert stage.heard() == ["other.emergency", "contact.danger"]
    assert stage.values("contact.danger")["name"] == "Tamsin"
    assert stage.sent[-1].rank is Rank.ALARM
    assert stage.alarm is None  # the writer is in no danger


@pytest.mark.parametrize("tie_", [cares_for("Tamsin", Consent.PROPOSED), cares_for("Hollis")])
def test_who_has_not_agreed_is_neither_named_nor_alarmed(stage: Stage, tie_: Tie) -> None:
    stage.ties = (tie_,)
    stage.says("mum has chest pain")
    assert waiting_of(stage) is None
    assert stage.heard() == ["other.emergency"]


def test_of_several_it_is_asked_and_without_an_answer_it_counts_for_each(stage: Stage) -> None:
    stage.ties = (cares_for("Tamsin"), cares_for("Robin"))
    stage.says("she has chest pain")
    waiting = waiting_of(stage)
    assert waiting is not None
    assert waiting.persons == (TAMSIN, PersonId("robin"))
    assert waiting.due == stage.now + FLAG_WAITS
    assert stage.heard() == ["other.emergency", "owner.ask"]
    named = [b.action.about for row in stage.sent[-1].buttons for b in row]
    assert named == [TAMSIN, PersonId("robin"), None]


def test_a_severe_number_of_the_one_looked_after_is_asked_about(stage: Stage) -> None:
    stage.ties = (cares_for("Tamsin"),)
    stage.says("mum has 192/114")
    waiting = waiting_of(stage)
    assert waiting is not None
    assert waiting.due == stage.now + NUMBER_WAITS
    assert stage.heard() == ["other.severe", "owner.ask"]


def test_an_ordinary_reading_of_the_one_looked_after_can_be_kept_for_them(stage: Stage) -> None:
    stage.ties = (cares_for("Tamsin"),)
    stage.says("mum has 142/91")
    assert waiting_of(stage) is None
    (first, *_), _ = stage.sent[-1].buttons
    assert first.action.do is Do.OWNER
    assert first.action.about == TAMSIN


@pytest.mark.parametrize("text", ["I have chest pain", "192/114 and I feel sick"])
def test_danger_in_a_forwarded_message_counts_for_the_one_looked_after(
    stage: Stage, text: str
) -> None:
    stage.ties = (cares_for("Tamsin"),)
    stage.says(text, forwarded=True)
    waiting = waiting_of(stage)
    assert waiting is not None
    assert waiting.persons == (TAMSIN,)
    assert stage.alarm is None
    assert stage.pairs() == []


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("I have chest pain", ["other.emergency"]),
        ("192/114", ["other.severe", "forwarded"]),
        ("142/91", ["forwarded"]),
        ("good morning", ["forwarded"]),
    ],
)
def test_a_forwarded_message_of_anybody_gets_advice_where_there_is_danger(
    stage: Stage, text: str, keys: list[str]
) -> None:
    stage.says(text, forwarded=True)
    assert stage.heard() == keys
    assert stage.pairs() == []


# --- what the timer does, and how whoever wrote it ends it


def carers_message(stage: Stage, text: str) -> OwnerAwaited:
    """What a carer of two writes in the chat of the stage's carer."""
    asked = happens(said(text, chat=CARER_CHAT), *OF_ONE_CARER)
    waiting = awaited(asked)
    assert waiting is not None
    stage.happens(TimerFell(key=waiting.key, due=stage.now), chat=None)
    return waiting


def test_the_patient_reads_who_wrote_it_and_the_writer_can_deny_it(stage: Stage) -> None:
    carers_message(stage, "mum has chest pain")
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.heard()[:2] == ["emergency.call", "seen.reported"]
    assert stage.values("seen.reported")["by"] == "Wren"
    assert stage.heard(CARER_CHAT)[:2] == ["contact.danger", "contact.danger.raised"]

    stage.taps("button.not_about", chat=CARER_CHAT)

    assert stage.alarm is None
    assert stage.noted(NoteKind.ALARM_ENDED) == ["not_about"]


def test_the_same_for_a_number(stage: Stage) -> None:
    carers_message(stage, "192/114")
    assert stage.alarm is AlarmStage.ASKED
    assert stage.values("severe.reported")["by"] == "Wren"

    stage.taps("button.not_about", chat=CARER_CHAT)

    assert stage.alarm is None


def test_a_denial_does_not_end_what_the_patient_told_too(stage: Stage) -> None:
    stage.says("I have crushing chest pain")
    carers_message(stage, "mum can't speak")
    stage.taps("button.not_about", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize("text", ["I have chest pain", "195/118", "yes, my face is drooping"])
def test_nor_what_the_patient_has_told_since(stage: Stage, text: str) -> None:
    carers_message(stage, "mum can't speak")
    stage.passes(minutes=1)
    stage.says(text)
    stage.taps("button.not_about", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY


def test_nor_a_number_that_the_patient_has_measured_since(stage: Stage) -> None:
    stage.says("192/114", chat=CARER_CHAT)
    stage.passes(minutes=1)
    stage.says("195/118")
    stage.taps("button.owner_none", chat=CARER_CHAT)
    assert stage.alarm is not None


def test_a_contacts_own_alarm_is_no_other_contacts_to_deny(stage: Stage) -> None:
    stage.says("she can't speak", chat=CARER_CHAT)
    stage.presses(Do.NOT_ABOUT, chat=DOCTOR_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "alarm.over" not in stage.heard(DOCTOR_CHAT)


def test_a_late_nobodys_says_that_an_alarm_stands() -> None:
    asked = happens(said("chest pain"), *OF_ONE_CARER)
    none = pressed(button(asked, Do.OWNER_NONE))
    open_ = (tie("Hollis", Role.CARER, alarm_open=True), tie("Tamsin", Role.CARER))
    assert heard(happens(none, *open_)) == ["owner.left", "owner.left.open"]
    assert heard(happens(none, *OF_ONE_CARER)) == ["owner.left"]


# --- edits


def test_an_edit_takes_a_number_back_that_waits_for_its_owner_but_no_sign(stage: Stage) -> None:
    stage.ties = (cares_for("Tamsin"),)
    message = stage.says("mum has 192/114")
    number, flagged = (
        unowned.awaited((TAMSIN,), message, ((192, 114),), flags, stage.now)
        for flags in ((), ("chest_pain",))
    )
    assert number is not None
    assert flagged is not None
    stage.facts.clear()
    stage.edits(message, "mum has 129/84")
    (settled,) = [fact for fact in stage.facts if isinstance(fact, OwnerSettled)]
    assert number.key.startswith(settled.prefix)
    assert not flagged.key.startswith(settled.prefix)
    assert waiting_of(stage) is None


def test_the_edited_number_of_a_carer_of_two_waits_instead_of_the_old_one() -> None:
    written = said("mum has 192/114")
    edit = Edited(text="mum has 185/95", message=written.message, written_at=NOW, edited_at=NOW)
    outcome = happens(edit, *OF_ONE_CARER)
    settled, waiting = outcome.facts
    assert isinstance(settled, OwnerSettled)
    assert isinstance(waiting, OwnerAwaited)
    assert waiting.key.endswith("185/95")


def test_a_timer_of_an_older_version_is_understood(stage: Stage) -> None:
    stage.happens(TimerFell(key="owner:500:7|192/114|chest_pain", due=stage.now), chat=None)
    assert stage.alarm is AlarmStage.EMERGENCY
    alarm = stage.patient.state.alarm
    assert alarm is not None
    assert (alarm.readings, alarm.symptoms) == (((192, 114),), ("chest_pain",))


# --- somebody says whose it is


def owner(text: str) -> Action:
    """The button under the question whose a text of somebody who cares for two is."""
    return button(happens(said(text, chat=CARER_CHAT), *OF_ONE_CARER), Do.OWNER)


@pytest.mark.parametrize("text", ["Hollis has chest pain", "she can't speak", "chest pain"])
def test_a_sign_that_is_said_to_be_theirs_raises_the_alarm(stage: Stage, text: str) -> None:
    stage.presses(Do.OWNER, owner(text).argument, chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    alarm = stage.patient.state.alarm
    assert alarm is not None
    assert alarm.reported_by == WREN
    assert "owner.kept" not in stage.heard(CARER_CHAT)  # nothing to keep


def test_a_number_with_a_sign_is_kept_and_raises_one_alarm(stage: Stage) -> None:
    stage.presses(Do.OWNER, owner("mum has 192/114 and chest pain").argument, chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert stage.pairs() == [(192, 114)]
    assert "owner.kept" in stage.heard(CARER_CHAT)


def test_a_passed_sign_that_is_said_to_be_theirs_is_to_be_seen_today(stage: Stage) -> None:
    written = said("mum fainted two days ago", chat=CARER_CHAT)
    argument = routing.packed(written.message, written.written_at, written.text)
    stage.presses(Do.OWNER, argument, chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.PASSED


def test_in_a_shared_chat_what_is_told_of_the_other_is_theirs_when_named(stage: Stage) -> None:
    written = said("Hollis can't speak", chat=PATIENT_CHAT)
    argument = routing.packed(written.message, written.written_at, written.text)
    stage.presses(Do.OWNER, argument)
    assert stage.alarm is AlarmStage.EMERGENCY


# --- both in one message


def test_of_both_numbers_the_patients_is_kept(stage: Stage) -> None:
    stage.says("mine is 142/91, mum has 131/82", chat=CARER_CHAT)
    stage.taps("button.owner", chat=CARER_CHAT)
    assert stage.pairs() == [(131, 82)]


def test_danger_in_either_number_is_weighed(stage: Stage) -> None:
    stage.says("mine is 142/91, mum has 192/114", chat=CARER_CHAT)
    assert stage.alarm is AlarmStage.ASKED


@pytest.mark.parametrize("asking", ["carer_name", "details:address", "details:key"])
def test_danger_of_another_is_no_answer_to_a_question(stage: Stage, asking: str) -> None:
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, asking=asking))
    stage.says("mum has 192/114")
    assert stage.heard()[0] == "other.severe"


def test_two_who_share_a_chat_and_look_after_somebody_alarm_that_one_too() -> None:
    shared = (tie("Hollis"), tie("Robin"), tie("Tamsin", Role.CARER))
    of_mum, own = happens(said("mum has chest pain"), *shared), happens(said("chest pain"), *shared)
    waiting, theirs = awaited(of_mum), awaited(own)
    assert waiting is not None
    assert theirs is not None
    assert TAMSIN in waiting.persons
    assert TAMSIN not in theirs.persons


# --- a carer of two


def test_what_a_carer_of_two_tells_of_somebody_is_asked_about() -> None:
    outcome = happens(said("mum has 192/114"), *OF_ONE_CARER)
    assert heard(outcome)[0] == "severe.ask"
    waiting = awaited(outcome)
    assert waiting is not None
    assert waiting.persons == (HOLLIS, TAMSIN)


def test_a_sign_that_has_passed_is_asked_about_too() -> None:
    outcome = happens(said("mum fainted two days ago"), *OF_ONE_CARER)
    assert heard(outcome) == ["other.passed", "owner.ask"]
    assert awaited(outcome) is None
