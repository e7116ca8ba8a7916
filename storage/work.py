"""The unit of work: what one event reads and changes, in one transaction.

`with database.work() as work:` commits at the end, or undoes everything when an exception
comes through. The files named in each method hold the mapping; this one only says what an
event may ask for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import assert_never

from sqlalchemy import Connection, text

from domain.averaging_rules import Rule
from domain.duty import LOOK
from domain.events import Action, DeliveryProblem
from domain.outcome import (
    Asking,
    ContactChanged,
    DutyChosen,
    Fact,
    LanguageChosen,
    LeaveGroup,
    NextLook,
    Noted,
    Outcome,
    OwnerAwaited,
    OwnerSettled,
    PersonInvited,
    PersonJoined,
    ReadingDeleted,
    ReadingKept,
    SetTimer,
)
from domain.people import (
    ChatId,
    Consent,
    Contact,
    Invitation,
    Kept,
    MessageRef,
    Note,
    Patient,
    PersonId,
    ReadingId,
    Tie,
)
from domain.practice_list import Entry
from storage import arrivals, clock, invitations, lanes, people, records, timers
from storage.errors import OutcomeWithoutPatientError
from storage.fresh import fresh_value
from storage.invitations import Invite
from storage.messages import Claim, ReadyMessage, Waiting
from storage.timers import Timer

#: PostgreSQL: whoever listens to this hears of it when messages have been queued.
OUTBOX_CHANNEL = "cuffbell_outbox"


class Work:
    """One open transaction. `now` is person time, `machine_now` machine time; both stand."""

    def __init__(self, connection: Connection, machine_now: datetime) -> None:
        self.connection = connection
        self.machine_now = machine_now
        self._now: datetime | None = None
        self._queued: list[ReadyMessage] = []
        self._ended: dict[PersonId, set[Contact]] = {}

    def now(self) -> datetime:
        """Person time."""
        if self._now is None:
            self._now = self.machine_now + clock.offset(self.connection)
        return self._now

    def move_clock(self, to: datetime) -> None:
        """Person time is `to` from this moment on."""
        clock.set_clock(self.connection, to, self.machine_now)
        self._now = to

    # --- what an event needs to know

    def seen(self, bot: int, update_id: int) -> bool:
        """Whether this update was handled before; from this transaction on it was."""
        return arrivals.seen(self.connection, bot, update_id, self.machine_now)

    def ties(self, chat: ChatId) -> tuple[Tie, ...]:
        """Whom the chat may be about."""
        return people.ties(self.connection, chat)

    def patient(
        self, person: PersonId, *, lock: bool = True, skip_locked: bool = False
    ) -> Patient | None:
        """The patient as the conversation sees them; None when nobody has this id."""
        return people.patient(
            self.connection, person, self.now(), lock=lock, skip_locked=skip_locked
        )

    def history(self, person: PersonId) -> tuple[tuple[Kept, ...], tuple[Note, ...]]:
        """All readings that count and all notes, by moment: for the report."""
        return (
            records.kept(self.connection, person),
            records.notes_of(self.connection, person),
        )

    def practitioner_list(
        self, practitioners: Collection[PersonId] | None, rule: Rule | None = None
    ) -> tuple[Entry, ...]:
        """The list of the patients who agreed to one of these practitioners; None: of all.

        Each by the rule that was chosen for them, or all by `rule`.
        """
        # Here, because they load NumPy, which most events do not need.
        from domain.evidence.patients import WINDOW, practitioner_list
        from storage.patients import followed, reading_columns

        now = self.now()
        patients = followed(self.connection, practitioners, now)
        readings = reading_columns(self.connection, patients, now - WINDOW, now)
        return practitioner_list(patients, readings, now=now, rule=rule)

    def invitation(self, code: str) -> Invitation | None:
        """What the code stands for, used or expired ones too; None when unknown."""
        return invitations.invitation(self.connection, code)

    def button(self, token: str, chat: ChatId) -> Action | None:
        """What the button stands for in this chat."""
        return arrivals.button(self.connection, token, chat)

    def message_owner(self, ref: MessageRef) -> PersonId | None:
        """Whose reading or text in doubt the message made."""
        return records.message_owner(self.connection, ref)

    def owners_of(self, ref: MessageRef, text: str) -> frozenset[PersonId]:
        """Whose readings this text of the message made, whatever became of them since."""
        return records.owners_of(self.connection, ref, text)

    def lock_person(self, person: PersonId) -> bool:
        """Lock somebody who is no patient; False while another process is busy with them."""
        return people.lock_person(self.connection, person)

    def chat_of(self, person: PersonId) -> ChatId | None:
        """Where somebody is reached; None before they have joined."""
        return people.chat_of(self.connection, person)

    def colleagues(self, chat: ChatId) -> tuple[tuple[PersonId, str], ...]:
        """Other practitioners of the same patients: id and name."""
        return people.colleagues(self.connection, chat)

    def asking(self, chat: ChatId) -> str:
        """What the chat was asked outside any patient's conversation."""
        return people.asking(self.connection, chat)

    def bot_name(self) -> str | None:
        """The bot's user name, None before the first run."""
        return arrivals.bot_name(self.connection)

    # --- what an event leads to

    def store(
        self,
        patient: Patient | None,
        outcome: Outcome,
        messages: Sequence[ReadyMessage] = (),
        actions: Mapping[ChatId, Mapping[str, Action]] | None = None,
    ) -> None:
        """Store facts, timers, messages with what their buttons stand for, and the state.

        Raises:
            OutcomeWithoutPatientError: it keeps something of a patient, and `patient` is None.
        """
        for fact in outcome.facts:
            self._keep(patient, outcome, fact)
        if outcome.patient is not None:
            people.save(self.connection, _known(patient, "A state"), outcome.patient)
        if outcome.timers:
            person = _known(patient, "A timer").id
            timers.change(self.connection, person, outcome.timers)
        for chat, given in (actions or {}).items():
            arrivals.keep_buttons(self.connection, chat, given, self.machine_now)
        self.queue(messages)

    def queue(self, messages: Sequence[ReadyMessage]) -> None:
        """Put finished messages into the outbox, in their order, at the end of the transaction.

        All at once, because lanes are locked in the order of their ids: an event that is
        about several patients would else lock them one patient after the other, and two
        such events could wait for each other.
        """
        self._queued.extend(messages)

    def finish(self) -> None:
        """Write what was queued. The last thing before the commit."""
        self._recall()
        lanes.queue(self.connection, self._queued, self.machine_now)
        if self._queued and self.connection.dialect.name == "postgresql":
            self.connection.execute(text(f"NOTIFY {OUTBOX_CHANNEL}"))

    def _recall(self) -> None:
        """Nobody is told once consent has ended: not what was queued before it ended either."""
        if not self._ended:
            return
        chats = {c.chat for ended in self._ended.values() for c in ended if c.chat is not None}
        lanes.lock_chats(self.connection, chats | {message.chat for message in self._queued})
        for patient, ended in self._ended.items():
            gone = [contact.person for contact in ended]
            lanes.recall(self.connection, patient, gone, self.machine_now)

    def holds(self, claim: Claim) -> bool:
        """Whether the lease is still the claim's. Locks nothing: it may be lost later."""
        return lanes.is_held(self.connection, claim)

    def fail(self, claim: Claim, row: Waiting, problem: DeliveryProblem) -> bool:
        """Mark a message as failed for good; False when the lease was lost.

        Call it when everything is queued that tells of it.
        """
        lanes.lock_chats(self.connection, {claim.chat, *(m.chat for m in self._queued)})
        return lanes.fail(self.connection, claim, row, problem, self.machine_now)

    def keep_unhandled(
        self, *, bot: int, update_id: int | None, chat: ChatId | None, event: str, problem: str
    ) -> None:
        """Keep an event that could not be handled."""
        arrivals.keep_unhandled(
            self.connection,
            bot=bot,
            update_id=update_id,
            chat=chat,
            event=event,
            problem=problem,
            machine_now=self.machine_now,
        )

    # --- timers

    def due_persons(self, limit: int) -> list[PersonId]:
        """Persons with a timer that is due, the longest due first."""
        return timers.due_persons(self.connection, self.now(), limit)

    def longest_due(self, person: PersonId) -> Timer | None:
        """The longest due timer of a person, left as it is. Takes no lock."""
        return timers.longest_due(self.connection, person, self.now())

    def take_due(self, person: PersonId) -> Timer | None:
        """The longest due timer of a person whom this transaction has locked, deleted."""
        return timers.take_due(self.connection, person, self.now())

    def postpone(self, timer: Timer, due: datetime) -> None:
        """Try a timer again later."""
        timers.postpone(self.connection, timer, due)

    def next_due(self) -> datetime | None:
        """When the next timer falls due, person time."""
        return timers.next_due(self.connection)

    # --- the host's commands

    def invite(self, wanted: Invite) -> str:
        """Invite somebody; the code."""
        return invitations.invite(self.connection, wanted, self.now())

    def set_bot(self, bot: int, username: str) -> None:
        """Store the bot's name for deep links."""
        arrivals.set_bot(self.connection, bot, username)

    def prune(self) -> None:
        """Forget seen updates, buttons and sent texts that are too old to matter."""
        arrivals.prune(self.connection, self.machine_now)

    def _keep(self, patient: Patient | None, outcome: Outcome, fact: Fact) -> None:
        connection = self.connection
        match fact:
            case ReadingKept():
                owner = _known(patient, "A reading")
                zone = (outcome.patient or owner).state.profile.zone or "UTC"
                new = ReadingId(fresh_value())
                records.keep(connection, owner.id, fact, id=new, zone=zone)
            case ReadingDeleted(id=id):
                records.delete(connection, _known(patient, "A reading").id, id)
            case Noted(note=note):
                records.note(connection, _known(patient, "A note").id, note)
            case ContactChanged(contact=contact):
                owner = _known(patient, "A contact")
                people.change_contact(connection, owner.id, contact)
                if _ended(owner.contact(contact.person), contact):
                    self._ended.setdefault(owner.id, set()).add(contact)
            case PersonInvited():
                people.invite(connection, fact, self.now())
                invitations.keep_code(connection, fact)
            case PersonJoined(person=person, chat=chat, language=language, name=name):
                people.join(connection, person, chat, language, name)
                invitations.use(connection, person, self.now())
            case Asking(chat=chat, what=what):
                people.set_asking(connection, chat, what)
            case LanguageChosen(chat=chat, language=language):
                people.choose_language(connection, chat, language)
            case DutyChosen(person=person, duty=duty):
                people.choose_duty(connection, person, duty)
            case NextLook(person=person, due=due):
                timers.change(connection, person, (SetTimer(key=LOOK, due=due),))
            case OwnerAwaited(persons=persons, key=key, due=due):
                for person in sorted(persons):  # as everywhere several patients are locked
                    people.lock_person(connection, person, wait=True)
                    timers.change(connection, person, (SetTimer(key=key, due=due),))
            case OwnerSettled(prefix=prefix):
                timers.settle_owner(connection, prefix)
            case LeaveGroup(chat=chat):
                # Queued by the desk behind the explanation, see `ReadyMessage.leave`.
                pass
            case _:
                assert_never(fact)


def _ended(before: Contact | None, after: Contact) -> bool:
    agreed = before is not None and before.consent is Consent.AGREED
    return agreed and after.consent is not Consent.AGREED


def _known(patient: Patient | None, what: str) -> Patient:
    if patient is None:
        raise OutcomeWithoutPatientError(what)
    return patient
