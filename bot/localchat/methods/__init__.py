"""The methods of the Bot API that the local chat knows, by name.

One file a subject; a method takes the exchange and its parameters and gives the result, or
raises a `Refusal`. Names are matched without regard to case, as on the platform.
"""

from __future__ import annotations

from typing import Final

from bot.localchat.methods import about, editing, receiving, sending

METHODS: Final[dict[str, about.Method]] = {
    name.lower(): method
    for name, method in {
        "getMe": about.get_me,
        "logOut": about.accept,
        "close": about.accept,
        "getUpdates": receiving.get_updates,
        "setWebhook": receiving.set_webhook,
        "deleteWebhook": receiving.delete_webhook,
        "getWebhookInfo": receiving.get_webhook_info,
        "sendMessage": sending.send_message,
        "sendPhoto": sending.send_photo,
        "sendDocument": sending.send_document,
        "sendChatAction": sending.send_chat_action,
        "editMessageText": editing.edit_message_text,
        "editMessageCaption": editing.edit_message_caption,
        "editMessageReplyMarkup": editing.edit_message_reply_markup,
        "deleteMessage": editing.delete_message,
        "answerCallbackQuery": receiving.answer_callback_query,
        "getFile": receiving.get_file,
        "getChat": about.get_chat,
        "leaveChat": about.leave_chat,
        "setMyCommands": about.set_my_commands,
        "getMyCommands": about.get_my_commands,
        "deleteMyCommands": about.delete_my_commands,
        "setMyName": about.setter("name", 64),
        "getMyName": about.getter("name"),
        "setMyDescription": about.setter("description", 512),
        "getMyDescription": about.getter("description"),
        "setMyShortDescription": about.setter("short_description", 120),
        "getMyShortDescription": about.getter("short_description"),
        "setChatMenuButton": about.accept,
    }.items()
}
