"""`/patients` through the real desk: what to do about whom, only of those who agreed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from domain.outcome import ContactChanged, Outcome
from domain.people import Alarm, AlarmStage, ChatId, Consent, Role
from tests.bot.desk.conftest import START, Office

DOCTOR = ChatId(1009)


def with_doctor(office: Office, said: Consent) -> Office:
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
        changed = ContactChanged(contact=replace(contact, consent=said))
        work.store(before, Outcome(patient=after, facts=(changed,)))
    return office


def test_a_practitioner_reads_what_to_do(with_hollis: Office) -> None:
    office = with_doctor(with_hollis, Consent.AGREED)

    office.say(DOCTOR, "/patients")

    said = office.told(DOCTOR)[-1]
    assert "Your patients here" in said
    assert "Phone (1)" in said
    assert "Hollis: an alarm is open" in said


@pytest.mark.parametrize("consent", [Consent.PROPOSED, Consent.REFUSED, Consent.WITHDRAWN])
def test_nothing_is_told_of_who_has_not_agreed(with_hollis: Office, consent: Consent) -> None:
    office = with_doctor(with_hollis, consent)

    office.say(DOCTOR, "/patients")

    said = office.told(DOCTOR)[-1]
    assert "Phone" not in said
    assert "alarm" not in said
    assert "has not agreed yet" in said


def test_the_patients_own_chat_is_told_nothing_of_a_list(with_hollis: Office) -> None:
    with_doctor(with_hollis, Consent.AGREED)
    with_hollis.clock.at += timedelta(minutes=1)

    with_hollis.say(with_hollis.patient().chat or DOCTOR, "/patients")

    assert "Phone (" not in " ".join(with_hollis.told(with_hollis.patient().chat or DOCTOR))
