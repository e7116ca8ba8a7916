"""The people who are called in an alarm: in rounds until one answers, and then held to it.

Nobody without the patient's consent is told anything. "I will see to it" ends the calling
for a while only: whoever said so is asked whether they are there, and without an answer
everybody is called again.
"""

from __future__ import annotations

from dataclasses import replace

from domain import alarm_table
from domain.people import Alarm, AlarmStage, Contact
from domain.talk import alarm_words, contact_words
from domain.talk.callers import called_now
from domain.talk.turn import Turn


def call(turn: Turn, *, update: bool = False) -> None:
    """One round: everybody who may be told and has not said that they cannot.

    News goes to all of them, and so does every round when nobody is left who can.
    """
    alarm = _open(turn)
    everybody = _that_may_take_it(called_now(turn, alarm.rounds), alarm)
    able = tuple(c for c in everybody if c.person not in alarm.unable)
    told = everybody if update else able or everybody
    for contact in told:
        contact_words.call(turn, contact, alarm, update=update)
    _note_told(turn, alarm, told, rounds=alarm.rounds + 1)


def tell(turn: Turn, why: str) -> None:
    """Tell everybody who may be told of a severe reading or a sign that has passed."""
    alarm = _open(turn)
    told = _that_may_take_it(called_now(turn), alarm)
    for contact in told:
        contact_words.severe(turn, contact, alarm, why)
    _note_told(turn, alarm, told, rounds=alarm.rounds)


def _that_may_take_it(contacts: tuple[Contact, ...], alarm: Alarm) -> tuple[Contact, ...]:
    """Without those whose chat has refused a message of this alarm for good.

    Whoever was blocked before it is tried once: they may have let the bot in again.
    """
    return tuple(c for c in contacts if c.reachable or c.person not in alarm.failed)


def _note_told(turn: Turn, alarm: Alarm, told: tuple[Contact, ...], rounds: int) -> None:
    persons = tuple(dict.fromkeys((*alarm.told, *(contact.person for contact in told))))
    turn.change(alarm=replace(alarm, told=persons, rounds=rounds))


def knows_of_it(turn: Turn, contact: Contact) -> None:
    """A contact wrote of it unasked and was answered: they learn how it goes on and ends."""
    alarm = _open(turn)
    _note_told(turn, alarm, (contact,), rounds=alarm.rounds)


def again_fell(turn: Turn) -> None:
    """Nobody has answered yet: call again, and tell the person how it stands."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or alarm.answered_by:
        return
    call(turn)
    alarm = _open(turn)
    alarm_words.nobody_answered(turn, alarm)
    turn.set_after(alarm_table.AGAIN.key, alarm_table.next_call_after(alarm.rounds))


def answered(turn: Turn, contact: Contact) -> None:
    """A contact will see to it: everybody sees who, and later they are asked how it went."""
    alarm = _open(turn)
    persons = tuple(dict.fromkeys((*alarm.answered_by, contact.person)))
    unable = tuple(person for person in alarm.unable if person != contact.person)
    turn.change(alarm=replace(alarm, answered_by=persons, unable=unable))
    knows_of_it(turn, contact)  # also who pressed below an earlier alarm
    alarm = _open(turn)
    contact_words.answers(turn, alarm, contact)
    if alarm.stage is AlarmStage.EMERGENCY:
        turn.cancel(alarm_table.AGAIN.key, alarm_table.CHASED.key)
        turn.set_after(alarm_table.CHASE.key, alarm_table.CHASE.after)


def cannot(turn: Turn, contact: Contact) -> None:
    """A contact cannot help: the person and the others see it, and calling goes on."""
    alarm = _open(turn)
    still = tuple(person for person in alarm.answered_by if person != contact.person)
    is_news = still != alarm.answered_by or contact.person not in alarm.unable
    unable = tuple(dict.fromkeys((*alarm.unable, contact.person)))
    alarm = replace(alarm, answered_by=still, unable=unable)
    turn.change(alarm=alarm)
    knows_of_it(turn, contact)
    contact_words.cannot(turn, alarm, contact)
    # Who presses it again and again must not put off the next call of the others.
    if alarm.stage is AlarmStage.EMERGENCY and not still and is_news:
        _call_on(turn)


def is_gone(turn: Turn, contact: Contact) -> None:
    """A contact may not be told any more: whoever counted on them must not wait for them."""
    alarm = turn.state.alarm
    if alarm is None or contact.person not in alarm.answered_by:
        return
    still = tuple(person for person in alarm.answered_by if person != contact.person)
    turn.change(alarm=replace(alarm, answered_by=still))
    if alarm.stage is AlarmStage.EMERGENCY and not still:
        _call_on(turn)


def _call_on(turn: Turn) -> None:
    turn.cancel(alarm_table.CHASE.key, alarm_table.CHASED.key)
    turn.set_after(alarm_table.AGAIN.key, alarm_table.AGAIN.after)


def chase_fell(turn: Turn) -> None:
    """Whoever said that they will see to it is asked whether they are there."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or not alarm.answered_by:
        return
    contact_words.chase(turn, alarm)
    turn.set_after(alarm_table.CHASED.key, alarm_table.CHASED.after)


def chased_fell(turn: Turn) -> None:
    """No answer to that either: nobody is seeing to it for all that is known."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or not alarm.answered_by:
        return
    turn.change(alarm=replace(alarm, answered_by=(), rounds=0))
    again_fell(turn)


def _open(turn: Turn) -> Alarm:
    alarm = turn.state.alarm
    assert alarm is not None, "called only while an alarm is open"
    return alarm
