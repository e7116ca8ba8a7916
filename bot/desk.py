"""One event in, one transaction, effects out.

The desk resolves who and about whom, loads the patient under a lock, asks the domain what
the event leads to, stores all of it and commits; then it says that messages or timers are
new. A crash at any moment leaves an event wholly done or not begun.

Everything here is synchronous and is called in a database thread. Due moments and `now`
are person time.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from traceback import extract_tb
from typing import Final, TypeVar

from sqlalchemy.exc import InterfaceError, OperationalError

from bot.alarm_changes import AlarmChange, alarm_changes
from bot.incoming import Incoming, PressedToken
from bot.rendering import render
from bot.resolving import (
    asks_for_place,
    cleaned,
    colleagues,
    concerned,
    invitation_of,
    listed,
    resolved,
)
from domain.duty import LOOK
from domain.events import (
    Action,
    Actor,
    DeliveryFailed,
    DeliveryProblem,
    Edited,
    Event,
    Said,
    SentOther,
    SharedLocation,
    Situation,
    TimerFell,
)
from domain.messages import line
from domain.outcome import LeaveGroup, Outcome, Outgoing, Rank
from domain.people import ChatId, Patient, PersonId, Place, Role
from storage import codec
from storage.engine import Database
from storage.fresh import fresh_values
from storage.messages import Claim, Lane, ReadyMessage, Waiting
from storage.timers import Timer
from storage.work import Work

log = logging.getLogger(__name__)

Respond = Callable[[Situation, Event, datetime], Outcome]
LookUp = Callable[[str, str], Sequence[Place]]

_Result = TypeVar("_Result")

#: How many random values an answer may need: an id and a code for one invitation.
_FRESH: Final = 4
#: How often an event is tried when the database asks for it (a deadlock, a lost connection).
_TRIES: Final = 3
#: Timers handled before others get their turn in the database thread.
FEW_TIMERS: Final = 50
#: A timer that could not be handled is tried again after this, doubled each time.
_TIMER_PAUSE: Final = timedelta(seconds=30)
_LONGEST_TIMER_PAUSE: Final = timedelta(hours=1)
#: Whoever did one of these waits for an answer.
_WRITTEN: Final = (Said, Edited, PressedToken, SentOther, SharedLocation)


@dataclass(frozen=True, slots=True)
class _Effects:
    """What became new in a transaction that has committed."""

    lanes: frozenset[Lane] = frozenset()  #: into which messages were queued
    timers: bool = False
    alarms: tuple[AlarmChange, ...] = ()


class _LeaseLostError(Exception):
    """Another worker has the message: what was made of its failure is undone."""


def _nothing(*_: object) -> None:
    """The hook of a desk that nobody listens to."""


class Desk:
    """The desk of one process."""

    def __init__(
        self,
        database: Database,
        respond: Respond,
        *,
        look_up: LookUp,
        on_outgoing: Callable[[frozenset[Lane]], None] = _nothing,
        on_timer: Callable[[], None] = _nothing,
        on_alarm: Callable[[AlarmChange], None] = _nothing,
    ) -> None:
        """
        Args:
            respond: `domain.conversation.respond`.
            look_up: places that a text may name, named in a language.
            on_outgoing: called after a commit that queued messages, with the lanes that they
                went into, in the calling thread.
            on_timer: called after a commit that changed timers, in the calling thread.
            on_alarm: called after a commit for each step of an alarm, in the calling thread.
        """
        self._database = database
        self._respond = respond
        self._look_up = look_up
        self._on_outgoing = on_outgoing
        self._on_timer = on_timer
        self._on_alarm = on_alarm
        self._tidied: date | None = None
        self._bot_name = ""

    def handle(self, incoming: Incoming) -> bool:
        """Handle one update of the platform; False when it had been handled before.

        An update that cannot be handled is kept whole, and its sender is told.

        Raises:
            OperationalError: the database cannot be used now. Ask for the update again.
        """
        whole = cleaned(incoming)
        try:
            effects = self._in_transaction(lambda work: self._handle(work, whole))
        except (OperationalError, InterfaceError):
            raise
        except Exception as problem:
            kind = _place(problem)
            log.error("event not handled", extra={"action": "handle", "kind": kind})
            effects = self._in_transaction(lambda work: _keep_unhandled(work, whole, kind))
        self._announce(effects)
        return effects is not None

    def fire_due(self, most: int = FEW_TIMERS) -> int:
        """Handle timers that are due, at most `most`; how many were taken up.

        Call it again at once while the answer is not 0: in between, others may use the
        database thread. Timers of somebody whom another process is busy with are left.
        """
        self._tidy_daily()
        with self._database.looking() as work:
            due = work.due_persons(most)
        return sum(self._fire_one(person) for person in due)

    def delivery_failed(self, claim: Claim, row: Waiting, problem: DeliveryProblem) -> bool:
        """Mark a message as failed for good and let the conversation hear of it, in one
        transaction. False when the lease was lost: another worker has the message."""
        try:
            effects = self._in_transaction(lambda work: self._failed(work, claim, row, problem))
        except _LeaseLostError:
            return False
        except (OperationalError, InterfaceError):
            raise
        except Exception as trouble:
            log.error(
                "failed delivery not handled", extra={"action": "fail", "kind": _place(trouble)}
            )
            # The row must not stay at the head of its lane for ever.
            effects = self._in_transaction(
                lambda work: _Effects() if work.fail(claim, row, problem) else None
            )
        self._announce(effects)
        return effects is not None

    def next_due(self) -> datetime | None:
        """When the next timer falls due (person time), or None."""
        with self._database.looking() as work:
            return work.next_due()

    def ahead(self) -> timedelta:
        """By how much person time is ahead of machine time."""
        with self._database.looking() as work:
            return work.now() - work.machine_now

    def set_clock(self, to: datetime) -> None:
        """Person time is `to` and runs on from there. Nothing is handled, see `person_time`."""
        with self._database.work() as work:
            work.move_clock(to)

    # --- one event

    def _handle(self, work: Work, incoming: Incoming) -> _Effects | None:
        if incoming.update_id is not None and work.seen(incoming.bot_id, incoming.update_id):
            return None
        event = resolved(work, incoming)
        ties = work.ties(incoming.chat)
        language = ties[0].language if ties else incoming.language  # chosen, before the client's
        actor = Actor(chat=incoming.chat, language=language, name=incoming.name)
        invitation = invitation_of(work, event)
        blank = Situation(actor=actor, ties=ties, invitation=invitation)
        if isinstance(event, Said) and any(tie.role is Role.PRACTITIONER for tie in ties):
            # Only they are asked anything outside a patient's conversation; it decides the room.
            blank = replace(blank, asking=work.asking(incoming.chat))
        effects = [
            self._answer(work, blank, event, person) for person in concerned(work, blank, event)
        ]
        return _together(effects)

    def _answer(
        self, work: Work, blank: Situation, event: Event, person: PersonId | None
    ) -> _Effects:
        """One call of `respond` with everything that it may know, and its outcome stored."""
        patient = work.patient(person) if person else None
        chat = blank.actor.chat
        # What was asked outside any patient's conversation matters only there.
        asking = work.asking(chat) if patient is None and chat is not None else ""
        entries = listed(work, blank.ties, event) if patient is None else ()
        situation = replace(
            blank,
            patient=patient,
            asking=asking,
            listed=entries,
            colleagues=colleagues(work, blank, event),
        )
        return self._respond_and_store(work, situation, event)

    def _respond_and_store(self, work: Work, blank: Situation, event: Event) -> _Effects:
        situation = replace(
            blank,
            places=self._places(blank, event),
            fresh=fresh_values(_FRESH),
            bot_name=self._bot_name_in(work),
        )
        outcome = self._respond(situation, event, work.now())
        messages, actions = _rendered(outcome)
        work.store(situation.patient, outcome, messages, actions)
        before = situation.patient.state if situation.patient else None
        after = outcome.patient.state if outcome.patient else None
        return _Effects(
            lanes=_lanes(messages),
            timers=bool(outcome.timers),
            alarms=alarm_changes(before, after, work.now()),
        )

    def _bot_name_in(self, work: Work) -> str:
        # It stands from the first start on, so it is read once.
        self._bot_name = self._bot_name or work.bot_name() or ""
        return self._bot_name

    def _places(self, situation: Situation, event: Event) -> tuple[Place, ...]:
        if not isinstance(event, Said) or not asks_for_place(situation):
            return ()
        return tuple(self._look_up(event.text, situation.actor.language))

    # --- timers and failed deliveries

    def _fire_one(self, person: PersonId) -> bool:
        """Handle the person's longest due timer; whether one was taken up."""
        taken: list[Timer] = []
        try:
            effects = self._in_transaction(lambda work: self._fire(work, person, taken))
        except (OperationalError, InterfaceError):
            raise
        except Exception as problem:
            log.error("timer not handled", extra={"action": "fire", "kind": _place(problem)})
            effects = self._in_transaction(lambda work: _postpone(work, person, taken))
        self._announce(effects)
        return effects is not None

    def _fire(self, work: Work, person: PersonId, taken: list[Timer]) -> _Effects | None:
        patient = work.patient(person, skip_locked=True)
        if patient is None and not work.lock_person(person):
            return None  # somebody else is busy with them
        timer = work.take_due(person)
        if timer is None:
            return None
        taken.append(timer)
        event = TimerFell(key=timer.key, due=timer.due)
        if timer.key == LOOK or patient is None:
            blank = _practitioner_alone(work, person, event)
        else:
            blank = Situation(actor=Actor(chat=None, language=patient.language), patient=patient)
        return replace(self._respond_and_store(work, blank, event), timers=True)

    def _failed(
        self, work: Work, claim: Claim, row: Waiting, problem: DeliveryProblem
    ) -> _Effects | None:
        if not work.holds(claim):
            return None
        message = row.message
        # The patient first, as in every event: two transactions never wait in a circle.
        patient = work.patient(message.about) if message.about else None
        effects = _Effects()
        if patient is not None:
            effects = self._tell_of_failure(work, patient, message, problem)
        if not work.fail(claim, row, problem):
            raise _LeaseLostError
        return effects

    def _tell_of_failure(
        self, work: Work, patient: Patient, message: ReadyMessage, problem: DeliveryProblem
    ) -> _Effects:
        event = DeliveryFailed(
            chat=message.chat,
            to=message.to,
            problem=problem,
            was_alarm=message.rank is Rank.ALARM,
        )
        actor = Actor(chat=message.chat, language=message.language)
        blank = Situation(actor=actor, patient=patient, ties=work.ties(message.chat))
        return self._respond_and_store(work, blank, event)

    # --- transactions

    def _in_transaction(self, step: Callable[[Work], _Result]) -> _Result:
        for attempt in range(1, _TRIES + 1):
            try:
                with self._database.work() as work:
                    return step(work)
            except OperationalError:
                if attempt == _TRIES:
                    raise
                log.warning("database asks to try again", extra={"attempt": attempt})
        raise AssertionError("the last attempt returns or raises")

    def _announce(self, effects: _Effects | None) -> None:
        if effects is None:
            return
        if effects.lanes:
            self._on_outgoing(effects.lanes)
        if effects.timers:
            self._on_timer()
        for step in effects.alarms:
            self._on_alarm(step)

    def _tidy_daily(self) -> None:
        today = self._database.machine_clock().date()
        if self._tidied != today:
            with self._database.work() as work:
                work.prune()
            self._tidied = today


