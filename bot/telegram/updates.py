"""An update of the platform as what the desk takes, or None for what concerns nobody.

Pure, except that a shared position is looked up. Moments are the platform's dates; only a
pressed button has none and gets the moment that is passed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from telegram import CallbackQuery, Chat, ChatMemberUpdated, Message, Update
from telegram.constants import ChatMemberStatus, ChatType

from bot import gazetteer
from bot.incoming import Incoming, PressedToken
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
from domain.people import ChatId, MessageRef

# What an attachment is called by the platform, and what that is for the conversation.
_KINDS: Final = {
    "sticker": OtherKind.STICKER,
    "voice": OtherKind.VOICE,
    "audio": OtherKind.VOICE,
    "video_note": OtherKind.VOICE,
    "photo": OtherKind.PHOTO,
    "document": OtherKind.FILE,
    "animation": OtherKind.OTHER,
    "video": OtherKind.OTHER,
    "contact": OtherKind.OTHER,
    "poll": OtherKind.OTHER,
    "dice": OtherKind.OTHER,
    "game": OtherKind.OTHER,
    "story": OtherKind.OTHER,
    "paid_media": OtherKind.OTHER,
    "checklist": OtherKind.OTHER,
}

_MEMBER: Final = frozenset(
    {ChatMemberStatus.MEMBER, ChatMemberStatus.ADMINISTRATOR, ChatMemberStatus.RESTRICTED}
)


@dataclass(frozen=True, slots=True)
class _Found:
    chat: Chat
    language: str | None
    event: Event | PressedToken


def incoming(update: Update, bot_id: int, now: datetime | None = None) -> Incoming | None:
    """The update for the desk.

    Args:
        bot_id: of the bot that got it: update ids are its own.
        now: person time, the moment of a pressed button; not needed for anything else.

    Returns:
        None for what needs no answer: an edited picture, a title changed, a bot's own words.
    """
    found = _found(update, now)
    if found is None:
        return None
    return Incoming(
        bot_id=bot_id,
        update_id=update.update_id,
        chat=ChatId(found.chat.id),
        language=found.language or "en",
        name=found.chat.first_name or "",
        event=found.event,
    )


def _found(update: Update, now: datetime | None) -> _Found | None:
    if update.message is not None:
        return _of_message(update.message, _written(update.message))
    if update.edited_message is not None:
        return _of_message(update.edited_message, _edited(update.edited_message))
    if update.callback_query is not None and now is not None:
        return _pressed(update.callback_query, now)
    if update.my_chat_member is not None:
        return _membership(update.my_chat_member)
    return None


def _of_message(message: Message, event: Event | None) -> _Found | None:
    sender = message.from_user
    if sender is not None and sender.is_bot:
        return None
    if message.chat.type != ChatType.PRIVATE:
        # The bot's arrival is told by `my_chat_member`; service messages are nobody's words.
        event = None if event is None else GroupSeen(chat=ChatId(message.chat.id))
    if event is None:
        return None
    return _Found(message.chat, sender.language_code if sender else None, event)


def _written(message: Message) -> Event | None:
    ref = _ref(message)
    text = message.text or message.caption
    if text:
        return Said(
            text=text,
            message=ref,
            written_at=message.date,
            forwarded=message.forward_origin is not None,
        )
    if message.location is not None:
        place = gazetteer.at(message.location.latitude, message.location.longitude)
        return SharedLocation(place=place, message=ref, written_at=message.date)
    kind = next((kind for name, kind in _KINDS.items() if getattr(message, name, None)), None)
    return None if kind is None else SentOther(kind=kind, message=ref, written_at=message.date)


def _edited(message: Message) -> Event | None:
    text = message.text or message.caption
    # A live position that moves, or a picture that was changed, says nothing new to us.
    if message.location is not None or (not text and message.photo):
        return None
    return Edited(
        text=text or "",
        message=_ref(message),
        written_at=message.date,
        edited_at=message.edit_date or message.date,
    )


def _pressed(query: CallbackQuery, now: datetime) -> _Found | None:
    if query.message is None or not isinstance(query.data, str):
        return None
    chat = query.message.chat
    ref = MessageRef(chat=ChatId(chat.id), message=query.message.message_id)
    pressed = PressedToken(token=query.data, message=ref, pressed_at=now)
    return _Found(chat, query.from_user.language_code, pressed)


def _membership(change: ChatMemberUpdated) -> _Found | None:
    chat = ChatId(change.chat.id)
    is_member = change.new_chat_member.status in _MEMBER
    event: Event | None
    if change.chat.type == ChatType.PRIVATE:
        event = ChatOpened(chat=chat) if is_member else ChatClosed(chat=chat)
    else:
        event = GroupSeen(chat=chat) if is_member else None
    language = change.from_user.language_code
    return None if event is None else _Found(change.chat, language, event)


def _ref(message: Message) -> MessageRef:
    return MessageRef(chat=ChatId(message.chat.id), message=message.message_id)
