"""Whom an event concerns, when a chat may be about several people."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.events import (
    Action,
    ChatClosed,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    OtherKind,
    Pressed,
    Said,
    SentOther,
)
from domain.people import ChatId, Consent, Invitation, MessageRef, PersonId, Role, Tie
from domain.talk.routing import command, only_one, packed, route, unpacked

HOLLIS, TAMSIN, WREN = PersonId("hollis"), PersonId("tamsin"), PersonId("wren")
CHAT = ChatId(5)
AT = datetime(2026, 3, 10, 7, tzinfo=UTC)
MESSAGE = MessageRef(chat=CHAT, message=3)


def tie(patient: PersonId, role: Role = Role.PATIENT, consent: Consent = Consent.AGREED) -> Tie:
    person = patient if role is Role.PATIENT else WREN
    return Tie(
        patient=patient,
        patient_name=str(patient),
        role=role,
        person=person,
        person_name=str(person),
        consent=consent,
    )


def said(text: str) -> Said:
    return Said(text=text, message=MESSAGE, written_at=AT)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("/week", ("week", "")),
        ("/Week@some_bot", ("week", "")),
        ("  /invite  Wren B ", ("invite", "Wren B")),
        ("/start AbC", ("start", "AbC")),
        ("week", None),
        ("/", None),
        ("/1", None),
        ("142/91", None),
        ("", None),
    ],
)
def test_a_command_is_a_word_after_a_slash(text: str, found: tuple[str, str] | None) -> None:
    assert command(text) == found


@pytest.mark.parametrize(
    ("ties", "patient"),
    [
        ((), None),
        ((tie(HOLLIS),), HOLLIS),
        ((tie(HOLLIS), tie(TAMSIN)), None),
        ((tie(HOLLIS), tie(TAMSIN, Role.CARER)), HOLLIS),
        ((tie(HOLLIS, Role.CARER),), HOLLIS),
        ((tie(HOLLIS, Role.CARER), tie(TAMSIN, Role.PRACTITIONER)), None),
        ((tie(HOLLIS, Role.CARER), tie(HOLLIS, Role.PRACTITIONER)), HOLLIS),
        ((tie(HOLLIS, Role.CARER, Consent.WITHDRAWN),), None),
        ((tie(HOLLIS, Role.CARER, Consent.WITHDRAWN), tie(TAMSIN, Role.CARER)), TAMSIN),
    ],
)
def test_what_somebody_writes_about_themselves_is_theirs(
    ties: tuple[Tie, ...], patient: PersonId | None
) -> None:
    assert only_one(ties) == patient
    assert route(ties, said("142/91")) == patient


def test_two_patients_in_one_chat_are_never_guessed() -> None:
    both = (tie(HOLLIS), tie(TAMSIN))
    events: list[Event] = [
        said("142/91"),
        said("/undo"),
        SentOther(kind=OtherKind.PHOTO, message=MESSAGE, written_at=AT),
        OldButton(message=MESSAGE, pressed_at=AT),
        Edited(text="142/91", message=MESSAGE, written_at=AT, edited_at=AT),
        ChatClosed(chat=CHAT),
        GroupSeen(chat=CHAT),
    ]
    assert [route(both, event) for event in events] == [None] * len(events)


def test_the_edit_of_a_message_concerns_whose_it_was() -> None:
    edit = Edited(text="142/91", message=MESSAGE, written_at=AT, edited_at=AT)
    assert route((tie(HOLLIS), tie(TAMSIN)), edit, message_owner=TAMSIN) == TAMSIN


def test_a_button_concerns_whom_it_was_made_for() -> None:
    pressed = Pressed(action=Action(do=Do.READY, about=TAMSIN), pressed_at=AT, message=MESSAGE)
    assert route((tie(HOLLIS),), pressed) == TAMSIN


@pytest.mark.parametrize("text", ["/patients", "/plan"])
def test_commands_about_all_patients_are_routed_to_none(text: str) -> None:
    assert route((tie(HOLLIS, Role.PRACTITIONER),), said(text)) is None


@pytest.mark.parametrize(
    ("role", "patient", "concerns"),
    [(Role.PATIENT, None, TAMSIN), (Role.CARER, HOLLIS, HOLLIS), (Role.PRACTITIONER, None, None)],
)
def test_a_start_concerns_whom_the_invitation_names(
    role: Role, patient: PersonId | None, concerns: PersonId | None
) -> None:
    invitation = Invitation(person=TAMSIN, name="T", role=role, expires=AT, patient=patient)
    assert route((tie(HOLLIS),), said("/start CODE"), invitation=invitation) == concerns
    assert route((tie(HOLLIS),), said("/start CODE")) is None


@given(text=st.text(max_size=500), number=st.integers(1, 2**40), chat=st.integers(-(2**40), 2**40))
def test_a_message_packed_into_a_button_comes_out_as_it_was(
    text: str, number: int, chat: int
) -> None:
    message = MessageRef(chat=ChatId(chat), message=number)
    out = unpacked(packed(message, AT, text))
    assert out == Said(text=text, message=message, written_at=AT)


@pytest.mark.parametrize("argument", ["", "x", "1|2|3"])
def test_anything_else_is_no_packed_message(argument: str) -> None:
    assert unpacked(argument) is None