def _practitioner_alone(work: Work, person: PersonId, event: Event) -> Situation:
    """The situation of a practitioner's own timer: their patients, and no single one."""
    chat = work.chat_of(person)
    mine = work.ties(chat) if chat is not None else ()
    ties = tuple(tie for tie in mine if tie.role is Role.PRACTITIONER and tie.person == person)
    actor = Actor(chat=chat, language=ties[0].language if ties else "en")
    return Situation(actor=actor, ties=ties, listed=listed(work, ties, event))


def _rendered(
    outcome: Outcome,
) -> tuple[list[ReadyMessage], Mapping[ChatId, Mapping[str, Action]]]:
    messages: list[ReadyMessage] = []
    actions: dict[ChatId, dict[str, Action]] = {}
    for outgoing in outcome.outgoing:
        rendered = render(outgoing)
        messages.extend(rendered.messages)
        actions.setdefault(outgoing.chat, {}).update(rendered.actions)
    messages.extend(
        ReadyMessage(chat=fact.chat, leave=True)
        for fact in outcome.facts
        if isinstance(fact, LeaveGroup)
    )
    return messages, actions


def _lanes(messages: Iterable[ReadyMessage]) -> frozenset[Lane]:
    return frozenset(message.lane for message in messages)


def _together(effects: Sequence[_Effects]) -> _Effects:
    return _Effects(
        lanes=frozenset().union(*(one.lanes for one in effects)),
        timers=any(one.timers for one in effects),
        alarms=tuple(step for one in effects for step in one.alarms),
    )


