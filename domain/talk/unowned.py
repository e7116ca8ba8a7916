"""Danger in a message of which nobody knows yet whose it is: it does not wait for ever.

In a chat that two people share, or of a carer of two, the advice is given at once and the
owner is asked for. Without an answer the message counts as everybody's it may be about: a
needless alarm is better than a missed one. Pressures in mmHg.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from domain.events import Action, Do
from domain.messages import line
from domain.outcome import Button, OwnerAwaited, OwnerSettled, Rank
from domain.people import (
    AlarmStage,
    ChatId,
    Consent,
    MessageRef,
    PersonId,
    Role,
    Tie,
)
from domain.talk import calling, contact_words, severe
from domain.talk.alarm_steps import raise_emergency
from domain.talk.routing import packed
from domain.talk.signs import Pair, Told
from domain.talk.turn import Rows, Turn

#: A sign of danger counts as everybody's after this; common practice.
FLAG_WAITS: Final = timedelta(minutes=3)
#: A severe number alone, as long as the symptom question waits for its answer.
NUMBER_WAITS: Final = timedelta(minutes=8)
PREFIX: Final = "owner:"
#: Stages that a severe number takes over.
_QUIETER: Final = frozenset({AlarmStage.PASSED, AlarmStage.LASTING})
#: So many numbers and signs are kept for the alarm, so that the timer's key stays short.
_MOST: Final = 2


def may_be_about(ties: tuple[Tie, ...], *, of_another: bool) -> tuple[PersonId, ...]:
    """Whom a message may be about that nobody has claimed: the chat's patients, or else those
    whom the writer cares for; of both where it tells `of_another` than the writer.

    A practitioner's many patients are not alarmed by what the practitioner writes.
    """
    own = [tie.patient for tie in ties if tie.role is Role.PATIENT]
    cared = [t.patient for t in ties if t.role is Role.CARER and t.consent is Consent.AGREED]
    return tuple(dict.fromkeys((*own, *cared) if of_another else own or cared))


def awaited(
    persons: tuple[PersonId, ...],
    message: MessageRef,
    pairs: tuple[Pair, ...],
    flags: tuple[str, ...],
    now: datetime,
) -> OwnerAwaited | None:
    """The timers to set for those whom a dangerous message may be about; None for nobody."""
    if not persons or not (pairs or flags):
        return None
    key = f"{settled_prefix(message)}{','.join(flags[:_MOST])}|{_numbers(pairs)}"
    due = now + (FLAG_WAITS if flags else NUMBER_WAITS)
    return OwnerAwaited(persons=persons, key=key, due=due)


def whose(ties: Iterable[Tie], message: MessageRef, written_at: datetime, text: str) -> Rows:
    """The buttons that ask whose a message is, which waits in them; the last one: nobody's."""
    argument = packed(message, written_at, text)
    owners = [
        Button(
            label=line("button.owner", name=tie.patient_name),
            action=Action(do=Do.OWNER, about=tie.patient, argument=argument),
        )
        for tie in ties
    ]
    nobody = Action(do=Do.OWNER_NONE, argument=argument)
    return tuple(
        (one,) for one in (*owners, Button(label=line("button.owner_none"), action=nobody))
    )


def settled_prefix(message: MessageRef) -> str:
    """How the keys of a message's timers begin."""
    return f"{PREFIX}{message.chat}:{message.message}|"


def taken_back(message: MessageRef) -> OwnerSettled:
    """A message was edited: its numbers count no more, but a sign is never taken back."""
    return OwnerSettled(prefix=f"{settled_prefix(message)}|")


def fell(turn: Turn, key: str) -> None:
    """Nobody has said whose it was: it counts as this person's until they say otherwise.

    Where a contact wrote it, the contact learns so and can say that it is about somebody else.
    """
    where, codes, numbers = key.removeprefix(PREFIX).split("|")
    if "/" in codes:  # set by an older version, in the other order
        codes, numbers = numbers, codes
    chat, number = where.split(":")
    pairs = tuple(_pair(part) for part in numbers.split(",") if part)
    flags = tuple(code for code in codes.split(",") if code)
    message = MessageRef(chat=ChatId(int(chat)), message=int(number))
    told = Told(message=message, pairs=pairs, symptoms=flags)
    contact = turn.contact_in(message.chat)
    reporter = contact if contact is not None and contact.may_be_told else None
    by = None if reporter is None else reporter.person
    if reporter is None:
        turn.say(line("owner.unanswered"), rank=Rank.ALARM)
    else:
        contact_words.danger_told(turn, reporter)
    if flags or any(turn.limits.is_emergency(*pair) for pair in pairs):
        raise_emergency(turn, told, pairs, flags, reported_by=by)
    elif turn.state.alarm is None or turn.state.alarm.stage in _QUIETER:
        severe.open_severe(turn, told, pairs, reported_by=by)
        calling.tell(turn, "unanswered")


def _numbers(pairs: tuple[Pair, ...]) -> str:
    worst = sorted(pairs, key=lambda pair: (-(pair[0] or 0), -(pair[1] or 0)))
    return ",".join(f"{s or ''}/{d or ''}" for s, d in worst[:_MOST])


def _pair(text: str) -> Pair:
    systolic, _, diastolic = text.partition("/")
    return (int(systolic) if systolic else None, int(diastolic) if diastolic else None)
