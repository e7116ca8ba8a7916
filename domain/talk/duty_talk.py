"""When a practitioner looks: what they choose with /hours, and the list that comes daily.

It belongs to the practitioner and to no patient. Clock times are local to the practitioner.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time
from typing import Final
from zoneinfo import ZoneInfo

from domain.duty import Deputy, Duty
from domain.events import Action, Do, Event, Pressed, Said, Situation, TimerFell
from domain.messages import Line, line
from domain.outcome import Button, DutyChosen, Fact, NextLook, Outcome, Outgoing, Rank
from domain.people import Consent, Contact, PersonId, Role, Tie
from domain.practice_list import Action as ListAction
from domain.talk import practice_talk, routing
from domain.talk.turn import Rows, Turn

_COMMAND: Final = "hours"
_LOOKS: Final = (time(7), time(8), time(12), time(17))
_LIVE: Final = (
    (time(8), time(18)),
    (time(7), time(22)),
    (time(0), time(0)),
)
_ONE_TIME: Final = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?")
_TWO_TIMES: Final = re.compile(
    r"(\d{1,2})(?:[:.h](\d{2}))?\s*(?:-|–|to|a|bis)\s*(\d{1,2})(?:[:.h](\d{2}))?"
)


def wanted(situation: Situation, event: Event) -> str | None:
    """What the event chooses ("look:08:00"), "" when it only asks; None when it is no such event.

    Only a practitioner's chat has hours. Behind "@" stands whose they are, where several
    practitioners share the chat.
    """
    if not _own_ties(situation):
        return None
    match event:
        case Pressed(action=Action(do=Do.DUTY, argument=argument)):
            return argument
        case Said(text=text):
            asked = routing.command(text)
            if asked is not None and asked[0] == _COMMAND:
                return _typed(asked[1])
    return None


def answer(situation: Situation, chosen: str, now: datetime) -> Outcome:
    """The new hours with what can be changed; of several practitioners, first whose."""
    ties = _own_ties(situation)
    chosen, _, whose = chosen.partition("@")
    tie = ties.get(PersonId(whose)) or next(iter(ties.values()))
    if len(ties) > 1 and whose not in ties:
        return Outcome(outgoing=(_ask_whose(situation, ties, chosen),))
    duty = tie.duty or Duty()
    changed = _changed(duty, chosen, situation)
    facts: tuple[Fact, ...] = ()
    if chosen and changed != duty:
        facts = (DutyChosen(person=tie.person, duty=changed),)
    # Set anew each time: a list that was never due before is due from now on.
    facts = (*facts, next_look(tie.person, changed, tie.zone, now))
    return Outcome(
        facts=facts, outgoing=(_shown(situation, changed, tie if len(ties) > 1 else None),)
    )


def next_look(person: PersonId, duty: Duty | None, zone: str, now: datetime) -> NextLook:
    """When the daily list of a practitioner is due next."""
    due = (duty or Duty()).next_look(now, ZoneInfo(zone))
    return NextLook(person=person, due=due)


def begin(turn: Turn, contact: Contact) -> None:
    """A practitioner may see a patient from now on: their daily list is due."""
    if contact.role is Role.PRACTITIONER and contact.may_be_told:
        turn.fact(next_look(contact.person, contact.duty, contact.zone, turn.now))


def look_fell(situation: Situation, event: TimerFell, now: datetime) -> Outcome:
    """The daily list, ordered by what to do; whom to leave alone is only counted."""
    chat = situation.actor.chat
    tie = next(iter(_own_ties(situation).values()), None)  # the list is one practitioner's
    if tie is None or chat is None:
        return Outcome()
    agreed = {t.patient for t in situation.ties if t.consent is Consent.AGREED}
    entries = [entry for entry in situation.listed if entry.patient in agreed]
    busy = [entry for entry in entries if entry.action is not ListAction.LEAVE_ALONE]
    alone = len(entries) - len(busy)
    lines: list[Line] = [line("look.title")]
    lines += practice_talk.told(busy)[0] if busy else [line("look.nothing")]
    if alone:
        lines.append(practice_talk.group_line(ListAction.LEAVE_ALONE, alone))
    lines.append(line("look.more"))
    said = Outgoing(
        chat=chat, lines=tuple(lines), language=situation.actor.language, rank=Rank.PROMPT
    )
    return Outcome(
        facts=(next_look(tie.person, tie.duty, tie.zone, now),),
        outgoing=(said,) if entries else (),
    )


def _own_ties(situation: Situation) -> dict[PersonId, Tie]:
    """Each practitioner of this chat with one of their ties, in the order of the ties."""
    found: dict[PersonId, Tie] = {}
    for tie in situation.ties:
        if tie.role is Role.PRACTITIONER:
            found.setdefault(tie.person, tie)
    return found


def _ask_whose(situation: Situation, ties: dict[PersonId, Tie], chosen: str) -> Outgoing:
    """Nobody's alarms may stop because somebody else in the chat chose so."""
    chat = situation.actor.chat
    assert chat is not None
    rows = tuple(
        (_button("button.hours_of", f"{chosen}@{person}", name=tie.person_name),)
        for person, tie in ties.items()
    )
    lines = (line("hours.whose"),)
    return Outgoing(chat=chat, lines=lines, language=situation.actor.language, buttons=rows)


