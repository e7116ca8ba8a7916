"""The time bar of the chat page: the bot's clock in words, and the four ways to move it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from playwright.async_api import expect

if TYPE_CHECKING:
    from tests.bot.chat_page.conftest import Stage

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="session")]

HOLLIS = "Hollis Brandreth"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


async def test_the_clock_is_shown_with_weekday_date_time_and_zone(stage: Stage) -> None:
    await expect(stage.page.locator("#now")).to_have_text("Monday 2 March 2026, 07:28 UTC")


@pytest.mark.parametrize(
    ("button", "step", "shown"),
    [
        ("+1 minute", "minute", "Monday 2 March 2026, 07:29 UTC"),
        ("+1 hour", "hour", "Monday 2 March 2026, 08:28 UTC"),
        ("To the next thing due (07:30 UTC)", "next", "Monday 2 March 2026, 07:30 UTC"),
        ("To tomorrow morning", "morning", "Tuesday 3 March 2026, 06:00 UTC"),
    ],
)
async def test_each_button_moves_the_clock(
    stage: Stage, button: str, step: str, shown: str
) -> None:
    await stage.page.get_by_role("button", name=button, exact=True).click()
    await expect(stage.page.locator("#now")).to_have_text(shown)
    assert stage.clock.moves == [step]
    local = shown.rpartition(", ")[2].removesuffix(" UTC")
    await expect(stage.pane(HOLLIS)).to_contain_text(f"{shown[:3]} {local} in Lisbon")


async def test_a_long_move_is_shown_and_bars_a_second_one(stage: Stage) -> None:
    stage.clock.open.clear()
    minute = stage.page.get_by_role("button", name="+1 minute")
    await minute.click()
    await expect(stage.page.get_by_text("moving the clock…", exact=True)).to_be_visible()
    moves = stage.page.get_by_role("group", name="Move the bot's clock").get_by_role("button")
    for place in range(4):
        await expect(moves.nth(place)).to_be_disabled()
    await minute.focus()
    await stage.page.keyboard.press("Enter")
    stage.clock.open.set()
    await expect(stage.page.get_by_text("moving the clock…", exact=True)).to_be_hidden()
    await expect(minute).to_be_enabled()
    await expect(minute).to_be_focused()
    assert stage.clock.moves == ["minute"]


@pytest.mark.parametrize(
    ("due", "label"),
    [
        (None, "Nothing is due"),
        (datetime(2026, 3, 2, 23, 59, tzinfo=UTC), "To the next thing due (23:59 UTC)"),
        (datetime(2026, 3, 3, 0, 0, tzinfo=UTC), "To the next thing due (Tue 00:00 UTC)"),
        (datetime(2026, 3, 8, 7, 27, tzinfo=UTC), "To the next thing due (Sun 07:27 UTC)"),
        (datetime(2026, 3, 8, 18, 0, tzinfo=UTC), "To the next thing due (8 Mar, 18:00 UTC)"),
    ],
)
async def test_the_next_thing_due_is_named(stage: Stage, due: datetime | None, label: str) -> None:
    stage.clock.due = due
    button = stage.page.get_by_role("button", name=label, exact=True)
    await expect(button).to_be_visible()
    if due is None:
        await expect(button).to_be_disabled()
    else:
        await expect(button).to_be_enabled()


async def test_a_move_that_fails_is_told_beside_the_clock(stage: Stage) -> None:
    await stage.page.route("**/clock/move", lambda route: route.abort())
    await stage.page.get_by_role("button", name="+1 hour").click()
    banner = stage.page.get_by_role("banner")
    await expect(banner).to_contain_text("The clock was not moved. Cuffbell does not answer.")
    await expect(stage.page.get_by_role("alert")).to_contain_text("The clock was not moved")
    await expect(stage.page.get_by_role("button", name="+1 hour")).to_be_enabled()


@pytest.mark.parametrize("stage", [PHONE], indirect=True)
async def test_a_phone_unfolds_the_moves(stage: Stage) -> None:
    hour = stage.page.get_by_role("button", name="+1 hour")
    await expect(hour).to_be_hidden()
    await stage.page.get_by_role("button", name="Move time").click()
    await hour.click()
    await expect(stage.page.locator("#now")).to_have_text("Monday 2 March 2026, 08:28 UTC")
