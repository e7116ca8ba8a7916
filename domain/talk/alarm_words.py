"""What is said in an alarm, to the person and to the contacts: keys with their values.

The biggest thing first: the heading with the number to call. Level names are never shown.
What was only sent is never called known. The words themselves stand in one file of the
wording, one entry for each level and circumstance.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from domain import danger
from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import Rank
from domain.people import Alarm, AlarmStage, Consent, Contact
from domain.readings import Reading
from domain.talk.turn import Rows, Turn, names, person_name

Pair = tuple[int | None, int | None]

#: Of what the person can say in an emergency: somebody else is coming or there already.
_HELP_IS_NEAR: Final = frozenset({"ambulance", "helper"})
#: Of the answers to a button: these say that contacts were written to.
_NAMES_CONTACTS: Final = frozenset({"cannot_phone", "no_help_yet"})


def shown_pairs(pairs: Iterable[Pair]) -> str:
    """Numbers as typed: "192/114", "192/?" where one is missing."""
    return ", ".join(
        f"{'?' if systolic is None else systolic}/{'?' if diastolic is None else diastolic}"
        for systolic, diastolic in pairs
    )


def symptom_words(codes: Iterable[str]) -> Words:
    return Words(tuple(f"symptom.{code}" for code in codes))


# --- emergency


def emergency(turn: Turn, alarm: Alarm, *, again: bool) -> None:
    """The advice, first and at once. The number to call stands in the first line."""
    lines = [line("emergency.call", number=turn.number), _seen_by_patient(turn, alarm)]
    if "x_self_harm" in alarm.symptoms:
        lines.append(line("emergency.self_harm"))
    lines.append(line("emergency.meanwhile" if not again else "emergency.meanwhile.short"))
    lines.append(_sent_line(turn, alarm))
    turn.say(*lines, buttons=_emergency_buttons(turn), rank=Rank.ALARM)


def still_emergency(turn: Turn, alarm: Alarm, *, kept: tuple[Reading, ...], calm: bool) -> None:
    """An answer to whatever else is written in an emergency."""
    lines = [line("emergency.call", number=turn.number)]
    if kept:
        lines.append(line("emergency.kept"))
    if calm:
        lines += [line("emergency.calm_pair"), line("severe.signs")]
    else:
        lines.append(line("emergency.stays"))
    turn.say(*lines, buttons=_emergency_buttons(turn, calm=calm), rank=Rank.ALARM)


def call_contact(turn: Turn, contact: Contact, alarm: Alarm, *, update: bool) -> None:
    """To a contact: what was sent, when, what to do. Repeated until one answers."""
    name = turn.patient.name
    key = "contact.emergency.more" if update else "contact.emergency"
    lines = [line(key, name=name, number=turn.number), _seen_by_contact(turn, alarm)]
    if not update:
        at = alarm.opened.astimezone(turn.patient.zone)
        lines.append(line("contact.when", name=name, at=at))
    lines.append(line("contact.do", name=name, number=turn.number))
    lines.extend(_patient_said(turn, alarm))
    turn.tell(contact, *lines, buttons=_contact_buttons(turn), rank=Rank.ALARM)


def nobody_answered(turn: Turn, alarm: Alarm, *, last: bool) -> None:
    told = _told(turn, alarm)
    if told and not last and alarm.patient_said in _HELP_IS_NEAR:
        return  # whoever has called or is not alone needs no more messages to read
    lines = [line("emergency.call", number=turn.number)]
    if not told:
        lines.append(line("emergency.no_contacts"))
    elif last:
        lines.append(line("emergency.alone_last"))
    else:
        lines += [line("emergency.no_answer", names=names(told)), line("emergency.alone")]
    turn.say(*lines, buttons=_emergency_buttons(turn), rank=Rank.ALARM)


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
    name = turn.patient.name
    last = turn.patient.readings[-1].reading
    shown = shown_pairs([(last.systolic, last.diastolic)])
    turn.tell(
        reporter,
        line("contact.calm", name=name, shown=shown),
        buttons=(
            (turn.button("button.it_is_over", Do.IT_IS_OVER, name=name),),
            (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
        ),
        rank=Rank.ALARM,
    )
    turn.say(line("emergency.reporter", name=reporter.name, number=turn.number), rank=Rank.ALARM)


def _seen_by_patient(turn: Turn, alarm: Alarm) -> Line:
    """What raised the alarm; what a contact wrote is not called the person's own words."""
    if alarm.reported_by is None:
        return line(_seen_key(alarm), **_seen(alarm))
    by = person_name(turn.patient, alarm.reported_by)
    key = "seen.reported.both" if alarm.readings else "seen.reported"
    return line(key, by=by, **_seen(alarm))


def _seen_by_contact(turn: Turn, alarm: Alarm) -> Line:
    """What raised the alarm, as somebody else reads it."""
    name = turn.patient.name
    if alarm.reported_by is not None and not alarm.readings:
        by = person_name(turn.patient, alarm.reported_by)
        symptoms = symptom_words(alarm.symptoms)
        return line("contact.seen.reported", name=name, by=by, symptoms=symptoms)
    return line(f"contact.{_seen_key(alarm)}", name=name, **_seen(alarm))


