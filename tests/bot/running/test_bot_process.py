"""The bot as a process of its own: signals, kills and restarts lose nothing."""

from __future__ import annotations

import asyncio
import signal
import subprocess
from collections import Counter
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from random import Random
from time import monotonic
from typing import Any

import pytest

from domain.outcome import Rank
from storage.export import versions
from storage.messages import Lane, ReadyMessage
from storage.outbox import Outbox

SEED = 20260310
TOKEN_END = "invented-token-of-the-tests"


async def ended(process: subprocess.Popen[bytes]) -> tuple[int, str]:
    """Status and standard error of a process, once it has ended."""
    _, errors = await asyncio.to_thread(process.communicate, timeout=20)
    return process.returncode, errors.decode()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
async def test_a_signal_ends_it_within_five_seconds_with_status_nought(
    world: Any, number: signal.Signals
) -> None:
    hollis = await world.visitor("Hollis")
    process = world.process()
    await hollis.say("hello")
    await hollis.wait_for(lambda m: True, timeout=20)

    begin = monotonic()
    process.send_signal(number)
    status, errors = await ended(process)

    assert (status, errors) == (0, "")
    assert monotonic() - begin < 5


async def test_a_signal_while_the_platform_is_slow_still_ends_it_in_time(world: Any) -> None:
    hollis = await world.visitor("Hollis")
    world.chat.fail_next("sendMessage", "timeout", count=50)
    process = world.process()
    await hollis.say("hello")
    await world.eventually(lambda: world.unconfirmed() == 0, 20)

    begin = monotonic()
    process.send_signal(signal.SIGTERM)
    status, errors = await ended(process)

    assert (status, errors) == (0, "")
    assert monotonic() - begin < 5


async def test_a_signal_ends_it_in_time_before_a_server_that_never_answers(world: Any) -> None:
    asked = asyncio.Event()

    async def say_nothing(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        asked.set()
        with suppress(ConnectionError):
            while await reader.read(4096):
                pass
        writer.close()

    server = await asyncio.start_server(say_nothing, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    process = world.process(CUFFBELL_TELEGRAM_API=f"http://{host}:{port}")
    async with asyncio.timeout(20):
        await asked.wait()

    begin = monotonic()
    process.send_signal(signal.SIGTERM)
    status, errors = await ended(process)

    server.close()
    await server.wait_closed()
    assert (status, errors) == (0, "")
    assert monotonic() - begin < 5


async def test_a_wrong_token_ends_it_with_one_line_that_does_not_hold_it(world: Any) -> None:
    process = world.process(CUFFBELL_TELEGRAM_TOKEN="7000:wrong-and-secret")

    status, errors = await ended(process)

    assert status == 2
    assert "CUFFBELL_TELEGRAM_TOKEN" in errors
    assert errors.count("\n") == 1
    assert "secret" not in errors


@pytest.mark.slow
async def test_kills_at_any_moment_lose_no_reading_and_store_none_twice(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    chat = (await hollis.chat())["id"]
    world.add_patient(office, chat, "Hollis")
    texts = [f"1{n:02d}/80" for n in range(10, 60)]
    random = Random(SEED)

    for batch in range(5):
        for text in texts[batch * 10 : batch * 10 + 10]:
            await hollis.say(text)
        process = world.process()
        calls = world.calls("sendMessage") + world.calls("sendChatAction")
        await world.eventually(
            lambda calls=calls: world.calls("sendMessage") + world.calls("sendChatAction") > calls,
            20,
        )
        await asyncio.sleep(random.uniform(0, 0.15))  # any moment of its work
        process.kill()
        await ended(process)
    last = world.process()
    await world.eventually(lambda: world.unconfirmed() == 0, 60)
    last.send_signal(signal.SIGTERM)
    await ended(last)

    with office.database.reading() as connection:
        stored = Counter(version.kept.text for version in versions(connection))
    assert stored == Counter(texts)


async def test_an_alarm_that_a_killed_process_held_is_sent_at_the_next_start(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    hollis = await world.visitor("Hollis")
    alarm = ReadyMessage(chat=chat, html="Call 112", plain="Call 112", rank=Rank.ALARM)
    world.queue(office, alarm)
    held = Outbox(office.database).claim(
        "killed", Lane.TEXT, 1, datetime.now(UTC), timedelta(minutes=5)
    )

    world.process()

    assert [claim.chat for claim in held] == [chat]
    assert await hollis.wait_for(lambda m: m["text"] == "Call 112", timeout=15)


async def test_the_most_talkative_log_holds_no_name_no_text_and_no_token(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis Brandreth")
    world.add_patient(office, (await hollis.chat())["id"], "Hollis")
    world.chat.fail_next("sendMessage", "500")
    world.add_update("message", {"message_id": "Brandreth 142/91", "chat": 5})
    process = world.process(CUFFBELL_LOG="debug")

    await hollis.say("192/114 and my chest hurts")
    await hollis.wait_for(lambda m: "112" in m["text"], timeout=20)
    process.send_signal(signal.SIGTERM)
    _, errors = await ended(process)

    assert "update cannot be read" in errors
    assert "later again" in errors
    for secret in ("Hollis", "Brandreth", "142", "192", "114", "chest", TOKEN_END, world.base):
        assert secret not in errors


async def test_a_message_queued_by_another_process_is_sent_within_a_poll(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    hollis = await world.visitor("Hollis")
    world.process()
    answer = await hollis.wait_for(lambda m: True, timeout=20)

    world.queue(office, ReadyMessage(chat=chat, html="from outside", plain="from outside"))

    assert await hollis.wait_for(lambda m: m["text"] == "from outside", 4, after=answer["id"])
