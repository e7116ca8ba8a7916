"""The desk: one event, one transaction, with the real conversation and both databases."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from bot.desk import Desk, Respond
from bot.incoming import Incoming, PressedToken
from domain.conversation import respond
from domain.events import (
    Action,
    ChatClosed,
    DeliveryFailed,
    DeliveryProblem,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    Pressed,
    Said,
    Situation,
    TimerFell,
)
from domain.messages import line
from domain.outcome import (
    Button,
    CancelTimer,
    Noted,
    Outcome,
    Outgoing,
    Rank,
    ReadingKept,
    SetTimer,
)
from domain.people import (
    ChatId,
    Consent,
    JoinStep,
    MessageRef,
    Note,
    NoteKind,
    Patient,
    PersonId,
    Place,
    Role,
)
from domain.readings import Mmhg, Reading
from storage import Database, Invite, Lane, Outbox, open_database

START = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
HOLLIS, WREN = ChatId(1001), ChatId(1002)
LISBON = Place(name="Lisbon", zone="Europe/Lisbon", country="PT")


@dataclass
class Clock:
    at: datetime = START

    def __call__(self) -> datetime:
        return self.at


@dataclass
class Office:
    """A desk with its database; counts what it announces."""

    database: Database
    clock: Clock
    respond: Respond = respond
    announced: list[str] = field(default_factory=list)
    looked_up: list[str] = field(default_factory=list)
    updates: int = 500
    messages: int = 10

    @property
    def desk(self) -> Desk:
        return Desk(
            self.database,
            self.respond,
            look_up=self._look_up,
            on_outgoing=lambda: self.announced.append("messages"),
            on_timer=lambda: self.announced.append("timers"),
        )

    def _look_up(self, name: str) -> Sequence[Place]:
        self.looked_up.append(name)
        return (LISBON,)

    def invite(self, role: Role, name: str, **wanted: Any) -> str:
        with self.database.work() as work:
            return work.invite(Invite(role=role, name=name, **wanted))

    def incoming(self, chat: ChatId, event: Event | PressedToken) -> Incoming:
        self.updates += 1
        return Incoming(bot_id=7, update_id=self.updates, chat=chat, event=event)

    def said(self, chat: ChatId, what: str) -> Incoming:
        self.messages += 1
        message = MessageRef(chat=chat, message=self.messages)
        said = Said(text=what, message=message, written_at=self.clock())
        return self.incoming(chat, said)

    def say(self, chat: ChatId, what: str) -> Incoming:
        incoming = self.said(chat, what)
        assert self.desk.handle(incoming)
        return incoming

    def pressed(self, chat: ChatId, token: str) -> Incoming:
        message = MessageRef(chat=chat, message=1)
        return self.incoming(
            chat, PressedToken(token=token, message=message, pressed_at=self.clock())
        )

    def patient(self, chat: ChatId = HOLLIS) -> Patient:
        with self.database.work() as work:
            tie = next(tie for tie in work.ties(chat) if tie.role is Role.PATIENT)
            patient = work.patient(tie.patient)
            assert patient is not None
            return patient

    def rows(self, column: str, table: str) -> list[object]:
        with self.database.reading() as connection:
            return list(connection.scalars(text(f"SELECT {column} FROM {table} ORDER BY 1")))

    def told(self, chat: ChatId) -> list[str]:
        """The texts that wait for a chat, in order."""
        with self.database.reading() as connection:
            return list(
                connection.scalars(
                    text("SELECT plain FROM outbox WHERE chat = :chat ORDER BY id"),
                    {"chat": chat},
                )
            )


@pytest.fixture
def office(database_url: str) -> Iterator[Office]:
    clock = Clock()
    database = open_database(database_url, machine_clock=clock)
    yield Office(database, clock)
    database.dispose()


@pytest.fixture
def with_hollis(office: Office) -> Office:
    """Hollis has begun to join."""
    office.say(HOLLIS, f"/start {office.invite(Role.PATIENT, 'Hollis', zone='Europe/Lisbon')}")
    return office


def _answers(answer: Callable[[Situation, Event], Outcome]) -> Respond:
    """A conversation that says one thing."""

    def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
        return answer(situation, event)

    return respond


def _recorded(seen: list[tuple[Situation, Event]]) -> Respond:
    """A conversation that only listens."""

    def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
        seen.append((situation, event))
        return Outcome()

    return respond


# --- updates


def test_an_invitation_is_used_and_joining_begins(office: Office) -> None:
    code = office.invite(Role.PATIENT, "Hollis", zone="Europe/Lisbon")

    office.say(HOLLIS, f"/start {code}")

    patient = office.patient()
    assert patient.chat == HOLLIS
    assert patient.state.joining is not None
    assert office.told(HOLLIS)
    assert "messages" in office.announced


def test_the_same_update_twice_is_handled_once(with_hollis: Office) -> None:
    incoming = with_hollis.said(HOLLIS, "142/91")
    before = len(with_hollis.rows("id", "readings"))

    assert with_hollis.desk.handle(incoming)
    told = with_hollis.told(HOLLIS)
    assert not with_hollis.desk.handle(incoming)

    assert len(with_hollis.rows("id", "readings")) == before + 1
    assert with_hollis.told(HOLLIS) == told


def test_a_stranger_is_answered_and_nothing_is_kept_of_them(office: Office) -> None:
    office.say(ChatId(99), "142/91")

    assert len(office.told(ChatId(99))) == 1
    assert office.rows("id", "readings") == office.rows("number", "unhandled") == []


def test_a_reading_from_the_chat_is_kept_with_the_platforms_moment(with_hollis: Office) -> None:
    incoming = with_hollis.say(HOLLIS, "142/91/72")

    assert isinstance(incoming.event, Said)
    (kept,) = with_hollis.patient().readings
    assert (kept.reading.systolic, kept.reading.diastolic, kept.reading.pulse) == (142, 91, 72)
    assert kept.made_by == incoming.event.message
    assert kept.reading.at == START


def test_an_edit_goes_to_the_patient_whose_reading_the_message_made(with_hollis: Office) -> None:
    office = with_hollis
    first = office.say(HOLLIS, "142/91")
    assert isinstance(first.event, Said)
    office.say(HOLLIS, f"/start {office.invite(Role.PATIENT, 'Marlow', zone='Europe/Lisbon')}")
    seen: list[tuple[Situation, Event]] = []
    office.respond = _recorded(seen)

    office.desk.handle(
        office.incoming(
            HOLLIS,
            Edited(
                text="124/91",
                message=first.event.message,
                written_at=START,
                edited_at=START,
            ),
        )
    )

    ((situation, _),) = seen
    assert situation.patient is not None
    assert situation.patient.name == "Hollis"


def test_a_button_is_resolved_in_its_chat_only(with_hollis: Office) -> None:
    office, seen = with_hollis, list[tuple[Situation, Event]]()
    person = office.patient().id
    action = Action(do=Do.READY, about=person)
    button = Button(label=line("half.morning"), action=action)
    outgoing = Outgoing(chat=HOLLIS, lines=(line("half.morning"),), buttons=((button,),))
    office.respond = _answers(lambda situation, event: Outcome(outgoing=(outgoing,)))
    office.say(HOLLIS, "hello")
    with office.database.reading() as connection:
        shown = json.loads(
            connection.scalars(text("SELECT buttons FROM outbox ORDER BY id DESC")).first() or ""
        )
    token = shown[0][0]["token"]
    office.respond = _recorded(seen)

    for chat, given in ((HOLLIS, token), (WREN, token), (HOLLIS, "made-up")):
        office.desk.handle(office.pressed(chat, given))

    events = [event for _, event in seen]
    assert [type(event) for event in events] == [Pressed, OldButton, OldButton]
    assert isinstance(events[0], Pressed)
    assert events[0].action == action
    assert person not in token
    assert len(token.encode()) <= 64


def test_a_text_that_has_found_its_owner_is_kept_once_whatever_is_pressed_again(
    with_hollis: Office,
) -> None:
    office = with_hollis
    office.say(HOLLIS, f"/start {office.invite(Role.PATIENT, 'Wren')}")
    office.say(HOLLIS, "142/91")
    with office.database.reading() as connection:
        tokens = connection.scalars(
            text("SELECT token FROM buttons WHERE action LIKE '%\"owner\"%' ORDER BY token")
        ).all()
    assert len(tokens) == 2

    for token in (*tokens, *tokens):
        assert office.desk.handle(office.pressed(HOLLIS, token))

    assert office.rows("systolic", "readings") == [142]
    assert "no longer in use" in office.told(HOLLIS)[-1]


def test_a_place_is_looked_up_only_when_one_was_asked_for(with_hollis: Office) -> None:
    office = with_hollis
    office.say(HOLLIS, "Lisbon")
    assert office.looked_up == []
    before = office.patient()
    with office.database.work() as work:
        asked = replace(before, state=replace(before.state, joining=JoinStep.PLACE))
        work.store(before, Outcome(patient=asked))

    office.say(HOLLIS, "Lisbon please")

    assert office.looked_up == ["Lisbon please"]


def test_a_chat_that_closes_concerns_every_patient_in_it(with_hollis: Office) -> None:
    office, seen = with_hollis, list[tuple[Situation, Event]]()
    office.say(HOLLIS, f"/start {office.invite(Role.PATIENT, 'Marlow', zone='Europe/Lisbon')}")
    office.respond = _recorded(seen)

    office.desk.handle(office.incoming(HOLLIS, ChatClosed(chat=HOLLIS)))

    names = [situation.patient.name for situation, _ in seen if situation.patient]
    assert sorted(names) == ["Hollis", "Marlow"]


def test_a_group_is_told_why_before_the_bot_leaves(office: Office) -> None:
    group = ChatId(-100_123)

    office.desk.handle(office.incoming(group, GroupSeen(chat=group)))

    with office.database.reading() as connection:
        rows = connection.execute(text("SELECT plain, leave FROM outbox ORDER BY id")).all()
    assert [bool(row.leave) for row in rows] == [False, True]
    assert rows[0].plain


@pytest.mark.parametrize("odd", ["\x00142/91", "half \ud83d character", "é" * 5000])
def test_any_text_at_all_is_taken(with_hollis: Office, odd: str) -> None:
    assert with_hollis.desk.handle(with_hollis.said(HOLLIS, odd))

    assert with_hollis.rows("number", "unhandled") == []


# --- all or nothing, and what cannot be handled


def test_what_cannot_be_handled_is_kept_whole_and_its_sender_is_told(
    with_hollis: Office, caplog: pytest.LogCaptureFixture
) -> None:
    office = with_hollis

    def broken(situation: Situation, event: Event, now: datetime) -> Outcome:
        raise RuntimeError("no way to say it with 192/114 in it")

    office.respond = broken
    told = len(office.told(HOLLIS))
    incoming = office.said(HOLLIS, "192/114 and my chest hurts")

    assert office.desk.handle(incoming)
    assert not office.desk.handle(incoming)

    (event,) = office.rows("event", "unhandled")
    assert json.loads(str(event))["text"] == "192/114 and my chest hurts"
    assert str(office.rows("problem", "unhandled")[0]).startswith("RuntimeError in broken")
    (answer,) = office.told(HOLLIS)[told:]
    assert "call" in answer
    assert "192" not in caplog.text


def test_an_outcome_that_cannot_be_stored_leaves_nothing(with_hollis: Office) -> None:
    office = with_hollis
    before = office.patient()
    told = len(office.told(HOLLIS))

    def half_broken(situation: Situation, event: Event, now: datetime) -> Outcome:
        assert situation.patient is not None
        assert isinstance(event, Said)
        kept = ReadingKept(
            reading=Reading(systolic=Mmhg(142), diastolic=Mmhg(91), at=now),
            made_by=event.message,
            text=event.text,
            written_at=now,
        )
        without_zone = Note(kind=NoteKind.SYMPTOM, at=now.replace(tzinfo=None))
        return Outcome(
            patient=replace(situation.patient, state=replace(situation.patient.state, paused=True)),
            facts=(kept, Noted(note=without_zone)),
            timers=(SetTimer(key="rest", due=now),),
            outgoing=(Outgoing(chat=HOLLIS, lines=(line("half.morning"),)),),
        )

    office.respond = half_broken
    office.desk.handle(office.said(HOLLIS, "142/91"))

    assert office.patient() == before
    assert office.rows("key", "timers") == []
    assert len(office.told(HOLLIS)) == told + 1  # the apology


def test_a_database_that_cannot_be_used_is_no_reason_to_drop_an_update(
    with_hollis: Office,
) -> None:
    office = with_hollis

    def lost(situation: Situation, event: Event, now: datetime) -> Outcome:
        raise OperationalError("SELECT 1", {}, Exception("connection lost"))

    working, office.respond = office.respond, lost
    incoming = office.said(HOLLIS, "142/91")
    with pytest.raises(OperationalError):
        office.desk.handle(incoming)
    office.respond = working

    assert office.desk.handle(incoming)

    assert len(office.patient().readings) == 1
    assert office.rows("number", "unhandled") == []


# --- timers


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
    office.respond = _answers(lambda situation, event: Outcome(outgoing=(alarm,)))
    office.say(HOLLIS, "hello")
    outbox = Outbox(office.database)
    claim = outbox.claim("w", Lane.TEXT, 1, START, timedelta(seconds=20))[0]
    row = outbox.begin(claim, START)
    assert row is not None
    office.respond = _recorded(seen)

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
