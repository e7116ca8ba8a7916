"""The people's side over HTTP: who is let in, the state, the events, the actions."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from telegram import Bot
from telegram.error import BadRequest, Forbidden

from bot.localchat.pages import PAGE_FOLDER
from bot.localchat.server import LocalChat
from bot.localchat.store import FolderInUseError, NewerFolderError, Store
from bot.localchat.visitor import RefusedError, Visitor

TOKEN = "7000:invented-token-of-the-tests"


@pytest.fixture
async def http() -> AsyncIterator[aiohttp.ClientSession]:
    async with aiohttp.ClientSession() as session:
        yield session


async def test_the_state_names_clock_folder_and_chats(
    chat: LocalChat, base: str, hollis_id: int, http: aiohttp.ClientSession, clock: Any
) -> None:
    clock.due = datetime(2025, 3, 2, 7, 30, tzinfo=UTC)

    async with http.get(f"{base}/chat/state") as answer:
        state = await answer.json()

    assert Path(state.pop("folder")).name == "folder"
    assert state == {
        "now": "2025-03-01T08:00:00+00:00",
        "next_due": "2025-03-02T07:30:00+00:00",
        "chats": [
            {
                "id": hollis_id,
                "name": "Hollis Brandreth",
                "role": "patient",
                "zone": "Europe/Lisbon",
                "language": "en",
                "invitation": "/start INVENTED",
                "blocked": False,
                "typing": False,
                "reply_keyboard": None,
                "commands": [],
                "messages": [],
            }
        ],
    }


async def test_an_invitation_is_offered_until_it_was_sent(hollis: Visitor) -> None:
    assert (await hollis.chat())["invitation"] == "/start INVENTED"

    await hollis.say("/start INVENTED")

    assert (await hollis.chat())["invitation"] is None


async def test_a_new_invitation_is_offered_again(chat: LocalChat, hollis: Visitor) -> None:
    await hollis.say("/start INVENTED")

    chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", "/start NEW")

    assert (await hollis.chat())["invitation"] == "/start NEW"


async def test_only_the_loopback_address_is_bound(base: str) -> None:
    port = int(base.rpartition(":")[2])
    addresses = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), port)}
    outside = [a for a in addresses if ":" not in str(a) and not str(a).startswith("127.0.0.1")]

    def is_open(address: str) -> bool:
        with socket.socket() as probe:
            probe.settimeout(1)
            return probe.connect_ex((address, port)) == 0

    assert is_open("127.0.0.1")
    # All of 127/8 is the same machine: bound to every address, the second would answer too.
    for address in ["127.0.0.2", *(str(a) for a in outside)]:
        assert not is_open(address)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:{port}", 200),
        ("localhost:{port}", 200),
        ("localhost", 200),
        ("evil.example:{port}", 421),
        ("127.0.0.1.evil.example", 421),
        ("localhost.evil.example:{port}", 421),
        ("", 421),
    ],
)
async def test_other_host_names_are_refused(
    base: str, http: aiohttp.ClientSession, host: str, status: int
) -> None:
    header = {"Host": host.format(port=base.rpartition(":")[2])}

    async with http.get(f"{base}/chat/state", headers=header) as answer:
        assert answer.status == status


@pytest.mark.parametrize(
    "path", ["chat/{id}/send", "chat/{id}/file", "chat/{id}/block", "clock/move"]
)
async def test_a_post_without_our_header_is_refused(
    base: str, http: aiohttp.ClientSession, hollis_id: int, path: str, hollis: Visitor
) -> None:
    async with http.post(f"{base}/{path.format(id=hollis_id)}", data=b"{}") as answer:
        assert answer.status == 403
        assert "X-Cuffbell" in (await answer.json())["error"]
    assert len(await hollis.messages()) == 1


@pytest.mark.parametrize(
    ("action", "body", "reason"),
    [
        ("send", {"text": " \n"}, "nothing to send"),
        ("send", {}, 'A text is needed in "text"'),
        ("send", {"text": "x", "reply_to": 4711}, "not in this chat"),
        ("edit", {"message_id": 4711, "text": "x"}, "no such message"),
        ("edit", {"message_id": 1, "text": "x" * 4097}, "1 to 4096"),
        ("edit", {"message_id": True, "text": "x"}, "whole number"),
        ("press", {"message_id": 1, "data": "x"}, "no longer there"),
        ("location", {"latitude": 91, "longitude": 0}, "-90 to 90"),
        ("location", {"latitude": "1", "longitude": 0}, "A number is needed"),
        ("file", {}, "A file is needed"),
        ("send", {"text": "x", "forwarded_from": 1}, "A text is needed"),
        ("press", {"message_id": 10**30, "data": "x"}, "whole number"),
    ],
)
async def test_a_person_is_told_why_something_cannot_be_done(
    base: str,
    http: aiohttp.ClientSession,
    hollis: Visitor,
    hollis_id: int,
    action: str,
    body: dict[str, Any],
    reason: str,
) -> None:
    url = f"{base}/chat/{hollis_id}/{action}"

    async with http.post(url, json=body, headers={"X-Cuffbell": "1"}) as answer:
        assert answer.status == 409
        assert reason in (await answer.json())["error"]


async def test_half_a_character_is_replaced(hollis: Visitor) -> None:
    await hollis.say("142/91 \ud83e")

    assert (await hollis.messages())[-1]["html"] == "142/91 ?"


async def test_a_picture_that_is_no_good_photo_goes_as_a_document(hollis: Visitor) -> None:
    header = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR"
    await hollis.send_file("a.png", header + bytes([0, 0, 0, 9, 0, 0, 0, 9]))
    await hollis.send_file("b.png", header + bytes([0, 0, 0, 9, 0, 0, 9, 0]))

    assert [m["kind"] for m in (await hollis.messages())[1:]] == ["photo", "document"]


async def test_a_file_must_have_content_and_at_most_50_megabytes(hollis: Visitor) -> None:
    for size in (0, 50 * 2**20 + 1, 52 * 2**20):
        with pytest.raises(RefusedError, match="larger than 50 MB"):
            await hollis.send_file("a.bin", b"0" * size)


async def test_a_folder_is_used_by_one_local_chat_at_a_time(
    tmp_path: Path, clock: Any, chat: LocalChat
) -> None:
    with pytest.raises(FolderInUseError, match="Another local chat is running"):
        LocalChat(tmp_path / "folder", clock, TOKEN)


@pytest.mark.parametrize("body", [b"{", b"[]", b"\xff"])
async def test_a_body_that_is_no_object_is_refused(
    base: str, http: aiohttp.ClientSession, hollis_id: int, body: bytes
) -> None:
    url = f"{base}/chat/{hollis_id}/send"

    async with http.post(url, data=body, headers={"X-Cuffbell": "1"}) as answer:
        assert (answer.status, list(await answer.json())) == (409, ["error"])


async def test_the_page_is_served_fresh_and_may_load_only_its_own(
    base: str, http: aiohttp.ClientSession, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = tmp_path / "page"
    page.mkdir()
    (page / "index.html").write_text("<!doctype html>")
    (page / "app.js").write_text("export {}")
    (page / "secret.py").write_text("")
    (tmp_path / "outside.js").write_text("")
    monkeypatch.setattr("bot.localchat.pages.PAGE_FOLDER", page)

    async with http.get(f"{base}/") as answer:
        assert answer.content_type == "text/html"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        policy = answer.headers["Content-Security-Policy"].split("; ")
        assert policy[0] == "default-src 'self'"
        assert all(rule.endswith(("'self'", "'none'")) for rule in policy)
    async with http.get(f"{base}/static/app.js") as answer:
        assert (answer.status, answer.content_type) == (200, "text/javascript")
    for name in ("secret.py", "missing.js", "..%2Foutside.js", "%2e%2e/outside.js"):
        async with http.get(f"{base}/static/{name}") as answer:
            assert answer.status == 404
    assert PAGE_FOLDER.parent.name == "localchat"


async def test_events_tell_what_happens_in_order(bot: Bot, hollis: Visitor, hollis_id: int) -> None:
    async with hollis.events() as events:
        own = await hollis.say("142/91")
        await hollis.edit(own, "132/91")
        await bot.send_chat_action(hollis_id, "typing")
        sent = await bot.send_message(hollis_id, "<b>Thank</b> you.", parse_mode="HTML")
        await bot.delete_message(hollis_id, sent.message_id)
        await hollis.block()
        seen = [await asyncio.wait_for(anext(events), 5) for _ in range(6)]

    assert [event["type"] for event in seen] == [
        "message",
        "edited",
        "typing",
        "message",
        "deleted",
        "chats",
    ]
    assert {event["chat"] for event in seen[:5]} == {hollis_id}
    assert seen[1]["message"]["text"] == "132/91"
    assert seen[3]["message"]["html"] == "<b>Thank</b> you."
    assert seen[4]["message"]["deleted"] is True


async def test_moving_the_clock_is_told_to_everyone(hollis: Visitor, clock: Any) -> None:
    async with hollis.events() as events:
        answer = await hollis.move_clock("hour")
        event = await asyncio.wait_for(anext(events), 5)

    assert answer == {"now": "2025-03-01T09:00:00+00:00", "next_due": None}
    assert event == {"type": "clock", **answer}
    assert clock.moment == datetime(2025, 3, 1, 9, 0, tzinfo=UTC)
    with pytest.raises(RefusedError, match="must be one of minute, hour, next, morning"):
        await hollis.move_clock("year")


async def test_a_move_of_the_clock_goes_on_when_the_page_is_closed(
    hollis: Visitor, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on, ended = asyncio.Event(), asyncio.Event(), asyncio.Event()

    async def slowly(step: str) -> None:
        begun.set()
        await go_on.wait()
        ended.set()

    monkeypatch.setattr(clock, "move", slowly)
    page = asyncio.create_task(hollis.move_clock("next"))
    await begun.wait()

    page.cancel()
    await asyncio.gather(page, return_exceptions=True)
    await hollis.state()  # the server has gone on meanwhile
    go_on.set()

    await asyncio.wait_for(ended.wait(), 5)


async def test_a_stop_ends_a_move_of_the_clock(
    tmp_path: Path, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = asyncio.Event()

    async def endlessly(step: str) -> None:
        begun.set()
        await asyncio.Event().wait()

    monkeypatch.setattr(clock, "move", endlessly)
    chat = LocalChat(tmp_path / "stopped", clock, TOKEN)
    async with Visitor(await chat.start(), "nobody") as visitor:
        page = asyncio.create_task(visitor.move_clock("next"))
        await begun.wait()

        await asyncio.wait_for(chat.stop(), 1.5)

        with pytest.raises(aiohttp.ClientError):
            await page


async def test_time_that_goes_on_by_itself_is_told_too(hollis: Visitor, clock: Any) -> None:
    async with hollis.events() as events:
        clock.due = datetime(2025, 3, 1, 8, 5, tzinfo=UTC)
        async with asyncio.timeout(5):
            event = await anext(events)
            while event.get("next_due") is None:
                event = await anext(events)

    assert event["type"] == "clock"


async def test_a_document_is_saved_and_never_run_in_the_page(
    bot: Bot, hollis: Visitor, hollis_id: int, base: str, http: aiohttp.ClientSession
) -> None:
    await bot.send_document(hollis_id, b"<script>alert(1)</script>", filename="x.html")
    await bot.send_document(hollis_id, b"%PDF-1.7", filename="report.pdf")
    page, report = (m["document"]["url"] for m in (await hollis.messages())[-2:])

    async with http.get(base + page) as answer:
        assert answer.content_type == "application/octet-stream"
        assert answer.headers["Content-Disposition"].startswith("attachment")
    async with http.get(base + report) as answer:
        assert answer.content_type == "application/pdf"
        assert answer.headers["Content-Disposition"] == "inline; filename*=UTF-8''report.pdf"


async def test_waiting_finds_a_message_that_comes_later_or_is_edited_later(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    waiting = asyncio.create_task(hollis.wait_for(lambda m: "average" in m["text"]))
    sent = await bot.send_message(hollis_id, "One moment.")
    await bot.edit_message_text("Your average", hollis_id, sent.message_id)

    assert (await waiting)["id"] == sent.message_id
    with pytest.raises(TimeoutError, match="The bot wrote: \\['Your average'\\]"):
        await hollis.wait_for(lambda m: m["text"] == "never", timeout=0.05)
    with pytest.raises(LookupError, match="No button 'Ready'"):
        await hollis.press("Ready")


async def test_a_group_can_be_joined_written_in_and_left(
    chat: LocalChat, bot: Bot, base: str, hollis_id: int, hollis: Visitor, stack: Any
) -> None:
    wren_id = chat.add_person("Wren", "carer", "America/Halifax", None)
    group_id = chat.people.create_group("Family", (hollis_id, wren_id))
    group = await stack.enter_async_context(Visitor(base, "Family"))
    await group.say("142/91", author=wren_id)

    joined, service, said = (await bot.get_updates())[1:]
    assert joined.my_chat_member is not None
    assert joined.my_chat_member.chat.type == "group"
    assert joined.my_chat_member.new_chat_member.status == "member"
    assert service.message is not None
    assert service.message.new_chat_members[0].is_bot
    assert said.message is not None
    assert said.message.from_user is not None
    assert (said.message.from_user.id, said.message.chat.title) == (wren_id, "Family")

    await bot.send_message(group_id, "I work in private chats only.")
    assert await bot.leave_chat(group_id)
    await group.say("Hello?")  # no longer heard by the bot
    assert (await bot.get_updates())[-1].my_chat_member is not None
    with pytest.raises(Forbidden, match="bot is not a member of the group chat"):
        await bot.send_message(group_id, "Hello")
    with pytest.raises(BadRequest, match="can't be changed in private chats"):
        await bot.leave_chat(hollis_id)


async def test_a_bot_that_was_removed_cannot_write(
    chat: LocalChat, bot: Bot, hollis_id: int, base: str
) -> None:
    group_id = chat.people.create_group("Family", (hollis_id,))
    chat.people.kick(group_id)

    with pytest.raises(Forbidden, match="bot was kicked from the group chat"):
        await bot.send_message(group_id, "Hello")


async def test_a_chat_program_keeps_its_language_until_another_is_set(
    chat: LocalChat, hollis: Visitor
) -> None:
    def renewed(language: str | None) -> None:
        chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", None, language)

    found = [(await hollis.chat())["language"]]
    for language in ("es", None, "en"):
        renewed(language)
        found.append((await hollis.chat())["language"])

    assert found == ["en", "es", "es", "en"]


def test_a_folder_of_the_first_version_is_brought_up_to_date(tmp_path: Path) -> None:
    file = tmp_path / "chat.sqlite"
    store = Store(file)
    store.execute("INSERT INTO chat (id, kind, name, role, zone) VALUES (7, 'private', '', '', '')")
    store.execute("ALTER TABLE chat DROP COLUMN language")
    store.execute("PRAGMA user_version=1")
    store.close()

    again = Store(file)

    assert [tuple(row) for row in again.rows("SELECT id, language FROM chat")] == [(7, "en")]
    again.close()


def test_a_folder_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "chat.sqlite"
    store = Store(path)
    store.execute("PRAGMA user_version=99")
    store.close()

    with pytest.raises(NewerFolderError, match="newer version"):
        Store(path)
