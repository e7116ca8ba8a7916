"""What somebody needs who comes to help: address, telephone, who has a key.

Asked only with the patient's own consent to it, once a carer may be told and not before the
first measurement. Shown in an alarm only, to those who are told of it; never in a log. The
patient sees, changes and removes it with /details.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import time, timedelta
from typing import Final

from domain.events import Do
from domain.messages import Line, line
from domain.outcome import Button, Rank
from domain.people import Contact, NoteKind, Role
from domain.talk import answers
from domain.talk.day_hours import next_at
from domain.talk.turn import Rows, Turn, names
from domain.understanding.result import Intent, Understood

FIELDS: Final = ("address", "telephone", "key")
LONGEST: Final = 200  #: characters of one of them: an alarm has to stay short
ASKING: Final = "details:"  #: what `State.asking` begins with; the field follows
OFFER: Final = "details.offer"  #: timer: the question of consent is put
_OFFERED_AT: Final = time(11)  # the morning's measurement is over by then
_FEWEST_DIGITS: Final = 5

#: These answer "leave it out". Any other kind of message than a plain text is no address.
_SKIPS: Final = frozenset({Intent.SKIP, Intent.POSTPONE})
_IS_TEXT: Final = frozenset({Intent.OTHER, Intent.READING})


# --- when it is asked


def offer_later(turn: Turn) -> None:
    """Somebody may be told from now on: ask at a quiet hour, if it was never asked."""
    if turn.profile.details.shared is None and _carers(turn):
        turn.set_timer(OFFER, next_at(_OFFERED_AT, turn.now, turn.patient.zone))


def offer_fell(turn: Turn) -> None:
    state = turn.state
    if state.declined or state.paused or state.unreachable:
        return  # asked about again once a week
    if state.alarm is not None or state.occasion is not None or state.asking or state.joining:
        turn.set_after(OFFER, timedelta(hours=1))
    elif not turn.patient.readings:
        offer_later(turn)  # measuring comes first
    elif turn.profile.details.shared is None and _carers(turn):
        _ask_consent(turn, rank=Rank.PROMPT)


def _carers(turn: Turn) -> tuple[Contact, ...]:
    return tuple(c for c in turn.patient.contacts if c.role is Role.CARER and c.may_be_told)


def _ask_consent(turn: Turn, *, rank: Rank = Rank.REPLY) -> None:
    told = tuple(contact for contact in turn.patient.contacts if contact.may_be_told)
    who = line("details.consent", names=names(told)) if told else line("details.consent.nobody")
    rows: Rows = (
        (turn.button("button.details_yes", Do.DETAILS, "yes"),),
        (turn.button("button.consent_no", Do.DETAILS, "no"),),
    )
    turn.say(who, line("details.when"), buttons=rows, rank=rank)


# --- what the patient sees and answers


def show(turn: Turn) -> None:
    """What is kept and whether it is shown in an alarm, with buttons to change it."""
    details = turn.profile.details
    if not details.shared:
        _ask_consent(turn)
        return
    kept = _own_lines(turn)
    rows: Rows = tuple((_button(turn, field),) for field in FIELDS)
    remove = (turn.button("button.details_remove", Do.DETAILS, "no"),)
    title = line("details.shown" if kept else "details.empty")
    turn.say(title, *kept, buttons=(*rows, remove))


def pressed(turn: Turn, what: str) -> None:
    """A button: "yes", "no", a field to ask for, or "skip:" and the field."""
    verb, _, field = what.partition(":")
    if verb == "yes":
        _agree(turn)
    elif verb == "no":
        _remove(turn)
    elif not turn.profile.details.shared:
        turn.say(line("old_button"))
    elif verb == "skip" and field in FIELDS:
        _next(turn, after=field)
    elif verb in FIELDS:
        _ask(turn, verb)
    else:
        turn.say(line("old_button"))


def text_answer(turn: Turn, text: str, understood: Understood) -> bool:
    """Take a text as what was asked for. False when it is something else."""
    field = turn.state.asking.removeprefix(ASKING)
    no = answers.yes_or_no(text, language=turn.language) is False
    if no or understood.intent in _SKIPS:
        _next(turn, after=field)
        return True
    kept = " ".join(text.split())[:LONGEST]
    if understood.intent not in _IS_TEXT or not kept:
        return False
    if field == "telephone" and len(re.findall(r"\d", kept)) < _FEWEST_DIGITS:
        turn.say(line("details.no_number"), buttons=_skip_buttons(turn, field))
        return True
    _keep(turn, **{field: kept})
    _next(turn, after=field)
    return True


def _agree(turn: Turn) -> None:
    if not turn.profile.details.shared:
        turn.note(NoteKind.CONSENT, code="agreed:details")
    _keep(turn, shared=True)
    missing = [field for field in FIELDS if not getattr(turn.profile.details, field)]
    if missing:
        _ask(turn, missing[0])
    else:
        show(turn)


def _remove(turn: Turn) -> None:
    """Nothing is kept that may not be shown."""
    if turn.profile.details.shared:
        turn.note(NoteKind.CONSENT, code="withdrawn:details")
    _keep(turn, shared=False, **dict.fromkeys(FIELDS, ""))
    if turn.state.asking.startswith(ASKING):
        turn.change(asking="")
    turn.say(line("details.removed"))


def _ask(turn: Turn, field: str) -> None:
    turn.change(asking=f"{ASKING}{field}")
    turn.say(line(f"details.ask.{field}"), buttons=_skip_buttons(turn, field))


def _next(turn: Turn, *, after: str) -> None:
    """The next field that is not known yet; behind the last one, all of it to look over."""
    later = FIELDS[FIELDS.index(after) + 1 :]
    missing = [field for field in later if not getattr(turn.profile.details, field)]
    if missing:
        _ask(turn, missing[0])
        return
    turn.change(asking="")
    show(turn)


def _keep(turn: Turn, **values: bool | str) -> None:
    turn.change_profile(details=replace(turn.profile.details, **values))  # type: ignore[arg-type]


def _button(turn: Turn, field: str) -> Button:
    return turn.button(f"button.details.{field}", Do.DETAILS, field)


def _skip_buttons(turn: Turn, field: str) -> Rows:
    return ((turn.button("button.details_skip", Do.DETAILS, f"skip:{field}"),),)


def _own_lines(turn: Turn) -> tuple[Line, ...]:
    details = turn.profile.details
    known = ((field, getattr(details, field)) for field in FIELDS)
    return tuple(line(f"details.own.{field}", kept=kept) for field, kept in known if kept)


# --- in an alarm


def alarm_details(turn: Turn, contact: Contact) -> tuple[Line, ...]:
    """What an alarm shows to a contact: the time there and here, and how help gets in.

    Nothing for whoever may not be told; only the times without the patient's consent to
    more. Pure: the same turn and contact give the same lines.
    """
    if not contact.may_be_told:
        return ()
    details, name = turn.profile.details, turn.patient.name
    known = ((field, getattr(details, field)) for field in FIELDS if details.shared)
    shown = (line(f"details.alarm.{f}", name=name, kept=kept) for f, kept in known if kept)
    return (*shown, _times(turn, contact))


def _times(turn: Turn, contact: Contact) -> Line:
    there, name = turn.local_now, turn.patient.name
    here = turn.now.astimezone(contact.clock or turn.patient.zone)
    if there.utcoffset() == here.utcoffset():
        return line("details.time", name=name, at=there)
    return line("details.times", name=name, at=there, here=here, zone=contact.zone)
