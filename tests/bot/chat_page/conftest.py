"""The local chat with its page in a real Chromium, and a bot side that a test scripts.

One browser serves all tests of this folder; each test has its own server, data folder and
browser context. People, places and readings are invented. Moments are UTC.
"""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import pytest
import pytest_asyncio
import telegram
from PIL import Image, ImageDraw
from playwright.async_api import Browser, Locator, Page, async_playwright, expect

from bot.localchat.server import LocalChat

TOKEN: Final = "7000001:invented-token-of-the-local-chat"
FIRST_MOMENT: Final = datetime(2026, 3, 2, 7, 28, tzinfo=UTC)
HOLLIS: Final = "Hollis Brandreth"
WREN: Final = "Wren Brandreth"
OTTOLINE: Final = "Dr. Ottoline Okafor-Lindqvist"
_BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome")
_ARGUMENTS: Final = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
)


class StepClock:
    """A person clock that stands still until it is moved; `open` lets a move end."""

    def __init__(self) -> None:
        self.moment = FIRST_MOMENT
        self.due: datetime | None = FIRST_MOMENT + timedelta(minutes=2)
        self.open = asyncio.Event()
        self.open.set()
        self.moves: list[str] = []

    def now(self) -> datetime:
        return self.moment

    async def next_due(self) -> datetime | None:
        return self.due

    async def move(self, step: str) -> None:
        self.moves.append(step)
        await self.open.wait()
        if step == "next":
            assert self.due is not None
            self.moment, self.due = self.due, None
        elif step == "morning":
            tomorrow = self.moment.date() + timedelta(days=1)
            self.moment = datetime.combine(tomorrow, time(6), UTC)
        else:
            self.moment += timedelta(**{f"{step}s": 1})


@dataclass(slots=True)
class Stage:
    """A running local chat, the page that shows it, and the hands of the bot."""

    folder: Path
    clock: StepClock
    page: Page
    chat: LocalChat = field(init=False)
    bot: telegram.Bot = field(init=False)
    base: str = ""
    ids: dict[str, int] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)
    _offset: int = 0

    async def start(self, port: int = 0) -> None:
        """Start the server, again on the same folder if it ran before."""
        self.chat = LocalChat(self.folder, self.clock, TOKEN, port, limits=None)
        self.base = await self.chat.start()
        for name, role, zone in (
            (HOLLIS, "patient", "Europe/Lisbon"),
            (WREN, "carer", "America/Halifax"),
            (OTTOLINE, "practitioner", "Europe/Lisbon"),
        ):
            code = f"/start invented-{role}"
            self.ids[name] = self.chat.add_person(name, role, zone, code)
        self.bot = telegram.Bot(
            TOKEN, base_url=f"{self.base}/bot", base_file_url=f"{self.base}/file/bot"
        )
        await self.bot.initialize()

    async def stop(self) -> None:
        await self.bot.shutdown()
        await self.chat.stop()

    @property
    def port(self) -> int:
        return int(self.base.rpartition(":")[2])

    async def open(self) -> None:
        """Show the page and wait until the three chats are there."""
        await self.page.goto(self.base)
        await self.page.locator(".pane").nth(2).wait_for(state="attached")

    def pane(self, name: str) -> Locator:
        """What stands in the pane of the person, found as a screen reader finds it."""
        return self.page.get_by_role("region", name=name)

    def log(self, name: str) -> Locator:
        return self.pane(name).get_by_role("log")

    def field(self, name: str) -> Locator:
        return self.pane(name).get_by_role("textbox")

    async def join(self, *names: str) -> None:
        """Let the people send their invitations, without the page."""
        for name in names:
            self.chat.people.say(self.ids[name], f"/start invented-{name[0].lower()}")

    async def says(self, name: str, text: str, **more: Any) -> telegram.Message:
        """The bot writes into the chat of `name`."""
        return await self.bot.send_message(self.ids[name], text, **more)

    async def update(self) -> telegram.Update:
        """The next update, waited for as a bot does."""
        updates = await self.bot.get_updates(
            offset=self._offset, limit=1, timeout=10, allowed_updates=telegram.Update.ALL_TYPES
        )
        assert updates, "no update came within ten seconds"
        self._offset = updates[0].update_id + 1
        return updates[0]


