"""The chat page for everybody: keyboard alone, screen reader, small screens, contrast, touch.

The limits are those of WCAG 2.2: contrast 4.5 to 1 (1.4.3), a visible focus (2.4.7), targets
(2.5.5, 44 pixels), no scrolling in two directions at 320 pixels (1.4.10).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pytest
from playwright.async_api import expect
from telegram import InlineKeyboardButton, InlineKeyboardMarkup

if TYPE_CHECKING:
    from tests.bot.chat_page.conftest import Stage

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="session")]

HOLLIS = "Hollis Brandreth"
WREN = "Wren Brandreth"
OTTOLINE = "Dr. Ottoline Okafor-Lindqvist"
_TOUCH: Final = {"has_touch": True, "is_mobile": True}
PHONE: Final = {"viewport": {"width": 390, "height": 844}} | _TOUCH
SMALL_PHONE: Final = {"viewport": {"width": 360, "height": 640}} | _TOUCH
WIDE: Final = {"viewport": {"width": 1400, "height": 900}}
DARK: Final = WIDE | {"color_scheme": "dark"}
DARK_PHONE: Final = PHONE | {"color_scheme": "dark"}
LOOKS: Final = [
    pytest.param(WIDE, id="wide"),
    pytest.param(DARK, id="dark"),
    pytest.param(PHONE, id="phone"),
    pytest.param(SMALL_PHONE, id="small-phone"),
    pytest.param(DARK_PHONE, id="dark-phone"),
]
NAMED_ROLES: Final = {
    *("button", "link", "textbox", "combobox", "spinbutton", "menu", "menuitem", "image"),
    *("log", "region", "navigation", "dialog", "heading", "form", "group"),
}

#: Every text that is seen, with its contrast against what is painted below it.
CONTRASTS: Final = """() => {
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const over = (top, below) => {
    const alpha = top.length > 3 ? top[3] : 1;
    return [0, 1, 2].map((part) => top[part] * alpha + below[part] * (1 - alpha));
  };
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((part) => part / 255)
      .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paint = (element) => {
    const style = getComputedStyle(element);
    const painted = style.backgroundImage.match(/rgba?\\([^)]*\\)/g);
    return numbers(painted ? painted.at(-1) : style.backgroundColor);
  };
  const ground = (element) => {
    const chain = [];
    for (let each = element; each; each = each.parentElement) chain.unshift(paint(each));
    return chain.reduce((below, top) => over(top, below), [255, 255, 255]);
  };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    const style = getComputedStyle(element);
    if (node.textContent.trim() === "" || element.closest(".unseen, noscript")) continue;
    if (!element.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
    const below = ground(element);
    const [a, b] = [luminance(over(numbers(style.color), below)), luminance(below)];
    const contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    found.push({ text: node.textContent.trim(), contrast, size: parseFloat(style.fontSize) });
  }
  return found;
}"""

#: Everything that can be pressed and is seen, with its size in pixels.
TARGETS: Final = """() => [...document.querySelectorAll("button, a, input, select, textarea")]
  .filter((element) => element.checkVisibility({ visibilityProperty: true }))
  .filter((element) => !element.closest(".words") && !element.matches(".jump"))
  .map((element) => {
    const { width, height } = element.getBoundingClientRect();
    return { name: element.outerHTML.slice(0, 90), width, height };
  })"""


@pytest.mark.parametrize("stage", LOOKS, indirect=True)
async def test_every_text_is_large_enough_and_stands_out(filled: Stage) -> None:
    texts: list[dict[str, Any]] = await filled.page.evaluate(CONTRASTS)
    assert len(texts) > 20
    assert [text for text in texts if text["contrast"] < 4.5] == []
    assert [text for text in texts if text["size"] < 16] == []
    base = await filled.page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)")
    assert base >= 17


@pytest.mark.parametrize("stage", LOOKS, indirect=True)
async def test_every_target_is_large_enough_for_a_thumb(filled: Stage) -> None:
    targets: list[dict[str, Any]] = await filled.page.evaluate(TARGETS)
    assert len(targets) > 8
    small = [each for each in targets if min(each["width"], each["height"]) < 43.9]
    assert small == []


@pytest.mark.parametrize("stage", LOOKS, indirect=True)
async def test_nothing_sticks_out_of_the_window(filled: Stage, tmp_path: Path) -> None:
    await expect(filled.page.locator("#now")).to_contain_text("18:00 UTC")
    await filled.page.screenshot(path=tmp_path / "look.png")
    beyond = await filled.page.evaluate(
        """() => {
          const root = document.scrollingElement;
          return [root.scrollWidth - innerWidth, root.scrollHeight - innerHeight];
        }"""
    )
    assert max(beyond) <= 0
    outside = await filled.page.evaluate(
        """() => [...document.querySelectorAll(".pane *")]
          .filter((element) => element.checkVisibility() && !element.closest(".unseen, .log"))
          .filter((element) => element.getBoundingClientRect().right > innerWidth + 1)
          .map((element) => element.outerHTML.slice(0, 90))"""
    )
    assert outside == []


@pytest.mark.parametrize("stage", [WIDE, PHONE], indirect=True)
async def test_whatever_can_be_used_has_a_name_for_the_screen_reader(filled: Stage) -> None:
    await filled.page.get_by_role("button", name="More", exact=True).first.click()
    session = await filled.page.context.new_cdp_session(filled.page)
    nodes = (await session.send("Accessibility.getFullAXTree"))["nodes"]
    used = [
        (node["role"]["value"], node.get("name", {}).get("value", ""))
        for node in nodes
        if not node["ignored"] and node["role"]["value"] in NAMED_ROLES
    ]
    assert len(used) > 20
    assert [role for role, name in used if not name.strip()] == []
    roles = {role for role, _ in used}
    assert {"button", "textbox", "log", "region", "heading", "menuitem"} <= roles
    assert await filled.page.locator("html").get_attribute("lang") == "en"
    for landmark in ("banner", "main", "contentinfo"):
        await expect(filled.page.get_by_role(landmark)).to_have_count(1)


async def test_new_messages_are_read_out_politely(stage: Stage) -> None:
    log = stage.log(HOLLIS)
    await expect(log).to_have_attribute("aria-live", "polite")
    await expect(stage.page.get_by_role("alert")).to_have_attribute("aria-live", "assertive")


async def test_the_keyboard_alone_holds_a_conversation(stage: Stage) -> None:
    keyboard = stage.page.keyboard
    await _tab_to(stage, "Join as Hollis Brandreth")
    await keyboard.press("Enter")
    await stage.update()
    buttons = [[InlineKeyboardButton("Already rested", callback_data="token-4")]]
    await stage.says(HOLLIS, "Ready?", reply_markup=InlineKeyboardMarkup(buttons))
    await expect(stage.log(HOLLIS)).to_contain_text("Already rested")
    await _tab_to(stage, "Already rested")
    await keyboard.press("Space")
    query = (await stage.update()).callback_query
    assert query is not None
    assert query.data == "token-4"
    await _tab_to(stage, "Message from Hollis Brandreth to Cuffbell")
    await keyboard.type("142 over 91")
    await keyboard.press("Enter")
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.text == "142 over 91"
    await _tab_to(stage, "More")
    await keyboard.press("Enter")
    for _ in range(5):
        await keyboard.press("ArrowDown")  # past the end and round to the first
    await keyboard.press("ArrowDown")
    await keyboard.press("Enter")
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.sticker is not None
    await expect(stage.pane(HOLLIS).get_by_role("button", name="More", exact=True)).to_be_focused()


async def test_escape_closes_a_menu_and_leads_back_to_its_button(stage: Stage) -> None:
    more = stage.pane(WREN).get_by_role("button", name="More", exact=True)
    await more.focus()
    await stage.page.keyboard.press("Enter")
    await expect(stage.page.get_by_role("menuitem", name="Attach a file")).to_be_focused()
    await expect(more).to_have_attribute("aria-expanded", "true")
    await stage.page.keyboard.press("Escape")
    await expect(stage.page.get_by_role("menuitem")).to_have_count(0)
    await expect(more).to_be_focused()


async def test_every_stop_of_the_tab_key_shows_where_it_is(filled: Stage) -> None:
    seen = set()
    for _ in range(70):
        await filled.page.keyboard.press("Tab")
        stop = await filled.page.evaluate(
            """() => {
              const element = document.activeElement;
              const style = getComputedStyle(element);
              const drawn = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
              const seen = element.checkVisibility({ opacityProperty: true });
              const name = element.outerHTML.slice(0, 120);
              return { name, body: element === document.body, shown: drawn && seen };
            }"""
        )
        if stop["body"]:
            break
        assert stop["shown"], stop["name"]
        seen.add(stop["name"])
    assert len(seen) > 20


@pytest.mark.parametrize("stage", [PHONE, SMALL_PHONE], indirect=True)
async def test_a_phone_shows_one_chat_and_counts_what_waits_in_the_others(stage: Stage) -> None:
    await stage.join(HOLLIS, WREN)
    await expect(stage.pane(HOLLIS)).to_be_visible()
    await expect(stage.pane(WREN)).to_be_hidden()
    tabs = stage.page.get_by_role("navigation", name="Whose chat is shown")
    await stage.says(HOLLIS, "In view")
    await stage.says(WREN, "First")
    await stage.says(WREN, "Second")
    wren = tabs.get_by_role("button", name="Wren Carer 2 not read")
    await expect(wren).to_have_attribute("aria-pressed", "false")
    await expect(tabs.get_by_role("button", name="Hollis Patient", exact=True)).to_be_visible()
    await wren.click()
    await expect(stage.pane(WREN)).to_be_visible()
    await expect(stage.pane(HOLLIS)).to_be_hidden()
    await expect(stage.log(WREN).get_by_text("Second")).to_be_in_viewport()
    await expect(tabs.get_by_role("button", name="Wren Carer", exact=True)).to_be_visible()


@pytest.mark.parametrize(
    "stage", [{"viewport": {"width": 390, "height": 480}} | _TOUCH], indirect=True
)
async def test_messages_keep_room_when_the_phone_opens_its_keyboard(filled: Stage) -> None:
    box = await filled.log(HOLLIS).bounding_box()
    assert box is not None
    assert box["height"] >= 120
    await expect(filled.field(HOLLIS)).to_be_in_viewport()


@pytest.mark.parametrize(
    "stage",
    [WIDE | {"reduced_motion": "reduce"}, WIDE | {"forced_colors": "active"}],
    indirect=True,
)
async def test_wishes_of_the_system_are_kept(filled: Stage) -> None:
    await filled.bot.send_chat_action(filled.ids[HOLLIS], "typing")
    dots = filled.pane(HOLLIS).locator(".dots")
    await expect(dots).to_be_visible()
    reduced = await filled.page.evaluate("matchMedia('(prefers-reduced-motion: reduce)').matches")
    animation = await dots.evaluate("dots => getComputedStyle(dots).animationName")
    assert (animation == "none") is reduced
    note = filled.log(HOLLIS).locator(".from-person").last
    forced = await filled.page.evaluate("matchMedia('(forced-colors: active)').matches")
    border = await note.evaluate("note => getComputedStyle(note).borderTopStyle")
    assert (border == "solid") is forced


async def test_nothing_is_loaded_from_elsewhere_and_no_inline_code_runs(filled: Stage) -> None:
    requested: list[str] = []
    refused: list[str] = []
    filled.page.on("request", lambda request: requested.append(request.url))
    filled.page.on(
        "console", lambda line: refused.append(line.text) if line.type == "error" else None
    )
    await filled.page.reload()
    await filled.pane(WREN).get_by_role("button", name="Picture").wait_for()
    assert [url for url in requested if not url.startswith(filled.base)] == []
    assert refused == []


async def _tab_to(stage: Stage, name: str) -> None:
    """Press Tab until the focus is on what has this name, once round the page at most."""
    for _ in range(80):
        await stage.page.keyboard.press("Tab")
        snapshot = await stage.page.evaluate(
            """() => {
              const element = document.activeElement;
              return element.getAttribute("aria-label") ?? element.textContent.trim();
            }"""
        )
        if snapshot == name:
            return
    pytest.fail(f"the Tab key never reached “{name}”")
