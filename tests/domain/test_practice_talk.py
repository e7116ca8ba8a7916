"""What a practitioner reads in the chat about many patients."""

from __future__ import annotations

from datetime import UTC, date, datetime
from fractions import Fraction
from typing import Any

import pytest

from bot.wording.catalogue import languages, wording
from domain.averaging import Lack, Least
from domain.conversation import respond
from domain.events import Actor, Do, Said, Situation
from domain.messages import Line
from domain.outcome import Outcome
from domain.people import ChatId, Consent, MessageRef, PersonId, Role, Tie
from domain.practice_list import ACTIONS, Action, Entry, ListedAverage, Reason
from domain.record_quality import Cause
from domain.shown import Pair
from domain.talk.practice_talk import MOST_LISTED, reason_line, sentence_to_say, told

CHAT = ChatId(1003)
NOW = datetime(2026, 6, 10, 12, tzinfo=UTC)
AVERAGE = ListedAverage(
    systolic=Fraction(1425, 10),
    diastolic=Fraction(881, 10),
    shown=Pair(143, 88),
    readings=24,
    days=6,
    last_day=date(2026, 6, 9),
    rule="esh",
)
FEW = (Lack(Least.DAYS, 3, 2), Lack(Least.READINGS, 12, 4))


def entry(name: str, reason: Reason, **facts: Any) -> Entry:
    known: dict[str, Any] = {
        "patient": PersonId(name.lower()),
        "name": name,
        "action": ACTIONS[reason],
        "reason": reason,
        "target": Pair(135, 85),
        "average": AVERAGE,
        "lacks": FEW,
        "last_day": date(2026, 6, 9),
        "silent": 4,
        "asked": 14,
        "done": 5,
        "next_day": None,
        "worst": None,
        "causes": (),
        "pause": None,
        "until": date(2026, 7, 1),
    }
    return Entry(**(known | facts))


def plain(said: Line | None, language: str = "en") -> str:
    assert said is not None
    return wording(language).plain(said)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("reason", list(Reason))
def test_every_reason_is_said_with_its_numbers(reason: Reason, language: str) -> None:
    worst = Pair(192, 114) if ACTIONS[reason] is Action.PHONE else None

    said = plain(reason_line(entry("Hollis", reason, worst=worst)), language)

    assert said.startswith("Hollis:")
    assert "{" not in said


def test_the_reason_names_the_numbers_that_it_rests_on() -> None:
    above = plain(reason_line(entry("Hollis", Reason.ABOVE_TARGET, lacks=())))
    severe = plain(reason_line(entry("Hollis", Reason.SEVERE_LATELY, worst=Pair(192, 114))))
    few = plain(reason_line(entry("Hollis", Reason.TOO_FEW)))
    none = plain(reason_line(entry("Hollis", Reason.AS_ASKED, average=None)))

    assert above == (
        "Hollis: average 143/88, target below 135/85; 24 readings, the last week to 9 Jun"
    )
    assert severe == "Hollis: 192/114 within the last 3 days"
    assert few == "Hollis: too few readings to decide on (2 of 3 days)"
    assert none == "Hollis: measures as asked"


@pytest.mark.parametrize(
    ("reason", "causes", "said"),
    [
        (Reason.POOR_DATA, (Cause.NO_FULL_MINUTE,), "20 seconds after the first"),
        (Reason.ABOVE_TARGET, (Cause.NUMBERS_ROUNDED,), "end in 0"),
        (Reason.TOO_FEW, (Cause.SECOND_LEFT_OUT,), "measure twice each time"),
        (Reason.SILENT, (), "Does the monitor work"),
        (Reason.ABOVE_TOO_FEW, (), "for one week"),
    ],
)
def test_the_likely_cause_comes_with_a_sentence_to_say(
    reason: Reason, causes: tuple[Cause, ...], said: str
) -> None:
    found = sentence_to_say(entry("Hollis", reason, causes=causes, pause=20))

    assert said in plain(found)


@pytest.mark.parametrize("reason", [Reason.ALARM_OPEN, Reason.AT_TARGET, Reason.NOT_JOINED])
def test_where_nothing_helps_nothing_is_put_into_the_mouth(reason: Reason) -> None:
    causes = () if reason is Reason.NOT_JOINED else (Cause.NUMBERS_ROUNDED,)

    assert sentence_to_say(entry("Hollis", reason, causes=causes)) is None


def test_no_message_names_more_than_it_can_and_says_how_many_are_left_out() -> None:
    entries = [entry(f"Kit {n}", Reason.ABOVE_TARGET) for n in range(20)]
    entries += [entry(f"Robin {n}", Reason.AT_TARGET) for n in range(20)]

    lines, shown = told(entries)

    assert len(shown) == MOST_LISTED
    assert plain(lines[0]) == "Decide (20)"
    assert plain(lines[21]) == "Nothing to do now (20)"
    assert plain(lines[-1]) == "And 15 more."


def test_a_list_that_fits_says_nothing_of_more() -> None:
    lines, _ = told([entry(f"Kit {n}", Reason.AT_TARGET) for n in range(MOST_LISTED)])

    assert len(lines) == 1 + MOST_LISTED


# --- in the chat


def tie(name: str, role: Role = Role.PRACTITIONER, consent: Consent = Consent.AGREED) -> Tie:
    return Tie(
        patient=PersonId(name.lower()),
        patient_name=name,
        role=role,
        person=PersonId("doctor"),
        person_name="Dr. Okafor-Lindqvist",
        consent=consent,
    )


def patients(ties: tuple[Tie, ...], *listed: Entry) -> Outcome:
    message = MessageRef(chat=CHAT, message=1)
    said = Said(text="/patients", message=message, written_at=NOW)
    situation = Situation(actor=Actor(chat=CHAT), ties=ties, listed=listed)
    return respond(situation, said, NOW)


def keys(outcome: Outcome) -> list[str]:
    return [said.key for out in outcome.outgoing for said in out.lines]


def test_the_groups_come_first_and_then_who_has_not_agreed_or_is_cared_for() -> None:
    outcome = patients(
        (
            tie("Hollis"),
            tie("Tamsin"),
            tie("Kit", consent=Consent.PROPOSED),
            tie("Robin", Role.CARER),
        ),
        entry("Tamsin", Reason.ALARM_OPEN),
        entry("Hollis", Reason.AT_TARGET),
    )

    assert keys(outcome) == [
        "patients.title",
        *("patients.group.phone", "patients.reason.alarm_open"),
        *("patients.group.leave_alone", "patients.reason.at_target"),
        *("patients.proposed", "patients.following"),
    ]
    rows = [row for out in outcome.outgoing for row in out.buttons]
    assert [row[0].action.about for row in rows] == ["tamsin", "hollis", "robin"]
    assert [len(row) for row in rows] == [3, 3, 2]
    assert rows[0][0].action.do is Do.PATIENT_WEEK


@pytest.mark.parametrize("consent", [Consent.PROPOSED, Consent.REFUSED, Consent.WITHDRAWN])
def test_nothing_is_told_of_who_has_not_agreed_even_if_it_were_listed(consent: Consent) -> None:
    ties = (tie("Hollis"), tie("Kit", consent=consent))

    outcome = patients(ties, entry("Kit", Reason.ALARM_OPEN), entry("Hollis", Reason.AT_TARGET))

    assert keys(outcome) == [
        "patients.title",
        *("patients.group.leave_alone", "patients.reason.at_target"),
        f"patients.{consent}",
    ]
