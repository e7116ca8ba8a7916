"""The running bot on PostgreSQL: several replicas of it share the outbox and the timers."""

from __future__ import annotations

import asyncio
from time import monotonic
from typing import Any

import pytest

from domain.outcome import Rank
from domain.people import ChatId
from storage.messages import ReadyMessage

pytestmark = pytest.mark.postgres


@pytest.fixture
def kept_in(postgres_url: str) -> str:
    return postgres_url


def text(chat: ChatId, words: str, rank: Rank = Rank.REPLY) -> ReadyMessage:
    return ReadyMessage(chat=chat, html=words, plain=words, rank=rank)


async def test_a_reading_is_answered(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.add_patient(office, (await hollis.chat())["id"], "Hollis")
    await world.program(office)

    await hollis.say("142/91")

    assert await hollis.wait_for(lambda m: "142/91" in m["text"])


async def test_two_senders_share_the_work_and_keep_the_order_of_each_chat(world: Any) -> None:
    chats = [await world.started_chat(f"Person {n}") for n in range(6)]
    first, second = world.office(), world.office()
    for number in range(10):
        world.queue(first, *(text(chat, f"number {number}") for chat in chats))

    senders = [await world.delivery(first), await world.delivery(second)]
    await asyncio.gather(*(sender.drained() for sender in senders))

    for number in range(6):
        person = await world.visitor(f"Person {number}")
        shown = [m["text"] for m in await person.messages() if m["from"] == "bot"]
        assert shown == [f"number {n}" for n in range(10)]


async def test_what_another_process_queues_is_sent_before_the_next_poll(world: Any) -> None:
    office, other = world.office(), world.office()
    chat = await world.started_chat("Hollis")
    hollis = await world.visitor("Hollis")
    await world.program(office)
    answer = await hollis.wait_for(lambda m: True)

    waits = []
    for number in range(5):
        begin = monotonic()
        world.queue(other, text(chat, f"number {number}"))
        answer = await hollis.wait_for(lambda m: True, after=answer["id"])
        waits.append(monotonic() - begin)

    assert min(waits) < 0.5
    assert sum(waits) < 5 * 0.5
