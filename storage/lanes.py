"""Lanes: one chat's queue of texts or of files, with its head, its lease and its pace.

A lane row notes the head of what waits, so that claiming needs no look at the rows behind
it. All functions work in the caller's transaction; moments are machine time. Whoever sends
uses `outbox.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Any, Final

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Connection,
    Executable,
    Row,
    and_,
    bindparam,
    case,
    or_,
    select,
    update,
)

from domain.events import DeliveryProblem
from domain.people import ChatId, PersonId
from storage import codec
from storage.messages import Claim, Lane, ReadyMessage, Waiting
from storage.moments import LONG_AGO, LONGEST_WAIT, UtcMoment, is_free
from storage.tables import WAITS, lanes, outbox, persons
from storage.upserts import insert_into

_INSERT: Final = outbox.insert()


# Statements of every message are made once: that takes longer than running them.
_HEAD: Final = (
    select(outbox.c.rank, outbox.c.queued_at, outbox.c.not_before)
    .where(outbox.c.chat == bindparam("where"), outbox.c.lane == bindparam("which"), WAITS)
    .order_by(outbox.c.rank, outbox.c.id)
    .limit(1)
)
_BOTH: Final = (
    select(lanes.c.lane, lanes.c.lease, lanes.c.next_at)
    .where(lanes.c.chat == bindparam("where"))
    .order_by(lanes.c.lane)
    .with_for_update()
)
_REFRESHED: Final = (
    update(lanes)
    .where(lanes.c.chat == bindparam("where"), lanes.c.lane == bindparam("which"))
    .values(
        head_rank=bindparam("rank"),
        head_due=bindparam("due"),
        head_ready=bindparam("ready"),
    )
)
# With a new number nobody can go on with a claim that was given back.
_FREED: Final = _REFRESHED.values(leased_until=LONG_AGO, worker="", lease=lanes.c.lease + 1)
_UNTIL: Final[BindParameter[datetime]] = bindparam("until", type_=UtcMoment())
# What lies further ahead is of a clock that has been put back.
_SOONER: Final = is_free(lanes.c.next_at, _UNTIL, bindparam("latest"))
_HOLD: Final = (
    update(lanes)
    .where(lanes.c.chat == bindparam("where"))
    .values(next_at=case((_SOONER, _UNTIL), else_=lanes.c.next_at))
)


def queue(connection: Connection, messages: Sequence[ReadyMessage], machine_now: datetime) -> None:
    """Put messages in, in their order, in the caller's transaction.

    The lanes are locked in id order before anything is inserted: two transactions cannot
    wait for each other, and the row ids of a lane grow in the order of their commits.
    """
    heads: dict[tuple[ChatId, Lane], int] = {}
    for message in messages:
        key = (message.chat, message.lane)
        heads[key] = min(heads.get(key, int(message.rank)), int(message.rank))
    _open_lanes(connection, heads, machine_now)
    if messages:
        connection.execute(_INSERT, [_row(message, machine_now) for message in messages])


def fail(
    connection: Connection,
    claim: Claim,
    row: Waiting,
    problem: DeliveryProblem,
    machine_now: datetime,
) -> bool:
    """Mark the row as failed for good and let the next one go, in the caller's transaction.

    False and no change when the lease was lost.
    """
    held = lock_lane(connection, claim)
    if held:
        connection.execute(
            update(outbox)
            .where(outbox.c.id == row.id)
            .values(
                state="failed",
                problem=problem,
                sent_at=machine_now,
                attempts=outbox.c.attempts + 1,
            )
        )
        refresh_lane(connection, claim.chat, claim.lane, free=True)
    return held


def recall(
    connection: Connection, about: PersonId, to: Collection[PersonId], machine_now: datetime
) -> None:
    """Take back what still waits for these contacts about a patient.

    The caller has locked the chats. What a worker is sending at this moment goes out.
    """
    mine = (WAITS, outbox.c.about == about, outbox.c.to_person.in_(to))
    taken = connection.execute(
        select(outbox.c.id, outbox.c.chat, outbox.c.lane).where(
            outbox.c.chat.in_(select(persons.c.chat).where(persons.c.id.in_(to))), *mine
        )
    ).all()
    if not taken:
        return
    connection.execute(
        update(outbox)
        .where(outbox.c.id.in_([row.id for row in taken]))
        .values(state="recalled", sent_at=machine_now)
    )
    for chat, lane in sorted({(row.chat, row.lane) for row in taken}):
        refresh_lane(connection, ChatId(chat), Lane(lane), free=False)


def is_held(connection: Connection, claim: Claim) -> bool:
    """Whether the lane's lease is still this claim's. Locks nothing."""
    lease = connection.scalar(select(lanes.c.lease).where(lane_is(claim.chat, claim.lane)))
    return lease == claim.lease


def lock_lane(connection: Connection, claim: Claim) -> bool:
    """Lock the lanes of the claim's chat; whether its lease is still this claim's."""
    return any(
        row.lane == claim.lane and row.lease == claim.lease
        for row in lock_chat(connection, claim.chat)
    )


def lock_chats(connection: Connection, chats: Collection[ChatId]) -> None:
    """Lock all lanes of these chats, in the order in which everybody locks them."""
    connection.execute(
        select(lanes.c.lane)
        .where(lanes.c.chat.in_(chats))
        .order_by(lanes.c.chat, lanes.c.lane)
        .with_for_update()
    ).all()


def refresh_lane(connection: Connection, chat: ChatId, lane: Lane, *, free: bool) -> bool:
    """Note the lane's new head, so that claiming needs no look at the rows. Is there one?"""
    head = connection.execute(_HEAD, {"where": chat, "which": lane}).first()
    rank, due, ready = head if head is not None else (None, None, LONG_AGO)
    values = {"rank": rank, "due": due, "ready": ready}
    connection.execute(_FREED if free else _REFRESHED, {"where": chat, "which": lane, **values})
    return head is not None