#: How many readings of an alarm are shown: the newest say most, and the text stays short.
_MOST_SHOWN = 2


def _seen(alarm: Alarm) -> dict[str, str | Words]:
    values: dict[str, str | Words] = {}
    if alarm.readings:
        values["shown"] = shown_pairs(alarm.readings[-_MOST_SHOWN:])
    if alarm.symptoms:
        values["symptoms"] = symptom_words(alarm.symptoms)
    return values


def _seen_key(alarm: Alarm) -> str:
    if alarm.readings and alarm.symptoms:
        return "seen.both"
    return "seen.reading" if alarm.readings else "seen.symptoms"


def _sent_line(turn: Turn, alarm: Alarm) -> Line:
    told = tuple(c for c in turn.patient.contacts if c.may_be_told)
    if not told:
        return line("emergency.no_contacts")
    answered = tuple(c for c in told if c.person in alarm.answered_by)
    if answered:
        return line("emergency.answered", names=names(answered))
    return line("emergency.sent", names=names(told))


def _told(turn: Turn, alarm: Alarm) -> tuple[Contact, ...]:
    reached = set(alarm.told) - set(alarm.failed)
    # Consent may have been withdrawn since.
    return tuple(c for c in turn.patient.contacts if c.person in reached and c.may_be_told)


def _patient_said(turn: Turn, alarm: Alarm) -> list[Line]:
    if not alarm.patient_said:
        return []
    return [line(f"contact.said.{alarm.patient_said}", name=turn.patient.name)]


def _emergency_buttons(turn: Turn, *, calm: bool = False) -> Rows:
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


