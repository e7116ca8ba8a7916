"""`cuffbell try`: one folder that goes on after a restart, and begins anew when asked."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path
from time import monotonic
from typing import Any

import pytest

from bot.commands.try_ import USUAL_PORT
from bot.errors import CuffbellError
from bot.localchat import Visitor
from bot.trial import PEOPLE, running

HOLLIS = PEOPLE[0].name


async def joined(base: str) -> dict[str, Any]:
    """Hollis after the invitation was used, with what the bot asked first."""
    async with Visitor(base, HOLLIS) as hollis:
        invitation = (await hollis.chat())["invitation"]
        await hollis.say(invitation)
        return await hollis.wait_for(lambda m: m["buttons"], timeout=20)


async def test_the_first_start_has_the_people_of_the_scenario_with_invitations(
    tmp_path: Path,
) -> None:
    async with running(tmp_path / "try") as trial, Visitor(trial.base, HOLLIS) as hollis:
        chats = (await hollis.state())["chats"]

    assert [chat["name"] for chat in chats] == [person.name for person in PEOPLE]
    assert all(re.fullmatch(r"/start \w{8,}", chat["invitation"]) for chat in chats)


async def test_a_later_start_goes_on_with_chats_people_and_clock(tmp_path: Path) -> None:
    folder = tmp_path / "try"
    async with running(folder) as trial:
        first = await joined(trial.base)
        await trial.clock.move("hour")
        moved = trial.clock.now()
    async with running(folder) as trial, Visitor(trial.base, HOLLIS) as hollis:
        again = trial.clock.now()
        messages = await hollis.messages()
        await hollis.press(first["buttons"][0][0]["text"])
        answer = await hollis.wait_for(lambda m: True, after=messages[-1]["id"], timeout=20)

    assert first["id"] in {message["id"] for message in messages}
    assert 0 <= (again - moved).total_seconds() < 60
    assert answer["text"]


async def test_the_people_have_chat_programs_in_the_language_that_was_chosen(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "try"
    for chosen, expected in ((None, "en"), ("es", "es"), (None, "es")):
        async with (
            running(folder, language=chosen) as trial,
            Visitor(trial.base, HOLLIS) as hollis,
        ):
            found = {chat["language"] for chat in (await hollis.state())["chats"]}
        assert found == {expected}


async def test_a_language_without_wording_is_refused_with_those_that_there_are(
    tmp_path: Path,
) -> None:
    done = await asyncio.to_thread(
        subprocess.run,
        [sys.executable, "-m", "bot.cli", "try", "--no-browser", "--language", "xx"],
        env=os.environ | {"CUFFBELL_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 2
    assert "--language xx: must be one of en, es" in done.stderr
    assert not (tmp_path / "try").exists()


async def test_fresh_forgets_chats_and_people_and_nothing_else(tmp_path: Path) -> None:
    folder = tmp_path / "try"
    folder.mkdir()
    (folder / "letter.txt").write_text("keep me")
    async with running(folder) as trial:
        await joined(trial.base)
    async with running(folder, fresh=True) as trial, Visitor(trial.base, HOLLIS) as hollis:
        chat = await hollis.chat()

    assert chat["messages"] == []
    assert chat["invitation"]
    assert (folder / "letter.txt").read_text() == "keep me"


@pytest.mark.parametrize("fresh", [False, True])
async def test_a_folder_in_use_is_refused_and_left_alone(tmp_path: Path, fresh: bool) -> None:
    folder = tmp_path / "try"
    async with running(folder) as trial:
        with pytest.raises(CuffbellError, match="running on this folder"):
            async with running(folder, fresh=fresh):
                raise AssertionError("two trials on one folder")
        assert await joined(trial.base)


async def test_a_port_in_use_is_refused_when_it_was_asked_for(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        with pytest.raises(CuffbellError, match=f"Port {port} is in use"):
            async with running(tmp_path / "try", ports=(port,)):
                raise AssertionError("two servers on one port")


async def test_the_usual_port_gives_way_to_the_next_free_one(tmp_path: Path) -> None:
    ports = range(USUAL_PORT, USUAL_PORT + 20)
    async with (
        running(tmp_path / "one", ports=ports) as one,
        running(tmp_path / "two", ports=ports) as two,
    ):
        assert one.base != two.base
        assert await joined(two.base)


async def test_ctrl_c_ends_the_command_cleanly_and_it_says_where_everything_is(
    tmp_path: Path,
) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "bot.cli", "try", "--no-browser", "--port", "0"],
        env=os.environ | {"CUFFBELL_DATA": str(tmp_path), "CUFFBELL_LOG": "warning"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    lines = [await asyncio.to_thread(process.stdout.readline) for _ in range(4)]

    begin = monotonic()
    process.send_signal(signal.SIGINT)
    _, errors = await asyncio.to_thread(process.communicate, timeout=20)

    assert (process.returncode, errors) == (0, "")
    assert monotonic() - begin < 5
    greeting = "".join(lines)
    assert re.search(r"http://127\.0\.0\.1:\d+/", greeting)
    assert str(tmp_path / "try") in greeting
    assert "Ctrl-C" in greeting
    assert "invented" in greeting


async def test_the_token_is_random_and_stays_with_the_folder(tmp_path: Path) -> None:
    async with running(tmp_path / "one") as trial:
        assert await joined(trial.base)
    first = (tmp_path / "one" / "chat" / "token").read_text()
    async with running(tmp_path / "one"), running(tmp_path / "two"):
        assert (tmp_path / "one" / "chat" / "token").read_text() == first
        assert (tmp_path / "two" / "chat" / "token").read_text() != first