def lane_is(chat: ChatId, lane: Lane) -> ColumnElement[bool]:
    return and_(lanes.c.chat == chat, lanes.c.lane == lane)


def lock_chat(connection: Connection, chat: ChatId) -> Sequence[Row[Any, Any, Any]]:
    # Both lanes, always in the same order as `_open_lanes`: nobody waits in a circle.
    return connection.execute(_BOTH, {"where": chat}).all()


def hold_chat(connection: Connection, chat: ChatId, until: datetime) -> None:
    latest = until + LONGEST_WAIT
    connection.execute(_HOLD, {"where": chat, "until": until, "latest": latest})


def _open_lanes(
    connection: Connection, heads: Mapping[tuple[ChatId, Lane], int], machine_now: datetime
) -> None:
    """Lock the lanes in id order, made where missing, and let their heads be no lower."""
    if not heads:
        return
    rows = [
        {
            "chat": chat,
            "lane": lane,
            "leased_until": LONG_AGO,
            "next_at": LONG_AGO,
            "head_rank": rank,
            "head_due": machine_now,
            "head_ready": machine_now,
        }
        for (chat, lane), rank in sorted(heads.items())
    ]
    connection.execute(_open_lane(connection.dialect.name), rows)


@cache
def _open_lane(dialect: str) -> Executable:
    insert = insert_into(dialect, lanes)
    new, old = insert.excluded, lanes.c
    leads = or_(old.head_rank.is_(None), new.head_rank < old.head_rank)
    return insert.on_conflict_do_update(
        index_elements=["chat", "lane"],
        set_={
            "head_rank": case((leads, new.head_rank), else_=old.head_rank),
            "head_due": case((leads, new.head_due), else_=old.head_due),
            "head_ready": case((leads, new.head_ready), else_=old.head_ready),
        },
    )


def _row(message: ReadyMessage, machine_now: datetime) -> dict[str, Any]:
    return {
        "chat": message.chat,
        "lane": message.lane,
        "rank": int(message.rank),
        "state": "waiting",
        "queued_at": machine_now,
        "not_before": machine_now,
        "attempts": 0,
        "html": message.html,
        "plain": message.plain,
        "language": message.language,
        "buttons": codec.buttons_text(message.buttons),
        "keyboard": codec.keyboard_text(message.keyboard),
        "attachment": codec.attachment_text(message.attachment),
        "about": message.about,
        "to_person": message.to,
        "leave": message.leave,
    }
