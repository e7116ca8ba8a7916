"""What an update of the platform becomes for the desk, kind by kind."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from telegram import Update

from bot.incoming import Incoming, PressedToken
from bot.telegram.updates import incoming
from domain.events import (
    ChatClosed,
    ChatOpened,
    Edited,
    Event,
    GroupSeen,
    OtherKind,
    Said,
    SentOther,
    SharedLocation,
)
from domain.people import ChatId, MessageRef, Place

AT = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
LATER = datetime(2026, 3, 10, 7, 50, tzinfo=UTC)
CHAT = ChatId(5)
REF = MessageRef(chat=CHAT, message=9)

Json = dict[str, Any]

HOLLIS: Json = {"id": 5, "is_bot": False, "first_name": "Hollis", "language_code": "pt-BR"}
PRIVATE: Json = {"id": 5, "type": "private", "first_name": "Hollis"}
GROUP: Json = {"id": -7, "type": "supergroup", "title": "The family"}
FILE: Json = {"file_id": "f", "file_unique_id": "u"}
PICTURE: Json = FILE | {"width": 10, "height": 10}
SECONDS: Json = FILE | {"duration": 3}


def message(content: Json, chat: Json = PRIVATE, sender: Json = HOLLIS) -> Json:
    stamp = int(AT.timestamp())
    return {"message_id": 9, "date": stamp, "chat": chat, "from": sender} | content


def read(kind: str, content: Json) -> Incoming | None:
    update = Update.de_json({"update_id": 77, kind: content}, None)
    return incoming(update, 7000, LATER)


def event_of(content: Json) -> Event | PressedToken | None:
    found = read("message", message(content))
    return None if found is None else found.event


def said(text: str, *, forwarded: bool = False) -> Said:
    return Said(text=text, message=REF, written_at=AT, forwarded=forwarded)


def sent(kind: OtherKind) -> SentOther:
    return SentOther(kind=kind, message=REF, written_at=AT)


@pytest.mark.parametrize(
    ("content", "event"),
    [
        pytest.param({"text": "142/91"}, said("142/91"), id="text"),
        pytest.param({"photo": [PICTURE], "caption": "142/91"}, said("142/91"), id="caption"),
        pytest.param({"photo": [PICTURE]}, sent(OtherKind.PHOTO), id="picture"),
        pytest.param({"document": FILE}, sent(OtherKind.FILE), id="file"),
        pytest.param({"voice": SECONDS}, sent(OtherKind.VOICE), id="voice"),
        pytest.param({"audio": SECONDS}, sent(OtherKind.VOICE), id="audio"),
        pytest.param({"video": PICTURE | SECONDS}, sent(OtherKind.OTHER), id="video"),
        pytest.param(
            {"sticker": PICTURE | {"is_animated": False, "is_video": False, "type": "regular"}},
            sent(OtherKind.STICKER),
            id="sticker",
        ),
        pytest.param(
            {"contact": {"phone_number": "1", "first_name": "Wren"}},
            sent(OtherKind.OTHER),
            id="contact",
        ),
        pytest.param({"dice": {"value": 3, "emoji": "🎲"}}, sent(OtherKind.OTHER), id="dice"),
        pytest.param(
            {"location": {"latitude": 38.72, "longitude": -9.14}},
            SharedLocation(
                place=Place(name="Lisbon", zone="Europe/Lisbon", country="PT"),
                message=REF,
                written_at=AT,
            ),
            id="location",
        ),
        pytest.param(
            {
                "text": "142/91",
                "forward_origin": {
                    "type": "hidden_user",
                    "date": int(AT.timestamp()),
                    "sender_user_name": "Tamsin",
                },
            },
            said("142/91", forwarded=True),
            id="forwarded",
        ),
        pytest.param({"delete_chat_photo": True}, None, id="service message"),
        pytest.param({"pinned_message": message({"text": "x"})}, None, id="pinned"),
    ],
)
def test_a_message_becomes_what_was_said_or_sent(content: Json, event: Event | None) -> None:
    assert event_of(content) == event


def test_where_it_came_from_goes_with_it() -> None:
    found = read("message", message({"text": "hello"}))

    assert found == Incoming(
        bot_id=7000,
        update_id=77,
        chat=CHAT,
        language="pt-BR",
        name="Hollis",
        event=said("hello"),
    )


def test_an_edit_holds_both_moments() -> None:
    content = message({"text": "142/91", "edit_date": int(LATER.timestamp())})

    found = read("edited_message", content)

    assert found is not None
    assert found.event == Edited(text="142/91", message=REF, written_at=AT, edited_at=LATER)


def test_an_edit_that_leaves_no_words_is_an_edit() -> None:
    found = read("edited_message", message({"document": FILE}))

    assert found is not None
    assert isinstance(found.event, Edited)
    assert found.event.text == ""


@pytest.mark.parametrize(
    "content", [{"location": {"latitude": 1, "longitude": 1}}, {"photo": [PICTURE]}]
)
def test_a_position_that_moves_or_a_picture_changed_is_no_event(content: Json) -> None:
    assert read("edited_message", message(content)) is None


def press(message: Json | None, **more: object) -> Json:
    query: Json = {"id": "1", "from": HOLLIS, "chat_instance": "1", "data": "token"}
    return query | ({} if message is None else {"message": message}) | more


def test_a_button_is_known_by_its_token_at_the_present_moment() -> None:
    found = read("callback_query", press(message({"text": "Ready?"})))

    assert found is not None
    assert found.chat == CHAT
    assert found.event == PressedToken(token="token", message=REF, pressed_at=LATER)


def test_a_button_of_a_message_too_old_to_be_shown_still_counts() -> None:
    old = {"message_id": 9, "date": 0, "chat": PRIVATE}

    found = read("callback_query", press(old))

    assert found is not None
    assert found.event == PressedToken(token="token", message=REF, pressed_at=LATER)


def test_a_button_outside_any_chat_is_no_event() -> None:
    assert read("callback_query", press(None, inline_message_id="1")) is None


def membership(chat: Json, status: str) -> Json:
    bot = {"id": 7000, "is_bot": True, "first_name": "Cuffbell"}
    new: Json = {"status": status, "user": bot}
    if status == "kicked":
        new["until_date"] = 0
    return {
        "chat": chat,
        "from": HOLLIS,
        "date": int(AT.timestamp()),
        "old_chat_member": {"status": "left", "user": bot},
        "new_chat_member": new,
    }


@pytest.mark.parametrize(
    ("chat", "status", "event"),
    [
        (PRIVATE, "kicked", ChatClosed(chat=CHAT)),
        (PRIVATE, "member", ChatOpened(chat=CHAT)),
        (GROUP, "member", GroupSeen(chat=ChatId(-7))),
        (GROUP, "left", None),
        (GROUP, "kicked", None),
    ],
)
def test_the_bots_place_in_a_chat(chat: Json, status: str, event: Event | None) -> None:
    found = read("my_chat_member", membership(chat, status))

    assert (None if found is None else found.event) == event


def test_words_in_a_group_are_not_read() -> None:
    found = read("message", message({"text": "192/114"}, chat=GROUP))

    assert found is not None
    assert found.event == GroupSeen(chat=ChatId(-7))


def test_a_groups_service_message_is_no_event() -> None:
    assert read("message", message({"new_chat_members": [HOLLIS]}, chat=GROUP)) is None


def test_another_bots_words_are_no_event() -> None:
    bot = {"id": 8, "is_bot": True, "first_name": "Other"}

    assert read("message", message({"text": "hello"}, sender=bot)) is None


def test_a_kind_of_update_that_is_not_used_is_no_event() -> None:
    assert read("channel_post", message({"text": "hello"})) is None
