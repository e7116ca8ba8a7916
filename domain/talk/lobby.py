"""Chats that are about no single patient: strangers, practitioners with many, two in one chat.

Somebody without an invitation gets a courteous explanation and nothing else. A text that
fits two patients is kept in the buttons that ask whose it is, and danger in it is answered
at once.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from domain import danger, duty
from domain.events import (
    Action,
    ChatClosed,
    ChatOpened,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    Pressed,
    Said,
    Situation,
    TimerFell,
)
from domain.messages import Line, line
from domain.outcome import (
    Asking,
    Button,
    Fact,
    LeaveGroup,
    Outcome,
    Outgoing,
    OwnerSettled,
    PersonInvited,
    Rank,
)
from domain.people import ChatId, Consent, PersonId, Role, State, Tie
from domain.practice_list import Action as ToDo
from domain.practice_list import Entry
from domain.talk import (
    arrival,
    duty_talk,
    family,
    practice_choices,
    practice_talk,
    quiet_signs,
    routing,
    signs,
    someone_else,
    unowned,
)
from domain.talk.alarm_shown import shown_pairs
from domain.talk.turn import NO_NUMBER, Rows
from domain.understanding import Understood, nearest_language, understand_any

#: What `Situation.asking` holds while a practitioner is asked for a new patient's name.
ASKING_PATIENT = "patient_name"


def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
    """Answer an event that concerns no one patient."""
    chat = situation.actor.chat
    if chat is None:
        return Outcome()
    match event:
        case TimerFell(key=duty.LOOK):
            return duty_talk.look_fell(situation, event, now)
        case GroupSeen():
            return Outcome(
                facts=(LeaveGroup(chat=chat),), outgoing=(_to(situation, chat, line("group")),)
            )
        case Said():
            return _said(situation, chat, event, now)
        case Edited() if situation.ties:
            said = Said(text=event.text, message=event.message, written_at=event.written_at)
            asked = _whose(situation, chat, said, now)
            return replace(asked, facts=(unowned.taken_back(event.message), *asked.facts))
        case Pressed(action=action):
            return _pressed(situation, chat, action)
        case ChatClosed() | ChatOpened():
            return Outcome()  # nobody reads an answer to this
        case OldButton() if situation.ties:
            return _says(situation, chat, line("old_button"))
        case _ if not situation.ties:
            return _says(situation, chat, line("stranger"))
        case _:
            return _help(situation, chat)


def _said(situation: Situation, chat: ChatId, event: Said, now: datetime) -> Outcome:
    asked = routing.command(event.text)
    if asked is not None and asked[0] == "start" and asked[1]:
        return _start(situation, chat, now)
    if not situation.ties:
        return _says(situation, chat, line("stranger"))
    if asked is not None:
        return _command(situation, chat, *asked, now=now)
    if situation.asking == ASKING_PATIENT and _practises(situation) and _is_name(situation, event):
        return _invite_patient(situation, chat, event.text, now)
    return _whose(situation, chat, event, now)


def _read(situation: Situation, event: Said) -> Understood:
    language = nearest_language(situation.actor.language)
    return understand_any(event.text, event.written_at, language)


def _is_name(situation: Situation, event: Said) -> bool:
    """Whether a text can be a name: it says nothing of numbers or signs."""
    understood = _read(situation, event)
    signs = understood.symptoms or understood.others
    return not (understood.readings or understood.possible or signs)


def _start(situation: Situation, chat: ChatId, now: datetime) -> Outcome:
    invitation = situation.invitation
    if invitation is None:
        return _says(situation, chat, line("start.unknown"))
    problem = arrival.refusal(invitation, now > invitation.expires)
    if problem is not None:
        return _says(situation, chat, line(problem))
    return arrival.practitioner_joins(situation, invitation, chat)


def _command(situation: Situation, chat: ChatId, name: str, rest: str, now: datetime) -> Outcome:
    match name:
        case "patients":
            return _patients(situation, chat)
        case "invite" if _practises(situation):
            if rest:
                return _invite_patient(situation, chat, rest, now)
            outgoing = _to(situation, chat, line("invite.patient_name"))
            return Outcome(facts=(Asking(chat=chat, what=ASKING_PATIENT),), outgoing=(outgoing,))
        case "report":
            return _choose(situation, chat, Do.PATIENT_REPORT)
        case "week":
            return _choose(situation, chat, Do.PATIENT_WEEK)
        case "plan" if _practises(situation):
            return _choose(situation, chat, Do.PATIENT_PLAN)
        case _ if name in practice_choices.COMMANDS and _practises(situation):
            return _choose(situation, chat, Do.PRACTICE, f"{name}:{rest}")
        case "cautions":
            return _says(situation, chat, line("cautions.whole", number=NO_NUMBER))
        case _:
            return _help(situation, chat)


def _help(situation: Situation, chat: ChatId) -> Outcome:
    key = "help.practitioner" if _practises(situation) else "help.several"
    return _says(situation, chat, line(key))


def _practises(situation: Situation) -> bool:
    return any(tie.role is Role.PRACTITIONER for tie in situation.ties)


# --- several patients


def _linked(situation: Situation) -> tuple[Tie, ...]:
    """The patients whom this chat may see: its own, and those who have agreed."""
    return tuple(
        tie
        for tie in situation.ties
        if tie.patient and (tie.role is Role.PATIENT or tie.consent is Consent.AGREED)
    )


def _patients(situation: Situation, chat: ChatId) -> Outcome:
    linked = [t for t in situation.ties if t.patient and t.role is not Role.PATIENT]
    if not linked:
        return _says(situation, chat, line("patients.none"))
    # Whoever practises reads what to do about whom; consent is the ties' and the list's.
    agreed = {tie.patient: tie for tie in linked if tie.consent is Consent.AGREED}
    entries = [e for e in situation.listed if e.patient in agreed]
    sorted_out, shown = practice_talk.told(entries)
    listed = {entry.patient for entry in entries}
    others = [tie for tie in linked if tie.patient not in listed]
    lines = [
        line("patients.title"),
        *sorted_out,
        *(line(_patient_key(t), name=t.patient_name) for t in others),
    ]
    with_buttons = [*(agreed[patient] for patient in shown), *others]
    rows: Rows = tuple(
        (
            _button("button.week_of", Do.PATIENT_WEEK, tie),
            _button("button.report_of", Do.PATIENT_REPORT, tie),
            *((_button("button.plan_of", Do.PATIENT_PLAN, tie),) if _practises_for(tie) else ()),
        )
        for tie in with_buttons
        if tie.consent is Consent.AGREED and not tie.alarms_only
    )
    decide = tuple(_seen_button(e, agreed[e.patient]) for e in entries if e.patient in shown)
    return _says(situation, chat, *lines, buttons=(*rows, *(row for row in decide if row)))


def _seen_button(entry: Entry, tie: Tie) -> tuple[Button, ...]:
    """Under the list, for whom there is something to decide: that it has been."""
    if entry.action is not ToDo.DECIDE or not _practises_for(tie):
        return ()
    value = entry.average.shown if entry.average else ""
    argument = f"seen:@{entry.reason}@{value}"
    return (_button("button.practice_seen", Do.PRACTICE, tie, argument),)


def _practises_for(tie: Tie) -> bool:
    return tie.role is Role.PRACTITIONER


def _patient_key(tie: Tie) -> str:
    if tie.consent is not Consent.AGREED:
        return f"patients.{tie.consent}"
    if tie.alarm_open:
        return "patients.alarm"
    if tie.alarms_only:
        return "patients.alarms_only"
    return "patients.following" if tie.joined else "patients.joining"


def _choose(situation: Situation, chat: ChatId, do: Do, argument: str = "") -> Outcome:
    linked = [t for t in _linked(situation) if do is not Do.PRACTICE or _practises_for(t)]
    if not linked:
        return _says(situation, chat, line("patients.none"))
    rows: Rows = tuple((_button("button.patient", do, tie, argument),) for tie in linked)
    return _says(situation, chat, line("patients.which"), buttons=rows)


def _whose(situation: Situation, chat: ChatId, event: Said, now: datetime) -> Outcome:
    """Ask whose a text is; the emergency advice does not wait for the answer."""
    read = _read(situation, event)
    understood = someone_else.made_own(read)
    told = signs.told_by(understood, event.message, event.written_at)
    pairs = [(r.systolic, r.diastolic) for r in (*read.readings, *read.theirs)]
    flags = signs.in_force_red(told.symptoms)
    passed = quiet_signs.to_be_seen(told.earlier)
    linked = _linked(situation)
    if not (pairs or told.symptoms or passed or understood.doubts) or not linked:
        return _help(situation, chat)
    rows = unowned.whose(linked, event.message, event.written_at, event.text)
    lines: tuple[Line, ...] = (line("owner.ask"),)
    rank = Rank.REPLY
    severe = any(danger.is_severe(*pair) for pair in (*told.pairs, *pairs))
    if flags or (severe and set(told.symptoms) & danger.SEVERE_SYMPTOMS):
        lines = (line("emergency.call", number=NO_NUMBER), *lines)
        rank = Rank.ALARM
    elif severe:
        shown = shown_pairs(dict.fromkeys((*pairs, *told.pairs)))
        starts = line("severe.if_starts", number=NO_NUMBER)
        lines = (line("severe.ask", shown=shown), line("severe.signs"), starts, *lines)
        rank = Rank.ALARM
    elif passed:
        lines = (line("other.passed", number=NO_NUMBER), *lines)
    high = tuple(pair for pair in (*pairs, *told.pairs) if danger.is_severe(*pair))
    of_another = bool(read.others or read.theirs)
    persons = unowned.may_be_about(situation.ties, of_another=of_another)
    awaited = unowned.awaited(persons, event.message, high, flags, now)
    outcome = _says(situation, chat, *lines, buttons=rows, rank=rank)
    return replace(outcome, facts=(awaited,) if awaited is not None else ())


# --- invitations


def _invite_patient(situation: Situation, chat: ChatId, name: str, now: datetime) -> Outcome:
    """A practitioner invites a patient; the link to the practitioner waits for consent."""
    practitioner = next(t for t in situation.ties if t.role is Role.PRACTITIONER)
    person, code = situation.fresh[:2]
    named = name.strip()[: family.LONGEST_NAME]
    invited = PersonInvited(
        person=PersonId(person),
        name=named,
        role=Role.PATIENT,
        code=code,
        expires=now + family.INVITATION_LASTS,
        practitioner=practitioner.person,
        state=State(),
    )
    link = family.deep_link(situation.bot_name, code)
    count = family.INVITATION_LASTS.days
    made = line("invite.made", name=named, link=link, code=code, count=count)
    facts: tuple[Fact, ...] = (invited, Asking(chat=chat, what=""))
    outgoing = (_to(situation, chat, made, line("invite.patient_consent", name=named)),)
    return Outcome(facts=facts, outgoing=outgoing)


def _pressed(situation: Situation, chat: ChatId, action: Action) -> Outcome:
    match action.do:
        case Do.OWNER_NONE | Do.CANCEL:
            said = routing.unpacked(action.argument)
            stands = _what_stands(situation) if said is not None else ()
            outgoing = _to(situation, chat, line("owner.left"), *stands)
            facts: tuple[Fact, ...] = (Asking(chat=chat, what=""),)
            if said is not None:
                facts = (*facts, OwnerSettled(prefix=unowned.settled_prefix(said.message)))
            return Outcome(facts=facts, outgoing=(outgoing,))
        case _:
            return _says(situation, chat, line("old_button"))


def _what_stands(situation: Situation) -> tuple[Line, ...]:
    """What a late "nobody's here" does not end: alarms that were raised meanwhile."""
    open_ = dict.fromkeys(tie.patient_name for tie in _linked(situation) if tie.alarm_open)
    return (line("owner.left.open", names=", ".join(open_)),) if open_ else ()


# --- messages


def _button(label: str, do: Do, tie: Tie, argument: str = "") -> Button:
    action = Action(do=do, about=tie.patient, argument=argument)
    return Button(label=line(label, name=tie.patient_name), action=action)


def _says(
    situation: Situation,
    chat: ChatId,
    *lines: Line,
    buttons: Rows = (),
    rank: Rank = Rank.REPLY,
) -> Outcome:
    return Outcome(outgoing=(_to(situation, chat, *lines, buttons=buttons, rank=rank),))


def _to(
    situation: Situation,
    chat: ChatId,
    *lines: Line,
    buttons: Rows = (),
    rank: Rank = Rank.REPLY,
) -> Outgoing:
    language = situation.actor.language
    return Outgoing(chat=chat, lines=lines, language=language, buttons=buttons, rank=rank)
