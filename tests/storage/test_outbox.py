"""The outbox: order for each chat, alarms first, nothing lost, nothing claimed twice."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from domain.events import DeliveryProblem
from domain.outcome import Rank, WeekPicture
from domain.people import ChatId, PersonId
from storage import Claim, Database, Lane, Outbox, ReadyMessage, ShownButton, ShownKeyboard, Waiting
from storage.health import health
from storage.tables import outbox
from tests.storage.conftest import HOLLIS_CHAT, HOUSE, START, WREN_CHAT, Clock, undone

LEASE = timedelta(seconds=20)


class Sender:
    """Delivery in its simplest form: claims, begins and notes, one message at a time."""

    def __init__(self, database: Database, clock: Clock, lane: Lane = Lane.TEXT) -> None:
        self.database = database
        self.outbox = Outbox(database)
        self.clock = clock
        self.lane = lane

    def claim(self, limit: int = 10) -> list[Claim]:
        return self.outbox.claim("worker", self.lane, limit, self.clock(), LEASE)

    def claim_or_wait(self, limit: int = 10) -> tuple[list[Claim], datetime | None]:
        return self.outbox.claim_or_wait("worker", self.lane, limit, self.clock(), LEASE)

    def begin(self, claim: Claim) -> Waiting:
        row = self.outbox.begin(claim, self.clock())
        assert row is not None
        return row

    def send_one(self) -> str | None:
        """Send the head of the next lane; its text, None when nothing may be sent now."""
        claims = self.claim(1)
        if not claims:
            return None
        row = self.begin(claims[0])
        self.outbox.sent(claims[0], row, 1, self.clock())
        return row.message.html

    def send_all(self) -> list[str]:
        """Everything that waits, with a second between two sends of one chat."""
        texts: list[str] = []
        while self.outbox.waiting():
            sent = self.send_one()
            if sent is None:
                self.clock.forward(seconds=1)
            else:
                texts.append(sent)
        return texts


@pytest.fixture
def sender(database: Database, clock: Clock) -> Sender:
    return Sender(database, clock)


def _queue(database: Database, *messages: ReadyMessage) -> None:
    with database.work() as work:
        work.queue(messages)


def _text(html: str, chat: ChatId = HOLLIS_CHAT, rank: Rank = Rank.REPLY) -> ReadyMessage:
    return ReadyMessage(chat=chat, html=html, plain=html, rank=rank)


def test_a_message_comes_out_as_it_went_in(database: Database, clock: Clock) -> None:
    message = ReadyMessage(
        chat=HOLLIS_CHAT,
        html="<b>142/91</b> &amp; rising",
        plain="142/91 & rising",
        rank=Rank.PROMPT,
        lane=Lane.FILE,
        language="pt-BR",
        buttons=((ShownButton("Ready", "token-1"),),),
        keyboard=ShownKeyboard(keys=("07:30",), locate="Here"),
        attachment=WeekPicture(patient=PersonId("hollis"), first_day=START.date()),
        about=PersonId("hollis"),
        to=PersonId("wren"),
    )
    _queue(database, message, ReadyMessage(chat=HOUSE, leave=True))
    files, texts = Sender(database, clock, Lane.FILE), Sender(database, clock)

    row = files.begin(files.claim()[0])
    leaving = texts.begin(texts.claim()[0])

    assert row.message == message
    assert (row.attempts, row.queued_at) == (0, START)
    assert leaving.message == ReadyMessage(chat=HOUSE, leave=True)


def test_a_chat_gets_its_messages_in_the_order_written(sender: Sender) -> None:
    _queue(sender.database, *(_text(f"line {number}") for number in range(5)))
    _queue(sender.database, *(_text(f"line {number}") for number in range(5, 8)))

    assert sender.send_all() == [f"line {number}" for number in range(8)]


def test_an_alarm_overtakes_what_waits_in_its_chat_and_elsewhere(sender: Sender) -> None:
    _queue(sender.database, _text("prompt", HOUSE, Rank.PROMPT), _text("reply"))
    sender.clock.forward(seconds=1)
    _queue(sender.database, _text("alarm", HOLLIS_CHAT, Rank.ALARM))
    _queue(sender.database, _text("alarm for Wren", WREN_CHAT, Rank.ALARM))

    sent = sender.send_all()

    assert sent[:2] == ["alarm", "alarm for Wren"]
    # Hollis's chat pauses for a second after the alarm, so the prompt elsewhere goes first.
    assert sent[2:] == ["prompt", "reply"]


def test_chats_go_by_the_rank_of_their_head_then_by_how_long_they_waited(
    sender: Sender, clock: Clock
) -> None:
    chats = {"prompt": Rank.PROMPT, "alarm": Rank.ALARM, "reply": Rank.REPLY}
    for number, (name, rank) in enumerate(chats.items()):
        _queue(sender.database, _text(f"{name} 1", ChatId(number), rank))
        clock.forward(seconds=1)
        _queue(sender.database, _text(f"{name} 2", ChatId(number + 10), rank))
        clock.forward(seconds=1)

    claims = sender.claim()

    assert [(claim.rank, claim.chat) for claim in claims] == [
        (Rank.ALARM, 1),
        (Rank.ALARM, 11),
        (Rank.REPLY, 2),
        (Rank.REPLY, 12),
        (Rank.PROMPT, 0),
        (Rank.PROMPT, 10),
    ]


def test_an_alarm_that_comes_after_the_claim_is_what_is_sent(sender: Sender) -> None:
    _queue(sender.database, _text("reply"))
    (claim,) = sender.claim()
    _queue(sender.database, _text("alarm", rank=Rank.ALARM))

    assert sender.begin(claim).message.html == "alarm"


def test_a_claimed_chat_is_nobody_elses_until_the_lease_ends(sender: Sender) -> None:
    _queue(sender.database, _text("reply"))
    (first,) = sender.claim()

    assert sender.claim() == []
    sender.clock.forward(seconds=19.9)
    assert sender.claim() == []
    sender.clock.forward(seconds=0.1)
    (second,) = sender.claim()

    assert second.lease > first.lease


def test_who_lost_the_lease_can_change_nothing_but_tell_what_was_sent(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"))
    (lost,) = sender.claim()
    row = sender.begin(lost)
    sender.clock.forward(seconds=20)
    (held,) = sender.claim()

    assert sender.outbox.begin(lost, sender.clock()) is None
    assert not sender.outbox.retry(lost, row, sender.clock() + timedelta(hours=1))
    with sender.database.work() as work:
        assert not work.fail(lost, row, DeliveryProblem.REFUSED)
    sender.outbox.release(lost)
    assert sender.claim() == []
    sender.outbox.sent(lost, row, 1, sender.clock())
    assert sender.claim() == []

    assert sender.begin(held).message.html == "two"


def test_one_message_a_second_goes_to_a_chat(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"), _text("elsewhere", WREN_CHAT))

    assert sender.send_one() == "one"
    assert sender.send_one() == "elsewhere"
    sender.clock.forward(seconds=0.99)
    assert sender.send_one() is None
    sender.clock.forward(seconds=0.01)
    assert sender.send_one() == "two"


def test_both_lanes_of_a_chat_share_its_second(database: Database, clock: Clock) -> None:
    picture = ReadyMessage(chat=HOLLIS_CHAT, html="picture", lane=Lane.FILE)
    _queue(database, _text("reply"), picture)
    texts, files = Sender(database, clock), Sender(database, clock, Lane.FILE)
    (text_claim,), (file_claim,) = texts.claim(), files.claim()

    assert texts.begin(text_claim).message.html == "reply"
    assert files.outbox.begin(file_claim, clock()) is None
    clock.forward(seconds=1)

    (file_claim,) = files.claim()
    assert files.begin(file_claim).message.html == "picture"


def test_an_upload_holds_up_no_text(database: Database, clock: Clock) -> None:
    picture = ReadyMessage(chat=HOLLIS_CHAT, html="picture", lane=Lane.FILE)
    _queue(database, picture)
    texts, files = Sender(database, clock), Sender(database, clock, Lane.FILE)
    files.begin(files.claim()[0])
    _queue(database, _text("alarm", rank=Rank.ALARM))
    clock.forward(seconds=1)

    assert texts.send_one() == "alarm"


def test_a_failed_attempt_keeps_the_message_at_its_place(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"))
    (claim,) = sender.claim()
    row = sender.begin(claim)

    assert sender.outbox.retry(claim, row, sender.clock() + timedelta(seconds=4))

    sender.clock.forward(seconds=3.9)
    assert sender.claim() == []
    sender.clock.forward(seconds=0.1)
    (again,) = sender.claim()
    row = sender.begin(again)
    assert (row.message.html, row.attempts) == ("one", 1)


def test_an_alarm_does_not_wait_for_another_messages_back_off(sender: Sender) -> None:
    _queue(sender.database, _text("one"))
    (claim,) = sender.claim()
    sender.outbox.retry(claim, sender.begin(claim), sender.clock() + timedelta(seconds=30))
    sender.clock.forward(seconds=1)

    _queue(sender.database, _text("alarm", rank=Rank.ALARM))

    assert sender.send_one() == "alarm"
    sender.clock.forward(seconds=1)
    assert sender.send_one() is None
    sender.clock.forward(seconds=28)
    assert sender.send_one() == "one"


def test_what_the_platform_asks_to_wait_holds_both_lanes(database: Database, clock: Clock) -> None:
    picture = ReadyMessage(chat=HOLLIS_CHAT, html="picture", lane=Lane.FILE)
    _queue(database, _text("reply"), picture)
    texts, files = Sender(database, clock), Sender(database, clock, Lane.FILE)
    (claim,) = texts.claim()
    row = texts.begin(claim)
    texts.outbox.retry(claim, row, clock() + timedelta(seconds=9), whole_chat=True)

    clock.forward(seconds=8.9)
    assert (texts.claim(), files.claim()) == ([], [])
    clock.forward(seconds=0.1)
    assert texts.send_one() == "reply"


def test_a_message_that_fails_for_good_lets_the_next_one_go(sender: Sender) -> None:
    _queue(sender.database, _text("refused"), _text("next"))
    (claim,) = sender.claim()
    row = sender.begin(claim)

    with sender.database.work() as work:
        assert work.fail(claim, row, DeliveryProblem.REFUSED)

    assert sender.send_all() == ["next"]


def test_a_released_chat_can_be_claimed_at_once(sender: Sender) -> None:
    _queue(sender.database, _text("reply"))
    (claim,) = sender.claim()

    sender.outbox.release(claim)

    assert len(sender.claim()) == 1


def test_an_alarm_does_not_wait_for_a_clock_that_was_put_back(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"))
    sender.send_one()
    assert sender.claim() == []  # "two" waits for the chat's second
    sender.clock.forward(hours=-5)

    _queue(sender.database, _text("alarm", rank=Rank.ALARM))

    assert sender.send_one() == "alarm"
    assert sender.send_one() is None  # and the chat's pace is kept
    sender.clock.forward(seconds=1)
    assert sender.send_one() == "two"


def test_nothing_is_queued_by_a_transaction_that_fails(sender: Sender) -> None:
    with undone(sender.database) as work:
        work.queue([_text("never")])

    assert sender.claim() == []
    assert sender.outbox.waiting() == 0


def _oldest_alarm(sender: Sender) -> timedelta | None:
    with sender.database.reading() as connection:
        return health(connection, sender.clock()).oldest_alarm


def test_the_oldest_waiting_alarm_is_known_until_it_is_sent(sender: Sender) -> None:
    assert _oldest_alarm(sender) is None
    _queue(sender.database, _text("reply"))
    assert _oldest_alarm(sender) is None
    sender.clock.forward(seconds=5)
    _queue(sender.database, _text("alarm", rank=Rank.ALARM))

    sender.clock.forward(seconds=3)
    assert _oldest_alarm(sender) == timedelta(seconds=3)
    sender.send_all()
    assert _oldest_alarm(sender) is None


def test_it_is_known_when_it_is_worth_asking_again(
    sender: Sender, database: Database, clock: Clock
) -> None:
    files = Sender(database, clock, Lane.FILE)
    assert sender.claim_or_wait() == ([], None)
    _queue(sender.database, _text("one"), _text("two"))
    (claim,), again = sender.claim_or_wait()
    assert again == START + LEASE

    sender.outbox.sent(claim, sender.begin(claim), 1, clock())

    assert sender.claim_or_wait() == ([], START + timedelta(seconds=1))
    assert files.claim_or_wait() == ([], None)


def test_who_has_sent_a_message_learns_whether_another_one_waits(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"), _text("elsewhere", WREN_CHAT))
    waiting = []
    for _ in range(2):
        sender.clock.forward(seconds=1)
        claim = next(claim for claim in sender.claim() if claim.chat == HOLLIS_CHAT)
        waiting.append(sender.outbox.sent(claim, sender.begin(claim), 1, sender.clock()))
        sender.clock.forward(seconds=20)

    assert waiting == [True, False]


def test_who_has_claimed_as_much_as_they_wanted_asks_again_at_once(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two", ChatId(77)))
    claims, again = sender.claim_or_wait(1)
    assert (len(claims), again) == (1, None)


def test_two_processes_never_hold_the_same_chat(
    sender: Sender, opened: Callable[[], Database]
) -> None:
    other = Sender(opened(), sender.clock)
    _queue(sender.database, *(_text("reply", ChatId(number)) for number in range(20)))

    first, second = sender.claim(12), other.claim(12)

    assert len(first) + len(second) == 20
    assert {claim.chat for claim in first}.isdisjoint(claim.chat for claim in second)


def test_a_claim_that_was_given_back_is_worth_nothing(sender: Sender) -> None:
    _queue(sender.database, _text("one"), _text("two"))
    (claim,) = sender.claim()
    row = sender.begin(claim)
    sender.outbox.sent(claim, row, 1, sender.clock())
    sender.clock.forward(seconds=1)

    assert sender.outbox.begin(claim, sender.clock()) is None
    with sender.database.work() as work:
        assert not work.fail(claim, row, DeliveryProblem.REFUSED)


def _times(database: Database) -> list[tuple[int | None, ...]]:
    """Seconds since the start at which each message was queued, first tried and settled."""
    columns = outbox.c.queued_at, outbox.c.first_tried_at, outbox.c.sent_at
    with database.reading() as connection:
        return [
            tuple(None if at is None else round((at - START).total_seconds()) for at in row)
            for row in connection.execute(select(*columns).order_by(outbox.c.id))
        ]


def test_when_a_message_was_queued_first_tried_and_sent_is_kept(sender: Sender) -> None:
    _queue(sender.database, _text("an alarm", rank=Rank.ALARM))
    assert _times(sender.database) == [(0, None, None)]

    sender.clock.forward(seconds=2)
    (claim,) = sender.claim()
    row = sender.begin(claim)
    sender.outbox.retry(claim, row, sender.clock() + timedelta(seconds=1))
    assert _times(sender.database) == [(0, 2, None)]

    sender.clock.forward(seconds=3)
    assert sender.send_one() == "an alarm"
    assert _times(sender.database) == [(0, 2, 5)]


def test_of_a_message_that_was_given_up_it_is_kept_when(sender: Sender) -> None:
    _queue(sender.database, _text("an alarm", rank=Rank.ALARM))
    sender.clock.forward(seconds=2)
    (claim,) = sender.claim()
    row = sender.begin(claim)
    sender.clock.forward(seconds=1)
    with sender.database.work() as work:
        assert work.fail(claim, row, DeliveryProblem.BLOCKED)

    assert _times(sender.database) == [(0, 2, 3)]
