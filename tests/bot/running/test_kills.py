"""`kill -9` at random moments while the platform fails in every way: nothing is lost.

    uv run pytest tests/bot/running/test_kills.py --kills 200

kills the bot that often on each database and prints what it counted. Everything goes over
HTTP with the real client. `--kills-seed` chooses the moments and faults; which step of the
bot's work a moment hits also depends on the machine.
"""

from __future__ import annotations

import asyncio
import signal
import subprocess
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from time import monotonic
from typing import Any, Final

import pytest
from sqlalchemy import func, select

from bot.localchat.faults import Call
from domain.outcome import Rank
from domain.people import ChatId
from storage.export import versions
from storage.outbox import Outbox
from storage.records import VersionState
from storage.tables import outbox, unhandled

FAULTS: Final = ("500", "429", "drop-before-effect", "drop-after-effect")
METHODS: Final = ("sendMessage", "sendMessage", "getUpdates", "answerCallbackQuery")
#: How far the bot has come before the moment of its kill (its first call of a method), and
#: how often each is chosen.
STAGES: Final = {"start": 1, "getMe": 2, "sendChatAction": 3, "sendMessage": 6}
#: Seconds: the moment lies up to so much later; and nobody waits longer for a call.
MOMENT: Final = 0.8
LONGEST_LIFE: Final = 15.0


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def kept_in(request: pytest.FixtureRequest, tmp_path: Any) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'cuffbell.db'}"
    return str(request.getfixturevalue("postgres_url"))


@dataclass
class Storm:
    """People who write while the bot is killed again and again, and what must come of it."""

    world: Any
    office: Any
    random: Random
    regulars: list[tuple[ChatId, str]] = field(default_factory=list)
    readings: list[tuple[str, str]] = field(default_factory=list)  #: person and final text
    alarmed: list[tuple[ChatId, ChatId, str]] = field(default_factory=list)
    faults: Counter[str] = field(default_factory=Counter)
    kills: Counter[str] = field(default_factory=Counter)
    said: int = 0

    def settle(self) -> None:
        """Three people who only measure."""
        for name in ("Hollis", "Tamsin", "Robin"):
            chat = self.add(name, "patient")
            self.world.add_patient(self.office, chat, name)
            self.regulars.append((chat, name))

    def add(self, name: str, role: str) -> ChatId:
        return ChatId(self.world.chat.add_person(name, role, "Europe/Lisbon", None))

    def write(self) -> None:
        """A few readings, some of them changed at once; now and then an emergency."""
        for _ in range(self.random.randrange(1, 5)):
            chat, name = self.random.choice(self.regulars)
            (message,) = self.world.chat.people.say(chat, self.new_reading())
            text = self._text
            if self.random.random() < 0.2:
                self.world.chat.people.edit(chat, message, self.new_reading())
                text = self._text
            self.readings.append((name.lower(), text))
        if self.random.random() < 0.4:
            self.emergency()

    def new_reading(self) -> str:
        """A pair that nobody has written before, and that worries nobody."""
        self.said += 1
        self._text = (
            f"{118 + self.said % 20}/{70 + self.said // 20 % 14} pulse {60 + self.said // 280}"
        )
        return self._text

    def emergency(self) -> None:
        """Somebody new, with a carer, has chest pain."""
        name = f"Pat{len(self.alarmed)}"
        chat, carer = self.add(name, "patient"), self.add(f"Carer of {name}", "carer")
        self.world.chat.people.say(carer, "hello")  # else the bot may not write there
        patient = self.world.add_patient(self.office, chat, name)
        self.world.add_carer(self.office, patient, carer, f"Carer{len(self.alarmed)}")
        self.world.chat.people.say(chat, "my chest hurts badly and I cannot breathe")
        self.alarmed.append((chat, carer, name))

    def order_faults(self) -> None:
        for _ in range(self.random.randrange(4)):
            kind, method = self.random.choice(FAULTS), self.random.choice(METHODS)
            self.world.chat.fail_next(method, kind)
            self.faults[kind] += 1

    async def run_and_kill(self) -> None:
        """Start the bot and kill it a moment after it has come so far."""
        come_to = self.random.choices(list(STAGES), list(STAGES.values()))[0]
        before = _calls(self.world.chat.calls, come_to)
        process, begin = self.world.process(), monotonic()
        if come_to != "start":
            much = self.random.choice((1, 1, 2, 4)) if come_to == "sendMessage" else 1
            await self.world.eventually(
                lambda: (
                    _calls(self.world.chat.calls, come_to) >= before + much
                    # Faults may have left nothing to send; then the moment is any.
                    or monotonic() > begin + LONGEST_LIFE
                ),
                60,
            )
        await asyncio.sleep(self.random.uniform(0, MOMENT))
        process.kill()
        await asyncio.to_thread(process.communicate)
        self.kills[f"after {come_to}"] += 1

    async def end(self) -> None:
        """The last start goes on until everything has been handled and sent."""
        process = self.world.process()
        waiting = Outbox(self.office.database).waiting
        await self.world.eventually(lambda: self.world.unconfirmed() == 0 and not waiting(), 120)
        process.send_signal(signal.SIGTERM)
        await ended(process)


