"""Sending, editing and deleting through the real client library, and what is refused."""

from __future__ import annotations

import struct
import zlib
from datetime import timedelta

import pytest
from telegram import (
    Bot,
    ForceReply,
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    KeyboardButton,
    ReplyKeyboardMarkup,
    ReplyKeyboardRemove,
    ReplyParameters,
)
from telegram.constants import ChatAction, ParseMode
from telegram.error import BadRequest, Forbidden, InvalidToken, NetworkError

from bot.localchat.server import LocalChat
from bot.localchat.visitor import RefusedError, Visitor


def png(width: int, height: int) -> bytes:
    """A black picture."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    pixels = zlib.compress((b"\0" * (width + 1)) * height)
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", header),
            chunk(b"IDAT", pixels),
            chunk(b"IEND", b""),
        ]
    )


def buttons(*labels: str) -> InlineKeyboardMarkup:
    return InlineKeyboardMarkup([[InlineKeyboardButton(x, callback_data=f"d-{x}")] for x in labels])


async def test_a_message_arrives_with_its_formatting_and_its_buttons(
    bot: Bot, hollis: Visitor, hollis_id: int
) -> None:
    sent = await bot.send_message(
        hollis_id, "Average <b>140/90</b>", parse_mode=ParseMode.HTML, reply_markup=buttons("Ready")
    )

    shown = (await hollis.messages())[-1]
    assert sent.text == "Average 140/90"
    assert sent.date.isoformat() == "2025-03-01T08:00:00+00:00"
    assert [(e.type, e.offset, e.length) for e in sent.entities] == [("bold", 8, 6)]
    assert shown == {
        "id": sent.message_id,
        "from": "bot",
        "date": "2025-03-01T08:00:00+00:00",
        "edited": None,
        "html": "Average <b>140/90</b>",
        "text": "Average 140/90",
        "photo": None,
        "document": None,
        "kind": "text",
        "buttons": [[{"text": "Ready", "data": "d-Ready", "url": None}]],
        "reply_to": None,
        "deleted": False,
    }


async def test_offsets_count_utf16_units_as_the_client_library_reads_them(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    sent = await bot.send_message(hollis_id, "🩺🩺 <i>rest</i> 👍🏽 <b>ok</b>", ParseMode.HTML)

    assert list(sent.parse_entities().values()) == ["rest", "ok"]


@pytest.mark.parametrize(
    ("length", "fits"), [pytest.param(4096, True, id="most"), pytest.param(4097, False, id="over")]
)
async def test_a_text_may_have_4096_characters(
    bot: Bot, hollis_id: int, hollis: Visitor, length: int, fits: bool
) -> None:
    text = f"<b>{'x' * length}</b>"  # the tags do not count

    if fits:
        assert (await bot.send_message(hollis_id, text, ParseMode.HTML)).text == "x" * length
    else:
        with pytest.raises(BadRequest, match=r"^Message is too long$"):
            await bot.send_message(hollis_id, text, ParseMode.HTML)


@pytest.mark.parametrize(
    ("length", "fits"), [pytest.param(1024, True, id="most"), pytest.param(1025, False, id="over")]
)
async def test_a_caption_may_have_1024_characters(
    bot: Bot, hollis_id: int, hollis: Visitor, length: int, fits: bool
) -> None:
    if fits:
        sent = await bot.send_photo(hollis_id, png(4, 4), caption="x" * length)
        assert sent.caption == "x" * length
    else:
        with pytest.raises(BadRequest, match=r"^Message caption is too long$"):
            await bot.send_photo(hollis_id, png(4, 4), caption="x" * length)


@pytest.mark.parametrize(
    ("data", "fits"),
    [
        pytest.param("x" * 64, True, id="64 bytes"),
        pytest.param("x" * 65, False, id="65 bytes"),
        pytest.param("é" * 33, False, id="33 characters of two bytes"),
        pytest.param("", False, id="empty"),
    ],
)
async def test_callback_data_may_have_64_bytes(
    bot: Bot, hollis_id: int, hollis: Visitor, data: str, fits: bool
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Yes", callback_data=data)]])

    if fits:
        assert await bot.send_message(hollis_id, "Sure?", reply_markup=keyboard)
    else:
        with pytest.raises(BadRequest, match="Button_data_invalid"):
            await bot.send_message(hollis_id, "Sure?", reply_markup=keyboard)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("<b>half", "Can't parse entities: Can't find end tag corresponding to start tag \"b\""),
        ("<div>x</div>", 'Can\'t parse entities: Unsupported start tag "div" at byte offset 0'),
        ("é <b>x</i>", "Can't parse entities: Unmatched end tag at byte offset 7, expected"),
        ("x</b>", "Can't parse entities: Unexpected end tag at byte offset 1"),
        ("1 < 2", "Can't parse entities: Unclosed start tag at byte offset 2"),
        ("   ", "Message text is empty"),
        ("<b> </b>", "Message text is empty"),
    ],
)
async def test_broken_or_empty_text_is_refused(
    bot: Bot, hollis_id: int, hollis: Visitor, text: str, reason: str
) -> None:
    with pytest.raises(BadRequest) as refused:
        await bot.send_message(hollis_id, text, ParseMode.HTML)

    # The client library puts everything but the first letter into lower case.
    assert refused.value.message.lower().startswith(reason.lower())
    assert all(message["from"] == "person" for message in await hollis.messages())


async def test_a_chat_that_nobody_opened_is_not_found(bot: Bot) -> None:
    with pytest.raises(BadRequest, match=r"^Chat not found$"):
        await bot.send_message(999, "Hello")


async def test_the_bot_cannot_write_first(bot: Bot, wren: Visitor) -> None:
    chat = (await wren.chat())["id"]

    with pytest.raises(Forbidden, match="bot can't initiate conversation with a user"):
        await bot.send_message(chat, "Hello")


async def test_a_blocked_chat_refuses_until_it_is_unblocked(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    await hollis.block()

    with pytest.raises(Forbidden, match="bot was blocked by the user"):
        await bot.send_message(hollis_id, "Hello")
    with pytest.raises(RefusedError, match="Unblock it first"):
        await hollis.say("Hello?")
    assert (await hollis.chat())["blocked"] is True

    await hollis.block(False)
    assert (await bot.send_message(hollis_id, "Hello")).text == "Hello"


async def test_a_deactivated_user_is_forbidden(
    chat: LocalChat, bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    chat.people.deactivate(hollis_id)

    with pytest.raises(Forbidden, match="user is deactivated"):
        await bot.send_message(hollis_id, "Hello")


async def test_another_token_is_refused(bot: Bot, open_bot: type[Bot]) -> None:
    with pytest.raises(InvalidToken):
        await open_bot("7000:wrong").get_me()


async def test_a_reply_keyboard_stays_until_it_is_removed(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    keyboard = ReplyKeyboardMarkup(
        [[KeyboardButton("Where I am", request_location=True)], ["Skip"]],
        one_time_keyboard=False,
        input_field_placeholder="142/91",
    )

    await bot.send_message(hollis_id, "Where are you?", reply_markup=keyboard)
    await hollis.say("Skip")

    assert (await hollis.chat())["reply_keyboard"] == {
        "rows": [
            [{"text": "Where I am", "request_location": True, "request_contact": False}],
            [{"text": "Skip", "request_location": False, "request_contact": False}],
        ],
        "one_time": False,
        "placeholder": "142/91",
    }
    await bot.send_message(hollis_id, "Thank you.", reply_markup=ReplyKeyboardRemove())
    assert (await hollis.chat())["reply_keyboard"] is None


async def test_a_one_time_keyboard_goes_after_the_tap(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    keyboard = ReplyKeyboardMarkup([["Yes", "No"]], one_time_keyboard=True)
    await bot.send_message(hollis_id, "Sure?", reply_markup=keyboard)

    await hollis.say("Perhaps")
    assert (await hollis.chat())["reply_keyboard"] is not None
    await hollis.say("Yes")
    assert (await hollis.chat())["reply_keyboard"] is None


async def test_force_reply_is_taken_and_shows_no_keyboard(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    await bot.send_message(hollis_id, "Which?", reply_markup=ForceReply())

    assert (await hollis.chat())["reply_keyboard"] is None


async def test_a_reply_names_the_message_or_is_refused(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    question = await hollis.say("What is my average?")

    answer = await bot.send_message(
        hollis_id, "140/90", reply_parameters=ReplyParameters(question), disable_notification=True
    )

    assert answer.reply_to_message is not None
    assert answer.reply_to_message.message_id == question
    with pytest.raises(BadRequest, match=r"^Message to be replied not found$"):
        await bot.send_message(hollis_id, "?", reply_parameters=ReplyParameters(4711))
    lenient = ReplyParameters(4711, allow_sending_without_reply=True)
    assert await bot.send_message(hollis_id, "?", reply_parameters=lenient)


@pytest.mark.parametrize("url", ["tel:112", "javascript:alert(1)", "nonsense"])
async def test_a_button_with_another_kind_of_address_is_refused(
    bot: Bot, hollis_id: int, hollis: Visitor, url: str
) -> None:
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Call", url=url)]])

    with pytest.raises(BadRequest, match=r"Inline keyboard button url '.*' is invalid"):
        await bot.send_message(hollis_id, "Call", reply_markup=keyboard)


async def test_an_edit_shows_the_new_text_and_takes_buttons_away(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    sent = await bot.send_message(hollis_id, "Ready?", reply_markup=buttons("Ready"))

    edited = await bot.edit_message_text("Resting.", hollis_id, sent.message_id)

    shown = (await hollis.messages())[-1]
    assert not isinstance(edited, bool)
    assert edited.edit_date is not None
    assert (shown["text"], shown["buttons"]) == ("Resting.", [])
    assert shown["edited"] == "2025-03-01T08:00:00+00:00"


async def test_buttons_can_be_replaced_alone(bot: Bot, hollis_id: int, hollis: Visitor) -> None:
    sent = await bot.send_message(hollis_id, "Ready?", reply_markup=buttons("Ready"))

    await bot.edit_message_reply_markup(hollis_id, sent.message_id, reply_markup=buttons("Later"))
    assert (await hollis.messages())[-1]["buttons"][0][0]["text"] == "Later"
    await bot.edit_message_reply_markup(hollis_id, sent.message_id)
    assert (await hollis.messages())[-1]["buttons"] == []
    with pytest.raises(BadRequest, match=r"^Message is not modified"):
        await bot.edit_message_reply_markup(hollis_id, sent.message_id)


async def test_edits_that_make_no_sense_are_refused(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    own = await hollis.say("142/91")
    sent = await bot.send_message(hollis_id, "Thank you.")
    photo = await bot.send_photo(hollis_id, png(4, 4), caption="Week 1")
    gone = await bot.send_message(hollis_id, "Gone")
    await bot.delete_message(hollis_id, gone.message_id)

    with pytest.raises(BadRequest, match=r"^Message is not modified"):
        await bot.edit_message_text("Thank you.", hollis_id, sent.message_id)
    with pytest.raises(BadRequest, match=r"^Message to edit not found$"):
        await bot.edit_message_text("x", hollis_id, 4711)
    with pytest.raises(BadRequest, match=r"^Message to edit not found$"):
        await bot.edit_message_text("x", hollis_id, gone.message_id)
    with pytest.raises(BadRequest, match=r"^Message can't be edited$"):
        await bot.edit_message_text("x", hollis_id, own)
    with pytest.raises(BadRequest, match=r"^There is no text in the message to edit$"):
        await bot.edit_message_text("x", hollis_id, photo.message_id)
    with pytest.raises(BadRequest, match=r"^There is no caption in the message to edit$"):
        await bot.edit_message_caption(hollis_id, sent.message_id, caption="x")


async def test_a_caption_can_be_edited(bot: Bot, hollis_id: int, hollis: Visitor) -> None:
    photo = await bot.send_photo(hollis_id, png(4, 4), caption="Week 1")

    await bot.edit_message_caption(hollis_id, photo.message_id, caption="Week 2")

    shown = (await hollis.messages())[-1]
    assert (shown["text"], shown["kind"]) == ("Week 2", "photo")


async def test_messages_can_be_deleted_for_48_hours(
    bot: Bot, hollis_id: int, hollis: Visitor, clock: object
) -> None:
    young = await bot.send_message(hollis_id, "Young")
    old = await bot.send_message(hollis_id, "Old")

    assert await bot.delete_message(hollis_id, young.message_id)
    clock.moment += timedelta(hours=48)  # type: ignore[attr-defined]

    with pytest.raises(BadRequest, match=r"^Message can't be deleted for everyone$"):
        await bot.delete_message(hollis_id, old.message_id)
    with pytest.raises(BadRequest, match=r"^Message to delete not found$"):
        await bot.delete_message(hollis_id, young.message_id)
    shown = {m["id"]: (m["deleted"], m["text"]) for m in await hollis.messages()}
    assert shown[young.message_id] == (True, "")
    assert shown[old.message_id] == (False, "Old")


async def test_a_picture_and_a_document_can_be_opened_by_the_person(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    picture = png(1080, 1350)

    photo = await bot.send_photo(hollis_id, picture, caption="<b>Week</b>", parse_mode="HTML")
    await bot.send_document(hollis_id, b"%PDF-1.7 invented", filename="report é.pdf")

    shown_photo, shown_document = (await hollis.messages())[-2:]
    assert (photo.photo[-1].width, photo.photo[-1].height) == (1080, 1350)
    assert shown_photo["html"] == "<b>Week</b>"
    assert await hollis.download(shown_photo["photo"]["url"]) == picture
    assert shown_document["document"]["name"] == "report é.pdf"
    assert shown_document["document"]["size"] == 17
    assert await hollis.download(shown_document["document"]["url"]) == b"%PDF-1.7 invented"


async def test_a_known_file_can_be_sent_again_by_its_id(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    first = await bot.send_photo(hollis_id, png(4, 4))

    again = await bot.send_photo(hollis_id, first.photo[-1].file_id)

    assert again.photo == first.photo
    with pytest.raises(BadRequest, match="Wrong remote file identifier specified"):
        await bot.send_photo(hollis_id, "no-such-id")


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        pytest.param(b"not a picture", "Image_process_failed", id="other bytes"),
        pytest.param(png(10, 9991), "Photo_invalid_dimensions", id="too high"),
        pytest.param(png(10, 201), "Photo_invalid_dimensions", id="too narrow"),
        pytest.param(png(4, 4) + b"0" * 10 * 2**20, "is too big for a photo", id="10 MB"),
        pytest.param(b"", "File must be non-empty", id="empty"),
    ],
)
async def test_what_is_no_good_photo_is_refused(
    bot: Bot, hollis_id: int, hollis: Visitor, content: bytes, reason: str
) -> None:
    with pytest.raises(BadRequest, match=reason):
        await bot.send_photo(hollis_id, content)


async def test_an_upload_over_50_megabytes_is_too_large(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    with pytest.raises(NetworkError, match="Request Entity Too Large"):
        await bot.send_document(hollis_id, b"0" * (50 * 2**20 + 1), filename="big.bin")


async def test_typing_shows_until_the_next_message(
    bot: Bot, hollis_id: int, hollis: Visitor
) -> None:
    assert await bot.send_chat_action(hollis_id, ChatAction.TYPING)
    assert (await hollis.chat())["typing"] is True

    await bot.send_message(hollis_id, "Here.")
    assert (await hollis.chat())["typing"] is False
    with pytest.raises(BadRequest, match="Wrong parameter action in request"):
        await bot.send_chat_action(hollis_id, "juggling")
