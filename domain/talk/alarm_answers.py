"""What the person, the contacts and the platform answer to an open alarm."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from domain import alarm_table
from domain.alarm_table import Happening
from domain.messages import line
from domain.outcome import Rank
from domain.people import Alarm, AlarmStage, Contact, NoteKind, PersonId
from domain.talk import alarm_words, calling, contact_words, unreachable
from domain.talk.alarm_steps import alarm_of, change, end, wait
from domain.talk.callers import called_now
from domain.talk.signs import SIGN
from domain.talk.turn import Turn
from domain.understanding.result import Remark

# --- the patient


def patient_pressed(turn: Turn, what: str) -> None:
    """`what` is ambulance, helper, cannot_phone, refuses or is_over; the contacts are told.

    None of them ends an alarm: that takes a calm pair without signs, or somebody's word.
    """
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    is_news = alarm.patient_said != what
    alarm = change(turn, patient_said=what)
    turn.note(NoteKind.ALARM_SAID, code=what)
    alarm_words.pressed_by_patient(turn, alarm, what)
    if alarm.stage is not AlarmStage.EMERGENCY:
        return
    wait(turn, alarm_table.CHECK)
    if what == "cannot_phone" and is_news and not alarm.answered_by:
        # Somebody else has to phone, and was asked to just now. Pressed again and again it must
        # not put off the next call.
        wait(turn, alarm_table.AGAIN)


def slip(turn: Turn) -> None:
    """The number was mistyped: wait for the right one. The advice stays until it is there."""
    alarm = turn.state.alarm
    if alarm is None:
        turn.say(line("slip.none"))
        return
    change(turn, slip=True)
    # A slip takes back a number; signs end only as they always do.
    key = "slip.ask" if alarm.readings else "slip.ask.sign"
    turn.say(line(key, number=turn.number), rank=Rank.ALARM)


def help_came(turn: Turn) -> None:
    """Somebody is looking after the person: the alarm ends, those who were told learn it."""
    if turn.state.alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    end(turn, Happening.HELP_CAME, "helped")


def help_not_yet(turn: Turn) -> None:
    """No help yet: everybody is called again, whoever has answered."""
    if turn.state.alarm is None:
        turn.say(*alarm_words.nothing_open())
        return
    alarm = change(turn, answered_by=(), rounds=0, patient_said="no_help_yet")
    alarm_words.pressed_by_patient(turn, alarm, "no_help_yet")
    turn.cancel(alarm_table.CHASE.key, alarm_table.CHASED.key)
    if alarm.stage is AlarmStage.EMERGENCY:
        wait(turn, alarm_table.AGAIN)
        wait(turn, alarm_table.CHECK)


def check_fell(turn: Turn) -> None:
    """Half an hour later: has help come? Asked again while there is no answer."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return
    alarm_words.ask_if_help_came(turn)
    if change(turn, checks=alarm.checks + 1).checks < alarm_table.MOST_CHECKS:
        wait(turn, alarm_table.CHECK)


#: What a typed remark of the patient does in an emergency, as the buttons do.
_PATIENT_REMARKS: Final[Mapping[Remark, Callable[[Turn], None]]] = {
    Remark.AMBULANCE_HERE: help_came,
    Remark.AMBULANCE_CALLED: lambda turn: patient_pressed(turn, "ambulance"),
    Remark.SOMEONE_HERE: lambda turn: patient_pressed(turn, "helper"),
    Remark.REFUSES_HELP: lambda turn: patient_pressed(turn, "refuses"),
    Remark.SLIP: slip,
    Remark.NOT_REAL: lambda turn: patient_pressed(turn, "is_over"),
    Remark.IS_OVER: lambda turn: patient_pressed(turn, "is_over"),
}


def patient_remarked(turn: Turn, remarks: tuple[Remark, ...]) -> bool:
    """Answer what the patient typed about an open emergency. False when it is none of these."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY:
        return False
    for remark, answer in _PATIENT_REMARKS.items():
        if remark in remarks:
            answer(turn)
            return True
    return False


# --- the contacts


def see_to_it(turn: Turn, contact: Contact) -> None:
    """A contact will see to it: everybody sees who, and later they are asked how it went."""
    if _is_over(turn, contact):
        return
    calling.answered(turn, contact)


def cannot_help(turn: Turn, contact: Contact) -> None:
    """A contact cannot: the others are called on."""
    if _is_over(turn, contact):
        return
    calling.cannot(turn, contact)


def cannot_reach(turn: Turn, contact: Contact) -> None:
    """The patient does not answer a contact: somebody has to go there."""
    contact_words.cannot_reach(turn, contact)
    turn.note(NoteKind.ALARM_SAID, code=Remark.CANNOT_REACH)


def i_am_there(turn: Turn, contact: Contact) -> None:
    """A named person is with the patient: the alarm ends."""
    if _is_over(turn, contact):
        return
    told = alarm_of(turn).told
    end(turn, Happening.SOMEBODY_THERE, "there", by=contact.name)
    if contact.person not in told:  # a button of an earlier alarm, or their own words
        turn.tell(contact, line("contact.ended.there", name=turn.patient.name, by=contact.name))


def ask_if_there(turn: Turn, contact: Contact) -> None:
    """They are with somebody, perhaps another person: only their own word ends an alarm."""
    calling.knows_of_it(turn, contact)
    contact_words.ask_if_there(turn, contact)


def it_is_over(turn: Turn, contact: Contact) -> None:
    """The contact who told of the signs has made sure that they are gone."""
    alarm = turn.state.alarm
    if alarm is None or alarm.reported_by != contact.person:
        turn.tell(contact, line("alarm.over", name=turn.patient.name))
        return
    end(turn, Happening.SOMEBODY_THERE, "made_sure", by=contact.name)


def not_about(turn: Turn, contact: Contact) -> None:
    """A contact says that what they told of was not about this patient.

    That ends what rests on their word, never what the patient or somebody else told as well.
    """
    if not _is_over(turn, contact):
        _denied(turn, contact, signs_too=True)


def _rests_on(turn: Turn, alarm: Alarm, contact: Contact) -> bool:
    """Whether an alarm is a contact's word alone: no number and no sign came from elsewhere."""
    if alarm.reported_by != contact.person or SIGN in alarm.symptoms:
        return False
    if any(message.chat != contact.chat for message in alarm.causes):
        return False
    kept_open = any(
        kept.made_by.chat != contact.chat
        and kept.written_at >= alarm.opened
        and turn.limits.keeps_open(kept.reading.systolic, kept.reading.diastolic)
        for kept in turn.patient.readings
    )
    told = any(
        note.kind is NoteKind.SYMPTOM
        and note.at >= alarm.opened
        and note.code in turn.limits.with_severe
        and note.made_by is not None
        and note.made_by.chat != contact.chat
        for note in turn.patient.notes
    )
    return not (kept_open or told)