@pytest_asyncio.fixture(scope="session", loop_scope="session")
async def browser() -> AsyncIterator[Browser]:
    path = next((found for name in _BROWSERS if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip(f"no Chromium found; looked for {', '.join(_BROWSERS)} on the PATH")
    # Other tests may run beside these; what is waited for comes at once when they do not.
    expect.set_options(timeout=15_000)
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=path, args=_ARGUMENTS)
        yield browser
        await browser.close()


@pytest_asyncio.fixture(loop_scope="session")
async def stage(
    browser: Browser, tmp_path: Path, request: pytest.FixtureRequest
) -> AsyncIterator[Stage]:
    """An open page; parametrise indirectly with options of the browser context."""
    options: dict[str, Any] = {"viewport": {"width": 1400, "height": 900}}
    context = await browser.new_context(**options | getattr(request, "param", {}))
    context.set_default_timeout(15_000)
    stage = Stage(tmp_path / "data", StepClock(), await context.new_page())
    stage.page.on("pageerror", lambda error: stage.errors.append(str(error)))
    await stage.start()
    await stage.open()
    yield stage
    await context.close()
    await stage.stop()
    assert not stage.errors, "the page's scripts failed"


@pytest.fixture
def picture() -> bytes:
    """A portrait PNG such as the weekly picture."""
    image = Image.new("RGB", (540, 675), "#f4efe6")
    draw = ImageDraw.Draw(image)
    for day, top in enumerate((300, 320, 290, 350, 340, 380, 390)):
        draw.rectangle((50 + day * 65, top, 80 + day * 65, 560), fill="#6d2846")
    draw.line((40, 430, 500, 430), fill="#2b1f28", width=3)
    buffer = BytesIO()
    image.save(buffer, "PNG")
    return buffer.getvalue()


@pytest_asyncio.fixture(loop_scope="session")
async def filled(stage: Stage, picture: bytes) -> Stage:
    """A morning, an alarm and a weekly picture: one of everything that a pane can show."""
    await stage.join(HOLLIS, WREN)
    await _fill_patient(stage)
    await _fill_carer(stage, picture)
    # A phone hides the pane, so it is not found by its role.
    await stage.page.get_by_text("The report for the visit").wait_for(state="attached")
    return stage


async def _fill_patient(stage: Stage) -> None:
    hollis = stage.ids[HOLLIS]
    await stage.says(
        HOLLIS,
        "It is time to measure. <b>Sit with your back supported</b>, both feet on the floor.",
        parse_mode="HTML",
        reply_markup=inline([["Ready", "In ten minutes"], ["I have rested already"]]),
    )
    stage.clock.moment += timedelta(minutes=8)
    first, *_ = stage.chat.people.say(hollis, "142 over 91")
    stage.clock.moment += timedelta(minutes=2)
    stage.chat.people.edit(hollis, first, "142 over 90")
    second, *_ = stage.chat.people.say(hollis, "138/88, slight headache")
    await stage.says(
        HOLLIS,
        "This morning: 140/89, the mean of two readings.\nAbove your target of 135/85.",
        reply_to_message_id=second,
        reply_markup=telegram.ReplyKeyboardMarkup(
            [["What does that mean?", "Show my week"], ["Nothing more now"]],
            input_field_placeholder="A reading, such as 135 over 82",
        ),
    )
    await stage.bot.set_my_commands(
        [("week", "The picture of this week"), ("settings", "Change what you have told")]
    )


async def _fill_carer(stage: Stage, picture: bytes) -> None:
    wren = stage.ids[WREN]
    await stage.says(
        WREN,
        "<b>Call 112 now</b>\n\nHollis wrote 192/114 and “my chest hurts” at 08:12 in Lisbon.",
        parse_mode="HTML",
        reply_markup=inline([["I will see to it"]]),
    )
    stage.chat.people.say(wren, "I phone at once.\nIf nobody answers I ring the neighbour.")
    stage.clock.moment = datetime(2026, 3, 8, 18, 0, tzinfo=UTC)
    stage.clock.due = datetime(2026, 3, 9, 7, 30, tzinfo=UTC)
    await stage.bot.send_photo(wren, picture, caption="The week of Hollis: 141/88 on average.")
    await stage.bot.send_document(
        wren, b"systolic,diastolic\n", "The report for the visit", filename="report-hollis.csv"
    )


def inline(rows: list[list[str]]) -> telegram.InlineKeyboardMarkup:
    """Buttons whose data is their text."""
    return telegram.InlineKeyboardMarkup(
        [[telegram.InlineKeyboardButton(text, callback_data=text) for text in row] for row in rows]
    )
