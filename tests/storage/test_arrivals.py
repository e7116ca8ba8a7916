"""What came from the platform: seen updates as a set, buttons of one chat, what is forgotten."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import text

from domain.events import Action, Do
from domain.outcome import Outcome
from domain.people import ChatId, PersonId
from storage import Database, Outbox, ReadyMessage, gate
from tests.storage.conftest import HOLLIS_CHAT, START, WREN_CHAT, Clock, undone


def _seen(database: Database, bot: int, update: int) -> bool:
    with database.work() as work:
        return work.seen(bot, update)


def test_an_update_is_seen_the_second_time(database: Database) -> None:
    assert [_seen(database, 1, 700) for _ in range(3)] == [False, True, True]


@pytest.mark.parametrize("other", [(1, 699), (1, 701), (1, 3), (2, 700)])
def test_only_the_same_update_of_the_same_bot_counts_as_seen(
    database: Database, other: tuple[int, int]
) -> None:
    _seen(database, 1, 700)

    assert not _seen(database, *other)


def test_an_update_whose_handling_failed_is_not_seen(database: Database) -> None:
    with undone(database) as work:
        assert not work.seen(1, 700)

    assert not _seen(database, 1, 700)


@pytest.mark.parametrize(("days", "remembered"), [(14, True), (14.01, False)])
def test_updates_are_remembered_for_two_weeks(
    database: Database, clock: Clock, days: float, remembered: bool
) -> None:
    _seen(database, 1, 700)
    clock.forward(days=days)

    with database.work() as work:
        work.prune()

    assert _seen(database, 1, 700) is remembered


def test_a_button_works_in_the_chat_that_it_was_given_to(database: Database) -> None:
    action = Action(do=Do.CONSENT_YES, about=PersonId("hollis"), argument="wren")

    with database.work() as work:
        work.store(None, Outcome(), actions={HOLLIS_CHAT: {"token": action}})

    with database.work() as work:
        assert work.button("token", HOLLIS_CHAT) == action
        assert work.button("token", WREN_CHAT) is None
        assert work.button("other", HOLLIS_CHAT) is None


def test_buttons_and_sent_texts_are_forgotten_and_what_waits_is_not(
    database: Database, clock: Clock
) -> None:
    message = ReadyMessage(chat=HOLLIS_CHAT, html="sent", plain="sent")
    with database.work() as work:
        work.store(
            None,
            Outcome(),
            [message, ReadyMessage(chat=HOLLIS_CHAT, html="waits")],
            {HOLLIS_CHAT: {"token": Action(do=Do.READY)}},
        )
    outbox = Outbox(database)
    (claim,) = outbox.claim("worker", message.lane, 1, START, timedelta(seconds=9))
    row = outbox.begin(claim, START)
    assert row is not None
    outbox.sent(claim, row, 5, START)
    clock.forward(days=91)

    with database.work() as work:
        work.prune()

    with database.work() as work:
        assert work.button("token", HOLLIS_CHAT) is None
        assert work.connection.scalars(text("SELECT html FROM outbox")).all() == ["waits"]


def test_what_a_chat_is_asked_is_kept_until_it_is_answered(database: Database) -> None:
    from domain.outcome import Asking

    with database.work() as work:
        assert work.asking(HOLLIS_CHAT) == ""
        work.store(None, Outcome(facts=(Asking(chat=HOLLIS_CHAT, what="patient_name"),)))
    with database.work() as work:
        assert work.asking(HOLLIS_CHAT) == "patient_name"
        assert work.asking(WREN_CHAT) == ""
        work.store(None, Outcome(facts=(Asking(chat=HOLLIS_CHAT, what=""),)))
    with database.work() as work:
        assert work.asking(HOLLIS_CHAT) == ""


def test_the_bots_name_can_change(database: Database) -> None:
    with database.work() as work:
        assert work.bot_name() is None
        work.set_bot(7, "old_bot")
        work.set_bot(7, "new_bot")
        assert work.bot_name() == "new_bot"


def test_ids_larger_than_thirty_two_bits_are_kept(database: Database) -> None:
    chat = ChatId(-1_002_147_483_648_000)

    with database.work() as work:
        assert not work.seen(7_000_000_000, 2**52)
        work.store(None, Outcome(), actions={chat: {"token": Action(do=Do.READY)}})
    with database.work() as work:
        assert work.seen(7_000_000_000, 2**52)
        assert work.button("token", chat) == Action(do=Do.READY)


def test_slots_lie_a_little_more_than_the_rate_apart_for_all_processes(
    database: Database,
) -> None:
    gap = timedelta(seconds=1.05 / 30)

    first = gate.slots(database, 3, START, 30)
    second = gate.slots(database, 2, START, 30)
    later = gate.slots(database, 1, START + timedelta(minutes=1), 30)

    for number, slot in enumerate([*first, *second]):
        assert abs(slot - (START + number * gap)) < timedelta(microseconds=9)
    assert later == [START + timedelta(minutes=1)]


def test_no_slot_lies_before_what_the_platform_asked_for(database: Database) -> None:
    gate.hold(database, START + timedelta(seconds=9))
    gate.hold(database, START + timedelta(seconds=3))

    assert gate.slots(database, 1, START, 30) == [START + timedelta(seconds=9)]


def test_slots_do_not_wait_for_a_clock_that_was_put_back(database: Database) -> None:
    gate.slots(database, 3, START + timedelta(hours=5), 30)

    assert gate.slots(database, 1, START, 30) == [START]

    gate.hold(database, START + timedelta(hours=5))
    gate.hold(database, START + timedelta(seconds=9))
    assert gate.slots(database, 1, START, 30) == [START + timedelta(seconds=9)]


def test_slots_of_a_very_slow_bot_stay_in_turn(database: Database) -> None:
    first = gate.slots(database, 20, START, 0.01)

    assert gate.slots(database, 1, START, 0.01)[0] - first[-1] == timedelta(seconds=105)
