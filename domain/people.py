"""Who is who: persons, the links between them, and what the program keeps about a patient.

Roles are links, not kinds of person: a doctor may also be a patient, a carer may have two
patients, two patients may share a chat. All values are frozen; a change makes a new one.
Zones are IANA names; times of day are local to the person.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import StrEnum
from typing import NewType
from zoneinfo import ZoneInfo

from domain.alarm_table import REST
from domain.alarm_table import AlarmStage as AlarmStage  # part of an alarm's value
from domain.averaging_rules import DEFAULT_RULE
from domain.duty import Duty
from domain.plans import Plan, PlanKind
from domain.practice_marks import Seen
from domain.readings import Arm, Reading, Setting

PersonId = NewType("PersonId", str)
ChatId = NewType("ChatId", int)
ReadingId = NewType("ReadingId", str)


class Role(StrEnum):
    PATIENT = "patient"
    CARER = "carer"
    PRACTITIONER = "practitioner"


class Consent(StrEnum):
    """What the patient has said to a link. Only `AGREED` lets anything be told."""

    PROPOSED = "proposed"
    AGREED = "agreed"
    REFUSED = "refused"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A carer or practitioner linked to a patient, in the order in which they are called."""

    person: PersonId
    name: str
    role: Role
    chat: ChatId | None = None  #: None until they have joined
    language: str = "en"
    zone: str = "UTC"
    consent: Consent = Consent.PROPOSED
    told_missed: bool = False  #: occasions that were missed
    told_week: bool = False  #: the weekly picture
    reachable: bool = True  #: False once the platform refused to deliver to them
    asked: bool = False  #: the patient has been shown this proposal
    duty: Duty | None = None  #: of a practitioner: when they look

    @property
    def clock(self) -> ZoneInfo | None:
        """The zone whose clock the contact sees; None while it is not known."""
        return None if self.zone == "UTC" else ZoneInfo(self.zone)

    @property
    def may_be_told(self) -> bool:
        return self.consent is Consent.AGREED and self.chat is not None

    @property
    def may_see(self) -> bool:
        """Readings, pictures and reports as well: the patient did not agree to alarms only."""
        return self.may_be_told and self.told_week


class Monitor(StrEnum):
    UPPER_ARM = "upper_arm"
    WRIST = "wrist"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Helpline:
    """Whom a person calls when their own practice is closed."""

    number: str  #: as one dials it
    name: str = ""  #: what the person or the host calls it


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """What somebody needs who comes to help. Shown in an alarm only when `shared`.

    Left out of the text form of the value, so that no log can hold them.
    """

    shared: bool | None = None  #: the patient's own consent to this; None: not asked
    address: str = field(default="", repr=False)
    telephone: str = field(default="", repr=False)
    key: str = field(default="", repr=False)  #: who has one, or where it is


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """What a patient told about themselves; None where it was not said."""

    zone: str | None = None
    country: str | None = None  #: ISO 3166 code of where the person is
    emergency_number: str | None = None  #: as confirmed or typed by the person
    medicine_times: tuple[time, ...] | None = None  #: () is "takes none"
    morning_prompt: time | None = None
    evening_prompt: time | None = None
    monitor: Monitor | None = None
    arm_cm: float | None = None  #: circumference of the upper arm; 0 is "cannot measure"
    arm: Arm | None = None
    barred_arm: Arm | None = None  #: must not be used (fistula, operation)
    adult: bool | None = None  #: None not asked yet; False: too young to be looked after
    pregnant_until: date | None = None  #: local day after which it is asked again
    irregular: bool = False  #: a known irregular heartbeat
    out_of_hours: Helpline | None = None
    details: Details = field(default_factory=Details)
    pregnant: bool = False  #: or within six weeks of birth: those limits and signs hold
    severe: tuple[int, int] | None = None  #: mmHg; set by the practitioner, None is everybody's
    long_standing: tuple[str, ...] = ()  #: signs that the practitioner has recorded as known
    target: tuple[int, int] = (135, 85)  #: mmHg; on target is below both


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageRef:
    """A message of a chat, by the platform's own number."""

    chat: ChatId
    message: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A version of a reading that counts now, with the message that made it."""

    id: ReadingId
    reading: Reading
    made_by: MessageRef
    text: str  #: what the person typed
    written_at: datetime  #: the platform's date of the message
    replaces: ReadingId | None = None


class NoteKind(StrEnum):
    SYMPTOM = "symptom"  #: code is the symptom
    MEDICINE = "medicine"
    MISSED = "missed"  #: code is the half of the day
    SKIPPED = "skipped"
    ALARM = "alarm"  #: code is the level
    ALARM_ENDED = "alarm_ended"  #: code says how
    LIMITS = "limits"  #: code is the severe limit that a practitioner set, text their name
    KNOWN_SIGNS = "known_signs"  #: code holds the long-standing signs, text who recorded them
    ALARM_SEEN = "alarm_seen"  #: the person says that a doctor or nurse has heard of it
    ALARM_SAID = "alarm_said"  #: what the person or a contact said of it; code is the remark
    PLAN = "plan"  #: code is the plan that began
    TARGET = "target"  #: code is the target that a practitioner chose, text their name
    CHANGED = "changed"  #: medicine was changed; code is the date, or "none": earlier ones go
    CONSENT = "consent"  #: code is the consent, text the contact's name
    DECLINED = "declined"  #: joining ended; code says why
    CONDITION = "condition"  #: for which adult limits do not fit as they are; code says which
    REHEARSAL = "rehearsal"  #: code: all, some, none, cut, void; text: who, in minutes
    IN_DOUBT = "in_doubt"  #: a text that waits for an answer before it is a reading
    PROMPTED = "prompted"  #: an occasion that was asked for; code is the half
    FINDING = "finding"  #: no alarm, but said; code is one of `domain.watch`, text its number
    FAILED = "failed"  #: a try to measure that gave no number
    UNREACHABLE = "unreachable"  #: the chat took no more messages; code is lost or back


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something worth keeping that is not a reading."""

    kind: NoteKind
    at: datetime
    code: str = ""
    text: str = ""
    made_by: MessageRef | None = None


