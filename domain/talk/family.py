"""The people around a patient: who is proposed, who may be told what, and how it ends.

Until the patient has agreed, nobody is told anything, and both sides are told so. Consent
is noted with its moment and can be withdrawn at any time.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Final

from domain.events import Do
from domain.messages import Line, Words, line
from domain.outcome import PersonInvited
from domain.people import AlarmStage, Consent, Contact, NoteKind, PersonId, Role
from domain.talk import calling, contact_words, duty_talk
from domain.talk.callers import is_live, when_they_look
from domain.talk.turn import Rows, Turn

#: How long an invitation can be used; the project's own choice.
INVITATION_LASTS: Final = timedelta(days=7)
LONGEST_NAME: Final = 40  # a button with it still fits on a phone
#: What `State.asking` holds while the name of a carer to invite is awaited.
ASKING_CARER: Final = "carer_name"


def show_proposals(turn: Turn) -> None:
    """Show the first proposed link that has not been shown, with what the contact would see."""
    if turn.state.joining is not None or turn.state.declined:
        return
    waiting = [c for c in turn.patient.contacts if c.consent is Consent.PROPOSED and not c.asked]
    if waiting:  # one question at a time; the next follows its answer
        turn.change_contact(waiting[0], asked=True)
        _ask_consent(turn, waiting[0])


def _ask_consent(turn: Turn, contact: Contact) -> None:
    rows: Rows = (
        (turn.button("button.consent_yes", Do.CONSENT_YES, contact.person, name=contact.name),),
        (turn.button("button.consent_alarms", Do.CONSENT_ALARMS, contact.person),),
        (turn.button("button.consent_no", Do.CONSENT_NO, contact.person),),
    )
    turn.say(
        line(f"consent.ask.{contact.role}", name=contact.name),
        line(f"consent.sees.{contact.role}", name=contact.name),
        *((when_they_look(contact),) if contact.role is Role.PRACTITIONER else ()),
        line("consent.withdraw"),
        buttons=rows,
    )


def decide(turn: Turn, person: PersonId, consent: Consent, *, everything: bool = True) -> None:
    """The patient agrees, agrees to alarms only, refuses, or withdraws."""
    contact = turn.patient.contact(person)
    if contact is None:
        turn.say(line("old_button"))
        return
    had = contact.consent
    agreed = consent is Consent.AGREED
    changed = turn.change_contact(
        contact,
        consent=consent,
        asked=True,
        told_missed=agreed and everything and contact.role is Role.CARER,
        told_week=agreed and everything,
    )
    code = f"{consent}:{'all' if everything else 'alarms'}" if agreed else str(consent)
    turn.note(NoteKind.CONSENT, code=code, text=contact.name)
    waiting = (line("consent.not_joined", name=contact.name),) if contact.chat is None else ()
    turn.say(line(f"consent.done.{consent}", name=contact.name), *(waiting if agreed else ()))
    if agreed or had is Consent.AGREED:
        told = line(f"consent.contact.{consent}", name=turn.patient.name)
        turn.tell(changed, told, *(contact_help(turn, changed) if agreed else ()))
    if not agreed:
        calling.is_gone(turn, changed)
    duty_talk.begin(turn, changed)
    _tell_open_alarm(turn, changed)
    show_proposals(turn)


def _tell_open_alarm(turn: Turn, contact: Contact) -> None:
    """Who may be told from now on is told of an emergency that is open."""
    alarm = turn.state.alarm
    if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or not contact.may_be_told:
        return
    if not is_live(turn, contact):
        return
    if contact.person not in alarm.told:
        turn.change(alarm=replace(alarm, told=(*alarm.told, contact.person)))
        contact_words.call(turn, contact, alarm, update=False)


def joined(turn: Turn, contact: Contact) -> None:
    """A contact has used an invitation: they and the patient learn where consent stands."""
    name = turn.patient.name
    if contact.consent is Consent.AGREED:
        turn.tell(contact, line("contact.welcome", name=name), *contact_help(turn, contact))
        turn.say(line("consent.joined", name=contact.name))
        duty_talk.begin(turn, contact)
        _tell_open_alarm(turn, contact)
        return
    turn.tell(contact, line("contact.wait", name=name))
    show_proposals(turn)


def contact_help(turn: Turn, contact: Contact) -> tuple[Line, ...]:
    """What a contact can do here, and what the program cannot do for them."""
    name = turn.patient.name
    return (
        what_they_can_do(turn, contact),
        line("contact.emergency_note", name=name, number=turn.number),
    )


def what_they_can_do(turn: Turn, contact: Contact) -> Line:
    """By their role; whoever is told of alarms alone is promised nothing else."""
    key = contact.role if contact.may_see else "alarms"
    return line(f"contact.help.{key}", name=turn.patient.name)


def show(turn: Turn) -> None:
    """Who is linked, and what each may be told, with buttons to change it."""
    shown = [c for c in turn.patient.contacts if c.consent is not Consent.WITHDRAWN]
    lines = [line("family.title" if shown else "family.nobody")]
    rows: list[Rows] = []
    for contact in shown:
        lines.append(_contact_line(contact))
        if contact.consent is Consent.AGREED:
            label, do = "button.consent_withdraw", Do.CONSENT_WITHDRAW
        else:
            label, do = "button.consent_yes", Do.CONSENT_YES
        rows.append(((turn.button(label, do, contact.person, name=contact.name),),))
    rows.append(((turn.button("button.invite_carer", Do.INVITE_CARER),),))
    turn.say(*lines, buttons=tuple(row for block in rows for row in block))


def _contact_line(contact: Contact) -> Line:
    if contact.consent is not Consent.AGREED:
        state = "waiting"
    elif contact.chat is None:
        state = "not_joined"
    elif not contact.reachable:
        state = "unreachable"
    else:
        every = contact.told_week or contact.told_missed
        state = f"all.{contact.role}" if every else "alarms"
    role = Words((f"role.{contact.role}",))
    return line(f"family.contact.{state}", name=contact.name, role=role)


def offer_invitation(turn: Turn, name: str = "") -> None:
    """Before a carer is invited the patient sees what the carer would be told, and agrees."""
    named = name.strip()[:LONGEST_NAME]
    if not named:
        turn.change(asking=ASKING_CARER)
        cancel = turn.button("button.cancel", Do.CANCEL)
        turn.say(line("invite.ask_name"), buttons=((cancel,),))
        return
    turn.change(asking="")
    rows: Rows = (
        (turn.button("button.consent_yes", Do.INVITE_NAMED, named, name=named),),
        (turn.button("button.consent_alarms", Do.INVITE_NAMED_ALARMS, named),),
        (turn.button("button.consent_no", Do.CANCEL),),
    )
    turn.say(
        line("invite.ask_consent", name=named),
        line("consent.sees.carer", name=named),
        line("consent.withdraw"),
        buttons=rows,
    )


def invite_carer(turn: Turn, name: str, *, everything: bool) -> None:
    """Make the invitation of a carer to whom the patient has agreed."""
    person, code = turn.situation.fresh[:2]
    turn.fact(
        PersonInvited(
            person=PersonId(person),
            name=name,
            role=Role.CARER,
            code=code,
            expires=turn.now + INVITATION_LASTS,
            patient=turn.patient.id,
            consent=Consent.AGREED,
            told_missed=everything,
            told_week=everything,
            zone=str(turn.patient.zone),
        )
    )
    code_of_consent = f"{Consent.AGREED}:{'all' if everything else 'alarms'}"
    turn.note(NoteKind.CONSENT, code=code_of_consent, text=name)
    link = deep_link(turn.situation.bot_name, code)
    turn.say(line("invite.made", name=name, link=link, code=code, count=INVITATION_LASTS.days))


def deep_link(bot_name: str, code: str) -> str:
    """The link that opens the chat with the invitation's code."""
    return f"https://t.me/{bot_name}?start={code}"
