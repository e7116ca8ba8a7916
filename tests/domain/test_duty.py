"""Practitioners are no night watch: when they look, when alarms reach them, who stands in."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from domain.conversation import respond
from domain.duty import LOOK, Deputy, Duty
from domain.events import Action, Actor, Do, Event, Pressed, Said, Situation, TimerFell
from domain.outcome import DutyChosen, NextLook, Outcome
from domain.people import (
    AlarmStage,
    ChatId,
    Consent,
    MessageRef,
    PersonId,
    Role,
    Tie,
)
from tests.domain.conftest import CARER_CHAT, DOCTOR, DOCTOR_CHAT, Stage, contact

FLAGGED = "192/114 and my chest hurts"
COLLEAGUE = PersonId("lind")
COLLEAGUE_CHAT = ChatId(400)
LISBON = ZoneInfo("Europe/Lisbon")


def on_duty(stage: Stage, duty: Duty | None) -> Stage:
    """The doctor has chosen this."""
    contacts = tuple(
        replace(c, duty=duty) if c.person == DOCTOR else c for c in stage.patient.contacts
    )
    stage.patient = replace(stage.patient, contacts=contacts)
    return stage


# --- in an alarm


@pytest.mark.parametrize("duty", [None, Duty(), Duty(looks_at=time(12))])
def test_by_default_no_alarm_reaches_a_practitioner_at_once(
    stage: Stage, duty: Duty | None
) -> None:
    on_duty(stage, duty)
    stage.says(FLAGGED)
    stage.passes(minutes=30)
    assert stage.heard(DOCTOR_CHAT) == []
    assert "contact.emergency" in stage.heard(CARER_CHAT)


def test_the_patient_sees_in_the_alarm_when_the_doctor_looks(stage: Stage) -> None:
    on_duty(stage, Duty(looks_at=time(9, 30)))
    stage.says(FLAGGED)
    said = stage.values("duty.daily")
    assert said == {"name": "Dr. Okafor-Lindqvist", "at": "09:30"}


@pytest.mark.parametrize(
    ("hours", "clock", "live"),
    [
        ((time(8), time(18)), time(8), True),
        ((time(8), time(18)), time(17, 59), True),
        ((time(8), time(18)), time(18), False),
        ((time(8), time(18)), time(7, 59), False),
        ((time(20), time(6)), time(23), True),
        ((time(20), time(6)), time(5, 59), True),
        ((time(20), time(6)), time(6), False),
        ((time(0), time(0)), time(3), True),
    ],
)
def test_alarms_reach_within_the_hours_only(
    hours: tuple[time, time], clock: time, live: bool
) -> None:
    moment = datetime(2026, 3, 10, clock.hour, clock.minute, tzinfo=LISBON)
    assert Duty(live=hours).is_live(moment) is live


def test_whoever_is_live_is_called(stage: Stage) -> None:
    on_duty(stage, Duty(live=(time(2), time(5))))  # where the doctor is it is 03:00
    stage.says(FLAGGED)
    assert "contact.emergency" in stage.heard(DOCTOR_CHAT)


def test_with_a_practitioner_alone_who_is_not_live_nobody_is_called_and_it_is_said(
    stage: Stage,
) -> None:
    on_duty(stage, None)
    only = tuple(c for c in stage.patient.contacts if c.person == DOCTOR)
    stage.patient = replace(stage.patient, contacts=only)
    stage.says(FLAGGED)
    assert stage.alarm is AlarmStage.EMERGENCY
    assert "emergency.nobody_reached" in stage.heard()
    assert stage.heard(DOCTOR_CHAT) == []


def test_the_deputy_is_called_once_the_practitioner_has_not_answered(stage: Stage) -> None:
    on_duty(stage, Duty(live=(time(0), time(0)), deputy=Deputy(COLLEAGUE)))
    other = contact(COLLEAGUE, "Dr. Lind", Role.PRACTITIONER, COLLEAGUE_CHAT)
    stage.patient = replace(stage.patient, contacts=(*stage.patient.contacts, other))
    stage.says(FLAGGED)
    assert stage.heard(COLLEAGUE_CHAT) == []
    stage.passes(minutes=3)
    assert "contact.emergency" in stage.heard(COLLEAGUE_CHAT)


def test_a_deputy_without_the_patients_consent_is_never_called(stage: Stage) -> None:
    on_duty(stage, Duty(live=(time(0), time(0)), deputy=Deputy(COLLEAGUE)))
    other = contact(COLLEAGUE, "Dr. Lind", Role.PRACTITIONER, COLLEAGUE_CHAT)
    waiting = replace(other, consent=Consent.PROPOSED)
    stage.patient = replace(stage.patient, contacts=(*stage.patient.contacts, waiting))
    stage.says(FLAGGED)
    stage.passes(minutes=30)
    assert stage.heard(COLLEAGUE_CHAT) == []


def test_a_live_practitioner_who_gets_consent_in_an_emergency_is_called_and_others_not(
    stage: Stage,
) -> None:
    on_duty(stage, None)
    stage.presses(Do.CONSENT_WITHDRAW, DOCTOR)
    stage.says(FLAGGED)
    stage.take_sent()
    stage.presses(Do.CONSENT_YES, DOCTOR)
    assert "contact.emergency" not in stage.heard(DOCTOR_CHAT)


def test_consent_is_asked_with_when_the_doctor_looks(stage: Stage) -> None:
    contacts = tuple(
        replace(c, consent=Consent.PROPOSED, asked=False, duty=Duty(live=(time(9), time(17))))
        if c.person == DOCTOR
        else c
        for c in stage.patient.contacts
    )
    stage.patient = replace(stage.patient, contacts=contacts)
    stage.happens(TimerFell(key="contacts", due=stage.now), chat=None)
    assert stage.values("duty.live")["end"] == "17:00"


def test_from_consent_on_the_daily_list_is_due(stage: Stage) -> None:
    stage.presses(Do.CONSENT_WITHDRAW, DOCTOR)
    stage.presses(Do.CONSENT_YES, DOCTOR)
    due = [fact.due for fact in stage.facts if isinstance(fact, NextLook)]
    assert len(due) == 1
    assert due[0] > stage.now


# --- the daily list


def situation(duty: Duty | None = None, **values: object) -> Situation:
    tie = Tie(
        patient=PersonId("hollis"),
        patient_name="Hollis",
        role=Role.PRACTITIONER,
        person=DOCTOR,
        person_name="Dr. Okafor-Lindqvist",
        zone="Europe/Lisbon",
        duty=duty,
    )
    return Situation(actor=Actor(chat=DOCTOR_CHAT), ties=(tie,), **values)  # type: ignore[arg-type]


NOW = datetime(2026, 3, 10, 8, tzinfo=UTC)


def happens(event: Event, duty: Duty | None = None, **values: object) -> Outcome:
    return respond(situation(duty, **values), event, NOW)


def said(text: str) -> Said:
    return Said(text=text, message=MessageRef(chat=DOCTOR_CHAT, message=1), written_at=NOW)


def test_the_next_list_is_due_on_the_next_local_day_also_when_clocks_change() -> None:
    zone = ZoneInfo("Europe/Lisbon")
    before = datetime(2026, 3, 28, 8, tzinfo=UTC)  # clocks go forward on the 29th
    assert Duty(looks_at=time(8)).next_look(before, zone) == datetime(2026, 3, 29, 7, tzinfo=UTC)


def test_when_the_list_falls_due_the_next_one_is_set() -> None:
    outcome = happens(TimerFell(key=LOOK, due=NOW))
    assert outcome.facts == (NextLook(person=DOCTOR, due=NOW + timedelta(days=1)),)


def test_without_patients_nothing_is_sent() -> None:
    assert happens(TimerFell(key=LOOK, due=NOW)).outgoing == ()


# --- /hours


def chosen(outcome: Outcome) -> Duty | None:
    return next((f.duty for f in outcome.facts if isinstance(f, DutyChosen)), None)


def test_hours_are_shown_with_what_can_be_chosen() -> None:
    outcome = happens(said("/hours"))
    keys = [line.key for line in outcome.outgoing[0].lines]
    assert keys == ["hours.look", "hours.live_never", "hours.how"]
    assert chosen(outcome) is None


@pytest.mark.parametrize(
    ("text", "duty"),
    [
        ("/hours 8:30", Duty(looks_at=time(8, 30))),
        ("/hours 7", Duty(looks_at=time(7))),
        ("/hours 9-17", Duty(live=(time(9), time(17)))),
        ("/hours 9:15 to 17.45", Duty(live=(time(9, 15), time(17, 45)))),
        ("/hours 22-6", Duty(live=(time(22), time(6)))),
        ("/hours 25:70", None),
        ("/hours whenever", None),
    ],
)
def test_hours_may_be_typed(text: str, duty: Duty | None) -> None:
    assert chosen(happens(said(text))) == duty


@pytest.mark.parametrize(
    ("argument", "before", "after"),
    [
        ("look:12:00", Duty(), Duty(looks_at=time(12))),
        ("live:08:00-18:00", Duty(), Duty(live=(time(8), time(18)))),
        ("live:", Duty(live=(time(8), time(18))), Duty()),
        ("deputy:lind", Duty(), Duty(deputy=Deputy(COLLEAGUE))),
        ("deputy:stranger", Duty(deputy=Deputy(COLLEAGUE)), Duty()),
        ("deputy:", Duty(deputy=Deputy(COLLEAGUE)), Duty()),
    ],
)
def test_hours_may_be_tapped(argument: str, before: Duty, after: Duty) -> None:
    event = Pressed(
        action=Action(do=Do.DUTY, argument=argument),
        pressed_at=NOW,
        message=MessageRef(chat=DOCTOR_CHAT, message=1),
    )
    outcome = happens(event, before, colleagues=((COLLEAGUE, "Dr. Lind"),))
    assert chosen(outcome) == after


LIND = PersonId("lind-2")


def two_in_one_chat(event: Event, duty: Duty | None = None) -> Outcome:
    """Dr. Lind and Dr. Okafor-Lindqvist are reached in one chat, each with a patient."""
    first = situation(duty)
    (tie,) = first.ties
    other = replace(tie, person=LIND, person_name="Dr. Lind", patient=PersonId("tamsin"))
    both = replace(first, ties=(tie, other), colleagues=((LIND, "Dr. Lind"),))
    return respond(both, event, NOW)


def tapped(argument: str) -> Pressed:
    message = MessageRef(chat=DOCTOR_CHAT, message=1)
    action = Action(do=Do.DUTY, argument=argument)
    return Pressed(action=action, pressed_at=NOW, message=message)


@pytest.mark.parametrize("event", [said("/hours"), said("/hours 9-17"), tapped("live:")])
def test_two_practitioners_in_one_chat_are_asked_whose_hours(event: Event) -> None:
    outcome = two_in_one_chat(event)

    assert outcome.facts == ()
    (out,) = outcome.outgoing
    assert [row[0].label.values["name"] for row in out.buttons] == [
        "Dr. Okafor-Lindqvist",
        "Dr. Lind",
    ]


def test_what_was_typed_is_kept_for_the_one_who_is_named() -> None:
    (asked,) = two_in_one_chat(said("/hours 9-17")).outgoing

    outcome = two_in_one_chat(tapped(asked.buttons[1][0].action.argument))

    (fact,) = [f for f in outcome.facts if isinstance(f, DutyChosen)]
    assert (fact.person, fact.duty) == (LIND, Duty(live=(time(9), time(17))))
    assert [f.person for f in outcome.facts if isinstance(f, NextLook)] == [LIND]


def test_the_buttons_below_act_on_the_same_practitioner() -> None:
    (shown,) = two_in_one_chat(tapped(f"@{LIND}")).outgoing

    assert next(line.values.get("name") for line in shown.lines) == "Dr. Lind"
    arguments = [button.action.argument for row in shown.buttons for button in row]
    assert {argument.partition("@")[2] for argument in arguments} == {LIND}
    assert not [argument for argument in arguments if argument.startswith("deputy:")]
    for argument in arguments:
        facts = two_in_one_chat(tapped(argument)).facts
        assert {f.person for f in facts if isinstance(f, DutyChosen | NextLook)} == {LIND}


def test_a_patients_or_carers_chat_has_no_hours(stage: Stage) -> None:
    stage.says("/hours 9-17")
    stage.says("/hours 9-17", chat=CARER_CHAT)
    assert not [fact for fact in stage.facts if isinstance(fact, DutyChosen)]
