"""The signs of life: the heartbeat in the database and the call to the host's own address."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import pytest
from aiohttp import web
from sqlalchemy import text

from bot.heartbeat import Heartbeat
from bot.life_sign import LifeSign
from bot.vitals import Vitals
from domain.outcome import Outcome, Rank, SetTimer
from domain.people import Alarm, AlarmStage, ChatId, PersonId, Role
from storage import Invite, open_database, runs, timers
from storage.engine import machine_time
from storage.health import health
from storage.messages import ReadyMessage

SECRET = "secret-part-of-the-address"
QUICK = 0.02


@dataclass
class Watcher:
    """Whoever watches from outside: a real server that counts the calls."""

    port: int = 0
    status: int = 200
    calls: list[str] = field(default_factory=list)
    runner: web.AppRunner | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/{SECRET}?from=cuffbell"

    async def start(self) -> None:
        app = web.Application()
        app.router.add_route("*", "/{tail:.*}", self._called)
        self.runner = web.AppRunner(app, access_log=None)
        await self.runner.setup()
        await web.TCPSite(self.runner, "127.0.0.1", self.port).start()
        self.port = self.runner.addresses[0][1]

    async def stop(self) -> None:
        if self.runner is not None:
            await self.runner.cleanup()
            self.runner = None

    async def _called(self, request: web.Request) -> web.Response:
        self.calls.append(f"{request.method} {request.path_qs}")
        return web.Response(status=self.status)


@pytest.fixture
async def watcher() -> AsyncIterator[Watcher]:
    watcher = Watcher()
    await watcher.start()
    yield watcher
    await watcher.stop()


@dataclass
class Bot:
    """As much of the bot as its signs of life need, on a clock that is the machine's."""

    office: Any
    vitals: Vitals

    def live(self) -> None:
        """Polls succeed and the clock rings, and the heartbeat has written it."""
        self.vitals.polled()
        self.vitals.rang()
        self.write()

    def write(self) -> None:
        with self.office.database.work() as work:
            runs.beat(work.connection, self.vitals.run())

    def silent_since(self, span: timedelta) -> None:
        """The last poll of anybody was so long ago."""
        with self.office.database.work() as work:
            at = machine_time() - span
            run = runs.Run(id="before", started_at=at, seen_at=at, polled_at=at)
            runs.beat(work.connection, run)


@pytest.fixture
async def bot(world: Any) -> Bot:
    office = world.office()
    return Bot(office, Vitals(office.database.machine_clock))


@pytest.fixture
async def signs(bot: Bot, watcher: Watcher, stack: Any) -> None:
    """The life sign, given often."""
    sign = LifeSign(
        watcher.url, bot.office.database, bot.office.threads, bot.vitals, every_seconds=QUICK
    )
    task = asyncio.create_task(sign.run())

    async def end() -> None:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)

    stack.push_async_callback(end)


