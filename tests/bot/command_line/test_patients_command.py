"""`cuffbell patients`: the list for whoever runs the bot."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from domain.outcome import ContactChanged, Fact, Outcome, PersonJoined, ReadingKept
from domain.people import ChatId, Consent, MessageRef, PersonId
from domain.plans import Plan, PlanKind
from domain.readings import Mmhg, Reading
from storage.engine import open_database


def joined_with_a_week(host: Any, *, systolic: int) -> PersonId:
    """Hollis, who measured twice every morning and evening of the last week."""
    host.invite("--role", "patient", "--name", "Hollis", "--zone", "Europe/Lisbon")
    person: PersonId = host.patient_id()
    now = datetime.now(UTC)
    database = open_database(host.url)
    with database.work() as work:
        before = work.patient(person)
        assert before is not None
        plan = Plan(kind=PlanKind.REGULAR_DAYS, first_day=now.date())
        after = replace(before, state=replace(before.state, joined_at=now, plan=plan))
        facts: list[Fact] = [PersonJoined(person=person, chat=ChatId(5), language="en")]
        facts += [
            _kept(systolic, now - timedelta(days=day, hours=hour, seconds=20 * second))
            for day in range(1, 8)
            for hour in (0, 8)
            for second in (0, 1)
        ]
        work.store(before, Outcome(patient=after, facts=tuple(facts)))
    database.dispose()
    return person


def _kept(systolic: int, at: datetime) -> ReadingKept:
    return ReadingKept(
        reading=Reading(systolic=Mmhg(systolic), diastolic=Mmhg(81), at=at),
        made_by=MessageRef(chat=ChatId(5), message=1),
        text=f"{systolic}/81",
        written_at=at,
    )


def test_the_table_says_what_to_do_why_and_what_to_say(host: Any) -> None:
    joined_with_a_week(host, systolic=142)

    status, out, err = host.run("patients")

    assert (status, err) == (0, "")
    head, _, group, first, say = out.splitlines()
    assert head.split() == ["average", "readings", "last", "who", "and", "why"]
    assert group == "Decide (1)"
    assert first.startswith("142/81 ")
    assert "Hollis: average 142/81, target below 135/85" in first
    assert "20 seconds after the first" in say


def test_json_is_one_object_a_patient(host: Any) -> None:
    person = joined_with_a_week(host, systolic=142)

    status, out, _ = host.run("patients", "--json")

    (line,) = out.splitlines()
    found = json.loads(line)
    assert status == 0
    assert found["patient"] == person
    assert (found["action"], found["reason"], found["enough"]) == ("decide", "above_target", True)
    assert found["target"] == [135, 85]
    assert found["average"]["systolic"] == 142.0
    assert found["average"]["rule"] == "esh"
    assert (found["causes"], found["pause_seconds"]) == (["no_full_minute"], 20)
    assert found["lacks"] == []


def test_the_rule_decides_what_is_enough(host: Any) -> None:
    joined_with_a_week(host, systolic=120)

    _, out, _ = host.run("patients", "--json", "--rule", "all")

    found = json.loads(out)
    assert (found["average"]["rule"], found["average"]["readings"]) == ("all", 28)


def test_only_who_agreed_to_the_practitioner_is_shown(host: Any) -> None:
    person = joined_with_a_week(host, systolic=142)
    name = "Dr. Okafor-Lindqvist"
    host.invite("--role", "practitioner", "--name", name, "--practitioner-of", person)
    before = host.run("patients", "--practitioner", name)
    database = open_database(host.url)
    with database.work() as work:
        patient = work.patient(person)
        assert patient is not None
        agreed = replace(patient.contacts[0], consent=Consent.AGREED, told_week=True)
        work.store(patient, Outcome(facts=(ContactChanged(contact=agreed),)))
    database.dispose()

    after = host.run("patients", "--practitioner", name, "--json")

    assert before == (0, "No patients.\n", "")
    assert json.loads(after[1])["name"] == "Hollis"


def test_nobody_is_an_empty_list(host: Any) -> None:
    assert host.run("patients") == (0, "No patients.\n", "")
    assert host.run("patients", "--json") == (0, "", "")


@pytest.mark.parametrize("words", [("--rule", "nobodys"), ("--practitioner", "Hollis")])
def test_an_unknown_rule_or_practitioner_gets_one_line(host: Any, words: tuple[str, ...]) -> None:
    host.invite("--role", "patient", "--name", "Hollis")

    status, out, err = host.run("patients", *words)

    assert (status, out) == (2, "")
    assert err.count("\n") == 1