def _typed(text: str) -> str:
    """ "8:30" is when they look, "9-17" are the hours of live alarms; "" is not understood."""
    two = _TWO_TIMES.fullmatch(text.strip())
    if two is not None:
        start, end = _clock(two[1], two[2]), _clock(two[3], two[4])
        return "" if start is None or end is None else f"live:{start:%H:%M}-{end:%H:%M}"
    one = _ONE_TIME.fullmatch(text.strip())
    looks = _clock(one[1], one[2]) if one is not None else None
    return "" if looks is None else f"look:{looks:%H:%M}"


def _clock(hours: str, minutes: str | None) -> time | None:
    hour, minute = int(hours) % 24 if int(hours) <= 24 else 24, int(minutes or 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def _changed(duty: Duty, chosen: str, situation: Situation) -> Duty:
    what, _, value = chosen.partition(":")
    match what:
        case "look":
            return replace(duty, looks_at=time.fromisoformat(value))
        case "live" if not value:
            return replace(duty, live=None)
        case "live":
            start, _, end = value.partition("-")
            return replace(duty, live=(time.fromisoformat(start), time.fromisoformat(end)))
        case "deputy":
            known = value in {person for person, _ in situation.colleagues}
            return replace(duty, deputy=Deputy(value) if known else None)
        case _:
            return duty


def _shown(situation: Situation, duty: Duty, whose: Tie | None) -> Outgoing:
    """`whose`: of several practitioners in the chat, else None."""
    chat = situation.actor.chat
    assert chat is not None
    lines = [line("hours.of", name=whose.person_name)] if whose is not None else []
    lines += [line("hours.look", at=_at(duty.looks_at)), _live_line(duty)]
    own = whose.person if whose is not None else None
    others = [(person, name) for person, name in situation.colleagues if person != own]
    deputy = dict(others).get(PersonId(duty.deputy or ""))
    if deputy:
        lines.append(line("hours.deputy", name=deputy))
    lines.append(line("hours.how"))
    behind = f"@{own}" if own is not None else ""
    return Outgoing(
        chat=chat,
        lines=tuple(lines),
        language=situation.actor.language,
        buttons=_choices(duty, others, behind),
    )


def _choices(duty: Duty, others: Sequence[tuple[PersonId, str]], behind: str) -> Rows:
    """What can be tapped; `behind` says whose it is, "" where there is one practitioner."""
    return (
        tuple(_button("button.look_at", f"look:{t:%H:%M}{behind}", at=_at(t)) for t in _LOOKS),
        (_button("button.live_never", f"live:{behind}"),),
        *((_live_button(start, end, behind),) for start, end in _LIVE),
        *((_button("button.deputy", f"deputy:{p}{behind}", name=name),) for p, name in others),
        *(((_button("button.deputy_none", f"deputy:{behind}"),),) if duty.deputy else ()),
    )


def _live_line(duty: Duty) -> Line:
    if duty.live is None:
        return line("hours.live_never")
    start, end = duty.live
    if start == end:
        return line("hours.live_always")
    return line("hours.live", start=_at(start), end=_at(end))


def _live_button(start: time, end: time, behind: str) -> Button:
    argument = f"live:{start:%H:%M}-{end:%H:%M}{behind}"
    if start == end:
        return _button("button.live_always", argument)
    return _button("button.live", argument, start=_at(start), end=_at(end))


def _button(label: str, argument: str, **values: str) -> Button:
    return Button(label=line(label, **values), action=Action(do=Do.DUTY, argument=argument))


def _at(clock: time) -> str:
    return f"{clock:%H:%M}"