class JoinStep(StrEnum):
    """What joining asks, in this order. `domain.talk.joining` has the table."""

    ADULT = "adult"
    BARRED_ARM = "barred_arm"
    PLACE = "place"
    NUMBER = "number"
    OUT_OF_HOURS = "out_of_hours"
    MEDICINE = "medicine"
    PROMPT = "prompt"
    MONITOR = "monitor"
    CUFF = "cuff"
    ARM = "arm"


class Step(StrEnum):
    """Where an occasion stands. `domain.talk.coaching` has the table."""

    PROMPTED = "prompted"
    RESTING = "resting"
    FIRST = "first"
    PAUSE = "pause"
    SECOND = "second"
    THIRD = "third"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOccasion:
    step: Step
    opened: datetime
    half: str = ""  #: of the prompt; "" when the person began by themselves
    reminded: bool = False
    symptoms: tuple[str, ...] = ()  #: told since it opened


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One reading that a doubtful message may mean; plausible, mmHg and beats per minute."""

    systolic: int
    diastolic: int
    pulse: int | None = None
    at: datetime | None = None  #: None is the message's moment
    setting: Setting | None = None  #: where it was taken; None: not said


@dataclass(frozen=True, slots=True, kw_only=True)
class InDoubt:
    """A message that waits for an answer before it counts, with what it may mean."""

    text: str
    made_by: MessageRef
    written_at: datetime
    doubts: tuple[str, ...]
    options: tuple[Option, ...] = ()
    together: bool = False  #: the options are one answer, not alternatives
    known_systolic: int | None = None  #: of an incomplete one
    known_diastolic: int | None = None
    setting: Setting | None = None  #: where the incomplete one was taken; None: not said
    is_edit: bool = False  #: the edit of an old message, which is asked about


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """An alarm that is open. Pressures in mmHg, None where only one number was given."""

    stage: AlarmStage
    opened: datetime
    readings: tuple[tuple[int | None, int | None], ...] = ()  #: that raised it, worst of doubts
    symptoms: tuple[str, ...] = ()  #: told since, or in force when it opened
    causes: tuple[MessageRef, ...] = ()  #: the messages that gave its numbers
    told: tuple[PersonId, ...] = ()  #: contacts to whom a message was sent
    failed: tuple[PersonId, ...] = ()  #: contacts whom the platform refused
    answered_by: tuple[PersonId, ...] = ()  #: contacts who said that they will see to it
    unable: tuple[PersonId, ...] = ()  #: contacts who said that they cannot
    rounds: int = 0  #: how often contacts have been called since anybody answered
    asks: int = 0  #: how often its stage's question was put: signs, or a doctor has heard
    checks: int = 0  #: how often it was asked whether help has come
    no_symptoms: bool = False  #: the person has said that none of the signs is there
    patient_said: str = ""  #: ambulance, helper, cannot_phone, no_help_yet, refuses, is_over
    slip: bool = False  #: the person says that a number was mistyped; waits for the right one
    reported_by: PersonId | None = None  #: a contact who told of the signs
    sign_at: datetime | None = None  #: when a sign that has passed was there, at the latest
    seen: bool = False  #: the person says that a doctor or nurse has heard of it
    rest_until: datetime | None = None  #: what is measured before is no second reading

    @property
    def rest_over(self) -> datetime:
        """When the rest before the second pair ends. It counts from "none of these signs"; where
        that is not said within its time, from the severe reading, with which the person was told
        to sit down.
        """
        return self.rest_until or self.opened + REST.after


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalAnswer:
    """A contact has said in a rehearsal that they saw it."""

    person: PersonId
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """A rehearsal of an alarm that is going on. `domain.talk.rehearsal` has its times."""

    opened: datetime
    told: tuple[PersonId, ...] = ()
    answers: tuple[RehearsalAnswer, ...] = ()  #: in the order in which they came


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a patient's conversation needs besides readings, notes and contacts."""

    joining: JoinStep | None = None
    asking: str = ""  #: a setting or a name that free text would answer
    profile: Profile = field(default_factory=Profile)
    plan: Plan | None = None
    wanted_plan: PlanKind | None = None  #: of the invitation; begins when joining ends
    occasion: OpenOccasion | None = None
    in_doubt: InDoubt | None = None
    alarm: Alarm | None = None
    paused: bool = False  #: the person wants no prompts
    unreachable: bool = False  #: the chat takes no messages (blocked, or the account deleted)
    joined_at: datetime | None = None
    declined: bool = False
    rule: str = DEFAULT_RULE  #: a name of `averaging_rules.RULES`, as a practitioner chose it
    seen: Seen | None = None  #: the finding that a practitioner has decided on
    picked: tuple[str, ...] = ()  #: so far, of the question that may have several answers
    told_alone: bool = False  #: the person knows that nobody can be reached in an alarm
    rehearsal: Rehearsal | None = None
    rehearsed_at: datetime | None = None  #: when the last rehearsal began


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """Everything that `respond` may know of the person whom an event concerns."""

    id: PersonId
    name: str
    chat: ChatId | None
    language: str = "en"
    state: State = field(default_factory=State)
    contacts: tuple[Contact, ...] = ()
    readings: tuple[Kept, ...] = ()  #: that count, of the last `RECENT_DAYS` days, by moment
    notes: tuple[Note, ...] = ()  #: of the same days, by moment
    spent: frozenset[MessageRef] = frozenset()  #: whose readings a later message corrected
    shares_chat: bool = False  #: another patient uses the same chat: texts name the person

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.state.profile.zone or "UTC")

    def contact(self, person: PersonId) -> Contact | None:
        return next((c for c in self.contacts if c.person == person), None)


#: How far back a patient is loaded for the conversation. Report and export read all.
RECENT_DAYS = 35


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """How a chat may be about a patient: as the patient, or as a contact."""

    patient: PersonId
    patient_name: str
    role: Role
    person: PersonId  #: who it is in this chat
    person_name: str
    consent: Consent = Consent.AGREED
    alarms_only: bool = False  #: as a contact: the patient agreed to no more than alarms
    alarm_open: bool = False
    joined: bool = True  #: the patient has finished joining
    duty: Duty | None = None  #: of a practitioner: when they look
    zone: str = "UTC"  #: of the one in this chat
    language: str = "en"  #: of the one in this chat


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """A code that lets one person into a chat. The code itself is kept only as a hash."""

    person: PersonId
    name: str
    role: Role
    expires: datetime
    used: bool = False
    patient: PersonId | None = None  #: for a carer or practitioner: whose
    patient_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where somebody is, as looked up by the shell from a name or a position."""

    name: str
    zone: str
    country: str  #: ISO 3166 code, "" when unknown
