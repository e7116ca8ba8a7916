"""What is said to the person in an emergency, and when an alarm changes or ends.

Keys with their values. The biggest thing first: the heading with the number to call. Level
names are never shown. What was only sent is never called known. The words themselves stand
in one file of the wording, one entry for each level and circumstance. Contacts read
`contact_words`; without an emergency, the person reads `severe_words`.
"""

from __future__ import annotations

from typing import Final

from domain.alarm_table import WAIT_FOR_NOBODY_FROM
from domain.events import Do
from domain.messages import Line, line
from domain.outcome import Rank
from domain.people import Alarm, AlarmStage, Consent, Contact
from domain.readings import Reading
from domain.talk import contact_words, severe_words
from domain.talk.alarm_shown import (
    nobody_line,
    seen_by_patient,
    seen_key,
    seen_values,
    shown_pairs,
    told_of,
    will_be_called,
)
from domain.talk.callers import look_later, when_they_look
from domain.talk.turn import Rows, Turn, names

#: Of what the person can say in an emergency: somebody else is coming or there already.
_HELP_IS_NEAR: Final = frozenset({"ambulance", "helper"})
#: Of the answers to a button: these say that contacts were written to.
_NAMES_CONTACTS: Final = frozenset({"cannot_phone", "no_help_yet", "refuses"})


def emergency(turn: Turn, alarm: Alarm, *, again: bool) -> None:
    """The advice, first and at once. The number to call stands in the first line."""
    lines = [line("emergency.call", number=turn.number), seen_by_patient(turn, alarm)]
    if turn.profile.pregnant:
        lines.append(line("emergency.pregnant"))
    if "x_self_harm" in alarm.symptoms:
        lines.append(line("emergency.self_harm"))
    lines.append(line("emergency.meanwhile" if not again else "emergency.meanwhile.short"))
    lines.append(_sent_line(turn, alarm))
    lines += [when_they_look(contact) for contact in look_later(turn)]
    turn.say(*lines, buttons=emergency_buttons(turn), rank=Rank.ALARM)


def still_emergency(turn: Turn, alarm: Alarm, *, kept: tuple[Reading, ...], calm: bool) -> None:
    """An answer to whatever else is written in an emergency."""
    lines = [line("emergency.call", number=turn.number)]
    if kept:
        lines.append(line("emergency.kept"))
    if calm:
        lines += [line("emergency.calm_pair"), severe_words.signs(turn)]
    else:
        lines.append(line("emergency.stays"))
    turn.say(*lines, buttons=emergency_buttons(turn, calm=calm), rank=Rank.ALARM)


def nobody_answered(turn: Turn, alarm: Alarm) -> None:
    """How it stands after a further call: said again and again, until somebody answers."""
    told = will_be_called(turn, alarm)
    if told and alarm.patient_said in _HELP_IS_NEAR:
        return  # whoever has called or is not alone needs no more messages to read
    lines = [line("emergency.call", number=turn.number)]
    if not told:
        lines.append(nobody_line(turn))
    elif alarm.rounds >= WAIT_FOR_NOBODY_FROM:
        lines.append(line("emergency.alone_last", names=names(told)))
    else:
        lines += [line("emergency.no_answer", names=names(told)), line("emergency.alone")]
    turn.say(*lines, buttons=emergency_buttons(turn), rank=Rank.ALARM)


def _sent_line(turn: Turn, alarm: Alarm) -> Line:
    told = will_be_called(turn, alarm)
    if not told:
        return nobody_line(turn)
    answered = tuple(contact for contact in told if contact.person in alarm.answered_by)
    if answered:
        return line("emergency.answered", names=names(answered))
    return line("emergency.sent", names=names(told))


def ask_if_help_came(turn: Turn) -> None:
    turn.say(
        line("emergency.check", number=turn.number),
        buttons=(
            (turn.button("button.help_came", Do.HELP_CAME),),
            (turn.button("button.help_not_yet", Do.HELP_NOT_YET),),
        ),
        rank=Rank.ALARM,
    )


