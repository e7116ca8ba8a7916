"""`/patients` through the real desk: what to do about whom, only of those who agreed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text

from domain.outcome import ContactChanged, Noted, Outcome
from domain.people import Alarm, AlarmStage, ChatId, Consent, Note, NoteKind, Role
from storage import Invite
from tests.bot.desk.conftest import START, Office

DOCTOR = ChatId(1009)


def with_doctor(office: Office, said: Consent, *, everything: bool = True) -> Office:
    """Hollis has an open alarm, and said this to a practitioner."""
    hollis = office.patient().id
    code = office.invite(Role.PRACTITIONER, "Dr. Okafor-Lindqvist", practitioner_of=hollis)
    office.say(DOCTOR, f"/start {code}")
    with office.database.work() as work:
        before = work.patient(hollis)
        assert before is not None
        (contact,) = [c for c in before.contacts if c.role is Role.PRACTITIONER]
        alarm = Alarm(stage=AlarmStage.ASKED, opened=START)
        after = replace(before, state=replace(before.state, alarm=alarm))
        told_week = everything and said is Consent.AGREED
        changed = ContactChanged(contact=replace(contact, consent=said, told_week=told_week))
        work.store(before, Outcome(patient=after, facts=(changed,)))
    return office


def test_a_practitioner_reads_what_to_do(with_hollis: Office) -> None:
    office = with_doctor(with_hollis, Consent.AGREED)

    office.say(DOCTOR, "/patients")

    said = office.told(DOCTOR)[-1]
    assert "Your patients here" in said
    assert "Phone (1)" in said
    assert "Hollis: an alarm is open" in said


@pytest.mark.parametrize(
    ("consent", "shown"),
    [
        (Consent.PROPOSED, "Hollis: has not agreed yet"),
        (Consent.REFUSED, "Hollis: did not agree"),
        (Consent.WITHDRAWN, "Hollis: has ended it"),
    ],
)
def test_nothing_is_told_of_who_has_not_agreed(
    with_hollis: Office, consent: Consent, shown: str
) -> None:
    office = with_doctor(with_hollis, consent)

    office.say(DOCTOR, "/patients")

    said = office.told(DOCTOR)[-1]
    assert "Phone" not in said
    assert "alarm" not in said
    assert shown in said


def test_of_who_agreed_to_alarms_only_an_alarm_is_told_and_nothing_else(
    with_hollis: Office,
) -> None:
    office = with_doctor(with_hollis, Consent.AGREED, everything=False)
    office.say(DOCTOR, "/patients")
    assert "Hollis: an alarm is open" in office.told(DOCTOR)[-1]
    assert not office.labels(DOCTOR)

    hollis = office.patient()
    with office.database.work() as work:
        before = work.patient(hollis.id)
        assert before is not None
        after = replace(before, state=replace(before.state, alarm=None))
        work.store(before, Outcome(patient=after))
    office.say(DOCTOR, "/patients")

    assert "Hollis: you are told of alarms only" in office.told(DOCTOR)[-1]
    assert not office.labels(DOCTOR)


def test_the_patients_own_chat_is_told_nothing_of_a_list(with_hollis: Office) -> None:
    with_doctor(with_hollis, Consent.AGREED)
    with_hollis.clock.at += timedelta(minutes=1)

    with_hollis.say(with_hollis.patient().chat or DOCTOR, "/patients")

    assert "Phone (" not in " ".join(with_hollis.told(with_hollis.patient().chat or DOCTOR))


# --- the daily list


def looks(office: Office) -> Office:
    """The doctor has asked for /hours, so that the list is due."""
    office.say(DOCTOR, "/hours 8:00")
    return office


def test_the_daily_list_comes_once_at_its_hour_and_again_the_next_day(with_hollis: Office) -> None:
    office = looks(with_doctor(with_hollis, Consent.AGREED))
    for day in (1, 2):
        office.clock.at = START.replace(hour=8, minute=1) + timedelta(days=day)
        assert office.desk.fire_due() > 0
        while office.desk.fire_due():
            pass
        lists = [said for said in office.told(DOCTOR) if "Your patients today" in said]
        assert len(lists) == day
        assert "Hollis: an alarm is open" in lists[-1]


def test_the_daily_list_names_nobody_who_has_not_agreed(with_hollis: Office) -> None:
    office = looks(with_doctor(with_hollis, Consent.WITHDRAWN))
    office.clock.at = START + timedelta(days=1, hours=1)
    while office.desk.fire_due():
        pass
    assert not [said for said in office.told(DOCTOR) if "Hollis: " in said]


def test_hours_are_kept_and_shown(with_hollis: Office) -> None:
    office = with_doctor(with_hollis, Consent.AGREED)
    office.say(DOCTOR, "/hours 9-17")
    office.say(DOCTOR, "/hours 12")
    said = office.told(DOCTOR)[-1]
    assert "daily at 12:00" in said
    assert "between 09:00 and 17:00" in said
    (contact,) = office.patient().contacts
    assert contact.duty is not None
    assert contact.duty.live is not None


def test_what_happened_of_late_is_told_below_the_line(with_hollis: Office) -> None:
    office = with_doctor(with_hollis, Consent.AGREED)
    hollis = office.patient()
    notes = (
        Note(kind=NoteKind.ALARM_ENDED, at=START - timedelta(hours=20), code="helped"),
        Note(kind=NoteKind.FINDING, at=START - timedelta(hours=2), code="very_fast", text="128"),
        Note(kind=NoteKind.FINDING, at=START - timedelta(days=4), code="rising"),
    )
    with office.database.work() as work:
        before = work.patient(hollis.id)
        assert before is not None
        after = replace(before, state=replace(before.state, alarm=None))
        work.store(before, Outcome(patient=after, facts=tuple(Noted(note=n) for n in notes)))

    office.say(DOCTOR, "/patients")

    said = office.told(DOCTOR)[-1]
    assert "an alarm within the last 3 days, now over" in said
    assert "the person was being looked after" in said
    assert "very fast pulse (128)" in said
    assert "rising" not in said


def test_a_doctor_who_is_a_patient_too_gets_the_daily_list(with_hollis: Office) -> None:
    office = with_doctor(with_hollis, Consent.AGREED)
    office.say(DOCTOR, f"/start {office.invite(Role.PATIENT, 'Ottoline', zone='Europe/Lisbon')}")
    looks(office)
    office.clock.at = START.replace(hour=8, minute=1) + timedelta(days=1)
    while office.desk.fire_due():
        pass
    assert [said for said in office.told(DOCTOR) if "Your patients today" in said]


def test_a_timer_of_somebody_without_a_chat_holds_nobody_up(with_hollis: Office) -> None:
    office = with_hollis
    with office.database.work() as work:
        person = work.invite(Invite(role=Role.PRACTITIONER, name="Dr. Lind"))
        assert person
    with office.database.writing() as connection:
        connection.execute(
            text(
                "INSERT INTO timers (person, key, due, attempts) "
                "SELECT id, 'look', :due, 0 FROM persons WHERE name = 'Dr. Lind'"
            ),
            {"due": START - timedelta(days=1)},
        )
    while office.desk.fire_due():
        pass
    assert "look" not in office.rows("key", "timers")