def not_theirs(turn: Turn, contact: Contact) -> None:
    """A contact says that a number was somebody else's: an alarm that rests on it alone ends."""
    if turn.state.alarm is not None:
        _denied(turn, contact, signs_too=False)


def _denied(turn: Turn, contact: Contact, *, signs_too: bool) -> None:
    """End what rests on the contact's word; else say what stands."""
    alarm = alarm_of(turn)
    if _rests_on(turn, alarm, contact) and (signs_too or not alarm.symptoms):
        end(turn, Happening.SOMEBODY_THERE, "not_about", by=contact.name)
    else:
        contact_words.what_to_do(turn, contact, alarm)


def _is_over(turn: Turn, contact: Contact) -> bool:
    if turn.state.alarm is None:
        turn.tell(contact, line("alarm.over", name=turn.patient.name))
        return True
    return False


#: What a typed remark of a contact does while an alarm is open.
_CONTACT_REMARKS: Final[Mapping[Remark, Callable[[Turn, Contact], None]]] = {
    Remark.CANNOT_REACH: cannot_reach,
    Remark.CANNOT_COME: cannot_help,
    # Before being there: "I'm here with my wife".
    Remark.WITH_SOMEBODY: ask_if_there,
    Remark.IS_THERE: i_am_there,
    # "I am at the hospital" may be about themselves.
    Remark.AMBULANCE_HERE: ask_if_there,
    Remark.ON_THE_WAY: see_to_it,
    Remark.WILL_SEE_TO_IT: see_to_it,
    Remark.AMBULANCE_CALLED: see_to_it,
}


def contact_remarked(turn: Turn, contact: Contact, remarks: tuple[Remark, ...]) -> bool:
    """Answer what a contact typed about an open alarm. False when it is none of these."""
    for remark, answer in _CONTACT_REMARKS.items():
        if remark in remarks and (turn.state.alarm is not None or remark is Remark.CANNOT_REACH):
            answer(turn, contact)
            return True
    return False


# --- the platform


def delivery_failed(turn: Turn, to: PersonId | None, *, blocked: bool, was_alarm: bool) -> None:
    """A message could not be delivered for good: those who can act are told."""
    contact = turn.patient.contact(to) if to is not None else None
    alarm = turn.state.alarm
    if contact is None:
        _patient_unreachable(turn, was_alarm=was_alarm)
        if blocked and to is None:
            unreachable.lost(turn, told=was_alarm and turn.state.alarm is not None)
        return
    if blocked and contact.reachable:
        turn.change_contact(contact, reachable=False)
    if alarm is not None and was_alarm and contact.person not in alarm.failed:
        turn.change(alarm=replace(alarm, failed=(*alarm.failed, contact.person)))
        alarm_words.could_not_reach(turn, contact)
    elif blocked and alarm is None:
        turn.say(line("contact.unreachable", name=contact.name))


def contact_is_back(turn: Turn, contact: Contact) -> None:
    """Their chat takes messages again: they learn how an open alarm goes on, and its end."""
    if not contact.reachable:
        contact = turn.change_contact(contact, reachable=True)
    alarm = turn.state.alarm
    if alarm is not None and contact.person in alarm.failed:
        alarm = change(turn, failed=tuple(p for p in alarm.failed if p != contact.person))
        if alarm.stage is AlarmStage.EMERGENCY and contact in called_now(turn, alarm.rounds):
            contact_words.call(turn, contact, alarm, update=False)


def contact_was_heard(turn: Turn) -> None:
    """Whoever writes or presses can be reached in that chat, whatever the platform said."""
    contact = turn.actor_contact
    if contact is not None and not contact.reachable:
        contact_is_back(turn, contact)


def _patient_unreachable(turn: Turn, *, was_alarm: bool) -> None:
    """The patient's chat takes nothing: in an alarm the contacts have to know."""
    alarm = turn.state.alarm
    if alarm is None or not was_alarm or turn.patient.id in alarm.failed:
        return
    told_now = called_now(turn, alarm.rounds)
    told = line("contact.patient_unreachable", name=turn.patient.name, number=turn.number)
    for contact in told_now:
        turn.tell(contact, told, rank=Rank.ALARM)
    persons = dict.fromkeys((*alarm.told, *(contact.person for contact in told_now)))
    change(turn, told=tuple(persons), failed=(*alarm.failed, turn.patient.id))


def note_reported(turn: Turn, codes: tuple[str, ...]) -> None:
    """Symptoms that a contact told of, kept as such."""
    for code in codes:
        turn.note(NoteKind.SYMPTOM, code=code)
