"""What one does on the chat page: write, press, change, attach, block, open; nothing gets lost."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import telegram
from playwright.async_api import expect
from telegram import InlineKeyboardButton, InlineKeyboardMarkup, KeyboardButton

if TYPE_CHECKING:
    from tests.bot.chat_page.conftest import Stage

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="session")]

HOLLIS = "Hollis Brandreth"
WREN = "Wren Brandreth"
OTTOLINE = "Dr. Ottoline Okafor-Lindqvist"


async def test_three_people_stand_side_by_side_with_role_and_local_time(stage: Stage) -> None:
    boxes = [await stage.pane(name).bounding_box() for name in (HOLLIS, WREN, OTTOLINE)]
    lefts = [box["x"] for box in boxes if box is not None]
    assert len(lefts) == 3
    assert lefts == sorted(lefts)
    assert len({box["y"] for box in boxes if box is not None}) == 1
    await expect(stage.pane(HOLLIS)).to_contain_text("Patient")
    await expect(stage.pane(HOLLIS)).to_contain_text("Mon 07:28 in Lisbon")
    await expect(stage.pane(WREN)).to_contain_text("Mon 03:28 in Halifax")
    await expect(stage.page.get_by_role("contentinfo")).to_contain_text("invented")
    await expect(stage.page.get_by_role("contentinfo")).to_contain_text(str(stage.folder))


async def test_one_press_joins_with_the_invitation(stage: Stage) -> None:
    await stage.pane(HOLLIS).get_by_role("button", name="Join as Hollis Brandreth").click()
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.text == "/start invented-patient"
    await expect(stage.pane(HOLLIS).get_by_role("button", name="Join as")).to_have_count(0)
    await expect(stage.pane(WREN).get_by_role("button", name="Join as Wren")).to_be_visible()


async def test_a_text_reaches_the_bot_and_the_answer_the_right_pane(stage: Stage) -> None:
    await stage.field(HOLLIS).fill("142 over 91")
    await stage.field(HOLLIS).press("Enter")
    update = await stage.update()
    assert update.effective_message is not None
    assert update.effective_message.text == "142 over 91"
    await expect(stage.field(HOLLIS)).to_have_value("")
    await stage.says(HOLLIS, "Thank you. Wait one <b>minute</b>.", parse_mode="HTML")
    answer = stage.log(HOLLIS).get_by_role("article").last
    await expect(answer).to_contain_text("Cuffbell, Mon 07:28")
    await expect(answer.locator("b")).to_have_text("minute")
    await expect(stage.log(WREN).get_by_role("article")).to_have_count(0)


async def test_shift_enter_makes_a_line_and_enter_sends_both(stage: Stage) -> None:
    await stage.field(HOLLIS).press_sequentially("142/91")
    before = await stage.field(HOLLIS).bounding_box()
    await stage.field(HOLLIS).press("Shift+Enter")
    await stage.field(HOLLIS).press_sequentially("138/88")
    after = await stage.field(HOLLIS).bounding_box()
    assert before is not None
    assert after is not None
    assert after["height"] > before["height"]
    await stage.field(HOLLIS).press("Enter")
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.text == "142/91\n138/88"


async def test_typed_markup_stays_text(stage: Stage) -> None:
    await stage.field(HOLLIS).fill('<img src=x onerror="document.title=1"> 142/91')
    await stage.field(HOLLIS).press("Enter")
    await expect(stage.log(HOLLIS)).to_contain_text("<img src=x")
    await expect(stage.log(HOLLIS).locator("img")).to_have_count(0)


async def test_what_is_said_in_a_chat_is_marked_with_the_language_of_its_program(
    stage: Stage,
) -> None:
    stage.chat.add_person(HOLLIS, "patient", "Europe/Lisbon", None, "es")
    await stage.join(HOLLIS, WREN)
    await stage.open()
    buttons = InlineKeyboardMarkup([[InlineKeyboardButton("Empezar", callback_data="token-9")]])
    await stage.says(HOLLIS, "Es hora de medirse", reply_markup=buttons)
    await stage.says(WREN, "Hollis has not measured")
    said = stage.log(HOLLIS).locator(".words", has_text="Es hora")
    await expect(said).to_have_attribute("lang", "es")
    await expect(stage.log(HOLLIS).locator(".button-row")).to_have_attribute("lang", "es")
    await expect(stage.field(HOLLIS)).to_have_attribute("lang", "es")
    said = stage.log(WREN).locator(".words", has_text="not measured")
    await expect(said).to_have_attribute("lang", "en")


async def test_days_are_separated_by_the_local_calendar(stage: Stage) -> None:
    stage.clock.moment = stage.clock.moment.replace(hour=2)
    await stage.join(HOLLIS, WREN)
    await stage.says(HOLLIS, "Night")
    await stage.says(WREN, "Night")
    stage.clock.moment = stage.clock.moment.replace(hour=12)
    await stage.says(HOLLIS, "Noon")
    await stage.says(WREN, "Noon")
    days = stage.log(WREN).get_by_role("heading")
    await expect(days).to_have_text(["Sunday 1 March 2026", "Monday 2 March 2026"])
    await expect(stage.log(HOLLIS).get_by_role("heading")).to_have_text(["Monday 2 March 2026"])


async def test_an_inline_button_gives_its_data_and_the_answer_is_shown(stage: Stage) -> None:
    await stage.join(HOLLIS)
    buttons = [[InlineKeyboardButton("Ready", callback_data="token-1")]]
    await stage.says(HOLLIS, "Measure now", reply_markup=InlineKeyboardMarkup(buttons))
    await stage.update()
    await stage.pane(HOLLIS).get_by_role("button", name="Ready", exact=True).click()
    query = (await stage.update()).callback_query
    assert query is not None
    assert query.data == "token-1"
    await stage.bot.answer_callback_query(query.id, "Five minutes of rest begin")
    await expect(stage.pane(HOLLIS)).to_contain_text("Five minutes of rest begin")
    await expect(stage.page.get_by_role("status").first).to_contain_text("Five minutes")
    await stage.pane(HOLLIS).get_by_role("button", name="Put this away").click()
    await expect(stage.pane(HOLLIS).locator(".notice")).to_be_hidden()


async def test_an_alert_is_announced_at_once(stage: Stage) -> None:
    await stage.join(HOLLIS)
    buttons = [[InlineKeyboardButton("I can't phone", callback_data="token-2")]]
    await stage.says(HOLLIS, "Call 112 now", reply_markup=InlineKeyboardMarkup(buttons))
    await stage.update()
    await stage.pane(HOLLIS).get_by_role("button", name="I can't phone").click()
    query = (await stage.update()).callback_query
    assert query is not None
    await stage.bot.answer_callback_query(query.id, "Knock at the next door", show_alert=True)
    await expect(stage.page.get_by_role("alert")).to_contain_text("Knock at the next door")
    await expect(stage.pane(HOLLIS)).to_contain_text("Please note: Knock at the next door")


async def test_a_message_that_the_bot_changes_is_redrawn_and_a_deleted_one_goes(
    stage: Stage,
) -> None:
    await stage.join(HOLLIS)
    buttons = [[InlineKeyboardButton("Ready", callback_data="token-3")]]
    message = await stage.says(HOLLIS, "Ready?", reply_markup=InlineKeyboardMarkup(buttons))
    ready = stage.pane(HOLLIS).get_by_role("button", name="Ready", exact=True)
    await ready.focus()
    await stage.bot.edit_message_text("Resting.", stage.ids[HOLLIS], message.message_id)
    await expect(stage.log(HOLLIS)).to_contain_text("Resting.")
    await expect(ready).to_have_count(0)
    await expect(stage.log(HOLLIS).get_by_role("article")).to_have_count(2)
    focused = await stage.page.evaluate("document.activeElement !== document.body")
    assert focused, "the keyboard's place was lost with the button"
    await stage.bot.delete_message(stage.ids[HOLLIS], message.message_id)
    await expect(stage.log(HOLLIS).get_by_role("article")).to_have_count(1)


@pytest.mark.parametrize("one_time", [True, False])
async def test_a_reply_keyboard_sends_its_text(stage: Stage, one_time: bool) -> None:
    await stage.join(HOLLIS)
    await stage.update()
    keyboard = telegram.ReplyKeyboardMarkup(
        [["Left arm", "Right arm"]], one_time_keyboard=one_time, input_field_placeholder="Which?"
    )
    await stage.says(HOLLIS, "Which arm?", reply_markup=keyboard)
    await expect(stage.field(HOLLIS)).to_have_attribute("placeholder", "Which?")
    left = stage.pane(HOLLIS).get_by_role("button", name="Left arm", exact=True)
    await left.click()
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.text == "Left arm"
    await expect(left).to_have_count(0 if one_time else 1)
    await stage.says(HOLLIS, "Noted.", reply_markup=telegram.ReplyKeyboardRemove())
    await expect(stage.log(HOLLIS)).to_contain_text("Noted.")
    await expect(left).to_have_count(0)


async def test_a_place_is_sent_from_the_keyboard_and_from_the_menu(stage: Stage) -> None:
    await stage.join(HOLLIS)
    await stage.update()
    button = KeyboardButton("Send my place", request_location=True)
    await stage.says(HOLLIS, "Where?", reply_markup=telegram.ReplyKeyboardMarkup([[button]]))
    await stage.pane(HOLLIS).get_by_role("button", name="Send my place").click()
    dialog = stage.page.get_by_role("dialog")
    await dialog.get_by_label("Town").select_option("Kolkata")
    await dialog.get_by_role("button", name="Send this place").click()
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.location is not None
    assert (round(message.location.latitude), round(message.location.longitude)) == (23, 88)
    await _choose(stage, HOLLIS, "Send a place")
    await dialog.get_by_role("button", name="Cancel").click()
    await expect(dialog).to_have_count(0)
    await expect(stage.log(HOLLIS).get_by_text("A place", exact=True)).to_have_count(1)


async def test_an_own_message_is_changed_and_escape_gives_up(stage: Stage) -> None:
    await stage.field(HOLLIS).fill("142 over 91")
    await stage.field(HOLLIS).press("Enter")
    await stage.update()
    await stage.field(HOLLIS).fill("half a thought")
    change = stage.pane(HOLLIS).get_by_role("button", name="Change the message “142 over 91”")
    await change.click()
    await expect(stage.field(HOLLIS)).to_have_value("142 over 91")
    await stage.field(HOLLIS).press("Escape")
    await expect(stage.field(HOLLIS)).to_have_value("half a thought")
    await change.click()
    await stage.field(HOLLIS).fill("132 over 91")
    await stage.field(HOLLIS).press("Enter")
    edited = (await stage.update()).edited_message
    assert edited is not None
    assert edited.text == "132 over 91"
    await expect(stage.log(HOLLIS).get_by_role("article")).to_contain_text(["changed 07:28"])
    await expect(stage.field(HOLLIS)).to_have_value("half a thought")


async def test_an_answer_names_the_message_that_it_answers(stage: Stage) -> None:
    await stage.join(HOLLIS)
    await stage.update()
    asked = await stage.says(HOLLIS, "Did you mean 131?")
    note = stage.log(HOLLIS).get_by_role("article").last
    await note.hover()
    await note.get_by_role("button", name="Answer the message “Did you mean 131?”").click()
    await stage.field(HOLLIS).fill("yes")
    await stage.field(HOLLIS).press("Enter")
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.reply_to_message is not None
    assert message.reply_to_message.message_id == asked.message_id
    await expect(stage.log(HOLLIS)).to_contain_text("Answer to “Did you mean 131?”")


async def test_a_file_goes_with_its_caption(stage: Stage, tmp_path: Path) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("142/91\n")
    async with stage.page.expect_file_chooser() as chooser:
        await _choose(stage, HOLLIS, "Attach a file")
    await (await chooser.value).set_files(notes)
    await expect(stage.pane(HOLLIS)).to_contain_text("notes.txt, 7 bytes")
    await stage.field(HOLLIS).fill("from my notebook")
    await stage.field(HOLLIS).press("Enter")
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.document is not None
    assert (message.document.file_name, message.caption) == ("notes.txt", "from my notebook")
    await expect(stage.log(HOLLIS).get_by_role("link", name="Save notes.txt")).to_be_visible()


@pytest.mark.parametrize(("entry", "kind"), [("sticker", "sticker"), ("voice note", "voice")])
async def test_stickers_and_voice_notes_are_sent_from_the_menu(
    stage: Stage, entry: str, kind: str
) -> None:
    await _choose(stage, HOLLIS, f"Send a {entry}")
    message = (await stage.update()).effective_message
    assert message is not None
    assert getattr(message, kind) is not None
    await expect(stage.log(HOLLIS)).to_contain_text(f"A {entry}")


async def test_commands_are_offered_and_sent(stage: Stage) -> None:
    await stage.bot.set_my_commands([("week", "The picture of this week")])
    await stage.page.reload()
    await stage.pane(HOLLIS).get_by_role("button", name="Commands").click()
    await stage.page.get_by_role("menuitem", name="/week The picture of this week").click()
    message = (await stage.update()).effective_message
    assert message is not None
    assert message.text == "/week"


async def test_a_blocked_bot_cannot_write_until_it_is_unblocked(stage: Stage) -> None:
    await stage.join(HOLLIS)
    await _choose(stage, HOLLIS, "Block Cuffbell")
    blocked = stage.pane(HOLLIS).get_by_text("Hollis Brandreth has blocked Cuffbell")
    await expect(blocked).to_be_visible()
    with pytest.raises(telegram.error.Forbidden):
        await stage.says(HOLLIS, "Hello?")
    await stage.field(HOLLIS).fill("142 over 91")
    await stage.field(HOLLIS).press("Enter")
    await expect(stage.pane(HOLLIS)).to_contain_text("Not sent: The bot is blocked")
    await expect(stage.field(HOLLIS)).to_have_value("142 over 91")
    await _choose(stage, HOLLIS, "Unblock Cuffbell")
    await expect(blocked).to_be_hidden()
    await stage.field(HOLLIS).press("Enter")
    await expect(stage.log(HOLLIS)).to_contain_text("142 over 91")


async def test_a_picture_opens_larger_and_gives_the_focus_back(filled: Stage) -> None:
    button = filled.pane(WREN).get_by_role("button", name="Picture: The week of Hollis")
    await button.focus()
    await filled.page.keyboard.press("Enter")
    dialog = filled.page.get_by_role("dialog", name="Picture, larger")
    await expect(dialog).to_contain_text("141/88 on average")
    width = await dialog.locator("img").evaluate("image => image.naturalWidth")
    assert width == 540
    await filled.page.keyboard.press("Escape")
    await expect(dialog).to_have_count(0)
    await expect(button).to_be_focused()


async def test_a_document_is_saved_under_its_name(filled: Stage) -> None:
    async with filled.page.expect_download() as download:
        await filled.pane(WREN).get_by_role("link", name="Save report-hollis.csv").click()
    saved = await download.value
    assert saved.suggested_filename == "report-hollis.csv"
    assert (await saved.path()).read_bytes() == b"systolic,diastolic\n"


async def test_writing_is_shown_until_the_message_comes(stage: Stage) -> None:
    await stage.join(HOLLIS)
    await stage.bot.send_chat_action(stage.ids[HOLLIS], "typing")
    await expect(stage.pane(HOLLIS).get_by_text("Cuffbell is writing")).to_be_visible()
    await stage.says(HOLLIS, "Here I am")
    await expect(stage.pane(HOLLIS).get_by_text("Cuffbell is writing")).to_be_hidden()


async def test_the_newest_message_stays_in_view_unless_one_reads_above(stage: Stage) -> None:
    await stage.join(HOLLIS)
    for number in range(12):
        await stage.says(HOLLIS, f"Line\nof message {number}")
    await expect(stage.log(HOLLIS).get_by_text("of message 11")).to_be_in_viewport()
    await stage.log(HOLLIS).evaluate("log => { log.scrollTop = 0; }")
    newest = stage.pane(HOLLIS).get_by_role("button", name="Newest message")
    await expect(newest).to_be_visible()
    await stage.says(HOLLIS, "One more")
    await expect(stage.log(HOLLIS).get_by_text("One more")).not_to_be_in_viewport()
    await newest.click()
    await expect(stage.log(HOLLIS).get_by_text("One more")).to_be_in_viewport()


async def test_a_keyboard_that_appears_does_not_hide_the_question(stage: Stage) -> None:
    await stage.join(HOLLIS)
    for number in range(12):
        await stage.says(HOLLIS, f"Line\nof message {number}")
    keyboard = telegram.ReplyKeyboardMarkup([["Left arm"], ["Right arm"], ["Not sure"]])
    await stage.says(HOLLIS, "Which arm?", reply_markup=keyboard)
    await expect(stage.pane(HOLLIS).get_by_role("button", name="Not sure")).to_be_visible()
    question = stage.log(HOLLIS).get_by_text("Which arm?")
    await expect(question).to_be_in_viewport(ratio=1)
    await expect(stage.pane(HOLLIS).get_by_role("button", name="Newest message")).to_be_hidden()


async def test_the_page_comes_back_after_a_restart_with_all_that_happened(stage: Stage) -> None:
    await stage.join(HOLLIS)
    port = stage.port
    await stage.stop()
    await expect(stage.page.get_by_text("has lost its connection")).to_be_visible()
    await stage.field(HOLLIS).fill("written while nobody listened")
    await stage.field(HOLLIS).press("Enter")
    await expect(stage.pane(HOLLIS)).to_contain_text("Not sent: Cuffbell does not answer")
    await expect(stage.field(HOLLIS)).to_have_value("written while nobody listened")
    await stage.start(port)
    await stage.says(HOLLIS, "I am back")
    await expect(stage.log(HOLLIS)).to_contain_text("I am back")
    await expect(stage.page.get_by_text("has lost its connection")).to_be_hidden()
    await expect(stage.field(HOLLIS)).to_have_value("written while nobody listened")
    await stage.field(HOLLIS).press("Enter")
    await expect(stage.log(HOLLIS)).to_contain_text("written while nobody listened")


async def test_somebody_who_comes_later_gets_a_pane(stage: Stage) -> None:
    stage.chat.add_person("Tamsin Achterberg", "patient", "Asia/Kolkata", None)
    await expect(stage.pane("Tamsin Achterberg")).to_contain_text("in Kolkata")
    await expect(stage.page.locator(".pane")).to_have_count(4)


async def _choose(stage: Stage, name: str, entry: str) -> None:
    await stage.pane(name).get_by_role("button", name="More", exact=True).click()
    await stage.page.get_by_role("menuitem", name=entry).click()
