"""Consent: what is shown, what is agreed to, and how somebody joins."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from domain.events import Do
from domain.outcome import ContactChanged, PersonInvited, PersonJoined, WeekPicture
from domain.people import (
    ChatId,
    Consent,
    Contact,
    Invitation,
    NoteKind,
    PersonId,
    Role,
)
from tests.domain.conftest import (
    CARER,
    CARER_CHAT,
    DOCTOR,
    DOCTOR_CHAT,
    PATIENT_CHAT,
    Stage,
)

PROPOSED = Contact(person=CARER, name="Wren", role=Role.CARER)
DOCTOR_PROPOSED = Contact(person=DOCTOR, name="Dr. Okafor-Lindqvist", role=Role.PRACTITIONER)


def proposed(stage: Stage, *contacts: Contact) -> Stage:
    stage.patient = replace(stage.patient, contacts=contacts or (PROPOSED,))
    return stage


def link(stage: Stage) -> Contact:
    contact = stage.patient.contact(CARER)
    assert contact is not None
    return contact


def invitation(stage: Stage, **values: object) -> Invitation:
    made = Invitation(
        person=CARER,
        name="Wren",
        role=Role.CARER,
        expires=stage.now + timedelta(days=7),
        patient=stage.patient.id,
        patient_name=stage.patient.name,
    )
    return replace(made, **values)  # type: ignore[arg-type]


def shown(stage: Stage) -> Stage:
    stage.timers["contacts"] = stage.now
    stage.passes(minutes=0)
    return stage


@pytest.mark.parametrize(
    ("contact", "role"), [(PROPOSED, "carer"), (DOCTOR_PROPOSED, "practitioner")]
)
def test_a_proposed_link_is_shown_once_with_what_would_be_seen(
    stage: Stage, contact: Contact, role: str
) -> None:
    shown(proposed(stage, contact))
    looks = ["duty.daily"] if role == "practitioner" else []
    seen = [f"consent.ask.{role}", f"consent.sees.{role}", *looks, "consent.withdraw"]
    assert stage.heard() == seen
    stage.take_sent()
    shown(stage)
    assert stage.sent == []


def test_a_person_with_proposals_sees_them_right_after_joining(newcomer: Stage) -> None:
    proposed(newcomer)
    made = invitation(newcomer, person=newcomer.patient.id, role=Role.PATIENT, patient=None)
    newcomer.starts(made, chat=PATIENT_CHAT)
    for text in ("none", "112", "yes", "upper arm", "31", "left"):
        newcomer.says(text)
    newcomer.passes(minutes=0)
    assert "consent.ask.carer" in newcomer.heard()


@pytest.mark.parametrize(
    ("label", "consent", "missed", "week"),
    [
        ("button.consent_yes", Consent.AGREED, True, True),
        ("button.consent_alarms", Consent.AGREED, False, False),
        ("button.consent_no", Consent.REFUSED, False, False),
    ],
)
def test_the_answer_decides_what_a_carer_is_told(
    stage: Stage, label: str, consent: Consent, missed: bool, week: bool
) -> None:
    shown(proposed(stage))
    stage.taps(label)
    contact = link(stage)
    assert (contact.consent, contact.told_missed, contact.told_week) == (consent, missed, week)
    assert len(stage.noted(NoteKind.CONSENT)) == 1


def test_a_practitioner_is_never_told_of_missed_occasions(stage: Stage) -> None:
    shown(proposed(stage, DOCTOR_PROPOSED))
    stage.taps("button.consent_yes")
    doctor = stage.patient.contact(DOCTOR)
    assert doctor is not None
    assert not doctor.told_missed


def test_consent_can_be_withdrawn_at_any_time_and_the_contact_hears_it(stage: Stage) -> None:
    stage.says("/family")
    stage.taps("button.consent_withdraw")
    withdrawn = [c for c in stage.patient.contacts if c.consent is Consent.WITHDRAWN]
    assert len(withdrawn) == 1
    assert withdrawn[0].chat is not None
    assert stage.heard(withdrawn[0].chat) == ["consent.contact.withdrawn"]
    assert not withdrawn[0].told_week


def test_the_list_names_everybody_and_how_they_stand(stage: Stage) -> None:
    waiting = Contact(person=PersonId("robin"), name="Robin", role=Role.CARER)
    agreed = replace(waiting, person=PersonId("ash"), consent=Consent.AGREED)
    gone = replace(link(stage), person=PersonId("kit"), reachable=False)
    contacts = (*stage.patient.contacts, waiting, agreed, gone)
    stage.patient = replace(stage.patient, contacts=contacts)
    stage.says("/family")
    assert stage.heard() == [
        "family.title",
        "family.contact.all.carer",
        "family.contact.all.practitioner",
        "family.contact.waiting",
        "family.contact.not_joined",
        "family.contact.unreachable",
    ]


def test_without_anybody_the_list_says_so(stage: Stage) -> None:
    stage.patient = replace(stage.patient, contacts=())
    stage.says("/family")
    assert stage.heard() == ["family.nobody"]


# --- joining as a contact


def test_a_contact_who_joins_before_the_consent_waits_and_the_patient_is_asked(
    stage: Stage,
) -> None:
    proposed(stage)
    outcome = stage.starts(invitation(stage), chat=CARER_CHAT)
    assert any(isinstance(fact, PersonJoined) for fact in outcome.facts)
    assert stage.heard(CARER_CHAT) == ["contact.wait"]
    assert "consent.ask.carer" in stage.heard()
    stage.says("hello", chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT) == ["contact.wait", "contact.wait"]
    stage.taps("button.consent_yes")
    assert "consent.contact.agreed" in stage.heard(CARER_CHAT)


def test_a_contact_who_joins_after_the_consent_is_welcome_and_the_patient_hears_it(
    stage: Stage,
) -> None:
    proposed(stage, replace(PROPOSED, consent=Consent.AGREED, asked=True))
    stage.starts(invitation(stage), chat=CARER_CHAT)
    assert stage.heard(CARER_CHAT)[0] == "contact.welcome"
    assert stage.heard() == ["consent.joined"]


def test_agreeing_before_the_contact_has_joined_says_so(stage: Stage) -> None:
    shown(proposed(stage))
    stage.taps("button.consent_yes")
    assert stage.heard()[-2:] == ["consent.done.agreed", "consent.not_joined"]


def test_who_joins_during_an_alarm_with_consent_is_told_at_once(stage: Stage) -> None:
    proposed(stage, replace(PROPOSED, consent=Consent.AGREED, asked=True))
    stage.says("my chest hurts")
    stage.starts(invitation(stage), chat=CARER_CHAT)
    assert "contact.emergency" in stage.heard(CARER_CHAT)


def test_nobody_can_be_their_own_contact(stage: Stage) -> None:
    proposed(stage)
    outcome = stage.starts(invitation(stage), chat=PATIENT_CHAT)
    assert stage.heard() == ["start.own_contact"]
    assert not any(isinstance(f, PersonJoined | ContactChanged) for f in outcome.facts)


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"used": True}, "start.used"),
        ({"expires": datetime(2026, 3, 1, tzinfo=UTC)}, "start.expired"),
        ({"person": PersonId("nobody")}, "start.expired"),
    ],
)
def test_a_code_that_cannot_be_used_lets_nobody_in(
    stage: Stage, values: dict[str, object], key: str
) -> None:
    proposed(stage)
    stranger = ChatId(900)
    outcome = stage.starts(invitation(stage, **values), chat=stranger)
    assert stage.heard(stranger) == [key]
    assert outcome.facts == ()


# --- inviting


def invited(stage: Stage) -> list[PersonInvited]:
    return [fact for fact in stage.facts if isinstance(fact, PersonInvited)]


@pytest.mark.parametrize("how", ["command", "button", "at once"])
def test_a_patient_sees_what_a_carer_would_see_before_they_invite(stage: Stage, how: str) -> None:
    if how == "at once":
        stage.says("/invite Robin")
    else:
        if how == "command":
            stage.says("/invite")
        else:
            stage.says("/family")
            stage.taps("button.invite_carer")
        assert stage.heard()[-1] == "invite.ask_name"
        stage.says("Robin")
    assert "consent.sees.carer" in stage.heard()
    assert invited(stage) == []


@pytest.mark.parametrize(
    ("label", "everything"), [("button.consent_yes", True), ("button.consent_alarms", False)]
)
def test_agreeing_makes_the_invitation_with_what_may_be_told(
    stage: Stage, label: str, everything: bool
) -> None:
    stage.says("/invite Robin")
    stage.taps(label)
    (made,) = invited(stage)
    assert (made.name, made.role, made.patient) == ("Robin", Role.CARER, stage.patient.id)
    assert (made.told_missed, made.told_week) == (everything, everything)
    assert made.expires - stage.now == timedelta(days=7)
    assert made.code in str(stage.values("invite.made")["link"])


def test_not_agreeing_makes_no_invitation(stage: Stage) -> None:
    stage.says("/invite Robin")
    stage.taps("button.consent_no")
    assert invited(stage) == []


def test_cancelling_an_invitation_leaves_the_next_text_alone(stage: Stage) -> None:
    stage.says("/invite")
    stage.taps("button.cancel")
    stage.says("Robin")
    assert invited(stage) == []


@pytest.mark.parametrize("text", ["142/91", "undo", "142", "chest pain", "took my tablet"])
def test_what_says_something_else_is_no_name(stage: Stage, text: str) -> None:
    stage.says("/invite")
    stage.take_sent()
    stage.says(text)
    assert "invite.ask_consent" not in stage.heard()


def test_a_severe_number_is_no_name(stage: Stage) -> None:
    stage.says("/invite")
    stage.says("192 over ?")
    assert "severe.ask" in stage.heard()


# --- what contacts see


def test_a_withdrawn_contact_gets_no_picture_no_report_and_no_plan(stage: Stage) -> None:
    stage.presses(Do.CONSENT_WITHDRAW, CARER)
    stage.presses(Do.CONSENT_WITHDRAW, DOCTOR)
    stage.take_sent()
    for text in ("/week", "/report", "/plan", "142/91"):
        stage.says(text, chat=DOCTOR_CHAT)
        stage.says(text, chat=CARER_CHAT)
    for do in (Do.PATIENT_WEEK, Do.PATIENT_REPORT, Do.PATIENT_PLAN, Do.SEE_TO_IT):
        stage.presses(do, chat=DOCTOR_CHAT)
        stage.presses(do, chat=CARER_CHAT)
    assert all(out.attachment is None for out in stage.sent)
    assert set(stage.heard(CARER_CHAT)) == {"contact.wait"}
    assert set(stage.heard(DOCTOR_CHAT)) == {"contact.wait"}


def test_the_weekly_picture_goes_to_those_who_may_see_it(stage: Stage) -> None:
    stage.presses(Do.CONSENT_ALARMS, CARER)
    stage.presses(Do.RESUME)
    stage.take_sent()
    stage.passes(until=datetime(2026, 3, 15, 20, 46, tzinfo=UTC))
    pictures = [out for out in stage.sent if isinstance(out.attachment, WeekPicture)]
    assert {out.chat for out in pictures} == {PATIENT_CHAT, DOCTOR_CHAT}
    assert {str(out.attachment.first_day) for out in pictures} == {"2026-03-09"}  # type: ignore[union-attr]


def test_a_carer_may_not_change_the_plan(stage: Stage) -> None:
    stage.presses(Do.PATIENT_PLAN, "twice-a-year", chat=CARER_CHAT)
    assert stage.patient.state.plan is None
    assert stage.heard(CARER_CHAT) == ["old_button"]


@pytest.mark.parametrize(("told_week", "key"), [(True, "practitioner"), (False, "alarms")])
def test_who_is_told_of_alarms_alone_is_promised_nothing_else(
    stage: Stage, told_week: bool, key: str
) -> None:
    doctor = stage.patient.contact(DOCTOR)
    assert doctor is not None
    rest = tuple(one for one in stage.patient.contacts if one is not doctor)
    changed = replace(doctor, told_week=told_week)
    stage.patient = replace(stage.patient, contacts=(*rest, changed))
    stage.says("hello", chat=DOCTOR_CHAT)
    assert stage.heard(DOCTOR_CHAT) == [f"contact.help.{key}"]
