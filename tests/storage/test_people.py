"""Persons, links and invitations: who a chat may be about, and what a code does."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
from sqlalchemy import text

from domain.outcome import ContactChanged, LanguageChosen, Outcome, PersonInvited
from domain.people import ChatId, Consent, PersonId, Profile, Role, State, Tie
from domain.plans import PlanKind
from domain.talk.scheduling import CONTACTS
from storage import Database, Invite, UnknownPersonError, listed_patients
from storage.timers import timers_of
from tests.storage.conftest import HOLLIS_CHAT, HOUSE, START, WREN_CHAT, Clock, Town


def test_an_invitation_says_what_is_not_asked_again(town: Town) -> None:
    code = town.invite(
        Role.PATIENT,
        "Hollis",
        zone="Europe/Lisbon",
        country="PT",
        medicine_times=(time(8), time(20)),
        plan=PlanKind.FIRST_WEEK,
    )

    patient = town.patient(town.person(code))

    assert patient.name == "Hollis"
    assert patient.chat is None
    assert patient.state == State(
        profile=Profile(zone="Europe/Lisbon", country="PT", medicine_times=(time(8), time(20))),
        wanted_plan=PlanKind.FIRST_WEEK,
    )


def test_a_code_is_kept_as_a_hash_only(database: Database, town: Town) -> None:
    code = town.invite(Role.PATIENT, "Hollis")

    with database.reading() as connection:
        rows = connection.execute(text("SELECT * FROM invitations")).all()

    assert len(rows) == 1
    assert code not in repr(rows)


def test_codes_are_hard_to_guess_and_fit_into_a_deep_link(town: Town) -> None:
    codes = {town.invite(Role.PATIENT, f"Person {number}") for number in range(20)}

    assert len(codes) == 20
    assert all(len(code) >= 20 and code.isalnum() and code.isascii() for code in codes)


def test_an_unknown_code_is_no_invitation(database: Database) -> None:
    with database.work() as work:
        assert work.invitation("no-such-code") is None


def test_a_code_works_once_and_says_when_it_was_used(database: Database, town: Town) -> None:
    code = town.invite(Role.PATIENT, "Hollis")
    with database.work() as work:
        before = work.invitation(code)

    town.join(code, HOLLIS_CHAT)

    with database.work() as work:
        after = work.invitation(code)
    assert before is not None
    assert after == replace(before, used=True)
    assert before.expires == START + timedelta(days=7)


def test_a_chat_is_about_the_patient_who_joined_in_it(town: Town) -> None:
    hollis = town.hollis()

    with town.database.work() as work:
        ties = work.ties(HOLLIS_CHAT)

    assert ties == (
        Tie(
            patient=hollis,
            patient_name="Hollis",
            role=Role.PATIENT,
            person=hollis,
            person_name="Hollis",
        ),
    )
    assert town.patient(hollis).chat == HOLLIS_CHAT


def test_a_strangers_chat_is_about_nobody(town: Town) -> None:
    town.hollis()

    with town.database.work() as work:
        assert work.ties(ChatId(99)) == ()


@pytest.mark.parametrize("used", [False, True])
def test_a_carer_can_be_proposed_by_a_code_used_or_not(town: Town, used: bool) -> None:
    code = town.invite(Role.PATIENT, "Hollis")
    hollis = town.join(code, HOLLIS_CHAT) if used else town.person(code)

    wren = town.join(town.invite(Role.CARER, "Wren", carer_of=code), WREN_CHAT)

    (contact,) = town.patient(hollis).contacts
    assert contact.person == wren
    assert contact.consent is Consent.PROPOSED
    assert contact.chat == WREN_CHAT
    assert not contact.may_be_told


def test_a_carer_can_be_proposed_by_the_patients_id(town: Town) -> None:
    hollis = town.hollis()

    town.invite(Role.CARER, "Wren", carer_of=hollis)

    assert [contact.name for contact in town.patient(hollis).contacts] == ["Wren"]


def test_a_proposal_to_somebody_who_has_joined_is_shown_at_once(town: Town) -> None:
    hollis = town.hollis()

    town.invite(Role.CARER, "Wren", carer_of=hollis)

    with town.database.reading() as connection:
        (timer,) = timers_of(connection, hollis)
    assert (timer.key, timer.due) == (CONTACTS, START)


def test_a_proposal_to_somebody_who_is_still_to_join_waits(town: Town) -> None:
    code = town.invite(Role.PATIENT, "Hollis")

    town.invite(Role.CARER, "Wren", carer_of=code)

    with town.database.reading() as connection:
        assert timers_of(connection, town.person(code)) == ()


def test_a_carer_of_nobody_is_refused_and_leaves_nothing(town: Town) -> None:
    with pytest.raises(UnknownPersonError), town.database.work() as work:
        work.invite(Invite(role=Role.CARER, name="Wren", carer_of="nobody"))

    with town.database.reading() as connection:
        assert connection.execute(text("SELECT count(*) FROM persons")).scalar_one() == 0


def test_a_carer_is_no_patient_to_be_a_carer_of(town: Town) -> None:
    hollis = town.hollis()
    wrens_code = town.invite(Role.CARER, "Wren", carer_of=hollis)

    with pytest.raises(UnknownPersonError):
        town.invite(Role.CARER, "Robin", carer_of=wrens_code)


def test_contacts_are_called_in_the_order_in_which_they_were_linked(town: Town) -> None:
    hollis = town.hollis()
    for name in ("Wren", "Robin", "Alder"):
        town.invite(Role.CARER, name, carer_of=hollis)

    names = [contact.name for contact in town.patient(hollis).contacts]

    assert names == ["Wren", "Robin", "Alder"]


def test_what_the_patient_said_to_a_link_comes_back(town: Town) -> None:
    hollis = town.hollis()
    town.join(town.invite(Role.CARER, "Wren", carer_of=hollis), WREN_CHAT)
    (contact,) = town.patient(hollis).contacts
    agreed = replace(
        contact,
        consent=Consent.AGREED,
        told_missed=True,
        told_week=True,
        asked=True,
        reachable=False,
    )

    town.store(hollis, ContactChanged(contact=agreed))

    assert town.patient(hollis).contacts == (agreed,)
    with town.database.work() as work:
        (tie,) = work.ties(WREN_CHAT)
    assert (tie.patient, tie.role, tie.consent) == (hollis, Role.CARER, Consent.AGREED)


def test_an_invitation_from_the_chat_brings_its_link(town: Town) -> None:
    hollis = town.hollis()
    fact = PersonInvited(
        person=PersonId("wren"),
        name="Wren",
        role=Role.CARER,
        code="a-code-from-the-chat",
        expires=START + timedelta(days=7),
        patient=hollis,
        consent=Consent.AGREED,
        told_missed=True,
        told_week=True,
        zone="America/Halifax",
    )

    town.store(hollis, fact)

    (contact,) = town.patient(hollis).contacts
    assert contact.consent is Consent.AGREED
    assert (contact.told_missed, contact.told_week) == (True, True)
    assert contact.zone == "America/Halifax"
    with town.database.work() as work:
        invitation = work.invitation("a-code-from-the-chat")
    assert invitation is not None
    assert (invitation.patient, invitation.patient_name) == (hollis, "Hollis")


def test_a_patient_whom_a_practitioner_invites_is_linked_as_a_proposal(town: Town) -> None:
    doctor = town.join(town.invite(Role.PRACTITIONER, "Dr. Okafor-Lindqvist"), HOUSE)
    fact = PersonInvited(
        person=PersonId("tamsin"),
        name="Tamsin",
        role=Role.PATIENT,
        code="tamsins-code",
        expires=START + timedelta(days=7),
        practitioner=doctor,
        zone="Asia/Kolkata",
    )
    with town.database.work() as work:
        work.store(None, Outcome(facts=(fact,)))

    (contact,) = town.patient(PersonId("tamsin")).contacts
    assert (contact.person, contact.role) == (doctor, Role.PRACTITIONER)
    assert contact.consent is Consent.PROPOSED


def test_a_practitioner_without_patients_is_known_as_one(town: Town) -> None:
    doctor = town.join(town.invite(Role.PRACTITIONER, "Dr. Okafor-Lindqvist"), HOUSE)

    with town.database.work() as work:
        (tie,) = work.ties(HOUSE)

    assert (tie.role, tie.person, tie.patient) == (Role.PRACTITIONER, doctor, "")


def test_a_doctor_can_be_a_patient_and_a_practitioner_in_one_chat(town: Town) -> None:
    hollis = town.hollis()
    code = town.invite(Role.PRACTITIONER, "Dr. Okafor-Lindqvist", practitioner_of=hollis)
    town.join(code, HOUSE)
    own = town.join(town.invite(Role.PATIENT, "Ottoline"), HOUSE)

    with town.database.work() as work:
        ties = work.ties(HOUSE)

    assert [(tie.role, tie.patient) for tie in ties] == [
        (Role.PATIENT, own),
        (Role.PRACTITIONER, hollis),
    ]


def test_two_patients_in_one_chat_are_named_in_it(town: Town) -> None:
    hollis = town.hollis()
    assert not town.patient(hollis).shares_chat

    town.join(town.invite(Role.PATIENT, "Marlow"), HOLLIS_CHAT)

    assert town.patient(hollis).shares_chat


def test_an_open_alarm_shows_in_the_ties(town: Town) -> None:
    from domain.people import Alarm, AlarmStage

    hollis = town.hollis()
    before = town.patient(hollis)
    alarm = Alarm(stage=AlarmStage.ASKED, opened=START)
    with town.database.work() as work:
        after = replace(before, state=replace(before.state, alarm=alarm))
        work.store(before, Outcome(patient=after))

    with town.database.work() as work:
        (tie,) = work.ties(HOLLIS_CHAT)
    assert tie.alarm_open


def test_the_list_of_patients_names_nobody_else(town: Town, clock: Clock) -> None:
    hollis = town.hollis()
    town.invite(Role.CARER, "Wren", carer_of=hollis)
    clock.forward(minutes=1)
    town.invite(Role.PATIENT, "Tamsin")

    with town.database.reading() as connection:
        listed = [(patient.name, patient.joined) for patient in listed_patients(connection)]

    assert listed == [("Hollis", True), ("Tamsin", False)]


def test_a_chosen_language_holds_for_everybody_who_is_reached_in_the_chat(town: Town) -> None:
    hollis = town.hollis()
    with town.database.work() as work:
        choice = LanguageChosen(chat=HOLLIS_CHAT, language="es")
        work.store(None, Outcome(facts=(choice,)))

    assert town.patient(hollis).language == "es"
    with town.database.work() as work:
        assert [tie.language for tie in work.ties(HOLLIS_CHAT)] == ["es"]
