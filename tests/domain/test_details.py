"""Address, telephone, key: asked with consent, shown in an alarm only, gone when removed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from bot.wording.catalogue import languages, wording
from domain.events import Actor, Do, Situation
from domain.messages import Line
from domain.people import Consent, Contact, Details, NoteKind, Role
from domain.talk.details import LONGEST, alarm_details
from domain.talk.turn import Turn
from tests.domain.conftest import CARER, CARER_CHAT, PATIENT_CHAT, Stage, contact
from tests.domain.test_family import invitation

ADDRESS = "12 Harbour Lane, flat 3, bell “Hollis”"
TELEPHONE = "+351 912 345 678"
KEY = "Tamsin next door, number 14, has a key"
ALL = Details(shared=True, address=ADDRESS, telephone=TELEPHONE, key=KEY)


def details(stage: Stage) -> Details:
    return stage.patient.state.profile.details


def knowing(stage: Stage, known: Details) -> Stage:
    profile = replace(stage.patient.state.profile, details=known)
    stage.patient = replace(stage.patient, state=replace(stage.patient.state, profile=profile))
    return stage


def shown(stage: Stage, **contact_values: object) -> tuple[Line, ...]:
    wren = replace(contact(CARER, "Wren", Role.CARER, CARER_CHAT), **contact_values)  # type: ignore[arg-type]
    situation = Situation(actor=Actor(chat=PATIENT_CHAT), patient=stage.patient)
    return alarm_details(Turn(situation, stage.patient, stage.now), wren)


# --- when it is asked


def newly_agreed(stage: Stage) -> Stage:
    """Wren joins with consent at 07:00 on Tuesday 10 March."""
    invited = Contact(person=CARER, name="Wren", role=Role.CARER, consent=Consent.AGREED)
    stage.patient = replace(stage.patient, contacts=(invited,))
    stage.starts(invitation(stage), chat=CARER_CHAT)
    return stage


def test_it_is_asked_at_eleven_once_a_carer_may_be_told(stage: Stage) -> None:
    newly_agreed(stage)
    stage.says("132/82")
    stage.passes(minutes=1.1)
    stage.says("131/81")
    stage.passes(until=datetime(2026, 3, 10, 10, 59, tzinfo=UTC))
    assert "details.consent" not in stage.heard()
    stage.passes(minutes=2)
    assert stage.heard()[-2:] == ["details.consent", "details.when"]
    assert stage.values("details.consent")["names"] == "Wren"


def test_it_is_not_asked_before_the_first_measurement(stage: Stage) -> None:
    newly_agreed(stage)
    stage.passes(hours=12)
    assert "details.consent" not in stage.heard()
    stage.says("132/82")
    stage.passes(hours=24)
    assert stage.heard().count("details.consent") == 1


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_it_is_asked_once(stage: Stage, answer: str) -> None:
    stage.presses(Do.DETAILS, answer)
    newly_agreed(stage)
    stage.says("132/82")
    stage.passes(hours=60)
    assert "details.consent" not in stage.heard()


def test_nothing_is_asked_while_an_alarm_is_open(stage: Stage) -> None:
    newly_agreed(stage)
    stage.says("132/82")
    stage.passes(hours=3.5)
    stage.says("my chest hurts")
    stage.passes(hours=1)
    assert "details.consent" not in stage.heard()


# --- the answers


def test_consent_is_its_own_question_and_each_answer_can_be_left_out(stage: Stage) -> None:
    stage.says("/details")
    stage.taps("button.details_yes")
    assert stage.noted(NoteKind.CONSENT) == ["agreed:details"]
    stage.says(ADDRESS)
    stage.taps("button.details_skip")
    stage.says(KEY)
    assert details(stage) == replace(ALL, telephone="")
    assert stage.patient.state.asking == ""
    assert stage.heard()[-3:] == ["details.shown", "details.own.address", "details.own.key"]


@pytest.mark.parametrize("text", ["skip", "no", "later"])
def test_leaving_out_can_be_typed(stage: Stage, text: str) -> None:
    stage.presses(Do.DETAILS, "yes")
    stage.says(text)
    assert details(stage).address == ""
    assert stage.patient.state.asking == "details:telephone"


def test_a_telephone_needs_a_number(stage: Stage) -> None:
    stage.presses(Do.DETAILS, "yes")
    stage.presses(Do.DETAILS, "telephone")
    stage.says("ask my sister")
    assert stage.heard()[-1] == "details.no_number"
    stage.says(TELEPHONE)
    assert details(stage).telephone == TELEPHONE


@pytest.mark.parametrize(
    ("text", "pairs"), [("142/91", [(142, 91)]), ("undo", []), ("took my tablet", [])]
)
def test_what_says_something_else_is_no_address(
    stage: Stage, text: str, pairs: list[tuple[int, int]]
) -> None:
    stage.presses(Do.DETAILS, "yes")
    stage.says(text)
    assert details(stage).address == ""
    assert stage.pairs() == pairs


def test_danger_comes_before_an_address(stage: Stage) -> None:
    stage.presses(Do.DETAILS, "yes")
    stage.take_sent()
    stage.says("my chest hurts")
    assert stage.heard()[0] == "emergency.call"


def test_an_answer_is_kept_to_its_length(stage: Stage) -> None:
    stage.presses(Do.DETAILS, "yes")
    stage.says("Harbour Lane, " * 40)
    assert len(details(stage).address) == LONGEST


def test_one_of_them_can_be_changed(stage: Stage) -> None:
    knowing(stage, ALL)
    stage.says("/details")
    stage.taps("button.details.address")
    stage.says("2 Mill Row")
    assert details(stage) == replace(ALL, address="2 Mill Row")


def test_removing_keeps_and_shows_nothing(stage: Stage) -> None:
    knowing(stage, ALL)
    stage.says("/details")
    stage.taps("button.details_remove")
    assert details(stage) == Details(shared=False)
    assert stage.noted(NoteKind.CONSENT) == ["withdrawn:details"]
    assert [said.key for said in shown(stage)] == ["details.times"]


def test_without_consent_no_button_of_before_asks_for_anything(stage: Stage) -> None:
    stage.presses(Do.DETAILS, "address")
    assert stage.heard() == ["old_button"]
    assert stage.patient.state.asking == ""


def test_a_contact_can_neither_see_nor_change_them_by_a_button(stage: Stage) -> None:
    knowing(stage, ALL)
    stage.presses(Do.DETAILS, "no", chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["old_button"]
    assert details(stage) == ALL


# --- in an alarm


def test_an_alarm_shows_what_the_patient_agreed_to(stage: Stage) -> None:
    keys = [said.key for said in shown(knowing(stage, ALL))]
    assert keys == [
        "details.alarm.address",
        "details.alarm.telephone",
        "details.alarm.key",
        "details.times",
    ]


@pytest.mark.parametrize(
    ("known", "values"),
    [
        pytest.param(replace(ALL, shared=None), {}, id="not asked"),
        pytest.param(replace(ALL, shared=False), {}, id="refused"),
        pytest.param(ALL, {"consent": Consent.WITHDRAWN}, id="contact withdrawn"),
        pytest.param(ALL, {"consent": Consent.PROPOSED}, id="contact not agreed to"),
        pytest.param(ALL, {"chat": None}, id="contact in no chat"),
    ],
)
def test_without_consent_an_alarm_shows_none_of_it(
    stage: Stage, known: Details, values: dict[str, object]
) -> None:
    said = " ".join(wording("en").plain(one) for one in shown(knowing(stage, known), **values))
    assert not any(secret in said for secret in (ADDRESS, TELEPHONE, KEY))


@pytest.mark.parametrize("language", languages())
def test_both_local_times_are_shown_where_they_differ(stage: Stage, language: str) -> None:
    """10 March 2026, 07:00 in Lisbon; Halifax has summer time already, four hours behind."""
    said = wording(language).plain(shown(stage, zone="America/Halifax")[-1])
    assert "07:00" in said
    assert "04:00" in said


@pytest.mark.parametrize("zone", ["Europe/London", "UTC"])
def test_one_time_is_enough_where_they_do_not_or_where_it_is_unknown(
    stage: Stage, zone: str
) -> None:
    (said,) = shown(stage, zone=zone)
    assert said.key == "details.time"


def test_no_text_form_of_the_values_holds_them() -> None:
    assert "Harbour" not in repr(ALL)
    assert "912" not in repr(ALL)
    assert "Tamsin" not in repr(ALL)
