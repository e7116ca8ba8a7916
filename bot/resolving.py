"""Who did it and about whom: what an update stands for, found out in its transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bot.incoming import Incoming, PressedToken
from domain.duty import LOOK
from domain.events import (
    Action,
    ChatClosed,
    ChatOpened,
    Do,
    Edited,
    Event,
    OldButton,
    Pressed,
    Said,
    Situation,
    TimerFell,
)
from domain.people import ChatId, Invitation, JoinStep, PersonId, Role, Tie
from domain.practice_list import Entry
from domain.talk import duty_talk
from domain.talk.routing import command, route, unpacked
from storage.work import Work


def cleaned(incoming: Incoming) -> Incoming:
    """Without what no database keeps in a text: half characters and the character zero."""
    event = incoming.event
    if isinstance(event, Said | Edited):
        text = event.text.encode("utf-8", "replace").decode().replace("\x00", "")
        if text != event.text:
            return replace(incoming, event=replace(event, text=text))
    return incoming


def resolved(work: Work, incoming: Incoming) -> Event:
    """The event, with a button's token replaced by what it stands for in this chat."""
    event = incoming.event
    if not isinstance(event, PressedToken):
        return event
    action = work.button(event.token, incoming.chat)
    if action is None or (action.do is Do.OWNER and _has_owner(work, incoming.chat, action)):
        return OldButton(message=event.message, pressed_at=event.pressed_at)
    return Pressed(action=action, pressed_at=event.pressed_at, message=event.message)


def _has_owner(work: Work, chat: ChatId, action: Action) -> bool:
    """Whether a text is somebody's already: a second press must not keep it once more.

    Of "142/91 for me, mum has 131/82" the writer's own half says nothing of the mother's.
    """
    said = unpacked(action.argument)
    if said is None:
        return False
    owners = work.owners_of(said.message, said.text)
    own = {tie.patient for tie in work.ties(chat) if tie.role is Role.PATIENT}
    return bool(owners if action.about in own else owners - own)


def invitation_of(work: Work, event: Event) -> Invitation | None:
    """What the code of a "/start CODE" stands for."""
    if not isinstance(event, Said):
        return None
    asked = command(event.text)
    return work.invitation(asked[1]) if asked and asked[0] == "start" and asked[1] else None


def concerned(work: Work, situation: Situation, event: Event) -> list[PersonId | None]:
    """Whom the event concerns: one patient or nobody; all of a chat that opens or closes."""
    ties = situation.ties
    patients = list(dict.fromkeys(tie.patient for tie in ties if tie.patient))
    if isinstance(event, ChatClosed | ChatOpened):
        # In the order of their ids, in which every transaction locks several patients.
        return [*sorted(patients)]
    owner = work.message_owner(event.message) if isinstance(event, Edited) else None
    if owner not in patients:
        owner = None
    return [
        route(
            ties,
            event,
            invitation=situation.invitation,
            message_owner=owner,
            asking=situation.asking,
        )
    ]


def listed(work: Work, ties: Sequence[Tie], event: Event) -> tuple[Entry, ...]:
    """The practitioner's list, when it is asked for and this chat has one."""
    asked = command(event.text) if isinstance(event, Said) else None
    wanted = asked is not None and asked[0] == "patients"
    looks = isinstance(event, TimerFell) and event.key == LOOK
    practitioners = {t.person for t in ties if t.role is Role.PRACTITIONER and t.patient}
    if not (wanted or looks) or not practitioners:
        return ()
    return work.practitioner_list(practitioners)


def colleagues(work: Work, situation: Situation, event: Event) -> tuple[tuple[PersonId, str], ...]:
    """Whom a practitioner may name as deputy, when their hours are asked for or chosen."""
    chat = situation.actor.chat
    if chat is None or duty_talk.wanted(situation, event) is None:
        return ()
    return work.colleagues(chat)


def asks_for_place(situation: Situation) -> bool:
    """Whether a free text may now name a place."""
    patient = situation.patient
    wanted = [situation.asking]
    if patient is not None:
        wanted += [patient.state.asking, patient.state.joining or ""]
    return any(asked.rpartition(":")[2] == JoinStep.PLACE for asked in wanted)
