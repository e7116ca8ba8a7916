"""Makes the README's pictures: `uv run python deploy/readme_pictures.py` (needs Chromium).

The local chat is the real one, with the invented scenario held in it; the weekly picture is
the program's own, of invented readings.
"""

from __future__ import annotations

import asyncio
import io
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.async_api import async_playwright

from bot.localchat import Visitor
from bot.pictures.weekly import weekly_png
from bot.trial import PEOPLE, running
from bot.wording.catalogue import wording
from domain import invented
from domain.week import week_view

FOLDER = Path(__file__).parents[1] / ".readme"
WIDE = {"width": 1440, "height": 980}
COLOURS = 128


async def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    _save(_week(), FOLDER / "week.png", width=540)
    with tempfile.TemporaryDirectory() as folder:
        async with running(Path(folder)) as trial:
            await _hold_the_scenario(trial.base)
            _save(await _screenshot(trial.base), FOLDER / "chat.png", width=1440)


def _week() -> bytes:
    readings = invented.invented_readings()
    view = week_view(
        readings,
        zone=invented.ZONE,
        first_day=invented.FIRST_DAY,
        target=invented.TARGET,
        notes=invented.invented_notes(),
        invented=True,
    )
    return weekly_png(view, wording("en"), invented.NAME)


async def _hold_the_scenario(base: str) -> None:
    patient, carer, doctor = (Visitor(base, person.name) for person in PEOPLE)
    async with patient, carer, doctor:
        await _join(patient, carer, doctor)
        while not await _has(patient, "Time to measure"):
            await patient.move_clock("next")
        await patient.press("I am sitting: start")
        await patient.move_clock("next")
        await patient.say("142 over 91")
        await patient.wait_for(_contains("142/91"))
        await patient.move_clock("minute")
        await patient.say("138/88, slight headache")
        await patient.wait_for(_contains("140/90"))
        await patient.say("192/114 and my chest hurts")
        await carer.wait_for(_contains("may need an ambulance"))
        # Alarms reach practitioners at once only within hours that they set; this one has none.
        await doctor.wait_for(_contains("Your patients today"))


async def _join(patient: Visitor, carer: Visitor, doctor: Visitor) -> None:
    await patient.say((await patient.chat())["invitation"])
    for label in (
        "None of these",
        "Yes, 112",
        "Yes, that is right",
        "On the upper arm",
        "27 to 34 cm",
        "Left arm",
        "Yes, Wren may",
        "Yes, Dr. Okafor-Lindqvist may",
    ):
        await patient.wait_for(lambda m, label=label: _offers(m, label))
        await patient.press(label)
    for contact in (carer, doctor):
        await contact.say((await contact.chat())["invitation"])
        await contact.wait_for(_contains("Welcome"))


def _offers(message: dict[str, Any], label: str) -> bool:
    return any(button["text"] == label for row in message["buttons"] for button in row)


def _contains(text: str) -> Callable[[dict[str, Any]], bool]:
    return lambda message: message["from"] == "bot" and text in message["text"]


async def _has(person: Visitor, text: str) -> bool:
    return any(text in message["text"] for message in await person.messages())


async def _screenshot(base: str) -> bytes:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    async with async_playwright() as play:
        browser = await play.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        page = await browser.new_page(viewport=WIDE)
        await page.goto(base)
        await page.get_by_text("may need an ambulance").first.wait_for()
        # Where this machine keeps it is nobody's business.
        await page.evaluate(
            "folder => document.querySelectorAll('code').forEach(e => { e.textContent = folder })",
            "cuffbell/try",
        )
        await page.wait_for_timeout(500)
        taken = await page.screenshot()
        await browser.close()
        return taken


def _save(png: bytes, path: Path, *, width: int) -> None:
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    height = round(picture.height * width / picture.width)
    small = picture.resize((width, height), Image.Resampling.LANCZOS)
    small.quantize(COLOURS).save(path, optimize=True)
    print(f"{path.name}: {path.stat().st_size // 1024} KiB")


if __name__ == "__main__":
    asyncio.run(main())
