"""Defects put into the real program on purpose, each of a kind that somebody could write.

The simulation must find every one of them: a check that cannot fail proves nothing. Each is
a context in which the program is wrong in one place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final
from unittest.mock import patch

from sqlalchemy import bindparam, select

from bot.delivery import Delivery
from bot.desk import Desk
from bot.telegram.sending import Taken
from bot.telegram.update_loop import UpdateLoop
from domain import alarm_table
from domain.alarm_table import Happening
from domain.events import DeliveryProblem, Do
from domain.outcome import CancelTimer, Rank, ReadingKept
from domain.people import Contact
from domain.talk import (
    alarm_answers,
    alarm_steps,
    callers,
    calling,
    contact_words,
    escalation,
    own_talk,
    someone_else,
    unowned,
)
from domain.talk.turn import Turn
from storage import lanes, outbox, timers
from storage.tables import WAITS
from storage.tables import lanes as lane_rows
from storage.tables import outbox as messages
from storage.work import Work

Defect = Callable[[], AbstractContextManager[Any]]

# --- who is told, and until when


def timers_are_never_cancelled() -> AbstractContextManager[Any]:
    change = timers.change

    def only_set(connection: Any, person: Any, changes: Any) -> None:
        change(connection, person, [c for c in changes if not isinstance(c, CancelTimer)])

    return patch.object(timers, "change", only_set)


def an_alarm_is_ranked_as_a_prompt() -> AbstractContextManager[Any]:
    say = Turn.say

    def lower(self: Turn, *lines: Any, **how: Any) -> None:
        say(self, *lines, **{**how, "rank": Rank.PROMPT})

    return patch.object(Turn, "say", lower)


def consent_is_not_asked_about() -> AbstractContextManager[Any]:
    return patch.object(Contact, "may_be_told", property(lambda self: self.chat is not None))


def a_repeated_update_is_handled_again() -> AbstractContextManager[Any]:
    seen = Work.seen

    def never(self: Work, bot: int, update_id: int) -> bool:
        seen(self, bot, update_id)
        return False

    return patch.object(Work, "seen", never)


def updates_are_confirmed_before_they_are_handled() -> AbstractContextManager[Any]:
    handle = UpdateLoop._handle

    async def too_early(self: UpdateLoop, data: Mapping[str, Any]) -> None:
        await self._client.raw_updates(int(data["update_id"]) + 1, 0)
        await handle(self, data)

    return patch.object(UpdateLoop, "_handle", too_early)


def only_the_first_contact_is_called() -> AbstractContextManager[Any]:
    called_now = callers.called_now
    return patch.object(calling, "called_now", lambda turn, rounds=0: called_now(turn, rounds)[:1])


@contextmanager
def a_message_is_noted_as_sent_whatever_came_of_it() -> Iterator[None]:
    async def taken(*_: Any) -> Taken:
        return Taken(1)

    with patch("bot.delivery.send", taken):
        yield


def an_edit_takes_a_sign_back_too() -> AbstractContextManager[Any]:
    return patch.object(escalation, "_rests_on_a_sign", lambda turn: False)


def undo_ends_an_alarm() -> AbstractContextManager[Any]:
    undo = own_talk._undo

    def and_ends(turn: Turn) -> None:
        undo(turn)
        if turn.state.alarm is not None:
            alarm_steps.end(turn, Happening.CORRECTED, "corrected")

    return patch.object(own_talk, "_undo", and_ends)


def a_slip_ends_an_alarm() -> AbstractContextManager[Any]:
    slip = alarm_answers.slip

    def and_ends(turn: Turn) -> None:
        slip(turn)
        if turn.state.alarm is not None:
            alarm_steps.end(turn, Happening.CORRECTED, "corrected")

    return patch.dict("domain.conversation._PATIENT", {Do.SLIP: and_ends})


def a_reading_is_kept_twice() -> AbstractContextManager[Any]:
    keep = Work._keep

    def twice(self: Work, patient: Any, outcome: Any, fact: Any) -> None:
        keep(self, patient, outcome, fact)
        if isinstance(fact, ReadingKept):
            keep(self, patient, outcome, fact)

    return patch.object(Work, "_keep", twice)


@contextmanager
def alarms_wait_behind_what_came_before() -> Iterator[None]:
    wanted = (messages.c.chat == bindparam("where"), messages.c.lane == bindparam("which"), WAITS)
    whole = select(messages).where(*wanted).order_by(messages.c.id).limit(1)
    short = (
        select(messages.c.rank, messages.c.queued_at, messages.c.not_before)
        .where(*wanted)
        .order_by(messages.c.id)
        .limit(1)
    )
    with patch.object(outbox, "_HEAD", whole), patch.object(lanes, "_HEAD", short):
        yield


def nobody_learns_of_a_failed_alarm() -> AbstractContextManager[Any]:
    return patch.object(alarm_answers, "delivery_failed", lambda *_, **__: None)


def those_who_were_told_do_not_learn_the_end() -> AbstractContextManager[Any]:
    return patch.object(contact_words, "ended", lambda *_, **__: None)


def an_alarm_ends_by_itself_within_the_hour() -> AbstractContextManager[Any]:
    end = alarm_table.END
    return patch.object(alarm_table, "END", replace(end, after=end.after / 48))


def danger_is_answered_after_the_question() -> AbstractContextManager[Any]:
    return patch.object(escalation, "raise_emergency", lambda *_, **__: None)


def _timer_never_set(key: str) -> AbstractContextManager[Any]:
    set_timer = Turn.set_timer

    def but_one(self: Turn, wanted: str, due: datetime) -> None:
        if wanted != key:
            set_timer(self, wanted, due)

    return patch.object(Turn, "set_timer", but_one)


def a_number_without_an_answer_is_forgotten() -> AbstractContextManager[Any]:
    return _timer_never_set(alarm_table.TELL.key)


def contacts_are_called_only_once() -> AbstractContextManager[Any]:
    return _timer_never_set(alarm_table.AGAIN.key)


# --- what is stored


def _kept_otherwise(change: Callable[[ReadingKept], ReadingKept]) -> AbstractContextManager[Any]:
    keep = Work._keep

    def otherwise(self: Work, patient: Any, outcome: Any, fact: Any) -> None:
        keep(self, patient, outcome, change(fact) if isinstance(fact, ReadingKept) else fact)

    return patch.object(Work, "_keep", otherwise)


def a_reading_is_stored_a_day_ahead() -> AbstractContextManager[Any]:
    def ahead(fact: ReadingKept) -> ReadingKept:
        return replace(fact, reading=replace(fact.reading, at=fact.reading.at + timedelta(days=1)))

    return _kept_otherwise(ahead)


def an_edit_makes_a_second_reading() -> AbstractContextManager[Any]:
    return _kept_otherwise(lambda fact: replace(fact, replaces=None))


@contextmanager
def messages_are_stored_before_what_they_tell_of() -> Iterator[None]:
    store = Work.store

    def early(
        self: Work, patient: Any, outcome: Any, messages: Any = (), actions: Any = None
    ) -> None:
        self.queue(messages)
        self.connection.exec_driver_sql("COMMIT")
        self.connection.exec_driver_sql("BEGIN IMMEDIATE")
        store(self, patient, outcome, (), actions)

    with patch.object(Work, "store", early):
        yield


def who_measures_is_not_heard_about_another() -> AbstractContextManager[Any]:
    return patch.object(someone_else, "_cared_for", lambda turn: ())


def what_nobody_says_is_theirs_is_forgotten() -> AbstractContextManager[Any]:
    return patch.object(unowned, "awaited", lambda *_: None)


# --- how it is sent


def _claimed_by(*conditions: Any, order: tuple[Any, ...]) -> AbstractContextManager[Any]:
    heads = (
        select(lane_rows.c.chat, lane_rows.c.lease, lane_rows.c.head_rank)
        .where(
            lane_rows.c.lane == bindparam("which"),
            lane_rows.c.head_rank.is_not(None),
            lane_rows.c.head_ready <= bindparam("now"),
            lane_rows.c.next_at <= bindparam("now"),
            *conditions,
        )
        .order_by(*order)
        .limit(bindparam("most"))
    )
    return patch.object(outbox, "_FREE_HEADS", heads)


def leases_are_ignored() -> AbstractContextManager[Any]:
    return _claimed_by(order=(lane_rows.c.head_rank, lane_rows.c.head_due))


def alarms_wait_behind_other_chats() -> AbstractContextManager[Any]:
    free = lane_rows.c.leased_until <= bindparam("now")
    return _claimed_by(free, order=(lane_rows.c.head_due,))


def what_was_sent_is_not_noted() -> AbstractContextManager[Any]:
    return patch.object(outbox.Outbox, "sent", lambda self, claim, *_: self.release(claim))


def what_is_not_taken_at_once_is_given_up() -> AbstractContextManager[Any]:
    async def give_up(self: Delivery, claim: Any, row: Any, asked_seconds: float | None) -> None:
        await self._refuse(claim, row, DeliveryProblem.REFUSED)

    return patch.object(Delivery, "_later", give_up)


def an_event_that_failed_is_thrown_away() -> AbstractContextManager[Any]:
    handle = Desk._handle

    def careless(self: Desk, work: Work, incoming: Any) -> Any:
        effects = handle(self, work, incoming)
        if effects is not None and effects.lanes:
            work.connection.rollback()
        return effects

    return patch.object(Desk, "_handle", careless)


DEFECTS: Final[tuple[Defect, ...]] = (
    timers_are_never_cancelled,
    an_alarm_is_ranked_as_a_prompt,
    consent_is_not_asked_about,
    a_repeated_update_is_handled_again,
    updates_are_confirmed_before_they_are_handled,
    only_the_first_contact_is_called,
    a_message_is_noted_as_sent_whatever_came_of_it,
    an_edit_takes_a_sign_back_too,
    undo_ends_an_alarm,
    a_slip_ends_an_alarm,
    a_reading_is_kept_twice,
    alarms_wait_behind_what_came_before,
    nobody_learns_of_a_failed_alarm,
    those_who_were_told_do_not_learn_the_end,
    an_alarm_ends_by_itself_within_the_hour,
    danger_is_answered_after_the_question,
    a_number_without_an_answer_is_forgotten,
    contacts_are_called_only_once,
    a_reading_is_stored_a_day_ahead,
    an_edit_makes_a_second_reading,
    messages_are_stored_before_what_they_tell_of,
    leases_are_ignored,
    what_was_sent_is_not_noted,
    what_is_not_taken_at_once_is_given_up,
    an_event_that_failed_is_thrown_away,
    who_measures_is_not_heard_about_another,
    what_nobody_says_is_theirs_is_forgotten,
)
#: These show only where much waits at a time.
IN_A_RUSH: Final[tuple[Defect, ...]] = (alarms_wait_behind_other_chats,)