def ask_reporter(turn: Turn, reporter: Contact) -> None:
    """The person says that all is calm; whoever told of the signs is asked to make sure."""
    contact_words.make_sure(turn, reporter)
    turn.say(line("emergency.reporter", name=reporter.name, number=turn.number), rank=Rank.ALARM)


def emergency_buttons(turn: Turn, *, calm: bool = False) -> Rows:
    rows: Rows = (
        (turn.button("button.ambulance", Do.AMBULANCE),),
        (turn.button("button.helper", Do.HELPER),),
        (
            turn.button("button.cannot_phone", Do.CANNOT_PHONE),
            turn.button("button.slip", Do.SLIP),
        ),
    )
    if calm:
        rows = ((turn.button("button.no_signs", Do.SYMPTOMS_NONE),), *rows)
    return (*rows, *_consent_buttons(turn))


def _consent_buttons(turn: Turn) -> Rows:
    """Somebody who waits for consent can be told now, if the person wants it."""
    return tuple(
        (turn.button("button.tell_now", Do.CONSENT_ALARMS, contact.person, name=contact.name),)
        for contact in turn.patient.contacts
        if contact.consent is Consent.PROPOSED and contact.chat is not None
    )


# --- answers and the end


def nothing_open() -> tuple[Line, ...]:
    return (line("alarm.none"),)


def what_is_open(turn: Turn, alarm: Alarm) -> None:
    """What an open alarm waits for, said again instead of anything else."""
    if alarm.stage is AlarmStage.EMERGENCY:
        still_emergency(turn, alarm, kept=(), calm=False)
    else:
        severe_words.what_is_open(turn, alarm)


def number_changed(turn: Turn, alarm: Alarm) -> None:
    """A number was changed or confirmed, and the alarm stands all the same."""
    if alarm.stage in {AlarmStage.ASKED, AlarmStage.LASTING}:
        severe_words.what_is_open(turn, alarm)
        return
    if not alarm.told:
        shown = shown_pairs(alarm.readings[-1:])
        turn.say(line("severe.kept", shown=shown), rank=Rank.ALARM)
        return
    emergency_stands = alarm.stage is AlarmStage.EMERGENCY
    lines = [line(seen_key(alarm), **seen_values(alarm)), line("changed.stands")]
    if emergency_stands:
        lines.insert(0, line("emergency.call", number=turn.number))
    buttons = emergency_buttons(turn) if emergency_stands else ()
    turn.say(*lines, buttons=buttons, rank=Rank.ALARM)
    contact_words.changed(turn, alarm)


def ended(turn: Turn, alarm: Alarm, how: str, *, by: str) -> None:
    """The alarm is over, said to the person."""
    told = tuple(contact for contact in told_of(turn, alarm) if contact.name != by)
    today = alarm.stage in {AlarmStage.TODAY, AlarmStage.PASSED} and not alarm.seen
    unseen = ".unseen" if how == "no_word" and today else ""
    lines = [line(f"ended.{how}{unseen}", by=by)]
    if told:
        lines.append(line("ended.telling", names=names(told)))
    lines.append(line("severe.if_starts", number=turn.number))
    if how == "corrected":
        turn.say_first(*lines)  # with the number that stands now
    else:
        turn.say(*lines)


def pressed_by_patient(turn: Turn, alarm: Alarm, what: str) -> None:
    """The person pressed or typed how it is; the contacts see it."""
    alone = ".alone" if what in _NAMES_CONTACTS and not told_of(turn, alarm) else ""
    buttons = emergency_buttons(turn) if alarm.stage is AlarmStage.EMERGENCY else ()
    turn.say(line(f"said.{what}{alone}", number=turn.number), buttons=buttons, rank=Rank.ALARM)
    contact_words.to_those_told(turn, alarm, line(f"contact.said.{what}", name=turn.patient.name))


def could_not_reach(turn: Turn, contact: Contact) -> None:
    """The platform refused a message to a contact during an alarm: the person is told."""
    turn.say(line("emergency.unreachable", name=contact.name, number=turn.number), rank=Rank.ALARM)
