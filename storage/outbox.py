"""What waits to be sent: queued in the event's transaction, claimed by chat, noted as sent.

A *lane* is one chat's queue of texts or of files. A worker claims lanes (by the rank of
the lane's head, then by when it was queued), waits for its slot of `gate.py`, calls
`begin` for the head as it is then (an alarm may have come in meanwhile), sends it, and
says `sent`, `retry` or (through the desk, because the conversation must hear of it)
`fail`. One claim is one message. All moments here are machine time.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import BindParameter, Connection, Row, bindparam, func, select, update

from domain.outcome import Rank
from domain.people import ChatId, PersonId
from storage import codec
from storage.engine import Database
from storage.lanes import hold_chat, lock_chat, lock_lane, refresh_lane
from storage.messages import Claim, Lane, ReadyMessage, Waiting
from storage.moments import LONG_AGO, LONGEST_WAIT, is_free, waits
from storage.tables import WAITS, lanes, outbox

#: The platform asks for at most one message a second in one chat (public bot FAQ).
CHAT_PAUSE: Final = timedelta(seconds=1)

# Statements of every message are made once: that takes longer than running them.
_NOW: Final[BindParameter[datetime]] = bindparam("now")
_LATEST: Final[BindParameter[datetime]] = bindparam("latest")
_WHICH: Final[BindParameter[str]] = bindparam("which")
_FREE_HEADS: Final = (
    select(lanes.c.chat, lanes.c.lease, lanes.c.head_rank)
    .where(
        lanes.c.lane == _WHICH,
        lanes.c.head_rank.is_not(None),
        is_free(lanes.c.head_ready, _NOW, _LATEST),
        is_free(lanes.c.next_at, _NOW, _LATEST),
        lanes.c.leased_until <= _NOW,
    )
    .order_by(lanes.c.head_rank, lanes.c.head_due)
    .limit(bindparam("most"))
    .with_for_update(skip_locked=True)
)
_HEADS: Final = (
    select(lanes.c.next_at, lanes.c.head_ready, lanes.c.leased_until)
    .where(lanes.c.lane == _WHICH, lanes.c.head_rank.is_not(None))
    .order_by(lanes.c.head_rank, lanes.c.head_due)
    .limit(50)
)
_HEAD: Final = (
    select(outbox)
    .where(outbox.c.chat == bindparam("where"), outbox.c.lane == _WHICH, WAITS)
    .order_by(outbox.c.rank, outbox.c.id)
    .limit(1)
)
_SENT: Final = (
    update(outbox)
    .where(outbox.c.id == bindparam("row"))
    .values(
        state="sent",
        sent_at=_NOW,
        platform_message=bindparam("number"),
        attempts=outbox.c.attempts + 1,
    )
)
_TRIED: Final = update(outbox).where(outbox.c.id == bindparam("row")).values(first_tried_at=_NOW)
_LEASED: Final = (
    update(lanes)
    .where(lanes.c.lane == _WHICH, lanes.c.chat.in_(bindparam("chats", expanding=True)))
    .values(
        lease=lanes.c.lease + 1,
        leased_until=bindparam("until"),
        worker=bindparam("holder"),
    )
)


class Outbox:
    """The queue as delivery sees it. Every method is one transaction of its own."""

    def __init__(self, database: Database, *, chat_pause: timedelta = CHAT_PAUSE) -> None:
        """
        Args:
            chat_pause: between two messages to one chat.
        """
        self._database = database
        self._chat_pause = chat_pause

    def claim(
        self, worker: str, lane: Lane, limit: int, machine_now: datetime, lease: timedelta
    ) -> list[Claim]:
        """Up to `limit` lanes whose head may be sent now, leased to `worker`.

        Alarms first, then replies, then prompts; within a rank the longest waiting first.
        No lane is claimed twice while its lease lasts, by whatever process.
        """
        with self._database.writing() as connection:
            return _claim(connection, worker, lane, limit, machine_now, machine_now + lease)

    def claim_or_wait(
        self, worker: str, lane: Lane, limit: int, machine_now: datetime, lease: timedelta
    ) -> tuple[list[Claim], datetime | None]:
        """The same, and where fewer than `limit` were free, when the next one will be.

        One transaction for both, because most messages leave nothing behind them. The moment
        is None when nothing waits, or when there may be more to claim at once.
        """
        with self._database.writing() as connection:
            until = machine_now + lease
            claims = _claim(connection, worker, lane, limit, machine_now, until)
            full = len(claims) == limit
            return claims, None if full else _next_ready(connection, lane)

    def begin(self, claim: Claim, machine_now: datetime) -> Waiting | None:
        """The lane's head, read anew, right before it is sent; takes the chat's second.

        None when the lease was lost, nothing waits any more, or the chat's other lane has
        just sent: the claim is then released.
        """
        with self._database.writing() as connection:
            return _begin(connection, claim, machine_now, self._chat_pause)

    def sent(
        self, claim: Claim, row: Waiting, platform_message: int | None, machine_now: datetime
    ) -> bool:
        """Note that the platform took the message, and release the lane; does more wait in it?

        The row is marked also when the lease was lost meanwhile, because it is the truth.
        """
        with self._database.writing() as connection:
            held = lock_lane(connection, claim)
            taken = {"row": row.id, "now": machine_now, "number": platform_message}
            connection.execute(_SENT, taken)
            return refresh_lane(connection, claim.chat, claim.lane, free=held)

    def retry(self, claim: Claim, row: Waiting, at: datetime, *, whole_chat: bool = False) -> bool:
        """Keep the message at the head, not to be tried before `at`, which is at most
        `LONGEST_WAIT` ahead; release the lane.

        `whole_chat` (the platform said `retry_after`) holds both lanes of the chat. False
        and no change when the lease was lost.
        """
        with self._database.writing() as connection:
            held = lock_lane(connection, claim)
            if held:
                connection.execute(
                    update(outbox)
                    .where(outbox.c.id == row.id)
                    .values(not_before=at, attempts=outbox.c.attempts + 1)
                )
                if whole_chat:
                    hold_chat(connection, claim.chat, at)
                refresh_lane(connection, claim.chat, claim.lane, free=True)
            return held

    def release(self, claim: Claim) -> None:
        """Give a lane back without having sent."""
        with self._database.writing() as connection:
            if lock_lane(connection, claim):
                refresh_lane(connection, claim.chat, claim.lane, free=True)

    def take_over(self) -> None:
        """Free every lane, whoever holds it: for the one process of an embedded database.

        What a killed process held would else wait for the end of its lease.
        """
        with self._database.writing() as connection:
            connection.execute(
                update(lanes).values(lease=lanes.c.lease + 1, leased_until=LONG_AGO, worker="")
            )

    def waiting(self) -> int:
        """How many messages wait in all."""
        with self._database.reading() as connection:
            return connection.scalar(select(func.count()).select_from(outbox).where(WAITS)) or 0


def _next_ready(connection: Connection, lane: Lane) -> datetime | None:
    """When the next waiting head of this lane may be sent, or None when nothing waits."""
    moments = connection.execute(_HEADS, {"which": lane})
    return min((max(row) for row in moments), default=None)


def _claim(
    connection: Connection,
    worker: str,
    lane: Lane,
    limit: int,
    machine_now: datetime,
    until: datetime,
) -> list[Claim]:
    moments = {"now": machine_now, "latest": machine_now + LONGEST_WAIT}
    found = connection.execute(_FREE_HEADS, {"which": lane, "most": limit, **moments}).all()
    if not found:
        return []
    held = {"which": lane, "chats": [row.chat for row in found], "until": until}
    connection.execute(_LEASED, {**held, "holder": worker})
    return [
        Claim(
            chat=ChatId(row.chat),
            lane=lane,
            lease=row.lease + 1,
            until=until,
            rank=Rank(row.head_rank),
        )
        for row in found
    ]


def _begin(
    connection: Connection, claim: Claim, machine_now: datetime, chat_pause: timedelta
) -> Waiting | None:
    both = lock_chat(connection, claim.chat)
    mine = next((row for row in both if row.lane == claim.lane), None)
    if mine is None or mine.lease != claim.lease:
        return None
    head = connection.execute(_HEAD, {"where": claim.chat, "which": claim.lane}).first()
    held = head is not None and any(waits(m, machine_now) for m in (mine.next_at, head.not_before))
    if head is None or held:
        refresh_lane(connection, claim.chat, claim.lane, free=True)
        return None
    hold_chat(connection, claim.chat, machine_now + chat_pause)
    if head.first_tried_at is None:
        # Now and not with the answer: a process that is killed while it sends has tried.
        connection.execute(_TRIED, {"row": head.id, "now": machine_now})
    return _waiting(head)


def _waiting(row: Row[Any]) -> Waiting:
    message = ReadyMessage(
        chat=ChatId(row.chat),
        html=row.html,
        plain=row.plain,
        rank=Rank(row.rank),
        lane=Lane(row.lane),
        language=row.language,
        buttons=codec.buttons(row.buttons),
        keyboard=codec.keyboard(row.keyboard),
        attachment=codec.attachment(row.attachment),
        about=None if row.about is None else PersonId(row.about),
        to=None if row.to_person is None else PersonId(row.to_person),
        leave=row.leave,
    )
    return Waiting(id=row.id, message=message, attempts=row.attempts, queued_at=row.queued_at)
