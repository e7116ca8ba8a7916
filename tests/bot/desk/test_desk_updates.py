"""The desk: one update, one transaction, with the real conversation and both databases."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from domain.events import (
    Action,
    ChatClosed,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    Pressed,
    Said,
    Situation,
)
from domain.messages import line
from domain.outcome import (
    Button,
    Noted,
    Outcome,
    Outgoing,
    ReadingKept,
    SetTimer,
)
from domain.people import (
    ChatId,
    JoinStep,
    Note,
    NoteKind,
    Role,
)
from domain.readings import Mmhg, Reading
from tests.bot.desk.conftest import HOLLIS, START, WREN, Office, answers, recorded


def test_an_invitation_is_used_and_joining_begins(office: Office) -> None:
    code = office.invite(Role.PATIENT, "Hollis", zone="Europe/Lisbon")

    office.say(HOLLIS, f"/start {code}")

    patient = office.patient()
    assert patient.chat == HOLLIS
    assert patient.state.joining is not None
    assert office.told(HOLLIS)
    assert "text" in office.announced


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
    office.respond = recorded(seen)

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
    office.respond = answers(lambda situation, event: Outcome(outgoing=(outgoing,)))
    office.say(HOLLIS, "hello")
    with office.database.reading() as connection:
        shown = json.loads(
            connection.scalars(text("SELECT buttons FROM outbox ORDER BY id DESC")).first() or ""
        )
    token = shown[0][0]["token"]
    office.respond = recorded(seen)

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
    office.respond = recorded(seen)

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