def _calls(calls: Iterable[Call], method: str) -> int:
    return sum(call.method.lower() == method.lower() for call in calls)


async def ended(process: subprocess.Popen[bytes]) -> None:
    _, errors = await asyncio.to_thread(process.communicate, timeout=20)
    assert process.returncode == 0, errors.decode()


def counted(storm: Storm) -> dict[str, object]:
    """What became of it, as figures."""
    with storm.office.database.reading() as connection:
        of_alarms = connection.execute(
            select(outbox.c.queued_at, outbox.c.sent_at).where(
                outbox.c.rank == int(Rank.ALARM), outbox.c.state == "sent"
            )
        ).all()
        sent = connection.scalar(select(func.count()).where(outbox.c.state == "sent")) or 0
        failed = connection.scalar(select(func.count()).where(outbox.c.state == "failed"))
        not_handled = connection.scalar(select(func.count()).select_from(unhandled))
    everybody = storm.world.chat._exchange.chats.all()
    arrived = sum(len(storm.world.shown(ChatId(chat.id))) for chat in everybody)
    delays = sorted(_seconds(queued, at) for queued, at in of_alarms)
    return {
        "kills": dict(storm.kills),
        "faults": dict(storm.faults),
        "readings": len(storm.readings),
        "emergencies": len(storm.alarmed),
        "messages sent": sent,
        "arrived twice": arrived - sent,
        "failed": failed,
        "unhandled": not_handled,
        "seconds until an alarm was taken (median, longest)": (
            (delays[len(delays) // 2], delays[-1]) if delays else None
        ),
    }


def _seconds(begin: datetime, end: datetime) -> float:
    return round((end - begin).total_seconds(), 1)


@pytest.mark.slow
async def test_no_reading_is_lost_or_stored_twice_and_no_alarm_is_lost(
    world: Any, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    kills, seed = request.config.getoption("--kills"), request.config.getoption("--kills-seed")
    storm = Storm(world, world.office(), Random(seed))
    storm.settle()
    storm.emergency()
    for number in range(kills):
        storm.write()
        storm.order_faults()
        await storm.run_and_kill()
        if number % 20 == 19:
            with capsys.disabled():
                print(f"\n{number + 1} kills: {counted(storm)}", flush=True)
    await storm.end()

    found = counted(storm)
    with capsys.disabled():
        print(f"\n{found}")
    with storm.office.database.reading() as connection:
        stored = Counter(
            (str(version.person), version.kept.text)
            for version in versions(connection)
            if version.state is VersionState.KEPT
        )
    assert stored == Counter(storm.readings)
    for chat, carer, name in storm.alarmed:
        assert any("112" in text for text in world.shown(chat)), f"{name} was not told"
        assert any(name in text for text in world.shown(carer)), f"{name}'s carer was not told"
    assert (found["failed"], found["unhandled"]) == (0, 0)
    assert isinstance(found["arrived twice"], int)
    assert found["arrived twice"] >= 0
