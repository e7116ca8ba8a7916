"""`respond`: the only door. One event in, what follows from it out.

It is pure: the same situation, event and moment give the same outcome. The rooms behind it:
`own_talk` (what a patient writes), `contact_talk` (what a carer or practitioner writes),
`lobby` (chats that are about no single patient), `joining`, `coaching` (an occasion),
`escalation` and the rooms that it names, `alarm_answers` (alarms), `family` (consent),
`details`, `fitting`, `rehearsal`, `afterwards` (what follows from any event), `commands`,
`plan_talk`, `language_talk`, `said_again`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final, assert_never

from domain import alarm_table
from domain.events import (
    Action,
    ChatClosed,
    ChatOpened,
    DeliveryFailed,
    DeliveryProblem,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    OtherKind,
    Pressed,
    Said,
    SentOther,
    SharedLocation,
    Situation,
    TimerFell,
)
from domain.messages import line
from domain.outcome import Outcome, OwnerSettled
from domain.people import Consent, Contact, JoinStep, PersonId, Role
from domain.plans import PlanKind
from domain.talk import (
    afterwards,
    alarm_answers,
    alarm_steps,
    arrival,
    calling,
    clinic_talk,
    coaching,
    commands,
    contact_talk,
    details,
    doubts,
    duty_talk,
    family,
    fitting,
    joining,
    language_talk,
    lobby,
    medicine_talk,
    outage,
    own_talk,
    plan_talk,
    practice_choices,
    quiet_signs,
    rehearsal,
    routing,
    said_again,
    scheduling,
    severe,
    unowned,
    unreachable,
    watch_answers,
)
from domain.talk.turn import Turn


def respond(situation: Situation, event: Event, now: datetime) -> Outcome:
    """What an event leads to.

    Args:
        situation: whose chat it came from and whom it concerns; without a patient the
            lobby answers.
        event: what happened.
        now: the event's moment, aware, person time.

    Returns:
        Facts, timer changes, messages and the patient's new state, to be stored together.
    """
    chosen = language_talk.wanted(situation, event)
    if chosen is not None:
        outcome = language_talk.answer(situation, chosen)
        again = said_again.what_is_open(situation, chosen, now) if chosen else ()
        return replace(outcome, outgoing=(*outcome.outgoing, *again))
    hours = duty_talk.wanted(situation, event)
    if hours is not None:
        return duty_talk.answer(situation, hours, now)
    if situation.patient is None or isinstance(event, GroupSeen):
        return lobby.respond(situation, event, now)
    turn = Turn(situation, situation.patient, now)
    if isinstance(event, Said | SentOther | SharedLocation):
        turn.written_at = event.written_at
    elif isinstance(event, Edited):
        turn.written_at = event.edited_at
    _happened(turn, event)
    afterwards.follow(turn)
    return turn.outcome()


def _happened(turn: Turn, event: Event) -> None:
    unreachable.heard(turn, event)
    if isinstance(event, unreachable.HEARD):
        alarm_answers.contact_was_heard(turn)
    match event:
        case Said():
            _said(turn, event)
        case Edited():
            _edited(turn, event)
        case Pressed(action=action):
            _pressed(turn, action)
        case SentOther(kind=kind):
            _sent_other(turn, kind)
        case SharedLocation():
            _located(turn, event)
        case TimerFell(key=key, due=due):
            _timer_fell(turn, key, due)
        case DeliveryFailed():
            blocked = event.problem is DeliveryProblem.BLOCKED
            alarm_answers.delivery_failed(
                turn, event.to, blocked=blocked, was_alarm=event.was_alarm
            )
        case ChatClosed():
            _reachable(turn, to_chat=False)
        case ChatOpened():
            _reachable(turn, to_chat=True)
        case OldButton():
            turn.answer_actor(line("old_button"))
        case GroupSeen():
            pass  # answered by the lobby
        case _:
            assert_never(event)


def _said(turn: Turn, event: Said) -> None:
    asked = routing.command(event.text)
    if asked is not None and asked[0] == "start" and turn.situation.invitation is not None:
        arrival.start(turn)
        return
    contact = turn.actor_contact
    if contact is not None:
        contact_talk.said(turn, contact, event)
    else:
        own_talk.said(turn, event)


def _edited(turn: Turn, event: Edited) -> None:
    turn.fact(unowned.taken_back(event.message))
    contact = turn.actor_contact
    if contact is None:
        own_talk.edited(turn, event)
        return
    said = Said(text=event.text, message=event.message, written_at=event.written_at)
    contact_talk.said(turn, contact, said)


def _sent_other(turn: Turn, kind: OtherKind) -> None:
    """Pictures, voice and the like are not read yet: say so, and how it can be sent."""
    contact = turn.actor_contact
    unaware = contact is not None and not contact.may_be_told
    if kind is OtherKind.STICKER and (unaware or turn.state.alarm is None):
        return  # a wave needs no answer, and none may say that an alarm is open
    turn.answer_actor(line(f"other_kind.{kind}"))


def _located(turn: Turn, event: SharedLocation) -> None:
    asked = turn.state.joining is JoinStep.PLACE or turn.state.asking == f"set:{JoinStep.PLACE}"
    if asked and turn.actor_contact is None:
        joining.place_shared(turn, event.place)
    else:
        turn.answer_actor(line("location.not_asked"))


def _reachable(turn: Turn, *, to_chat: bool) -> None:
    contact = turn.actor_contact
    if contact is None:
        if turn.situation.actor.chat == turn.patient.chat:
            (unreachable.back if to_chat else unreachable.lost)(turn)
        return
    if not to_chat:
        alarm = turn.state.alarm
        told = alarm is not None and contact.person in alarm.told
        alarm_answers.delivery_failed(turn, contact.person, blocked=True, was_alarm=told)
    else:
        alarm_answers.contact_is_back(turn, contact)


# --- timers

TIMERS: Final[Mapping[str, Callable[[Turn], None]]] = {
    coaching.NEXT: coaching.next_fell,
    coaching.REMIND: coaching.remind_fell,
    coaching.MISSED: coaching.missed_fell,
    scheduling.WEEK: commands.weekly_fell,
    scheduling.PLAN_END: plan_talk.end_fell,
    scheduling.CONTACTS: family.show_proposals,
    fitting.AGAIN: fitting.again_fell,
    fitting.PLAN: fitting.ask_at_plan_start,
    details.OFFER: details.offer_fell,
    rehearsal.DUE: rehearsal.due_fell,
    rehearsal.AGAIN: rehearsal.again_fell,
    rehearsal.END: rehearsal.end_fell,
    alarm_table.ASK.key: severe.ask_fell,
    alarm_table.TELL.key: severe.tell_fell,
    alarm_table.REST.key: severe.rest_fell,
    alarm_table.PAIR.key: severe.pair_fell,
    alarm_table.TELL_PAIR.key: severe.tell_pair_fell,
    alarm_table.AGAIN.key: calling.again_fell,
    alarm_table.CHASE.key: calling.chase_fell,
    alarm_table.CHASED.key: calling.chased_fell,
    alarm_table.LASTING.key: quiet_signs.lasting_fell,
    alarm_table.SEEN.key: quiet_signs.seen_fell,
    alarm_table.CHECK.key: alarm_answers.check_fell,
    alarm_table.END.key: alarm_steps.end_fell,
}


def _timer_fell(turn: Turn, key: str, due: datetime) -> None:
    if key == scheduling.PROMPT:
        coaching.prompt_fell(turn, due)
    elif key == outage.OUTAGE:
        outage.fell(turn, due)
    elif key.startswith(unowned.PREFIX):
        unowned.fell(turn, key)
    elif key in TIMERS:
        TIMERS[key](turn)
    # A key that an older version set and this one does not know has nothing to do any more.


# --- buttons

#: Buttons in the patient's own chat that need nothing but the turn.
_PATIENT: Final[Mapping[Do, Callable[[Turn], None]]] = {
    Do.READY: coaching.ready,
    Do.RESTED: coaching.rested,
    Do.SKIP: coaching.skip,
    Do.SYMPTOMS_NONE: severe.no_signs,
    Do.SYMPTOMS_YES: severe.signs_there,
    Do.AMBULANCE: lambda turn: alarm_answers.patient_pressed(turn, "ambulance"),
    Do.HELPER: lambda turn: alarm_answers.patient_pressed(turn, "helper"),
    Do.CANNOT_PHONE: lambda turn: alarm_answers.patient_pressed(turn, "cannot_phone"),
    Do.WORSE: quiet_signs.worse,
    Do.AS_USUAL: quiet_signs.as_usual,
    Do.SEEN: quiet_signs.seen,
    Do.SLIP: alarm_answers.slip,
    Do.HELP_CAME: alarm_answers.help_came,
    Do.HELP_NOT_YET: alarm_answers.help_not_yet,
    Do.MEANT_NONE: own_talk.doubt_refused,
    Do.EDIT_YES: lambda turn: own_talk.old_edit_answered(turn, yes=True),
    Do.EDIT_NO: lambda turn: own_talk.old_edit_answered(turn, yes=False),
    Do.INVITE_CARER: family.offer_invitation,
    Do.CAUTIONS: commands.cautions,
    Do.REHEARSAL_END: rehearsal.end_fell,
    Do.STOP_YES: commands.stop_confirmed,
    Do.RESUME: commands.resume,
    Do.PATIENT_WEEK: commands.week,
    Do.PATIENT_REPORT: commands.report,
}

_CONTACT: Final[Mapping[Do, Callable[[Turn, Contact], None]]] = {
    Do.SEE_TO_IT: alarm_answers.see_to_it,
    Do.REHEARSAL_SEEN: rehearsal.seen,
    Do.CANNOT: alarm_answers.cannot_help,
    Do.I_AM_THERE: alarm_answers.i_am_there,
    Do.IT_IS_OVER: alarm_answers.it_is_over,
    Do.NOT_ABOUT: alarm_answers.not_about,
}


def _pressed(turn: Turn, action: Action) -> None:
    contact = turn.actor_contact
    if action.do in {Do.OWNER, Do.OWNER_NONE}:
        _owner(turn, action, contact)
    elif contact is not None:
        _pressed_by_contact(turn, action, contact)
    elif doubts.is_about_another(turn, action):
        turn.say(line("old_button"))
    elif action.do in _PATIENT:
        _PATIENT[action.do](turn)
    else:
        _pressed_with_argument(turn, action)


def _pressed_with_argument(turn: Turn, action: Action) -> None:
    argument = action.argument
    match action.do:
        case Do.JOIN:
            step, _, value = argument.partition(":")
            _joining_answer(turn, JoinStep(step), value)
        case Do.SET:
            turn.change(asking=f"set:{argument}")
            joining.ask(turn, JoinStep(argument))
        case Do.LATER:
            coaching.postpone(turn, timedelta(minutes=int(argument)))
        case Do.MEDICINE_CHANGED:
            medicine_talk.changed(turn, argument)
        case Do.TAKEN_AT_HOME:
            clinic_talk.taken_at_home(turn, argument)
        case Do.MEANT:
            own_talk.doubt_answered(turn, argument)
        case Do.WATCH_NONE:
            watch_answers.no_signs(turn, argument)
        case Do.WATCH_YES:
            watch_answers.signs_there(turn, argument)
        case Do.CONSENT_YES:
            family.decide(turn, PersonId(argument), Consent.AGREED)
        case Do.CONSENT_ALARMS:
            family.decide(turn, PersonId(argument), Consent.AGREED, everything=False)
        case Do.CONSENT_NO:
            family.decide(turn, PersonId(argument), Consent.REFUSED)
        case Do.CONSENT_WITHDRAW:
            family.decide(turn, PersonId(argument), Consent.WITHDRAWN)
        case Do.INVITE_NAMED:
            family.invite_carer(turn, argument, everything=True)
        case Do.INVITE_NAMED_ALARMS:
            family.invite_carer(turn, argument, everything=False)
        case Do.DETAILS:
            details.pressed(turn, argument)
        case Do.CANCEL:
            turn.change(asking="")
            turn.say(line("cancelled"))
        case _:
            turn.say(line("old_button"))


def _joining_answer(turn: Turn, step: JoinStep, value: str) -> None:
    """A button of an earlier question changes that answer; the open question stays."""
    if turn.state.declined and step is not JoinStep.ADULT:
        turn.say(line("old_button"))
        return
    joining.answer(turn, step, value)


def _pressed_by_contact(turn: Turn, action: Action, contact: Contact) -> None:
    if not contact.may_be_told:
        turn.tell(contact, line("contact.wait", name=turn.patient.name))
        return
    practises = contact.role is Role.PRACTITIONER and contact.may_see
    match action.do:
        case do if do in _CONTACT:
            _CONTACT[do](turn, contact)
        case Do.PATIENT_WEEK:
            commands.week(turn)
        case Do.PATIENT_REPORT:
            commands.report(turn)
        case Do.CAUTIONS:
            commands.cautions(turn)
        case Do.PATIENT_PLAN if practises and not action.argument:
            plan_talk.choose(turn, contact)
        case Do.PATIENT_PLAN if practises:
            plan_talk.chosen(turn, contact, PlanKind(action.argument))
        case Do.PRACTICE if practises:
            practice_choices.pressed(turn, contact, action.argument)
        case _:
            turn.tell(contact, line("old_button"))


def _owner(turn: Turn, action: Action, contact: Contact | None) -> None:
    """Somebody has said whose a text is."""
    said = routing.unpacked(action.argument)
    if said is not None:
        turn.fact(OwnerSettled(prefix=unowned.settled_prefix(said.message)))
    if action.do is Do.OWNER_NONE or said is None:
        turn.answer_actor(line("owner.left"))
        if contact is not None and contact.may_be_told:
            alarm_answers.not_theirs(turn, contact)
        return
    if contact is not None and not contact.may_be_told:
        turn.tell(contact, line("contact.wait", name=turn.patient.name))
        return
    if contact is not None:
        contact_talk.named(turn, contact, said)
    else:
        own_talk.said(turn, said, named=True)
