"""What an event leads to: facts to keep, timers, messages to send, the new state.

The four are stored in the event's transaction. Moments are aware.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import IntEnum

from domain.duty import Duty
from domain.events import Action
from domain.messages import Line
from domain.people import (
    ChatId,
    Consent,
    Contact,
    MessageRef,
    Note,
    Patient,
    PersonId,
    ReadingId,
    Role,
    State,
)
from domain.readings import Reading


class Rank(IntEnum):
    """In which order what waits is sent: the lower goes first."""

    ALARM = 0
    REPLY = 1
    PROMPT = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    label: Line
    action: Action


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyboard:
    """A keyboard in place of the phone's own, one row; `locate` is the last key, if any."""

    keys: tuple[Line, ...] = ()
    locate: Line | None = None  #: shares the position
    remove: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPicture:
    """A weekly picture, drawn when it is sent, of the seven days from `first_day`."""

    patient: PersonId
    first_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFile:
    """The report for the visit, made when it is sent: all days up to `last_day`."""

    patient: PersonId
    last_day: date


Attachment = WeekPicture | ReportFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Outgoing:
    """A message to one chat. Lines are put together with a blank line between."""

    chat: ChatId
    lines: tuple[Line, ...]
    language: str = "en"
    rank: Rank = Rank.REPLY
    buttons: tuple[tuple[Button, ...], ...] = ()  #: rows
    keyboard: Keyboard | None = None
    attachment: Attachment | None = None
    about: PersonId | None = None  #: the patient
    to: PersonId | None = None  #: the contact who is told; None in the patient's own chat


# --- facts


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingKept:
    """A new version of a reading that counts from now on."""

    reading: Reading
    made_by: MessageRef
    text: str
    written_at: datetime
    replaces: ReadingId | None = None  #: that version is `replaced` now


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingDeleted:
    """A version that the person took back."""

    id: ReadingId


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    note: Note


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactChanged:
    """A link's new values (consent and what may be told, reachable, asked)."""

    contact: Contact


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonJoined:
    """An invitation was used: the person is reached in this chat from now on."""

    person: PersonId
    chat: ChatId
    language: str
    name: str = ""  #: of their chat profile, for somebody invited without a name


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonInvited:
    """A new person with a code. For a contact, the link to the patient comes with it."""

    person: PersonId
    name: str
    role: Role
    code: str
    expires: datetime
    patient: PersonId | None = None  #: whose carer or practitioner
    consent: Consent = Consent.PROPOSED
    told_missed: bool = False  #: what a carer whom the patient invited may be told
    told_week: bool = False
    practitioner: PersonId | None = None  #: who invites a patient: linked, as a proposal
    state: State | None = None  #: of a new patient
    zone: str = "UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """What the actor of this chat is asked outside any patient's conversation; "" is nothing."""

    chat: ChatId
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LanguageChosen:
    """Whoever is reached in this chat is spoken to in this language from now on."""

    chat: ChatId
    language: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyChosen:
    """When a practitioner looks, from now on."""

    person: PersonId
    duty: Duty


@dataclass(frozen=True, slots=True, kw_only=True)
class NextLook:
    """When a practitioner's next daily list is due; a timer of theirs, not of a patient."""

    person: PersonId
    due: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerAwaited:
    """A dangerous message whose owner is asked for: a timer for each whom it may concern."""

    persons: tuple[PersonId, ...]
    key: str
    due: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerSettled:
    """Somebody has said whose a message is, or nobody's: timers of this beginning go."""

    prefix: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveGroup:
    """The chat is a group: the bot goes."""

    chat: ChatId


Fact = (
    ReadingKept
    | ReadingDeleted
    | Noted
    | ContactChanged
    | PersonJoined
    | PersonInvited
    | Asking
    | LanguageChosen
    | DutyChosen
    | NextLook
    | OwnerAwaited
    | OwnerSettled
    | LeaveGroup
)


# --- timers


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTimer:
    """Set, or moved when the patient has one of this key."""

    key: str
    due: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CancelTimer:
    key: str


TimerChange = SetTimer | CancelTimer


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Facts, timer changes and messages in order; `patient` is the new state, None if unchanged."""

    patient: Patient | None = None
    facts: tuple[Fact, ...] = ()
    timers: tuple[TimerChange, ...] = ()
    outgoing: tuple[Outgoing, ...] = ()
