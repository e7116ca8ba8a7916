"""`cuffbell invite`: exactly what it prints, what it stores, how it refuses."""

from __future__ import annotations

import re
from typing import Any

import pytest

from storage.engine import open_database

CODE = re.compile(r"[A-Za-z0-9_-]{8,64}")


def test_an_invitation_is_the_code_and_the_link_and_nothing_else(
    host: Any,
) -> None:
    words = ("--role", "patient", "--name", "Hollis", "--zone", "Europe/Lisbon")
    times = ("--medicine-at", "08:00", "--medicine-at", "20:00")
    status, out, err = host.run("invite", *words, *times)

    code, link, end = out.split("\n")
    assert (status, err, end) == (0, "", "")
    assert CODE.fullmatch(code)
    assert re.fullmatch(rf"https://t\.me/\w+\?start={code}", link)


def test_the_link_holds_the_bots_name_once_it_is_known(host: Any) -> None:
    opened = open_database(host.url)
    with opened.work() as work:
        work.set_bot(7000, "cuffbell_bell_bot")
    opened.dispose()

    _, out, _ = host.run("invite", "--role", "patient")

    assert "https://t.me/cuffbell_bell_bot?start=" in out


def test_what_an_invitation_says_is_stored_with_the_person(host: Any) -> None:
    words = ("--name", "Hollis", "--zone", "Europe/Lisbon", "--medicine-at", "20:00")
    host.invite("--role", "patient", *words, "--medicine-at", "8:00", "--plan", "regular-days")

    patient = host.patient()

    assert patient is not None
    profile = patient.state.profile
    assert patient.name == "Hollis"
    assert (profile.zone, profile.country) == ("Europe/Lisbon", "PT")
    assert [f"{at:%H:%M}" for at in profile.medicine_times or ()] == ["08:00", "20:00"]
    assert patient.state.wanted_plan == "regular-days"


def test_the_number_for_nights_may_come_with_the_invitation(host: Any) -> None:
    host.invite("--role", "patient", "--out-of-hours", "Night clinic, 116 117")

    patient = host.patient()

    assert patient is not None
    known = patient.state.profile.out_of_hours
    assert (known.name, known.number) == ("Night clinic", "116 117")


def test_a_practitioners_target_and_rule_may_come_with_the_invitation(host: Any) -> None:
    host.invite("--role", "patient", "--target", "130/80", "--rule", "nice")

    patient = host.patient()

    assert patient is not None
    assert (patient.state.profile.target, patient.state.rule) == ((130, 80), "nice")


@pytest.mark.parametrize(
    "target", ["119/80", "130/69", "160/80", "130", "130/", "a/b", "130/80/70"]
)
def test_a_target_that_is_unsafe_or_none_at_all_is_refused(host: Any, target: str) -> None:
    status, out, err = host.run("invite", "--role", "patient", "--target", target)

    assert (status, out) == (2, "")
    assert err.startswith("cuffbell")
    assert "--target" in err


@pytest.mark.parametrize("option", [("--target", "130/80"), ("--rule", "nice")])
def test_a_target_and_a_rule_are_a_patients(host: Any, option: tuple[str, str]) -> None:
    assert host.run("invite", "--role", "carer", *option)[0] == 2


@pytest.mark.parametrize(
    ("role", "option"), [("carer", "--carer-of"), ("practitioner", "--practitioner-of")]
)
def test_a_contact_is_proposed_to_a_patient_by_code_or_by_id(
    host: Any, role: str, option: str
) -> None:
    code = host.invite("--role", "patient", "--name", "Hollis")

    host.invite("--role", role, "--name", "first", option, code)
    host.invite("--role", role, "--name", "second", option, host.patient_id())

    patient = host.patient()
    assert patient is not None
    assert [(c.name, c.role, c.consent) for c in patient.contacts] == [
        ("first", role, "proposed"),
        ("second", role, "proposed"),
    ]


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("--role", "patient", "--zone", "Mars/Olympus"), "--zone"),
        (("--role", "patient", "--zone", "../etc/passwd"), "--zone"),
        (("--role", "patient", "--zone", ""), "--zone"),
        (("--role", "patient", "--medicine-at", "24:00"), "--medicine-at"),
        (("--role", "patient", "--medicine-at", "8"), "--medicine-at"),
        (("--role", "patient", "--medicine-at", "8:5"), "--medicine-at"),
        (("--role", "patient", "--medicine-at", "morning"), "--medicine-at"),
        (("--role", "patient", "--name", "n" * 61), "--name"),
        (("--role", "carer", "--medicine-at", "08:00"), "--medicine-at"),
        (("--role", "patient", "--out-of-hours", "the clinic"), "--out-of-hours"),
        (("--role", "patient", "--out-of-hours", "n" * 60 + " 116 117"), "--out-of-hours"),
        (("--role", "carer", "--out-of-hours", "116 117"), "--out-of-hours"),
        (("--role", "carer", "--plan", "first-week"), "--plan"),
        (("--role", "patient", "--carer-of", "x"), "--carer-of"),
        (("--role", "carer", "--practitioner-of", "x"), "--practitioner-of"),
        (("--role", "carer", "--carer-of", "unknown"), "invitation code"),
    ],
)
def test_a_senseless_invitation_gets_status_two_and_one_line_that_says_why(
    host: Any, words: tuple[str, ...], named: str
) -> None:
    status, out, err = host.run("invite", *words)

    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert named in err


def test_a_refused_invitation_leaves_nobody_behind(host: Any) -> None:
    host.run("invite", "--role", "carer", "--carer-of", "unknown")

    opened = open_database(host.url)
    with opened.reading() as connection:
        people = connection.exec_driver_sql("SELECT count(*) FROM persons").scalar()
    opened.dispose()
    assert people == 0
