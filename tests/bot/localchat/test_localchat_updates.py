"""Fetching updates through the real client library: offsets, waits, conflicts, restarts."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import textwrap
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup, Message, Update
from telegram.error import BadRequest, Conflict, NetworkError, TimedOut

from bot.localchat.server import LocalChat
from bot.localchat.store import Store
from bot.localchat.updates import Updates
from bot.localchat.visitor import RefusedError, Visitor

TOKEN = "7000:invented-token-of-the-tests"


def texts(updates: tuple[Update, ...]) -> list[str | None]:
    return [update.effective_message.text for update in updates if update.effective_message]


async def until(condition: Callable[[], bool]) -> None:
    """Waits for what the same event loop brings about, at most five seconds."""
    async with asyncio.timeout(5):
        while not condition():
            await asyncio.sleep(0)


async def test_an_offset_confirms_everything_below_it(bot: Bot, hollis: Visitor) -> None:
    await hollis.say("142/91")
    await hollis.say("138/88")

    first = await bot.get_updates()
    second = await bot.get_updates(offset=first[1].update_id)
    third = await bot.get_updates()

    assert texts(first) == ["/start", "142/91", "138/88"]
    assert texts(second) == texts(third) == ["142/91", "138/88"]
    assert [u.update_id - first[0].update_id for u in first] == [0, 1, 2]
    assert await bot.get_updates(offset=first[2].update_id + 1) == ()


async def test_a_limit_leaves_the_rest_for_the_next_call(bot: Bot, hollis: Visitor) -> None:
    await hollis.say("142/91")

    assert texts(await bot.get_updates(limit=1)) == ["/start"]
    assert texts(await bot.get_updates(limit=100)) == ["/start", "142/91"]


@pytest.mark.parametrize(
    ("offset", "left"), [(-1, ["c"]), (-2, ["b", "c"]), (-9, ["/start", "a", "b", "c"])]
)
async def test_a_negative_offset_keeps_the_newest_and_forgets_the_rest(
    bot: Bot, hollis: Visitor, offset: int, left: list[str]
) -> None:
    for text in "abc":
        await hollis.say(text)

    assert texts(await bot.get_updates(offset=offset)) == left
    assert texts(await bot.get_updates()) == left


async def test_a_long_poll_ends_as_soon_as_something_is_said(
    chat: LocalChat, bot: Bot, hollis: Visitor
) -> None:
    (start,) = await bot.get_updates()
    poll = asyncio.create_task(bot.get_updates(offset=start.update_id + 1, timeout=30))
    await until(lambda: chat.is_polled)

    await hollis.say("142/91")

    assert texts(await asyncio.wait_for(poll, 5)) == ["142/91"]


async def test_a_long_poll_ends_empty_after_its_time(bot: Bot, base: str) -> None:
    assert await bot.get_updates(timeout=timedelta(seconds=1)) == ()


async def test_a_killed_poller_loses_nothing(
    chat: LocalChat, bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    (start,) = await bot.get_updates()
    poll = asyncio.create_task(bot.get_updates(offset=start.update_id + 1, timeout=30))
    await until(lambda: chat.is_polled)
    poll.cancel()
    await asyncio.gather(poll, return_exceptions=True)
    await until(lambda: not chat.is_polled)
    assert chat.calls.of("getUpdates")[-1].outcome == "client gone"

    await hollis.say("142/91")

    # Fetched twice without confirming: a bot that died between the two gets it again.
    assert texts(await bot.get_updates(offset=start.update_id + 1)) == ["142/91"]
    assert texts(await bot.get_updates(offset=start.update_id + 1)) == ["142/91"]


async def test_a_second_poller_ends_the_first(
    chat: LocalChat, bot: Bot, open_bot: Any, hollis: Visitor
) -> None:
    (start,) = await bot.get_updates()
    first = asyncio.create_task(bot.get_updates(offset=start.update_id + 1, timeout=30))
    await until(lambda: chat.is_polled)

    assert await open_bot().get_updates(offset=start.update_id + 1) == ()

    with pytest.raises(Conflict, match="terminated by other getUpdates request"):
        await first


async def test_only_allowed_kinds_are_queued_from_then_on(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    own = await hollis.say("142/91")
    first = await bot.get_updates(allowed_updates=["edited_message"])

    await hollis.edit(own, "132/91")
    await hollis.say("not wanted")
    kept = await bot.get_updates(offset=first[-1].update_id + 1)

    assert texts(first) == ["/start", "142/91"]  # queued before: still there
    assert [(u.message, u.edited_message and u.edited_message.text) for u in kept] == [
        (None, "132/91")
    ]
    assert (await bot.get_webhook_info()).allowed_updates == ("edited_message",)


async def test_ids_can_jump_back_as_after_a_quiet_week(
    chat: LocalChat, bot: Bot, hollis: Visitor
) -> None:
    (start,) = await bot.get_updates()
    await bot.get_updates(offset=start.update_id + 1)
    chat.continue_updates_at(17)

    await hollis.say("142/91")

    (update,) = await bot.get_updates()
    assert update.update_id == 17


async def test_commands_are_marked_in_what_people_write(bot: Bot, hollis: Visitor) -> None:
    await hollis.say("👍 /week please, not /a/b")

    message = (await bot.get_updates())[-1].message
    assert message is not None
    assert message.parse_entities() == {message.entities[0]: "/week"}
    assert (message.entities[0].type, message.entities[0].offset) == ("bot_command", 3)


async def test_an_edit_carries_the_old_date_and_its_own(
    bot: Bot, hollis: Visitor, clock: Any
) -> None:
    own = await hollis.say("142/91")
    clock.moment += timedelta(days=3)

    await hollis.edit(own, "132/91")
    await hollis.edit(own, "132/91")  # the same again is no edit

    edited = (await bot.get_updates(offset=-1))[0].edited_message
    assert edited is not None
    assert edited.edit_date is not None
    assert (edited.message_id, edited.text) == (own, "132/91")
    assert edited.edit_date - edited.date == timedelta(days=3)
    assert len(await bot.get_updates()) == 1


async def test_the_words_below_a_file_can_be_edited(bot: Bot, hollis: Visitor) -> None:
    own = await hollis.send_file("my vàlues.csv", b"142,91", caption="142/91")

    await hollis.edit(own, "132/91")

    edited = (await bot.get_updates(offset=-1))[0].edited_message
    assert edited is not None
    assert edited.document is not None
    assert (edited.caption, edited.document.file_name) == ("132/91", "my vàlues.csv")


async def test_a_press_can_be_answered_once(
    bot: Bot, hollis: Visitor, hollis_id: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Ready", callback_data="token")]])
    sent = await bot.send_message(hollis_id, "Ready?", reply_markup=keyboard)
    async with hollis.events() as events:
        assert await hollis.press("Ready") == sent.message_id
        query = (await bot.get_updates(offset=-1))[0].callback_query
        assert query is not None
        await query.answer("Good.", show_alert=True)
        notice = await anext(events)

    assert (query.data, query.from_user.id) == ("token", hollis_id)
    assert isinstance(query.message, Message)
    assert query.message.text == "Ready?"
    assert notice == {"type": "notice", "chat": hollis_id, "text": "Good.", "alert": True}
    for key in (query.id, "4711"):
        with pytest.raises(BadRequest, match=r"^Query is too old and response timeout expired"):
            await bot.answer_callback_query(key)


async def test_a_press_is_too_old_after_a_minute(
    bot: Bot, hollis: Visitor, hollis_id: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Ready", callback_data="token")]])
    await bot.send_message(hollis_id, "Ready?", reply_markup=keyboard)
    await hollis.press("Ready")
    query = (await bot.get_updates(offset=-1))[0].callback_query
    assert query is not None

    monkeypatch.setattr("bot.localchat.methods.receiving.ANSWER_WITHIN", -1.0)

    with pytest.raises(BadRequest, match=r"^Query is too old"):
        await query.answer()


async def test_a_button_that_is_gone_can_be_pressed_only_by_a_phone_that_lags(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Ready", callback_data="token")]])
    sent = await bot.send_message(hollis_id, "Ready?", reply_markup=keyboard)
    await bot.edit_message_text("Resting.", hollis_id, sent.message_id)

    with pytest.raises(RefusedError, match="no longer there"):
        await hollis.press_data(sent.message_id, "token")
    await hollis.press_data(sent.message_id, "token", stale=True)
    query = (await bot.get_updates(offset=-1))[0].callback_query
    assert query is not None
    assert query.data == "token"

    await bot.delete_message(hollis_id, sent.message_id)
    await hollis.press_data(sent.message_id, "token", stale=True)
    query = (await bot.get_updates(offset=-1))[0].callback_query
    assert query is not None
    assert query.message is not None
    assert not query.message.is_accessible


async def test_5000_characters_arrive_as_two_messages(bot: Bot, hollis: Visitor) -> None:
    await hollis.say("🩺" * 2500)

    updates = (await bot.get_updates())[1:]
    assert texts(updates) == ["🩺" * 2048, "🩺" * 452]


async def test_everything_else_that_people_send_is_read_by_the_client_library(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    await hollis.send_sticker()
    await hollis.send_voice()
    await hollis.send_location(38.7, -9.1)
    await hollis.send_contact("+351000000000")
    await hollis.say("Try this at home", forwarded_from="Somebody")
    await hollis.send_file("values.csv", b"142,91", caption="/week my values")

    sticker, voice, place, contact, forwarded, document = (
        update.message for update in (await bot.get_updates())[1:] if update.message
    )

    assert sticker.sticker is not None
    assert voice.voice is not None
    assert place.location is not None
    assert (place.location.latitude, place.location.longitude) == (38.7, -9.1)
    assert contact.contact is not None
    assert contact.contact.user_id == hollis_id
    assert forwarded.forward_origin is not None
    assert document.document is not None
    assert document.document.file_name == "values.csv"
    assert document.caption_entities[0].type == "bot_command"
    kinds = [message["kind"] for message in await hollis.messages()]
    assert kinds[1:] == ["sticker", "voice", "location", "contact", "text", "document"]


async def test_a_file_of_a_person_can_be_fetched(bot: Bot, hollis: Visitor) -> None:
    await hollis.send_file("values.csv", b"142,91")
    message = (await bot.get_updates(offset=-1))[0].message
    assert message is not None
    assert message.document is not None

    file = await bot.get_file(message.document.file_id)

    assert bytes(await file.download_as_bytearray()) == b"142,91"
    with pytest.raises(BadRequest, match=r"^Invalid file_id$"):
        await bot.get_file("no-such-id")


async def test_a_file_over_20_megabytes_cannot_be_fetched(bot: Bot, hollis: Visitor) -> None:
    await hollis.send_file("big.bin", b"0" * (20 * 2**20 + 1))
    message = (await bot.get_updates(offset=-1))[0].message
    assert message is not None
    assert message.document is not None

    with pytest.raises(BadRequest, match=r"^File is too big$"):
        await bot.get_file(message.document.file_id)


async def test_blocking_is_told_as_a_change_of_membership(bot: Bot, hollis: Visitor) -> None:
    await hollis.block()
    await hollis.block()  # no change
    await hollis.block(False)

    changes = [u.my_chat_member for u in (await bot.get_updates())[1:]]
    assert [
        (c.old_chat_member.status, c.new_chat_member.status) for c in changes if c is not None
    ] == [("member", "kicked"), ("kicked", "member")]


async def test_the_bot_is_told_the_language_of_the_persons_program(
    bot: Bot, chat: LocalChat, hollis: Visitor, hollis_id: int
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Ready", callback_data="token")]])
    await bot.send_message(hollis_id, "Ready?", reply_markup=keyboard)
    chat.add_person("Hollis Brandreth", "patient", "Europe/Lisbon", None, "es")

    await hollis.say("142 sobre 91")
    await hollis.press("Ready")

    *_, said, pressed = await bot.get_updates()
    assert said.effective_user is not None
    assert said.effective_user.language_code == "es"
    assert pressed.callback_query is not None
    assert pressed.callback_query.from_user.language_code == "es"


async def test_chats_and_updates_go_on_after_a_restart(
    tmp_path: Path, clock: Any, open_bot: Any
) -> None:
    folder = tmp_path / "again"
    before = LocalChat(folder, clock, TOKEN, limits=None)
    base = await before.start()
    hollis_id = before.add_person("Hollis", "patient", "Europe/Lisbon", "/start CODE")
    async with Visitor(base, "Hollis") as hollis:
        await hollis.say("/start CODE")
        await open_bot(at=base).send_message(hollis_id, "Welcome.")
        shown = await hollis.messages()
    (start,) = await open_bot(at=base).get_updates()
    await before.stop()

    after = LocalChat(folder, clock, TOKEN, limits=None)
    base = await after.start()
    try:
        bot = open_bot(at=base)
        assert after.add_person("Hollis", "patient", "Asia/Kolkata", "/start CODE") == hollis_id
        async with Visitor(base, "Hollis") as hollis:
            chat = await hollis.chat()
            assert (chat["zone"], chat["invitation"]) == ("Asia/Kolkata", None)
            assert chat["messages"] == shown
            assert await hollis.say("142/91") == shown[-1]["id"] + 1
        assert [u.update_id for u in await bot.get_updates()] == [
            start.update_id,
            start.update_id + 1,
        ]
    finally:
        await after.stop()


async def test_a_killed_server_has_kept_what_it_answered(
    tmp_path: Path, clock: Any, open_bot: Any
) -> None:
    program = textwrap.dedent(
        """
        import asyncio, sys
        from datetime import UTC, datetime
        from pathlib import Path
        from bot.localchat.server import LocalChat

        class Clock:
            def now(self):
                return datetime(2025, 3, 1, 8, 0, tzinfo=UTC)
            async def move(self, step):
                pass
            async def next_due(self):
                return None

        async def main():
            chat = LocalChat(Path(sys.argv[1]), Clock(), sys.argv[2])
            chat.add_person("Hollis", "patient", "Europe/Lisbon", None)
            print(await chat.start(), flush=True)
            await asyncio.Event().wait()

        asyncio.run(main())
        """
    )
    command = [sys.executable, "-c", program, str(tmp_path / "killed"), TOKEN]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        base = (await asyncio.to_thread(process.stdout.readline)).strip()
        async with Visitor(base, "Hollis") as hollis:
            await hollis.say("142/91")
        os.kill(process.pid, signal.SIGKILL)

    chat = LocalChat(tmp_path / "killed", clock, TOKEN)
    try:
        bot = open_bot(at=await chat.start())
        assert texts(await bot.get_updates()) == ["142/91"]
    finally:
        await chat.stop()


async def test_a_poll_that_waits_does_not_hold_up_the_stop(
    tmp_path: Path, clock: Any, open_bot: Any
) -> None:
    chat = LocalChat(tmp_path / "stopped", clock, TOKEN)
    bot = open_bot(at=await chat.start())
    chat.fail_next("sendMessage", "timeout")
    poll = asyncio.create_task(bot.get_updates(timeout=30))
    hang = asyncio.create_task(bot.send_message(1, "x"))
    await until(lambda: chat.is_polled)

    await asyncio.wait_for(chat.stop(), 1.5)

    assert await poll == ()
    with pytest.raises(NetworkError) as broken:
        await hang
    assert not isinstance(broken.value, TimedOut)


@pytest.mark.parametrize("steps", range(8))
async def test_a_poll_hears_of_what_comes_at_any_step_of_its_beginning(
    tmp_path: Path, steps: int
) -> None:
    store = Store(tmp_path / "chat.sqlite")
    updates = Updates(store)
    poll = asyncio.create_task(updates.fetch(0, 100, 30.0))
    for _ in range(steps):
        await asyncio.sleep(0)

    updates.add("message", {"text": "142/91"})
    async with asyncio.timeout(5):
        found = await poll

    assert [update["message"] for update in found] == [{"text": "142/91"}]
    store.close()
