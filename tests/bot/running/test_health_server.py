"""What a monitor sees: `/health` and `/metrics` of the running bot, and who may listen."""

from __future__ import annotations

import asyncio
import json
import math
import socket
import subprocess
from datetime import timedelta
from typing import Any

import aiohttp
import pytest
from prometheus_client.parser import text_string_to_metric_families

from bot.errors import HealthAddressError
from bot.health_server import HealthServer
from bot.settings import Address
from domain.outcome import Rank
from storage.messages import ReadyMessage

Sample = tuple[str, tuple[tuple[str, str], ...]]

LOOPBACK = Address("127.0.0.1", 0)


async def asked(port: int, path: str) -> tuple[int, str]:
    """Status and text."""
    async with (
        aiohttp.ClientSession() as session,
        session.get(f"http://127.0.0.1:{port}{path}") as response,
    ):
        return response.status, await response.text()


async def counted(port: int) -> dict[Sample, float]:
    """Every sample of `/metrics` as the format's own parser reads it."""
    status, shown = await asked(port, "/metrics")
    assert status == 200
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(shown)
        for sample in family.samples
    }


async def counted_until(port: int, wanted: Sample) -> dict[Sample, float]:
    """The samples as soon as this one is there, by asking often."""
    async with asyncio.timeout(10):
        while True:
            found = await counted(port)
            if wanted in found:
                return found
            await asyncio.sleep(0.02)


async def running(world: Any, office: Any) -> int:
    """The port of a bot that runs and has rung."""
    program = await world.program(office, poll_seconds=1, health=LOOPBACK)
    await world.eventually(lambda: program.health.port is not None and world.calls("getUpdates"))
    port: int = program.health.port
    return port


async def test_a_bot_that_works_is_well(world: Any) -> None:
    port = await running(world, world.office())

    status, text = await asked(port, "/health")

    shown = json.loads(text)
    assert (status, shown["well"], shown["too_late"]) == (200, True, [])
    assert shown["last_poll_seconds"] < 60
    assert shown["oldest_unsent_alarm_seconds"] is None
    assert shown["unhandled_events"] == 0


async def test_an_alarm_that_cannot_be_sent_makes_it_unwell(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.health.LONGEST_ALARM", -timedelta(seconds=1))
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.fail_next("sendMessage", "500", count=1000)
    world.queue(office, ReadyMessage(chat=chat, html="!", plain="!", rank=Rank.ALARM))
    port = await running(world, office)

    status, text = await asked(port, "/health")

    assert (status, json.loads(text)["too_late"]) == (503, ["oldest unsent alarm"])


async def test_the_answer_holds_no_name_and_no_reading(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.add_patient(office, (await hollis.chat())["id"], "Hollis")
    port = await running(world, office)
    await hollis.say("192/114 and my chest hurts")
    await hollis.wait_for(lambda m: "112" in m["text"])

    shown = (await asked(port, "/health"))[1] + (await asked(port, "/metrics"))[1]

    for secret in ("Hollis", "hollis", "192/114", "chest"):
        assert secret not in shown


async def test_alarms_are_counted_from_raised_to_answered_and_delivered(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.add_patient(office, (await hollis.chat())["id"], "Hollis")
    port = await running(world, office)
    before = await counted(port)
    assert math.isnan(before["cuffbell_oldest_unsent_alarm_seconds", ()])

    await hollis.say("192/114 and my chest hurts")
    await hollis.wait_for(lambda m: any("mbulance" in b["text"] for r in m["buttons"] for b in r))
    await hollis.press("Ambulance is called")

    answered = ("cuffbell_alarm_answer_seconds_count", (("by", "patient"),))
    after = await counted_until(port, answered)
    assert after[answered] == 1
    assert after["cuffbell_alarm_steps_total", (("happened", "raised"),)] == 1
    assert after["cuffbell_alarm_steps_total", (("happened", "emergency"),)] == 1
    assert after["cuffbell_delivery_seconds_count", (("rank", "alarm"),)] >= 1
    assert after["cuffbell_last_poll_seconds", ()] < 60


async def test_what_the_platform_refuses_is_counted_by_rank_and_reason(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.people.block(chat, True)
    world.queue(office, ReadyMessage(chat=chat, html="!", plain="!", rank=Rank.ALARM))
    port = await running(world, office)

    labels = (("problem", "blocked"), ("rank", "alarm"))
    found = await counted_until(port, ("cuffbell_undeliverable_total", labels))
    assert found["cuffbell_undeliverable_total", labels] == 1
    assert found["cuffbell_undeliverable_alarms_in_the_last_day", ()] == 1


async def test_a_database_that_does_not_answer_is_told_as_such(world: Any) -> None:
    office = world.office()
    server = HealthServer(office.database, office.threads, office.counters)
    await server.start(LOOPBACK)
    office.threads.close()
    assert server.port is not None

    answers = [await asked(server.port, path) for path in ("/health", "/metrics")]

    await server.stop()
    assert [status for status, _ in answers] == [503, 503]
    assert json.loads(answers[0][1]) == {"well": False, "too_late": ["database"]}


async def test_a_port_in_use_is_refused_in_one_line(world: Any) -> None:
    office = world.office()
    with socket.create_server(("127.0.0.1", 0)) as taken:
        server = HealthServer(office.database, office.threads, office.counters)
        with pytest.raises(HealthAddressError, match="CUFFBELL_HEALTH"):
            await server.start(Address("127.0.0.1", taken.getsockname()[1]))


# --- processes


async def ended(process: subprocess.Popen[bytes]) -> tuple[int, str]:
    _, errors = await asyncio.to_thread(process.communicate, timeout=20)
    return process.returncode, errors.decode()


async def test_by_default_nobody_listens_and_by_setting_on_loopback_only(world: Any) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    world.process(CUFFBELL_HEALTH=str(port))
    await world.eventually(lambda: world.chat.is_polled, 20)

    status, _ = await asked(port, "/health")

    assert status == 200
    with pytest.raises(OSError, match="refused"), socket.create_connection(("127.0.0.2", port), 2):
        pass


async def test_a_second_run_on_the_same_file_ends_with_one_line(world: Any) -> None:
    hollis = await world.visitor("Hollis")
    world.process()
    await world.eventually(lambda: world.chat.is_polled, 20)

    status, errors = await ended(world.process())

    assert (status, errors.count("\n")) == (2, 1)
    assert "Another cuffbell is running on" in errors
    await hollis.say("hello")
    assert await hollis.wait_for(lambda m: True, timeout=15), "the first one goes on"
