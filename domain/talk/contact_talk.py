"""What a carer or practitioner writes in their own chat about the patient they look after.

A sign of danger that they tell of is taken to be the patient's until they say otherwise. A
reading is never filed by default: they are asked whose it is.
"""

from __future__ import annotations

from domain.events import Do, Said
from domain.messages import line, symptom_words
from domain.people import AlarmStage, Contact, Role
from domain.talk import (
    alarm_answers,
    alarm_steps,
    calling,
    commands,
    contact_words,
    family,
    own_talk,
    plan_talk,
    practice_choices,
    quiet_signs,
    rehearsal,
    routing,
    severe,
    signs,
    someone_else,
)
from domain.talk.turn import NO_NUMBER, Turn
from domain.understanding.result import Earlier, Understood


def said(turn: Turn, contact: Contact, event: Said) -> None:
    """A contact wrote: a command, signs of danger, a reading, or something else."""
    asked = routing.command(event.text)
    if asked is not None:
        _command(turn, contact, *asked)
        return
    understood = _read(turn, event)
    flags = _flags(turn, understood)
    if not contact.may_be_told:
        # Nothing of the patient is told, their country's number neither; the advice is anybody's.
        advice = (line("other.emergency", number=NO_NUMBER),) if flags else ()
        turn.tell(contact, *advice, line("contact.wait", name=turn.patient.name))
        return
    if not flags and alarm_answers.contact_remarked(turn, contact, understood.remarks):
        return
    if flags:
        _danger(turn, contact, event, flags)
    if understood.readings:
        _whose(turn, contact, event, understood)
    else:
        _words(turn, contact, event, understood, flags)


def named(turn: Turn, contact: Contact, event: Said) -> None:
    """A contact of several patients said that a message of theirs is about this one."""
    understood = _read(turn, event)
    flags = _flags(turn, understood)
    if flags:
        _danger(turn, contact, event, flags)
    if understood.readings or understood.possible:
        turn.tell(contact, line("owner.kept", name=turn.patient.name))
        own_talk.from_contact(turn, event)
    else:
        _words(turn, contact, event, understood, flags)


def _words(
    turn: Turn, contact: Contact, event: Said, understood: Understood, flags: tuple[str, ...]
) -> None:
    """No reading in it; danger, if there is any in it, has been answered."""
    codes = understood.symptoms
    passed = quiet_signs.to_be_seen(understood.earlier)
    alarm = turn.state.alarm
    emergency = alarm is not None and alarm.stage is AlarmStage.EMERGENCY
    if passed and not flags and turn.state.alarm is None:
        _has_passed(turn, contact, event, passed)
    elif not flags and alarm is not None and (_severe_is_open(turn) or (emergency and not codes)):
        # What they wrote may be one of the signs; which ones count is said again.
        calling.knows_of_it(turn, contact)
        contact_words.what_to_do(turn, contact, alarm)
    elif codes and not flags:
        _note_signs(turn, contact, codes)
    elif not flags and rehearsal.is_awaited(turn, contact):
        rehearsal.seen(turn, contact)  # whoever writes has seen it
    elif not flags and understood.earlier:
        words = symptom_words(dict.fromkeys(s.code for s in understood.earlier))
        told = line("contact.earlier", name=turn.patient.name, symptoms=words, number=turn.number)
        turn.tell(contact, told)
    elif not flags:
        turn.tell(contact, family.what_they_can_do(turn, contact))


def _read(turn: Turn, event: Said) -> Understood:
    """What a contact tells of somebody else may be the patient's: "mum has 192/114"."""
    read = turn.read(event.text, event.written_at)
    return someone_else.made_own(read, by_another=True)


def _flags(turn: Turn, understood: Understood) -> tuple[str, ...]:
    """Signs told by a contact that cannot wait."""
    severe = _severe_is_open(turn) or bool(_severe(turn, understood))
    return signs.that_cannot_wait(understood.symptoms, turn.limits, severe=severe)


def _severe(turn: Turn, understood: Understood) -> tuple[signs.Pair, ...]:
    """Severe pairs that the text gives, or may mean."""
    pairs = [
        *((r.systolic, r.diastolic) for r in understood.readings),
        *((p.systolic, p.diastolic) for p in understood.possible),
    ]
    return tuple(dict.fromkeys(pair for pair in pairs if turn.limits.is_severe(*pair)))


def _severe_is_open(turn: Turn) -> bool:
    alarm = turn.state.alarm
    return alarm is not None and any(turn.limits.is_severe(*pair) for pair in alarm.readings)


def _note_signs(turn: Turn, contact: Contact, codes: tuple[str, ...]) -> None:
    """No sign that cannot wait: kept, since with a severe reading later in the day it counts."""
    alarm_answers.note_reported(turn, codes)
    words = symptom_words(codes)
    name, number = turn.patient.name, turn.number
    turn.tell(contact, line("contact.noted", name=name, symptoms=words, number=number))


def _danger(turn: Turn, contact: Contact, event: Said, flags: tuple[str, ...]) -> None:
    alarm_answers.note_reported(turn, flags)
    contact_words.danger_told(turn, contact)
    told = signs.Told(message=event.message, written_at=event.written_at, symptoms=flags)
    alarm_steps.raise_emergency(turn, told, (), flags, reported_by=contact.person)


def _has_passed(turn: Turn, contact: Contact, event: Said, passed: tuple[Earlier, ...]) -> None:
    """A contact tells of a sign that is gone: taken to be the patient's until they say not."""
    name = turn.patient.name
    turn.tell(
        contact,
        line("contact.danger.raised", name=name),
        buttons=((turn.button("button.not_about", Do.NOT_ABOUT, name=name),),),
    )
    told = signs.Told(message=event.message, written_at=event.written_at)
    quiet_signs.open_passed(turn, told, passed, reported_by=contact.person)


def _whose(turn: Turn, contact: Contact, event: Said, understood: Understood) -> None:
    name = turn.patient.name
    argument = routing.packed(event.message, event.written_at, event.text)
    # Danger does not wait for the answer: until it is denied, the number is the patient's.
    high = _severe(turn, understood)
    advice = (line("contact.severe.do", name=name, number=turn.number),) if high else ()
    if high and turn.state.alarm is None:
        told = signs.Told(message=event.message, written_at=event.written_at, pairs=high)
        if any(turn.limits.is_emergency(*pair) for pair in high):
            alarm_steps.raise_emergency(turn, told, high, (), reported_by=contact.person)
        else:
            severe.open_severe(turn, told, high, reported_by=contact.person)
    turn.tell(
        contact,
        *advice,
        line("owner.ask_one", name=name),
        buttons=(
            (turn.button("button.owner", Do.OWNER, argument, name=name),),
            (turn.button("button.owner_none", Do.OWNER_NONE),),
        ),
    )


def _command(turn: Turn, contact: Contact, name: str, rest: str) -> None:
    practises = contact.role is Role.PRACTITIONER and contact.may_see
    match name:
        case "week":
            commands.week(turn)
        case "report":
            commands.report(turn)
        case "cautions":
            commands.cautions(turn)
        case "plan" if practises:
            plan_talk.choose(turn, contact)
        case _ if practises and name in practice_choices.COMMANDS:
            practice_choices.command(turn, contact, name, rest)
        case _ if contact.may_be_told:
            turn.tell(contact, *family.contact_help(turn, contact))
        case _:
            turn.tell(contact, line("contact.wait", name=turn.patient.name))
