"""What raised an alarm, as values of lines: for the person and for whoever is told."""

from __future__ import annotations

from collections.abc import Iterable

from domain.messages import Line, Value, line, symptom_words
from domain.people import Alarm, Contact
from domain.readings import Reading
from domain.talk.callers import called_now
from domain.talk.turn import Turn, person_name

Pair = tuple[int | None, int | None]

#: How many readings of an alarm are shown: the newest say most, and the text stays short.
_MOST_SHOWN = 2


def shown_pairs(pairs: Iterable[Pair]) -> str:
    """Numbers as typed: "192/114", "192/?" where one is missing."""
    return ", ".join(
        f"{'?' if systolic is None else systolic}/{'?' if diastolic is None else diastolic}"
        for systolic, diastolic in pairs
    )


def shown_readings(readings: Iterable[Reading]) -> str:
    return shown_pairs((reading.systolic, reading.diastolic) for reading in readings)


def seen_values(alarm: Alarm) -> dict[str, Value]:
    values: dict[str, Value] = {}
    if alarm.readings:
        values["shown"] = shown_pairs(alarm.readings[-_MOST_SHOWN:])
    if alarm.symptoms:
        values["symptoms"] = symptom_words(alarm.symptoms)
    return values


def seen_key(alarm: Alarm) -> str:
    if alarm.readings and alarm.symptoms:
        return "seen.both"
    return "seen.reading" if alarm.readings else "seen.symptoms"


def seen_by_patient(turn: Turn, alarm: Alarm) -> Line:
    """What raised the alarm; what a contact wrote is not called the person's own words."""
    if alarm.reported_by is None or not alarm.symptoms:
        return line(seen_key(alarm), **seen_values(alarm))
    by = person_name(turn.patient, alarm.reported_by)
    key = "seen.reported.both" if alarm.readings else "seen.reported"
    return line(key, by=by, **seen_values(alarm))


def seen_by_contact(turn: Turn, alarm: Alarm) -> Line:
    """What raised the alarm, as somebody else reads it."""
    name = turn.patient.name
    if alarm.reported_by is not None and not alarm.readings:
        by = person_name(turn.patient, alarm.reported_by)
        symptoms = symptom_words(alarm.symptoms)
        return line("contact.seen.reported", name=name, by=by, symptoms=symptoms)
    return line(f"contact.{seen_key(alarm)}", name=name, **seen_values(alarm))


def told_of(turn: Turn, alarm: Alarm) -> tuple[Contact, ...]:
    """Contacts to whom a message of this alarm went or who told of its signs, and who may
    still be told."""
    reached = {*alarm.told, alarm.reported_by} - set(alarm.failed)
    return tuple(c for c in turn.patient.contacts if c.person in reached and c.may_be_told)


def will_be_called(turn: Turn, alarm: Alarm) -> tuple[Contact, ...]:
    """Contacts who are called at this moment and whose chats have taken what was sent."""
    failed = set(alarm.failed)
    return tuple(c for c in called_now(turn) if c.reachable and c.person not in failed)


def nobody_line(turn: Turn) -> Line:
    """Nobody who would be called can be reached: nobody may be told, or no chat takes it."""
    anybody = any(contact.may_be_told for contact in turn.patient.contacts)
    return line("emergency.nobody_reached" if anybody else "emergency.no_contacts")
