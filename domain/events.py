"""Everything that can happen, in the past tense, and what a button stands for.

An event belongs to an actor (who did it) and may concern a patient (the situation says
whom). Moments are aware. `written_at` is the platform's date of the message: the moment of
a reading without its own time.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from domain.people import ChatId, Invitation, MessageRef, Patient, PersonId, Place, Tie
from domain.practice_list import Entry


class Do(StrEnum):
    """What a button does. The value is stored with the button, never sent to the platform."""

    JOIN = "join"  #: argument "step:answer"
    SET = "set"  #: a setting to change: argument is the step
    READY = "ready"
    RESTED = "rested"
    LATER = "later"  #: argument: minutes
    SKIP = "skip"
    SYMPTOMS_NONE = "symptoms_none"
    SYMPTOMS_YES = "symptoms_yes"
    WATCH_NONE = "watch_none"  #: argument: which signs were asked about, see `watching`
    WATCH_YES = "watch_yes"
    AMBULANCE = "ambulance"
    HELPER = "helper"
    CANNOT_PHONE = "cannot_phone"
    SLIP = "slip"
    HELP_CAME = "help_came"
    HELP_NOT_YET = "help_not_yet"
    WORSE = "worse"  #: a long-standing sign is worse than usual, or the person is not sure
    AS_USUAL = "as_usual"
    SEEN = "seen"  #: a doctor or nurse has heard of it
    SEE_TO_IT = "see_to_it"
    CANNOT = "cannot"  #: a contact cannot help
    I_AM_THERE = "i_am_there"
    IT_IS_OVER = "it_is_over"  #: the contact who told of the signs has made sure
    NOT_ABOUT = "not_about"  #: what a contact told of is not about this patient
    TAKEN_AT_HOME = "taken_at_home"  #: argument: `routing.packed` message of its readings
    MEANT = "meant"  #: argument: the option, "@" and the doubt, see `domain.talk.doubts`
    MEANT_NONE = "meant_none"
    EDIT_YES = "edit_yes"
    EDIT_NO = "edit_no"
    CANCEL = "cancel"  #: what was asked for is not wanted after all
    CONSENT_YES = "consent_yes"  #: argument: the contact's person id
    CONSENT_NO = "consent_no"
    CONSENT_ALARMS = "consent_alarms"  #: alarms only
    CONSENT_WITHDRAW = "consent_withdraw"
    INVITE_CARER = "invite_carer"
    INVITE_NAMED = "invite_named"  #: argument: the carer's name; everything may be told
    INVITE_NAMED_ALARMS = "invite_named_alarms"  #: alarms only
    OWNER = "owner"  #: argument: `routing.packed` message whose owner was asked for
    OWNER_NONE = "owner_none"
    PATIENT_REPORT = "patient_report"
    PATIENT_WEEK = "patient_week"
    PATIENT_PLAN = "patient_plan"  #: argument: kind of plan, or "" to choose one
    MEDICINE_CHANGED = "medicine_changed"  #: argument: the day, as 2026-03-02
    PRACTICE = "practice"  #: a practitioner's choice; argument: see `talk.practice_choices`
    CAUTIONS = "cautions"
    DUTY = "duty"  #: argument: "look:08:00", "live:08:00-18:00", "live:" for never, "deputy:ID"
    LANGUAGE = "language"  #: argument: its code, or "" to be asked
    DETAILS = "details"  #: argument: see `domain.talk.details.pressed`
    REHEARSAL_SEEN = "rehearsal_seen"
    REHEARSAL_END = "rehearsal_end"
    STOP_YES = "stop_yes"
    RESUME = "resume"


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """A button's meaning: what to do, about whom, with what."""

    do: Do
    about: PersonId | None = None
    argument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Somebody wrote a text (or a caption)."""

    text: str
    message: MessageRef
    written_at: datetime
    forwarded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """Somebody changed a message that they had sent. `written_at` is when it was first sent."""

    text: str
    message: MessageRef
    written_at: datetime
    edited_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """Somebody pressed a button that was given to this chat."""

    action: Action
    pressed_at: datetime
    message: MessageRef  #: the message that holds the button


class OtherKind(StrEnum):
    """What was sent that is not text."""

    STICKER = "sticker"
    VOICE = "voice"
    PHOTO = "photo"
    FILE = "file"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class SentOther:
    """Somebody sent something without text that can be read."""

    kind: OtherKind
    message: MessageRef
    written_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLocation:
    """Somebody shared where they are; the shell has looked up the place."""

    place: Place
    message: MessageRef
    written_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerFell:
    """A timer of the patient fell due."""

    key: str
    due: datetime


class DeliveryProblem(StrEnum):
    BLOCKED = "blocked"  #: the chat no longer takes messages
    REFUSED = "refused"  #: the platform refused this message for good


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryFailed:
    """A message could not be delivered for good."""

    chat: ChatId
    to: PersonId | None
    problem: DeliveryProblem
    was_alarm: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChatClosed:
    """Somebody blocked the bot."""

    chat: ChatId


@dataclass(frozen=True, slots=True, kw_only=True)
class ChatOpened:
    """Somebody let the bot write again."""

    chat: ChatId


@dataclass(frozen=True, slots=True, kw_only=True)
class OldButton:
    """A button was pressed that is no longer known, or not given to this chat."""

    message: MessageRef
    pressed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSeen:
    """The bot was addressed in a group."""

    chat: ChatId


Event = (
    Said
    | Edited
    | Pressed
    | SentOther
    | SharedLocation
    | TimerFell
    | DeliveryFailed
    | ChatClosed
    | ChatOpened
    | OldButton
    | GroupSeen
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Whose chat an event came from. A timer has no chat."""

    chat: ChatId | None
    language: str = "en"  #: of the chat client
    name: str = ""  #: in the person's chat profile


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """All that `respond` may know: loaded in the event's transaction.

    `fresh` holds random values for invitations that the answer may make (ids and codes):
    the domain throws no dice.
    """

    actor: Actor
    patient: Patient | None = None
    ties: tuple[Tie, ...] = ()  #: whom the actor's chat may be about
    invitation: Invitation | None = None  #: that "/start CODE" names; None: unknown code
    places: tuple[Place, ...] = ()  #: where the text may be, when a place was asked for
    asking: str = ""  #: what the actor was asked outside any patient's conversation
    fresh: tuple[str, ...] = ()
    bot_name: str = ""  #: for deep links
    #: Practitioners of the same patients, when a practitioner names a deputy: id and name.
    colleagues: tuple[tuple[PersonId, str], ...] = ()
    listed: tuple[Entry, ...] = ()  #: a practitioner's patients who agreed, when asked for