class _Keeper(logging.Handler):
    """Keeps what is logged, with its fields."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(f"{record.getMessage()} {record.__dict__.get('kind', '')}")


@pytest.fixture
def lines() -> Iterator[list[str]]:
    """What the life sign logs."""
    keeper, logger = _Keeper(), logging.getLogger("bot.life_sign")
    logger.addHandler(keeper)
    yield keeper.lines
    logger.removeHandler(keeper)


async def test_while_all_goes_well_the_address_is_called_again_and_again(
    world: Any, bot: Bot, signs: None, watcher: Watcher
) -> None:
    bot.live()

    await world.eventually(lambda: len(watcher.calls) >= 3)

    assert set(watcher.calls) == {f"GET /{SECRET}?from=cuffbell"}


def an_alarm_sticks(bot: Bot) -> None:
    bot.live()
    minutes_ago = machine_time() - timedelta(minutes=2)
    other = open_database(
        bot.office.database.engine.url.render_as_string(hide_password=False),
        machine_clock=lambda: minutes_ago,
    )
    alarm = ReadyMessage(chat=ChatId(5), html="Call 112", plain="Call 112", rank=Rank.ALARM)
    with other.work() as work:
        work.queue([alarm])
    other.dispose()


def no_timer_fires(bot: Bot) -> None:
    bot.live()
    with bot.office.database.work() as work:
        work.invite(Invite(role=Role.PATIENT, name="Hollis"))
        person = PersonId(work.connection.scalar(text("SELECT id FROM persons")) or "")
        due = SetTimer(key="prompt", due=machine_time() - timedelta(minutes=3))
        timers.change(work.connection, person, (due,))


def never_polled(bot: Bot) -> None:
    bot.vitals.rang()
    bot.write()


def polled_long_ago(bot: Bot) -> None:
    bot.vitals.rang()
    bot.write()
    bot.silent_since(timedelta(minutes=3))


def clock_never_rang(bot: Bot) -> None:
    bot.vitals.polled()
    bot.write()


@pytest.mark.parametrize(
    "trouble", [an_alarm_sticks, no_timer_fires, never_polled, polled_long_ago, clock_never_rang]
)
async def test_whoever_is_not_alive_gives_no_sign(
    world: Any, bot: Bot, watcher: Watcher, signs: None, lines: list[str], trouble: Any
) -> None:
    trouble(bot)

    await world.eventually(lambda: sum("no life sign" in line for line in lines) >= 3)

    assert watcher.calls == []


async def test_a_watcher_that_fails_or_is_gone_breaks_nothing_and_is_not_named(
    world: Any, bot: Bot, watcher: Watcher, signs: None, lines: list[str]
) -> None:
    bot.live()
    watcher.status = 500
    await world.eventually(lambda: any("life sign refused" in line for line in lines))
    await watcher.stop()
    await world.eventually(lambda: any("life sign not taken" in line for line in lines))
    watcher.status, before = 200, len(watcher.calls)
    await watcher.start()

    await world.eventually(lambda: len(watcher.calls) > before)

    assert SECRET not in " ".join(lines)


# --- the heartbeat


async def test_the_heartbeat_tells_when_this_process_last_polled_and_rang(bot: Bot) -> None:
    database = bot.office.database
    beat = Heartbeat(database, bot.office.threads, bot.vitals, on_timers=lambda: None)
    await beat.beat()
    with database.reading() as connection:
        assert runs.last_poll(connection) is None

    bot.vitals.polled()
    await beat.beat()

    with database.reading() as connection:
        assert runs.last_poll(connection) == bot.vitals.run().polled_at


async def test_the_first_poll_after_an_outage_wakes_the_alarm_clock_for_those_concerned(
    world: Any, bot: Bot
) -> None:
    person = world.add_patient(bot.office, ChatId(5), "Hollis")
    with bot.office.database.work() as work:
        patient = work.patient(person)
        missed = SetTimer(key="occasion.missed", due=machine_time() + timedelta(hours=1))
        work.store(patient, Outcome(timers=(missed,)))
    bot.silent_since(timedelta(hours=2))
    woken: list[str] = []
    beat = Heartbeat(
        bot.office.database, bot.office.threads, bot.vitals, on_timers=lambda: woken.append("!")
    )

    await beat.beat()
    assert woken == []
    bot.vitals.polled()
    await beat.beat()
    await beat.beat()

    assert woken == ["!"]


async def test_after_an_outage_whoever_has_an_alarm_open_is_told(world: Any, bot: Bot) -> None:
    chat, hollis = await world.started_chat("Hollis"), await world.visitor("Hollis")
    person = world.add_patient(bot.office, chat, "Hollis")
    opened = machine_time() - timedelta(hours=3)
    with bot.office.database.work() as work:
        patient = work.patient(person)
        alarm = Alarm(stage=AlarmStage.EMERGENCY, opened=opened, symptoms=("chest_pain",))
        state = replace(patient.state, alarm=alarm)
        again = SetTimer(key="emergency.again", due=opened + timedelta(hours=2))
        work.store(patient, Outcome(patient=replace(patient, state=state), timers=(again,)))
    bot.silent_since(timedelta(hours=2))

    await world.program(bot.office)
    told = await hollis.wait_for(lambda m: "I was not working" in m["text"], timeout=20)

    assert "call 112 now" in told["text"]
    assert await hollis.wait_for(lambda m: "112" in m["text"], after=told["id"])


async def test_whoever_blocks_the_bot_is_counted_until_they_come_back(world: Any, bot: Bot) -> None:
    chat = await world.started_chat("Hollis")
    world.add_patient(bot.office, chat, "Hollis")
    await world.program(bot.office, poll_seconds=1)

    def unreachable() -> int:
        with bot.office.database.reading() as connection:
            return health(connection, machine_time()).unreachable

    world.chat.people.block(chat, True)
    await world.eventually(lambda: unreachable() == 1)
    world.chat.people.block(chat, False)
    await world.eventually(lambda: unreachable() == 0)
