"""The update loop against the real Bot API server: nothing is confirmed before its commit."""

from __future__ import annotations

import threading
from datetime import datetime
from typing import Any

import pytest
from sqlalchemy import select
from telegram.error import TelegramError

from bot.app import Program
from bot.errors import TokenRefusedError
from domain.conversation import respond
from domain.events import Event, Situation
from domain.outcome import Outcome
from storage.export import versions
from storage.tables import seen_updates


def stored_texts(office: Any) -> list[str]:
    """What was typed, for every version of a reading that is kept."""
    with office.database.reading() as connection:
        return [version.kept.text for version in versions(connection)]


def handled(office: Any) -> int:
    with office.database.reading() as connection:
        return len(connection.execute(select(seen_updates)).all())


class Gate:
    """Lets the desk stand still in the middle of an event."""

    def __init__(self) -> None:
        self.entered = threading.Event()
        self.open = threading.Event()

    def __call__(self, situation: Situation, event: Event, now: datetime) -> Outcome:
        self.entered.set()
        assert self.open.wait(20)
        return respond(situation, event, now)


async def test_an_update_stays_with_the_platform_until_it_is_stored(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = Gate()
    monkeypatch.setattr("bot.app.respond", gate)
    office = world.office()
    hollis = await world.visitor("Hollis")
    await world.program(office)
    await hollis.say("hello")

    await world.eventually(gate.entered.is_set)
    in_between = world.unconfirmed()
    gate.open.set()
    await world.eventually(lambda: world.unconfirmed() == 0)

    assert in_between == 1
    assert handled(office) == 1


async def test_a_stop_finishes_what_is_handled_and_confirms_only_that(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = Gate()
    monkeypatch.setattr("bot.app.respond", gate)
    office = world.office()
    hollis = await world.visitor("Hollis")
    for number in range(3):
        await hollis.say(f"hello {number}")
    program = await world.program(office)

    await world.eventually(gate.entered.is_set)
    program.stop()
    gate.open.set()
    await world.eventually(lambda: world.unconfirmed() == 2)

    assert handled(office) == 1


async def test_every_update_of_one_answer_is_handled_once_and_in_order(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    chat = (await hollis.chat())["id"]
    world.add_patient(office, chat, "Hollis")
    texts = [f"1{n:02d}/80" for n in range(20, 45)]
    for text in texts:
        await hollis.say(text)

    await world.program(office)
    await world.eventually(lambda: world.unconfirmed() == 0)

    assert stored_texts(office) == texts


async def test_ids_that_begin_anew_after_a_quiet_week_are_handled(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.chat.continue_updates_at(900_000_000)
    await world.program(office, poll_seconds=1)
    await hollis.say("before")
    await world.eventually(lambda: world.unconfirmed() == 0)
    asked = world.calls("getUpdates")
    await world.eventually(lambda: world.calls("getUpdates") > asked)

    world.chat.continue_updates_at(17)
    await hollis.say("after")

    await world.eventually(lambda: handled(office) == 2)


@pytest.mark.parametrize("kind", ["500", "429", "drop-before-effect", "drop-after-effect"])
async def test_a_failing_platform_is_asked_again(world: Any, kind: str) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.chat.fail_next("getUpdates", kind, count=2)

    await world.program(office)
    await hollis.say("hello")

    assert await hollis.wait_for(lambda m: True)
    assert handled(office) == 1


@pytest.mark.parametrize("method", ["getMe", "getWebhookInfo"])
async def test_a_platform_that_is_away_at_the_start_is_tried_again(world: Any, method: str) -> None:
    hollis = await world.visitor("Hollis")
    world.chat.fail_next(method, "500")

    await world.program(world.office())
    await hollis.say("hello")

    assert await hollis.wait_for(lambda m: True)


async def test_a_menu_that_cannot_be_set_stops_nothing(world: Any) -> None:
    hollis = await world.visitor("Hollis")
    world.chat.fail_next("setMyCommands", "500")

    await world.program(world.office())
    await hollis.say("hello")

    assert await hollis.wait_for(lambda m: True)


async def test_a_token_that_the_platform_does_not_know_ends_the_program(world: Any) -> None:
    program = Program(world.office(), world.client("7000:another"), rate=30)

    with pytest.raises(TokenRefusedError) as refused:
        await program.run()

    assert "another" not in str(refused.value)


async def test_an_update_that_cannot_be_read_hides_no_other(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    world.add_update("message", {"message_id": "not a number", "chat": 5})
    world.add_update("callback_query", {"id": "1", "from": {"id": 1}})
    await hollis.say("hello")

    await world.program(office)

    assert await hollis.wait_for(lambda m: True)
    await world.eventually(lambda: world.unconfirmed() == 0)


async def test_a_webhook_that_is_set_is_taken_away_and_loses_nothing(world: Any) -> None:
    hollis = await world.visitor("Hollis")
    async with world.client() as client:
        await client.set_webhook("http://127.0.0.1:9/nowhere")
    await hollis.say("hello")

    await world.program(world.office())

    assert await hollis.wait_for(lambda m: True)


async def test_a_button_stops_turning_although_the_chat_may_not_be_written_to_yet(
    world: Any,
) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    chat = (await hollis.chat())["id"]
    world.add_patient(office, chat, "Hollis")
    await world.program(office)
    await hollis.say("/settings")
    shown = await hollis.wait_for(lambda m: m["buttons"])
    world.chat.fail_next("sendMessage", "429", chat=chat)

    await hollis.press(shown["buttons"][0][0]["text"])

    await world.eventually(lambda: world.calls("answerCallbackQuery") == 1)
    answered = world.chat.calls.of("answerCallbackQuery")[0].machine_time
    again = await hollis.wait_for(lambda m: True, after=shown["id"])
    assert again
    sent = [call for call in world.chat.calls.of("sendMessage") if call.outcome == "ok"]
    assert answered < sent[-1].machine_time


async def test_an_update_is_fetched_while_sends_are_held_up(world: Any) -> None:
    office = world.office()
    hollis, tamsin = await world.visitor("Hollis"), await world.visitor("Tamsin")
    chat = (await hollis.chat())["id"]
    world.chat.fail_next("sendMessage", "timeout", chat=chat)
    await world.program(office)

    await hollis.say("hello")
    await world.eventually(lambda: handled(office) == 1)
    await tamsin.say("hello")

    assert await tamsin.wait_for(lambda m: True, timeout=5)


async def test_a_group_is_told_why_and_left(world: Any) -> None:
    office = world.office()
    hollis = await world.visitor("Hollis")
    wren = await world.visitor("Wren", "carer")
    members = ((await hollis.chat())["id"], (await wren.chat())["id"])
    await world.program(office)

    world.chat.people.create_group("The family", members)

    await world.eventually(lambda: world.calls("leaveChat") == 1)
    assert [call.outcome for call in world.chat.calls.of("sendMessage")] == ["ok"]


async def test_the_bots_name_is_stored_for_links(world: Any) -> None:
    office = world.office()

    await world.program(office)
    await world.eventually(lambda: world.calls("setMyCommands") > 0)

    with office.database.work() as work:
        assert work.bot_name() == "cuffbell_local_bot"


async def test_the_menu_of_commands_is_set(world: Any) -> None:
    await world.program(world.office())
    await world.eventually(lambda: world.calls("setMyCommands") > 0)

    async with world.client() as client:
        commands = {command.command for command in await client.get_my_commands()}

    assert {"ready", "week", "report", "family", "settings", "undo", "help"} <= commands


async def test_the_menu_of_commands_is_set_in_spanish_too(world: Any) -> None:
    await world.program(world.office())
    await world.eventually(lambda: world.calls("setMyCommands") > 1)

    async with world.client() as client:
        spanish = {c.command: c.description for c in await client.get_my_commands(None, "es")}
        others = {c.command: c.description for c in await client.get_my_commands()}

    assert spanish.keys() == others.keys()
    assert spanish["week"] == "Su semana en una imagen"
    assert others["week"] == "Your week as a picture"


@pytest.mark.parametrize("client", ["es", "es-419"])
async def test_a_person_is_answered_in_the_language_of_their_client(
    world: Any, client: str
) -> None:
    hollis = await world.visitor("Hollis")
    await hollis.say("hello")
    me = {"id": (await hollis.chat())["id"], "first_name": "Hollis"}
    content = {"message_id": 77, "date": 1_773_000_000, "text": "142 91"}
    content |= {"chat": {**me, "type": "private"}}
    content |= {"from": {**me, "is_bot": False, "language_code": client}}

    await world.program(world.office())
    world.add_update("message", content)

    assert await hollis.wait_for(lambda m: m["text"].startswith("Hola. Este es un bot privado"))


async def test_a_second_program_on_the_same_bot_stops_nothing(world: Any) -> None:
    hollis = await world.visitor("Hollis")
    await world.program(world.office())
    await world.eventually(lambda: world.calls("setMyCommands") > 0)

    async with world.client() as other:
        await other.raw_updates(None, 0)
        await world.eventually(
            lambda: any("409" in c.outcome for c in world.chat.calls.of("getUpdates"))
        )
    await hollis.say("hello")

    assert await hollis.wait_for(lambda m: True)


async def test_nobodys_error_is_a_telegram_error(world: Any) -> None:
    """The client raises only what the loop catches, whatever the server does."""
    async with world.client() as client:
        for kind in ("500", "429", "drop-before-effect"):
            world.chat.fail_next("getUpdates", kind)
            with pytest.raises(TelegramError):
                await client.raw_updates(None, 0)
