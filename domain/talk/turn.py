"""Collects what one event leads to, while `respond` works it out.

A `Turn` is local to one call of `respond`: it is changed on the way and read once, at the
end. Rooms of the conversation (joining, coaching, escalation …) take it as their argument.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final

from domain.danger import Limits, limits
from domain.emergency_numbers import emergency_number
from domain.events import Action, Do, Situation
from domain.messages import Line, Value, Words, line
from domain.outcome import (
    Attachment,
    Button,
    CancelTimer,
    ContactChanged,
    Fact,
    Keyboard,
    Noted,
    Outcome,
    Outgoing,
    Rank,
    ReadingDeleted,
    ReadingKept,
    SetTimer,
    TimerChange,
)
from domain.people import (
    ChatId,
    Contact,
    Kept,
    MessageRef,
    Note,
    NoteKind,
    Patient,
    PersonId,
    Profile,
    ReadingId,
    State,
)
from domain.readings import Reading
from domain.understanding import Understood, nearest_language, understand_any

Rows = tuple[tuple[Button, ...], ...]

#: Shown where no emergency number is known, or none of the patient's may be told.
NO_NUMBER: Final = Words(("number.unknown",))
#: A message that is answered later than this is answered with the delay said. Common practice.
LATE_AFTER: Final = timedelta(minutes=5)


class Turn:
    """One event on its way to an `Outcome`. `now` is the event's moment, aware."""

    def __init__(self, situation: Situation, patient: Patient, now: datetime) -> None:
        self.situation = situation
        self.patient = patient
        self.now = now
        self.written_at = now  #: the platform's date of the message that is answered
        self._before = patient
        self._facts: list[Fact] = []
        self._timers: list[TimerChange] = []
        self._outgoing: list[Outgoing] = []
        self._first: tuple[Line, ...] = ()  #: of the next message to the patient

    # --- what is known

    @property
    def before(self) -> Patient:
        """The patient as the event found them."""
        return self._before

    @property
    def state(self) -> State:
        return self.patient.state

    @property
    def profile(self) -> Profile:
        return self.patient.state.profile

    @property
    def local_now(self) -> datetime:
        """Now as the patient's clock shows it."""
        return self.now.astimezone(self.patient.zone)

    @property
    def number(self) -> Value:
        """The emergency number to show: the confirmed one, the country's, or words for neither."""
        if self.profile.emergency_number:
            return self.profile.emergency_number
        known = emergency_number(self.profile.country)
        return known.call if known else NO_NUMBER

    @property
    def limits(self) -> Limits:
        """What counts as dangerous for this person."""
        return limits(pregnant=self.profile.pregnant, severe=self.profile.severe)

    @property
    def actor_contact(self) -> Contact | None:
        """The contact whose chat the event came from; None in the patient's own chat.

        Of several in one chat (invited anew after an end, or under two roles) whoever may be
        told: a link that was withdrawn takes nothing from one that was agreed to since.
        """
        return self.contact_in(self.situation.actor.chat)

    def contact_in(self, chat: ChatId | None) -> Contact | None:
        """The contact who is reached in a chat; None when it is the patient's own, or nobody's."""
        if chat is None or chat == self.patient.chat:
            return None
        here = [c for c in self.patient.contacts if c.chat == chat]
        return next((c for c in here if c.may_be_told), here[0] if here else None)

    @property
    def language(self) -> str:
        """The language whose words the writer's messages are read in."""
        contact = self.actor_contact
        return nearest_language(self.patient.language if contact is None else contact.language)

    def read(self, text: str, written_at: datetime) -> Understood:
        """What a text says that was written at that moment, in the patient's local time."""
        return understand_any(text, written_at.astimezone(self.patient.zone), self.language)

    # --- changes

    def change(self, **values: Any) -> None:
        """New values for fields of the patient's state."""
        self.patient = replace(self.patient, state=replace(self.patient.state, **values))

    def change_profile(self, **values: Any) -> None:
        """New values for fields of the patient's profile."""
        self.change(profile=replace(self.profile, **values))

    def change_contact(self, contact: Contact, **values: Any) -> Contact:
        """New values for a contact's link, stored and seen by the rest of this turn."""
        changed = replace(contact, **values)
        others = tuple(changed if c.person == contact.person else c for c in self.patient.contacts)
        self.patient = replace(self.patient, contacts=others)
        self._facts.append(ContactChanged(contact=changed))
        return changed

    def join_chat(self, chat: ChatId, language: str, name: str) -> None:
        """The patient is reached in this chat from now on."""
        self.patient = replace(self.patient, chat=chat, language=language, name=name)

    def keep(
        self,
        reading: Reading,
        made_by: MessageRef,
        text: str,
        written_at: datetime,
        replaces: ReadingId | None = None,
    ) -> None:
        """Keep a new version of a reading; the version it replaces no longer counts."""
        self._facts.append(
            ReadingKept(
                reading=reading,
                made_by=made_by,
                text=text,
                written_at=written_at,
                replaces=replaces,
            )
        )
        # The database gives the id; within this turn nothing needs it.
        kept = Kept(
            id=ReadingId(""),
            reading=reading,
            made_by=made_by,
            text=text,
            written_at=written_at,
            replaces=replaces,
        )
        rest = tuple(k for k in self.patient.readings if replaces is None or k.id != replaces)
        ordered = tuple(sorted((*rest, kept), key=lambda k: k.reading.at))
        self.patient = replace(self.patient, readings=ordered)

    def delete(self, kept: Kept) -> None:
        """Take a version back: it stays stored and no longer counts."""
        self._facts.append(ReadingDeleted(id=kept.id))
        rest = tuple(k for k in self.patient.readings if k.id != kept.id)
        self.patient = replace(self.patient, readings=rest)

    def note(
        self, kind: NoteKind, code: str = "", text: str = "", made_by: MessageRef | None = None
    ) -> None:
        note = Note(kind=kind, at=self.now, code=code, text=text, made_by=made_by)
        self.patient = replace(self.patient, notes=(*self.patient.notes, note))
        self._facts.append(Noted(note=note))

    def fact(self, fact: Fact) -> None:
        self._facts.append(fact)

    # --- timers

    def set_timer(self, key: str, due: datetime) -> None:
        self._timers.append(SetTimer(key=key, due=due))

    def set_after(self, key: str, delay: timedelta) -> None:
        self.set_timer(key, self.now + delay)

    def cancel(self, *keys: str) -> None:
        self._timers.extend(CancelTimer(key=key) for key in keys)

    # --- messages

    def say_first(self, *lines: Line) -> None:
        """In one message with what is said to the patient next, before it; else by itself."""
        self._first = (*self._first, *lines)

    def say(
        self,
        *lines: Line,
        buttons: Rows = (),
        rank: Rank = Rank.REPLY,
        keyboard: Keyboard | None = None,
        attachment: Attachment | None = None,
    ) -> None:
        """To the patient's own chat; says nothing when the patient has none yet."""
        if self.patient.chat is None:
            return
        lines, self._first = (*self._first, *lines), ()
        named = (line("for.person", name=self.patient.name),) if self.patient.shares_chat else ()
        self._outgoing.append(
            Outgoing(
                chat=self.patient.chat,
                lines=(*named, *lines) if lines else (),
                language=self.patient.language,
                rank=rank,
                buttons=buttons,
                keyboard=keyboard,
                attachment=attachment,
                about=self.patient.id,
            )
        )

    def tell(
        self,
        contact: Contact,
        *lines: Line,
        buttons: Rows = (),
        rank: Rank = Rank.REPLY,
        attachment: Attachment | None = None,
    ) -> None:
        """To a contact's chat. The caller has made sure that the contact may be told."""
        if contact.chat is None:
            return
        self._outgoing.append(
            Outgoing(
                chat=contact.chat,
                lines=lines,
                language=contact.language,
                rank=rank,
                buttons=buttons,
                attachment=attachment,
                about=self.patient.id,
                to=contact.person,
            )
        )

    def answer_actor(self, *lines: Line, buttons: Rows = ()) -> None:
        """To the chat the event came from, be it the patient's or a contact's."""
        contact = self.actor_contact
        if contact is not None:
            self.tell(contact, *lines, buttons=buttons)
        elif self.situation.actor.chat in (None, self.patient.chat):
            self.say(*lines, buttons=buttons)
        else:
            self.send_to(self.situation.actor.chat, *lines)

    def send_to(self, chat: ChatId | None, *lines: Line, buttons: Rows = ()) -> None:
        """To a chat that has no link yet, in the language of its client."""
        if chat is None:
            return
        language = self.situation.actor.language
        self._outgoing.append(Outgoing(chat=chat, lines=lines, language=language, buttons=buttons))

    def button(self, label: str, do: Do, argument: str = "", **values: Value) -> Button:
        """A button about this patient."""
        action = Action(do=do, about=self.patient.id, argument=argument)
        return Button(label=line(label, **values), action=action)

    def outcome(self) -> Outcome:
        if self._first:
            self.say()
        self._say_if_late()
        changed = self.patient.state != self._before.state
        return Outcome(
            patient=self.patient if changed else None,
            facts=tuple(self._facts),
            timers=tuple(self._timers),
            outgoing=tuple(self._outgoing),
        )

    def _say_if_late(self) -> None:
        """An answer that comes late says so, right under its heading."""
        chat = self.situation.actor.chat
        if self.now - self.written_at <= LATE_AFTER or chat is None:
            return
        for place, outgoing in enumerate(self._outgoing):
            if outgoing.chat == chat and outgoing.lines:
                late = line("late", at=self.written_at.astimezone(self.patient.zone))
                head = 1 if outgoing.rank is Rank.ALARM else 0
                lines = (*outgoing.lines[:head], late, *outgoing.lines[head:])
                self._outgoing[place] = replace(outgoing, lines=lines)
                return


def names(contacts: tuple[Contact, ...]) -> str:
    """The contacts' names as a plain list: "Wren, Robin"."""
    return ", ".join(contact.name for contact in contacts)


def person_name(patient: Patient, person: PersonId) -> str:
    contact = patient.contact(person)
    return contact.name if contact else ""