def _contact_buttons(turn: Turn) -> Rows:
    name = turn.patient.name
    return (
        (turn.button("button.see_to_it", Do.SEE_TO_IT),),
        (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
    )


# --- severe without a sign


def ask_symptoms(turn: Turn, alarm: Alarm, *, again: bool, shown: Reading | None = None) -> None:
    """The symptom question, with the number already shown."""
    number = shown_pairs([(shown.systolic, shown.diastolic)] if shown else alarm.readings)
    turn.say(
        line("severe.ask.again" if again else "severe.ask", shown=number),
        line("severe.signs"),
        line("severe.if_sign", number=turn.number),
        buttons=(
            (turn.button("button.no_signs", Do.SYMPTOMS_NONE),),
            (turn.button("button.signs", Do.SYMPTOMS_YES),),
            (turn.button("button.slip", Do.SLIP),),
        ),
        rank=Rank.ALARM,
    )


def what_is_open(turn: Turn, alarm: Alarm) -> None:
    """What an open alarm waits for, said again instead of anything else."""
    match alarm.stage:
        case AlarmStage.ASKED:
            ask_symptoms(turn, alarm, again=True)
        case AlarmStage.REPEATING:
            turn.say(line("severe.go_on"), rank=Rank.ALARM)
        case _:
            still_emergency(turn, alarm, kept=(), calm=False)


def severe_seen(turn: Turn, alarm: Alarm) -> None:
    """They said in the same message that there is no sign."""
    turn.say(line("severe.seen", shown=shown_pairs(alarm.readings)), rank=Rank.ALARM)


def nothing_open() -> tuple[Line, ...]:
    return (line("alarm.none"),)


def rest_then_repeat(turn: Turn, alarm: Alarm) -> None:
    turn.say(
        line("severe.rest", shown=shown_pairs(alarm.readings)),
        line("severe.if_starts", number=turn.number),
        buttons=((turn.button("button.signs", Do.SYMPTOMS_YES),),),
        rank=Rank.ALARM,
    )


def measure_again(turn: Turn) -> None:
    turn.say(line("severe.measure"), rank=Rank.ALARM)


def one_of_two(turn: Turn, last: Reading) -> None:
    turn.say(line("severe.one_of_two", shown=shown_pairs([(last.systolic, last.diastolic)])))


def today(turn: Turn, pair: tuple[Reading, ...]) -> None:
    """Still severe, no sign: a doctor or nurse today."""
    turn.say(
        line("severe.today"),
        line("severe.still", shown=_shown(pair)),
        line("severe.today.do"),
        line("severe.if_starts", number=turn.number),
        buttons=((turn.button("button.signs", Do.SYMPTOMS_YES),),),
        rank=Rank.ALARM,
    )


def lower_now(turn: Turn, pair: tuple[Reading, ...]) -> None:
    """The second pair is below the limits: lower, which may still be high."""
    high = any(danger.STILL_HIGH.reached_by(r.systolic, r.diastolic) for r in pair)
    turn.say(
        line("severe.lower.high" if high else "severe.lower", shown=_shown(pair)),
        line("severe.next_visit"),
        line("severe.if_starts", number=turn.number),
        line("caution.short"),
    )


def pair_overdue(turn: Turn) -> None:
    turn.say(line("severe.overdue"), rank=Rank.ALARM)


def told_unanswered(turn: Turn, alarm: Alarm) -> None:
    _tell_patient_who(turn, alarm, "severe.told_unanswered")


def told_no_pair(turn: Turn, alarm: Alarm) -> None:
    _tell_patient_who(turn, alarm, "severe.told_no_pair")


def _tell_patient_who(turn: Turn, alarm: Alarm, key: str) -> None:
    told = _told(turn, alarm)
    who = line(key, names=names(told)) if told else line("severe.nobody_to_tell")
    turn.say(who, line("severe.if_starts", number=turn.number), rank=Rank.ALARM)


def tell_severe(turn: Turn, contact: Contact, alarm: Alarm, why: str) -> None:
    """To a contact: `why` is unanswered, no_pair or still_severe."""
    name = turn.patient.name
    at = alarm.opened.astimezone(turn.patient.zone)
    turn.tell(
        contact,
        line(f"contact.severe.{why}", name=name, shown=shown_pairs(alarm.readings), at=at),
        line("contact.severe.do", name=name, number=turn.number),
        buttons=((turn.button("button.see_to_it", Do.SEE_TO_IT),),),
        rank=Rank.ALARM,
    )


def _shown(pair: tuple[Reading, ...]) -> str:
    return shown_pairs((r.systolic, r.diastolic) for r in pair)


# --- answers and the end


def number_changed(turn: Turn, alarm: Alarm) -> None:
    """A number was changed or confirmed, and the alarm stands all the same."""
    if alarm.stage is AlarmStage.ASKED:
        ask_symptoms(turn, alarm, again=True)
        return
    if not alarm.told:
        shown = shown_pairs(alarm.readings[-1:])
        turn.say(line("severe.kept", shown=shown), rank=Rank.ALARM)
        return
    emergency_stands = alarm.stage is AlarmStage.EMERGENCY
    lines = [line(_seen_key(alarm), **_seen(alarm)), line("changed.stands")]
    if emergency_stands:
        lines.insert(0, line("emergency.call", number=turn.number))
    buttons = _emergency_buttons(turn) if emergency_stands else ()
    turn.say(*lines, buttons=buttons, rank=Rank.ALARM)
    _tell_told(turn, alarm, "contact.changed")


def _tell_told(turn: Turn, alarm: Alarm, key: str) -> None:
    for contact in _told(turn, alarm):
        told = line(key, name=turn.patient.name)
        seen = _seen_by_contact(turn, alarm)
        turn.tell(contact, told, seen, buttons=_contact_buttons(turn), rank=Rank.ALARM)


def ended(turn: Turn, alarm: Alarm, how: str, *, by: str) -> None:
    told = tuple(contact for contact in _told(turn, alarm) if contact.name != by)
    lines = [line(f"ended.{how}", by=by)]
    if told:
        lines.append(line("ended.telling", names=names(told)))
    lines.append(line("severe.if_starts", number=turn.number))
    turn.say(*lines)


def tell_ended(turn: Turn, alarm: Alarm, how: str, *, by: str) -> None:
    """Those who were told are told how it ended, with what the person has sent last."""
    last = turn.patient.readings[-1].reading if turn.patient.readings else None
    shown = shown_pairs([(last.systolic, last.diastolic)]) if last else ""
    for contact in _told(turn, alarm):
        lines = [line(f"contact.ended.{how}", name=turn.patient.name, by=by)]
        if shown:
            lines.append(line("contact.last", shown=shown))
        turn.tell(contact, *lines, rank=Rank.ALARM)


def pressed_by_patient(turn: Turn, alarm: Alarm, what: str) -> None:
    """The person pressed one of the emergency's buttons; the contacts see it."""
    told_to = _told(turn, alarm)
    alone = ".alone" if what in _NAMES_CONTACTS and not told_to else ""
    turn.say(line(f"said.{what}{alone}", number=turn.number), rank=Rank.ALARM)
    for contact in told_to:
        told = line(f"contact.said.{what}", name=turn.patient.name)
        turn.tell(contact, told, buttons=_contact_buttons(turn), rank=Rank.ALARM)


def contact_answers(turn: Turn, alarm: Alarm, contact: Contact) -> None:
    """A contact will see to it: the person and the other contacts see who."""
    turn.tell(
        contact,
        line("contact.thanks", name=turn.patient.name, number=turn.number),
        buttons=((turn.button("button.i_am_there", Do.I_AM_THERE, name=turn.patient.name),),),
        rank=Rank.ALARM,
    )
    emergency_open = alarm.stage is AlarmStage.EMERGENCY
    key = "said.see_to_it" if emergency_open else "said.see_to_it.today"
    turn.say(line(key, name=contact.name, number=turn.number), rank=Rank.ALARM)
    for other in _told(turn, alarm):
        if other.person != contact.person:
            told = line("contact.other_sees", name=contact.name, patient=turn.patient.name)
            turn.tell(other, told, rank=Rank.ALARM)


def could_not_reach(turn: Turn, contact: Contact) -> None:
    """The platform refused a message to a contact during an alarm: the person is told."""
    turn.say(line("emergency.unreachable", name=contact.name, number=turn.number), rank=Rank.ALARM)
