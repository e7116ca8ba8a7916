"""Delivery against the real Bot API server of the local chat, with the real client."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.exc import OperationalError

from bot.delivery import PACES, back_off
from bot.localchat import FloodLimits
from domain.outcome import Rank, WeekPicture
from domain.people import ChatId
from storage.messages import Lane, ReadyMessage, ShownButton, ShownKeyboard
from storage.outbox import Outbox
from storage.tables import outbox


def text(chat: ChatId, words: str, rank: Rank = Rank.REPLY) -> ReadyMessage:
    return ReadyMessage(chat=chat, html=words, plain=words, rank=rank)


def states(office: Any) -> list[tuple[str, str | None]]:
    """State and problem of every row, in the order in which they were queued."""
    with office.database.reading() as connection:
        rows = connection.execute(select(outbox.c.state, outbox.c.problem).order_by(outbox.c.id))
        return [(row.state, row.problem) for row in rows]


async def test_messages_of_a_chat_arrive_in_the_order_in_which_they_were_queued(
    world: Any,
) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.queue(office, *(text(chat, f"number {n}") for n in range(12)))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m["text"] for m in await hollis.messages() if m["from"] == "bot"]
    assert shown == [f"number {n}" for n in range(12)]


async def test_an_alarm_goes_before_what_waits_longer(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.queue(office, text(chat, "a prompt", Rank.PROMPT), text(chat, "a reply"))
    world.queue(office, text(chat, "an alarm", Rank.ALARM))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m["text"] for m in await hollis.messages() if m["from"] == "bot"]
    assert shown == ["an alarm", "a reply", "a prompt"]


async def test_what_is_queued_while_it_rests_is_sent_at_once(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    delivery = await world.delivery(office)
    hollis = await world.visitor("Hollis")

    world.queue(office, text(chat, "now"))
    delivery.wake()

    assert (await hollis.wait_for(lambda m: m["text"] == "now", timeout=0.9))["text"] == "now"


async def test_the_next_message_of_a_chat_follows_without_being_asked_for(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    delivery = await world.delivery(office)
    hollis = await world.visitor("Hollis")

    world.queue(office, *(text(chat, f"number {n}") for n in range(5)))
    delivery.wake({Lane.TEXT})

    # Less than the second after which a lane is asked in any case.
    assert await hollis.wait_for(lambda m: m["text"] == "number 4", timeout=0.9)


@pytest.mark.parametrize("kind", ["500", "429", "drop-before-effect"])
async def test_what_did_not_arrive_is_sent_again_and_arrives_once(world: Any, kind: str) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.fail_next("sendMessage", kind)
    world.queue(office, text(chat, "first"), text(chat, "second"))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m["text"] for m in await hollis.messages() if m["from"] == "bot"]
    assert shown == ["first", "second"]


async def test_what_cannot_be_noted_at_once_waits_for_no_lease(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.fail_next("sendMessage", "500")
    retry, failures = Outbox.retry, [OperationalError("", None, Exception("database is locked"))]

    def busy_once(self: Outbox, *given: Any, **how: Any) -> bool:
        if failures:
            raise failures.pop()
        return retry(self, *given, **how)

    monkeypatch.setattr(Outbox, "retry", busy_once)
    delivery = await world.delivery(office)
    world.queue(office, text(chat, "an alarm", Rank.ALARM))
    delivery.wake()

    hollis = await world.visitor("Hollis")
    # A second until it is noted, one of back-off, one of sending; the lease is 25.
    assert await hollis.wait_for(lambda m: m["text"] == "an alarm", timeout=8)
    assert not failures


async def test_a_lost_answer_sends_twice_rather_than_never(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.fail_next("sendMessage", "drop-after-effect")
    world.queue(office, text(chat, "first"), text(chat, "second"))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m["text"] for m in await hollis.messages() if m["from"] == "bot"]
    assert shown == ["first", "first", "second"]


async def test_a_chat_that_is_refused_as_too_fast_does_not_hold_up_another(world: Any) -> None:
    hollis, tamsin = await world.started_chat("Hollis"), await world.started_chat("Tamsin")
    office = world.office()
    world.chat.fail_next("sendMessage", "429", chat=hollis)
    world.queue(office, text(hollis, "to Hollis"), text(tamsin, "to Tamsin"))

    delivery = await world.delivery(office)
    await delivery.drained()

    answered = [call.chat for call in world.chat.calls.of("sendMessage") if call.outcome == "ok"]
    assert answered == [tamsin, hollis]


async def test_a_blocked_chat_is_given_up_and_its_next_message_too(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.chat.people.block(chat, True)
    world.queue(office, text(chat, "first"), text(chat, "second"))

    delivery = await world.delivery(office)
    await delivery.drained()

    assert states(office) == [("failed", "blocked"), ("failed", "blocked")]


async def test_somebody_who_never_opened_the_chat_cannot_be_reached(world: Any) -> None:
    office = world.office()
    world.queue(office, text(ChatId(4711), "nobody"))

    delivery = await world.delivery(office)
    await delivery.drained()

    assert states(office) == [("failed", "blocked")]


async def test_a_message_that_the_platform_refuses_lets_the_next_one_go(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    world.queue(office, text(chat, "<b>broken"), text(chat, "whole"))

    delivery = await world.delivery(office)
    await delivery.drained()

    assert states(office) == [("failed", "refused"), ("sent", None)]


async def test_an_alarm_that_is_refused_goes_again_plain_and_without_buttons(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    button = ShownButton(label="Ambulance is called", token="t" * 22)
    alarm = ReadyMessage(
        chat=chat, html="<b>Call 112", plain="Call 112", rank=Rank.ALARM, buttons=((button,),)
    )
    world.queue(office, alarm)

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [(m["text"], m["buttons"]) for m in await hollis.messages() if m["from"] == "bot"]
    assert shown == [("Call 112", [])]
    assert states(office) == [("sent", None)]


async def test_buttons_and_keyboards_arrive_as_they_were_made(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    button = ShownButton(label="Ready", token="t" * 22)
    keyboard = ShownKeyboard(keys=("/week", "/help"), locate="Where I am")
    world.queue(
        office,
        ReadyMessage(chat=chat, html="<b>now</b>", plain="now", buttons=((button,),)),
        ReadyMessage(chat=chat, html="keys", plain="keys", keyboard=keyboard),
    )

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = await hollis.chat()
    first = next(m for m in shown["messages"] if m["text"] == "now")
    assert [[(b["text"], b["data"]) for b in row] for row in first["buttons"]] == [
        [("Ready", "t" * 22)]
    ]
    assert "Where I am" in str(shown["reply_keyboard"])


async def test_a_weekly_picture_is_made_when_it_is_sent_with_its_words(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    person = world.add_patient(office, chat, "Hollis")
    picture = WeekPicture(patient=person, first_day=date(2026, 3, 2))
    world.queue(office, ReadyMessage(chat=chat, lane=Lane.FILE, attachment=picture, about=person))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m for m in await hollis.messages() if m["from"] == "bot"]
    assert len(shown) == 1
    assert "Hollis" in shown[0]["text"]
    assert (await hollis.download(shown[0]["photo"]["url"])).startswith(b"\x89PNG")


async def test_a_picture_that_the_platform_often_does_not_take_still_goes_as_a_picture(
    world: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.delivery._LONGEST_BACK_OFF", timedelta(milliseconds=20))
    chat, office = await world.started_chat("Hollis"), world.office()
    person = world.add_patient(office, chat, "Hollis")
    picture = WeekPicture(patient=person, first_day=date(2026, 3, 2))
    world.chat.fail_next("sendPhoto", "500", count=4)
    world.queue(office, ReadyMessage(chat=chat, lane=Lane.FILE, attachment=picture, about=person))

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m for m in await hollis.messages() if m["from"] == "bot"]
    assert [bool(m["photo"]) for m in shown] == [True]


async def test_a_text_does_not_wait_for_a_file_of_the_same_chat(world: Any) -> None:
    chat, office = await world.started_chat("Hollis"), world.office()
    person = world.add_patient(office, chat, "Hollis")
    picture = WeekPicture(patient=person, first_day=date(2026, 3, 2))
    world.chat.fail_next("sendPhoto", "500")
    world.queue(
        office,
        ReadyMessage(chat=chat, lane=Lane.FILE, attachment=picture, about=person),
        text(chat, "an alarm", Rank.ALARM),
    )

    delivery = await world.delivery(office)
    await delivery.drained()

    hollis = await world.visitor("Hollis")
    shown = [m["text"][:8] for m in await hollis.messages() if m["from"] == "bot"]
    assert shown[0] == "an alarm"
    assert len(shown) == 2


class TestWithThePlatformsLimits:
    @pytest.fixture
    def limits(self) -> FloodLimits:
        return FloodLimits(chat_rate=1000, chat_burst=1000, overall_rate=30)

    async def test_the_bots_rate_is_kept_and_nearly_used_up(self, world: Any) -> None:
        chats = [await world.started_chat(f"Person {n}") for n in range(75)]
        office = world.office()
        world.queue(office, *(text(chat, "hello") for chat in chats))

        delivery = await world.delivery(office, rate=30)
        await delivery.drained()

        calls = world.chat.calls.of("sendMessage")
        moments = [call.machine_time for call in calls]
        assert [call.outcome for call in calls] == ["ok"] * len(chats)
        for at in moments:
            assert sum(at <= other < at + 1 for other in moments) <= 30
        assert len(moments) / (moments[-1] - moments[0]) > 0.85 * 30


async def test_an_alarm_overtakes_a_long_queue_of_prompts(world: Any) -> None:
    chats = [await world.started_chat(f"Person {n}") for n in range(60)]
    hollis, office = await world.started_chat("Hollis"), world.office()
    world.queue(office, *(text(chat, "a prompt", Rank.PROMPT) for chat in chats))
    delivery = await world.delivery(office, rate=30)
    await world.eventually(lambda: world.calls("sendMessage") >= 5)

    world.queue(office, text(hollis, "an alarm", Rank.ALARM))
    sent_before = world.calls("sendMessage")
    delivery.wake()
    await world.eventually(lambda: world.chat.calls.of("sendMessage", hollis) != [])

    alarm = world.chat.calls.of("sendMessage", hollis)[0]
    overtaken_by = world.chat.calls.of("sendMessage").index(alarm) - sent_before
    # Only what was under way already may go first, never the whole queue.
    assert overtaken_by <= PACES[Lane.TEXT].workers


def test_an_alarm_is_tried_again_sooner_than_the_rest() -> None:
    waits = [
        (back_off(n, Rank.ALARM).total_seconds(), back_off(n, Rank.REPLY).total_seconds())
        for n in (0, 1, 2, 3, 5, 1000)
    ]

    assert waits == [(1, 1), (2, 2), (4, 4), (5, 8), (5, 30), (5, 30)]
