"""Anything that can be sent in a chat gets a short useful answer or a deliberate silence."""

from __future__ import annotations

from contextlib import AsyncExitStack
from typing import Any

import pytest

ODD_TEXTS = [
    "😀" * 300,
    "ﷺ" * 50,
    "<b>142/91",
    "</b><script>alert(1)</script>",
    "\u202e19/241",
    "१४२/९१",
    "１４２／９１",
    "x" * 4096,
    "1" * 4000,
    "/" * 500,
    "/nosuchcommand",
    "/start",
    "/start nonsense",
    "null",
    "'; DROP TABLE readings; --",
    "{name} %s {0}",
    "\u0000\ud83d".encode("utf-8", "ignore").decode() + " 142/91",
]


@pytest.mark.parametrize("text", ODD_TEXTS, ids=range(len(ODD_TEXTS)))
async def test_odd_text_is_answered_and_the_next_reading_is_kept(journey: Any, text: str) -> None:
    await journey.all_join()
    before = len(await journey.patient.texts())

    await journey.patient.says(text)
    await journey.patient.says("142/91/72")

    await journey.patient.reads("142/91")
    assert len(await journey.patient.texts()) > before
    assert not [t for t in await journey.patient.texts() if "Traceback" in t]


async def test_what_is_not_text_is_answered_in_words(journey: Any) -> None:
    await journey.all_join()
    visitor = journey.patient.visitor

    await visitor.send_voice()
    await journey.patient.reads("cannot listen to voice")
    await visitor.send_file("notes.txt", b"142/91")
    await journey.patient.reads("cannot read files")
    await visitor.send_sticker()
    await visitor.send_location(38.7, -9.1)
    await journey.patient.reads("did not need your position")


async def test_a_caption_is_read_like_a_text(journey: Any) -> None:
    await journey.all_join()

    await journey.patient.visitor.send_file("cuff.png", b"\x89PNG", caption="142/91")

    await journey.patient.reads("142/91 is kept")


async def test_a_stranger_gets_a_courteous_explanation_and_nothing_else(
    journey: Any, stack: AsyncExitStack
) -> None:
    stranger = await journey.somebody("Somebody", stack)

    await stranger.says("/week")

    answer = await stranger.reads("by invitation only")
    assert "emergency" in answer["text"]


async def test_a_code_works_once(journey: Any, stack: AsyncExitStack) -> None:
    invitation = (await journey.patient.visitor.chat())["invitation"]
    await journey.all_join()
    second = await journey.somebody("Second", stack)

    await second.says(invitation)

    await second.reads("used already")


async def test_a_forwarded_reading_is_not_kept(journey: Any) -> None:
    await journey.all_join()

    await journey.patient.visitor.say("188/92 says my neighbour", forwarded_from="Somebody")

    await journey.patient.reads("forwarded")


async def test_in_a_group_the_bot_explains_itself_and_leaves(journey: Any) -> None:
    await journey.all_join()
    chat = (await journey.patient.visitor.chat())["id"]
    group = journey.trial.chat.people.create_group("Neighbours", [chat])
    journey.trial.chat.people.say(group, "142/91", author=chat)

    state = await journey.patient.visitor.wait_for(lambda _: _left(journey), after=0)

    assert state is not None


def _left(journey: Any) -> bool:
    return bool(journey.trial.chat.calls.of("leaveChat"))


async def test_an_old_button_does_no_harm(journey: Any) -> None:
    await journey.all_join()
    await journey.patient.says("112/188")
    await journey.patient.presses("None of these signs")
    await journey.patient.presses("Yes, 188/112")
    await journey.patient.reads("188/112 is kept")

    await journey.patient.visitor.press("Yes, 188/112")

    await journey.patient.reads("no longer in use")
