"""A stage on which the pure conversation is held: no database, no clock of its own.

It applies an outcome as the storage would, keeps the timers, and lets time pass by falling
each timer at its due moment. What was sent is kept as keys with their values, so that the
wording can change without the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from itertools import count
from typing import Any

import pytest

from bot.wording.catalogue import wording
from domain.conversation import respond
from domain.duty import Duty
from domain.events import (
    Action,
    Actor,
    DeliveryFailed,
    Do,
    Edited,
    Event,
    Pressed,
    Said,
    Situation,
    TimerFell,
)
from domain.outcome import (
    CancelTimer,
    Fact,
    Outcome,
    Outgoing,
    PersonInvited,
    PersonJoined,
    ReadingDeleted,
    ReadingKept,
    SetTimer,
)
from domain.people import (
    AlarmStage,
    ChatId,
    Consent,
    Contact,
    Invitation,
    Kept,
    MessageRef,
    Note,
    NoteKind,
    Patient,
    PersonId,
    Place,
    Profile,
    ReadingId,
    Role,
    State,
    Step,
    Tie,
)
from domain.plans import PlanKind
from domain.readings import Arm

PATIENT_CHAT = ChatId(100)
CARER_CHAT = ChatId(200)
DOCTOR_CHAT = ChatId(300)
CARER = PersonId("wren")
DOCTOR = PersonId("okafor")


@dataclass
class Stage:
    """One patient, their contacts, and the conversation so far."""

    patient: Patient
    now: datetime
    timers: dict[str, datetime] = field(default_factory=dict)
    sent: list[Outgoing] = field(default_factory=list)
    given: list[Outgoing] = field(default_factory=list)  #: all that was ever sent
    facts: list[Fact] = field(default_factory=list)
    places: tuple[Place, ...] = ()
    invitation: Invitation | None = None
    ties: tuple[Tie, ...] = ()  #: whom the patient's own chat may be about
    _numbers: Any = field(default_factory=lambda: count(1))
    _versions: Any = field(default_factory=lambda: count(1))

    # --- events

    def says(
        self, text: str, *, chat: ChatId = PATIENT_CHAT, forwarded: bool = False
    ) -> MessageRef:
        message = MessageRef(chat=chat, message=next(self._numbers))
        said = Said(text=text, message=message, written_at=self.now, forwarded=forwarded)
        self.happens(said, chat=chat)
        return message

    def edits(self, message: MessageRef, text: str, written_at: datetime | None = None) -> None:
        event = Edited(
            text=text, message=message, written_at=written_at or self.now, edited_at=self.now
        )
        self.happens(event, chat=message.chat)

    def presses(self, do: Do, argument: str = "", *, chat: ChatId = PATIENT_CHAT) -> None:
        action = Action(do=do, about=self.patient.id, argument=argument)
        message = MessageRef(chat=chat, message=next(self._numbers))
        self.happens(Pressed(action=action, pressed_at=self.now, message=message), chat=chat)

    def taps(self, label: str, *, chat: ChatId = PATIENT_CHAT) -> None:
        """Press the newest button with this label that the chat has been given."""
        for outgoing in reversed(self.given):
            if outgoing.chat != chat:
                continue
            for row in outgoing.buttons:
                for button in row:
                    if button.label.key == label:
                        self.presses(button.action.do, button.action.argument, chat=chat)
                        return
        raise AssertionError(f"no button {label} in {chat}")

    def happens(self, event: Event, *, chat: ChatId | None = PATIENT_CHAT) -> Outcome:
        situation = Situation(
            actor=Actor(chat=chat),
            patient=self.patient,
            places=self.places,
            invitation=self.invitation,
            ties=self.ties,
            fresh=("new-person", "new-code"),
            bot_name="a_bot",
        )
        outcome = respond(situation, event, self.now)
        self._apply(outcome)
        return outcome

    def starts(self, invitation: Invitation, *, chat: ChatId) -> Outcome:
        """Open the chat with the link of an invitation."""
        self.invitation = invitation
        message = MessageRef(chat=chat, message=next(self._numbers))
        event = Said(text="/start CODE", message=message, written_at=self.now)
        outcome = self.happens(event, chat=chat)
        self.invitation = None
        return outcome

    def fails_to_deliver(self, event: DeliveryFailed) -> None:
        self.happens(event, chat=None)

    def passes(
        self, *, minutes: float = 0, hours: float = 0, until: datetime | None = None
    ) -> None:
        """Let time pass; each timer falls at its own moment."""
        end = until or self.now + timedelta(minutes=minutes, hours=hours)
        while self.timers:
            key, due = min(self.timers.items(), key=lambda item: (item[1], item[0]))
            if due > end:
                break
            self.now = max(self.now, due)
            del self.timers[key]
            self.happens(TimerFell(key=key, due=due), chat=None)
        self.now = end

    # --- what came of it

    def _apply(self, outcome: Outcome) -> None:
        if outcome.patient is not None:
            self.patient = replace(self.patient, state=outcome.patient.state)
        for fact in outcome.facts:
            self._apply_fact(fact)
        for change in outcome.timers:
            match change:
                case SetTimer(key=key, due=due):
                    self.timers[key] = due
                case CancelTimer(key=key):
                    self.timers.pop(key, None)
        self.facts.extend(outcome.facts)
        for outgoing in outcome.outgoing:
            _can_be_worded(outgoing)
        self.sent.extend(outcome.outgoing)
        self.given.extend(outcome.outgoing)

    def _apply_fact(self, fact: Fact) -> None:
        if isinstance(fact, ReadingKept):
            gone = {fact.replaces} if fact.replaces else set()
            kept = Kept(
                id=ReadingId(f"r{next(self._versions)}"),
                reading=fact.reading,
                made_by=fact.made_by,
                text=fact.text,
                written_at=fact.written_at,
                replaces=fact.replaces,
            )
            self._readings(kept, gone=gone)
        elif isinstance(fact, ReadingDeleted):
            self._readings(gone={fact.id})
        elif type(fact).__name__ == "Noted":
            note: Note = fact.note  # type: ignore[union-attr]
            self.patient = replace(self.patient, notes=(*self.patient.notes, note))
        elif type(fact).__name__ == "ContactChanged":
            self._contact(fact.contact)  # type: ignore[union-attr]
        elif isinstance(fact, PersonJoined) and fact.person == self.patient.id:
            self.patient = replace(self.patient, chat=fact.chat, language=fact.language)
        elif isinstance(fact, PersonInvited) and fact.patient is not None:
            self._contact(
                Contact(person=fact.person, name=fact.name, role=fact.role, consent=fact.consent)
            )

    def _readings(self, *new: Kept, gone: set[ReadingId]) -> None:
        made_by = {k.made_by for k in new if k.replaces}
        corrected = {k.made_by for k in self.patient.readings if k.id in gone} - made_by
        left = [k for k in self.patient.readings if k.id not in gone]
        every = tuple(sorted((*left, *new), key=lambda k: k.reading.at))
        standing = {k.made_by for k in every}
        spent = self.patient.spent | (corrected if made_by else set())
        self.patient = replace(self.patient, readings=every, spent=frozenset(spent - standing))

    def _contact(self, contact: Contact) -> None:
        rest = tuple(c for c in self.patient.contacts if c.person != contact.person)
        self.patient = replace(self.patient, contacts=(*rest, contact))

    def take_sent(self) -> list[Outgoing]:
        """What was sent since the last time this was asked."""
        sent, self.sent = self.sent, []
        return sent

    def heard(self, chat: ChatId = PATIENT_CHAT) -> list[str]:
        """Keys of all lines sent to a chat since `take_sent`, in order."""
        return [line.key for out in self.sent if out.chat == chat for line in out.lines]

    def values(self, key: str, chat: ChatId = PATIENT_CHAT) -> dict[str, Any]:
        """Values of the newest line with this key."""
        for out in reversed(self.sent):
            for line in out.lines:
                if line.key == key and out.chat == chat:
                    return dict(line.values)
        raise AssertionError(f"{key} was not sent to {chat}: {self.heard(chat)}")

    @property
    def alarm(self) -> AlarmStage | None:
        """Where the alarm stands, or None."""
        return self.patient.state.alarm.stage if self.patient.state.alarm else None

    @property
    def step(self) -> Step | None:
        """Where the occasion stands, or None."""
        return self.patient.state.occasion.step if self.patient.state.occasion else None

    def noted(self, kind: NoteKind) -> list[str]:
        """Codes of all notes of a kind, in order."""
        return [note.code for note in self.patient.notes if note.kind is kind]

    def pairs(self) -> list[tuple[int, int]]:
        return [(k.reading.systolic, k.reading.diastolic) for k in self.patient.readings]


def _can_be_worded(outgoing: Outgoing) -> None:
    """Every line has its words, and every value that they name."""
    words = wording(outgoing.language)
    assert words.message(outgoing.lines) or outgoing.attachment is not None
    for row in outgoing.buttons:
        for button in row:
            assert 0 < len(words.plain(button.label)) <= 64


def joined_profile() -> Profile:
    return Profile(
        zone="Europe/Lisbon",
        country="PT",
        emergency_number="112",
        medicine_times=(time(8), time(20)),
        morning_prompt=time(7, 30),
        evening_prompt=time(19, 30),
        arm=Arm.LEFT,
        arm_cm=31,
        adult=True,
    )


def contact(person: PersonId, name: str, role: Role, chat: ChatId) -> Contact:
    return Contact(
        person=person,
        name=name,
        role=role,
        chat=chat,
        zone="America/Halifax",
        consent=Consent.AGREED,
        told_missed=True,
        told_week=True,
        asked=True,
    )


@pytest.fixture
def stage() -> Stage:
    """Hollis has joined (invented), Wren and the doctor are agreed to. Tuesday 10 March, 07:00."""
    joined_at = datetime(2026, 3, 9, 12, tzinfo=UTC)
    state = State(profile=joined_profile(), joined_at=joined_at, wanted_plan=PlanKind.FIRST_WEEK)
    patient = Patient(
        id=PersonId("hollis"),
        name="Hollis",
        chat=PATIENT_CHAT,
        state=state,
        contacts=(
            contact(CARER, "Wren", Role.CARER, CARER_CHAT),
            replace(
                contact(DOCTOR, "Dr. Okafor-Lindqvist", Role.PRACTITIONER, DOCTOR_CHAT),
                duty=Duty(live=(time(0), time(0))),  # at any hour, so that alarms reach two
            ),
        ),
    )
    return Stage(patient=patient, now=datetime(2026, 3, 10, 7, tzinfo=UTC))


@pytest.fixture
def newcomer() -> Stage:
    """Hollis has an invitation that says zone and medicine times, and has not joined."""
    profile = Profile(zone="Europe/Lisbon", country="PT", medicine_times=(time(8), time(20)))
    patient = Patient(
        id=PersonId("hollis"),
        name="Hollis",
        chat=None,
        state=State(profile=profile, wanted_plan=PlanKind.FIRST_WEEK),
    )
    return Stage(patient=patient, now=datetime(2026, 3, 9, 12, tzinfo=UTC))


@pytest.fixture
def make_contact() -> Callable[[PersonId, str, Role, ChatId], Contact]:
    return contact
