"""The desk: due timers and failed deliveries, each with its outcome in one transaction."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from sqlalchemy import text

from domain.events import (
    DeliveryFailed,
    DeliveryProblem,
    Event,
    Situation,
    TimerFell,
)
from domain.messages import line
from domain.outcome import (
    CancelTimer,
    Outcome,
    Outgoing,
    Rank,
    SetTimer,
)
from domain.people import (
    Consent,
    PersonId,
    Role,
)
from storage import Lane, Outbox
from tests.bot.desk.conftest import HOLLIS, START, WREN, Office, answers, recorded


def test_due_timers_are_handled_in_order_and_announced(with_hollis: Office) -> None:
    office, fell = with_hollis, list[tuple[str, datetime]]()
    person = office.patient()
    with office.database.work() as work:
        timers = tuple(
            SetTimer(key=key, due=START + timedelta(seconds=seconds))
            for key, seconds in (("second", 20), ("first", 10), ("later", 600))
        )
        work.store(person, Outcome(timers=timers))

    def note_it(situation: Situation, event: Event, now: datetime) -> Outcome:
        assert isinstance(event, TimerFell)
        fell.append((event.key, event.due))
        return Outcome(timers=(CancelTimer(key="unknown"),))

    office.respond = note_it
    office.clock.at += timedelta(minutes=1)
    while office.desk.fire_due():
        pass

    assert fell == [
        ("first", START + timedelta(seconds=10)),
        ("second", START + timedelta(seconds=20)),
    ]
    assert office.desk.next_due() == START + timedelta(seconds=600)


def test_one_bad_timer_stops_neither_the_rest_nor_itself_for_ever(with_hollis: Office) -> None:
    office, fell = with_hollis, list[str]()
    person = office.patient()
    with office.database.work() as work:
        timers = (
            SetTimer(key="bad", due=START),
            SetTimer(key="good", due=START + timedelta(seconds=1)),
        )
        work.store(person, Outcome(timers=timers))
    broken = True

    def sometimes(situation: Situation, event: Event, now: datetime) -> Outcome:
        assert isinstance(event, TimerFell)
        if event.key == "bad" and broken:
            raise RuntimeError("broken")
        fell.append(event.key)
        return Outcome()

    office.respond = sometimes
    office.clock.at += timedelta(seconds=5)
    while office.desk.fire_due():
        pass
    assert fell == ["good"]

    broken = False
    office.clock.at += timedelta(seconds=30)
    while office.desk.fire_due():
        pass
    assert fell == ["good", "bad"]


def test_somebody_whose_record_cannot_be_read_holds_up_nobody_elses_timers(
    with_hollis: Office,
) -> None:
    office, fell = with_hollis, list[PersonId]()
    unreadable = office.patient()
    office.say(WREN, f"/start {office.invite(Role.PATIENT, 'Wren')}")
    fine = office.patient(WREN)
    with office.database.work() as work:
        work.store(unreadable, Outcome(timers=(SetTimer(key="prompt", due=START),)))
        later = START + timedelta(seconds=1)
        work.store(fine, Outcome(timers=(SetTimer(key="prompt", due=later),)))
        work.connection.execute(
            text("UPDATE persons SET state = '{' WHERE id = :id"), {"id": unreadable.id}
        )

    def told(situation: Situation, event: Event, now: datetime) -> Outcome:
        assert situation.patient is not None
        fell.append(situation.patient.id)
        return Outcome()

    office.respond = told
    office.clock.at += timedelta(seconds=5)
    while office.desk.fire_due():
        pass

    assert fell == [fine.id]
    assert office.rows("attempts", "timers") == [1]


# --- deliveries that fail


def test_a_message_refused_for_good_is_an_event_in_the_same_transaction(
    with_hollis: Office,
) -> None:
    office, seen = with_hollis, list[tuple[Situation, Event]]()
    person = office.patient().id
    alarm = Outgoing(
        chat=WREN,
        lines=(line("half.morning"),),
        rank=Rank.ALARM,
        about=person,
        to=PersonId("wren"),
    )
    office.respond = answers(lambda situation, event: Outcome(outgoing=(alarm,)))
    office.say(HOLLIS, "hello")
    outbox = Outbox(office.database)
    claim = outbox.claim("w", Lane.TEXT, 1, START, timedelta(seconds=20))[0]
    row = outbox.begin(claim, START)
    assert row is not None
    office.respond = recorded(seen)

    assert office.desk.delivery_failed(claim, row, DeliveryProblem.BLOCKED)
    assert not office.desk.delivery_failed(claim, row, DeliveryProblem.BLOCKED)

    events: list[Event] = [event for _, event in seen]
    assert events == [
        DeliveryFailed(
            chat=WREN, to=PersonId("wren"), problem=DeliveryProblem.BLOCKED, was_alarm=True
        )
    ]
    assert office.rows("problem", "outbox WHERE state = 'failed'") == ["blocked"]


def test_a_failed_delivery_that_cannot_be_handled_does_not_block_its_chat(
    with_hollis: Office,
) -> None:
    office = with_hollis

    def broken(situation: Situation, event: Event, now: datetime) -> Outcome:
        raise RuntimeError("broken")

    outbox = Outbox(office.database)
    (claim,) = outbox.claim("w", Lane.TEXT, 1, START, timedelta(seconds=20))
    row = outbox.begin(claim, START)
    assert row is not None
    waiting = outbox.waiting()
    office.respond = broken

    assert office.desk.delivery_failed(claim, row, DeliveryProblem.REFUSED)

    assert outbox.waiting() == waiting - 1


# --- links


def test_a_carer_proposed_on_the_command_line_is_asked_about_in_the_chat(office: Office) -> None:
    code = office.invite(Role.PATIENT, "Hollis", zone="Europe/Lisbon")
    office.say(HOLLIS, f"/start {code}")
    before = office.patient()
    with office.database.work() as work:
        done = replace(before.state, joining=None, joined_at=START, occasion=None)
        work.store(before, Outcome(patient=replace(before, state=done)))
    told = len(office.told(HOLLIS))

    office.invite(Role.CARER, "Wren", carer_of=code)
    assert office.desk.fire_due() == 1

    asked = office.told(HOLLIS)[told:]
    assert len(asked) == 1
    assert "Wren" in asked[0]
    (contact,) = office.patient().contacts
    assert (contact.consent, contact.asked) == (Consent.PROPOSED, True)