def _keep_unhandled(work: Work, incoming: Incoming, problem: str) -> _Effects | None:
    """The shortest way out: the event is kept as it came and its sender is told."""
    if incoming.update_id is not None and work.seen(incoming.bot_id, incoming.update_id):
        return None
    work.keep_unhandled(
        bot=incoming.bot_id,
        update_id=incoming.update_id,
        chat=incoming.chat,
        event=_as_text(incoming.event),
        problem=problem,
    )
    if not isinstance(incoming.event, _WRITTEN):
        return _Effects()
    told = Outgoing(
        chat=incoming.chat, lines=(line("desk.not_handled"),), language=incoming.language
    )
    messages = render(told).messages
    work.queue(messages)
    return _Effects(lanes=_lanes(messages))


def _postpone(work: Work, person: PersonId, taken: Sequence[Timer]) -> _Effects:
    # Who cannot even be read has none taken, and must not hold up everybody else's timers.
    timer = taken[-1] if taken else work.longest_due(person)
    if timer is None:
        return _Effects()
    pause = min(_TIMER_PAUSE * 2 ** min(timer.attempts, 16), _LONGEST_TIMER_PAUSE)
    work.postpone(timer, work.now() + pause)
    return _Effects(timers=True)


def _as_text(event: Event | PressedToken) -> str:
    if isinstance(event, PressedToken):
        return f"pressed button in message {event.message.message}"
    return codec.event_text(event)


def _place(problem: BaseException) -> str:
    """Kind of error and place in the code: an error's own text may hold what was typed."""
    frames = extract_tb(problem.__traceback__)
    where = f"{frames[-1].name}:{frames[-1].lineno}" if frames else "?"
    return f"{type(problem).__name__} in {where}"
