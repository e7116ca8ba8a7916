"""What the person, the contacts and the platform answer to an open alarm."""

from __future__ import annotations

from dataclasses import replace

from domain.messages import line
from domain.outcome import Rank
from domain.people import Contact, NoteKind, PersonId
from domain.talk import alarm_words, escalation
from domain.talk.turn import Turn

# --- the patient


def patient_pressed(turn: Turn, what: str) -> None:
    """`what` is ambulance, helper or cannot_phone; recorded, and the contacts are told."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    turn.change(alarm=replace(alarm, patient_said=what))
    alarm_words.pressed_by_patient(turn, alarm, what)
    turn.set_after(escalation.CHECK, escalation.CHECK_AFTER)
    if what == "cannot_phone":
        # Somebody else has to phone: the contacts are called again without waiting.
        turn.set_after(escalation.AGAIN, escalation.CALL_AGAIN_AFTER)


def slip(turn: Turn) -> None:
    """The number was mistyped: wait for the right one. The advice stays until it is there."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(line("slip.none"))
        return
    turn.change(alarm=replace(alarm, slip=True))
    # A slip takes back a number; signs end only as they always do.
    key = "slip.ask" if alarm.readings else "slip.ask.sign"
    turn.say(line(key, number=turn.number), rank=Rank.ALARM)


def help_came(turn: Turn) -> None:
    """Somebody is looking after the person: the alarm ends, those who were told learn it."""
    if turn.state.alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    escalation.end(turn, "helped")


def help_not_yet(turn: Turn) -> None:
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    turn.change(alarm=replace(alarm, answered_by=(), rounds=0, patient_said="no_help_yet"))
    alarm_words.pressed_by_patient(turn, alarm, "no_help_yet")
    turn.set_after(escalation.AGAIN, escalation.CALL_AGAIN_AFTER)
    turn.set_after(escalation.CHECK, escalation.CHECK_AFTER)


# --- the contacts


def see_to_it(turn: Turn, contact: Contact) -> None:
    """A contact will see to it: nobody is called again, everybody sees who."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.tell(contact, line("alarm.over", name=turn.patient.name))
        return
    answered = tuple(dict.fromkeys((*alarm.answered_by, contact.person)))
    turn.change(alarm=replace(alarm, answered_by=answered))
    turn.cancel(escalation.AGAIN)
    alarm_words.contact_answers(turn, alarm, contact)


def i_am_there(turn: Turn, contact: Contact) -> None:
    """A named person is with the patient: the alarm ends."""
    if turn.state.alarm is None:
        turn.tell(contact, line("alarm.over", name=turn.patient.name))
        return
    escalation.end(turn, "there", by=contact.name)


def it_is_over(turn: Turn, contact: Contact) -> None:
    """The contact who told of the signs has made sure that they are gone."""
    _reporter_ends(turn, contact, "made_sure")


def not_about(turn: Turn, contact: Contact) -> None:
    """A contact says that what they told of was not about this patient."""
    _reporter_ends(turn, contact, "not_about")


def _reporter_ends(turn: Turn, contact: Contact, how: str) -> None:
    """End an alarm as only the contact who told of its signs may."""
    alarm = turn.state.alarm
    if alarm is None or alarm.reported_by != contact.person:
        turn.tell(contact, line("alarm.over", name=turn.patient.name))
        return
    escalation.end(turn, how, by=contact.name)


# --- the platform


def delivery_failed(turn: Turn, to: PersonId | None, *, blocked: bool, was_alarm: bool) -> None:
    """A message could not be delivered for good: those who can act are told."""
    contact = turn.patient.contact(to) if to is not None else None
    alarm = turn.state.alarm
    if contact is None:
        _patient_unreachable(turn, was_alarm=was_alarm)
        return
    if blocked and contact.reachable:
        turn.change_contact(contact, reachable=False)
    if alarm is not None and was_alarm and contact.person not in alarm.failed:
        turn.change(alarm=replace(alarm, failed=(*alarm.failed, contact.person)))
        alarm_words.could_not_reach(turn, contact)
    elif blocked and alarm is None:
        turn.say(line("contact.unreachable", name=contact.name))


def _patient_unreachable(turn: Turn, *, was_alarm: bool) -> None:
    """The patient's chat takes nothing: in an alarm the contacts have to know."""
    alarm = turn.state.alarm
    if alarm is None or not was_alarm:
        return
    for contact in turn.patient.contacts:
        if contact.may_be_told:
            told = line("contact.patient_unreachable", name=turn.patient.name, number=turn.number)
            turn.tell(contact, told, rank=Rank.ALARM)


def note_reported(turn: Turn, codes: tuple[str, ...]) -> None:
    """Symptoms that a contact told of, kept as such."""
    for code in codes:
        turn.note(NoteKind.SYMPTOM, code=code)
