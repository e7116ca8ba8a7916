"""A whole, unmodified bot of the client library on the local chat, with its own polling."""

from __future__ import annotations

from telegram import InlineKeyboardButton, InlineKeyboardMarkup, Update
from telegram.ext import (
    Application,
    CallbackQueryHandler,
    ContextTypes,
    MessageHandler,
    filters,
)
from telegram.request import HTTPXRequest

from bot.localchat import Visitor

TOKEN = "7000:invented-token-of-the-tests"


async def ask(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
    assert update.effective_message is not None
    keyboard = InlineKeyboardMarkup([[InlineKeyboardButton("Yes", callback_data="yes")]])
    await update.effective_message.reply_html(
        f"You wrote <b>{update.effective_message.text}</b>?", reply_markup=keyboard
    )


async def thank(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
    assert update.callback_query is not None
    await update.callback_query.answer("Noted")
    await update.callback_query.edit_message_text("Thank you.")


def application(base: str) -> Application:  # type: ignore[type-arg]
    requests = [HTTPXRequest(httpx_kwargs={"trust_env": False}) for _ in range(2)]
    built = (
        Application.builder()
        .token(TOKEN)
        .base_url(f"{base}/bot")
        .base_file_url(f"{base}/file/bot")
        .request(requests[0])
        .get_updates_request(requests[1])
        .build()
    )
    built.add_handler(MessageHandler(filters.TEXT, ask))
    built.add_handler(CallbackQueryHandler(thank))
    return built


async def converse(hollis: Visitor) -> None:
    said = await hollis.say("142/91")
    question = await hollis.wait_for(lambda m: "142/91" in m["text"], after=said)
    assert question["html"] == "You wrote <b>142/91</b>?"
    await hollis.press("Yes")
    answer = await hollis.wait_for(lambda m: m["text"] == "Thank you.")
    assert (answer["id"], answer["buttons"]) == (question["id"], [])


async def test_a_bot_that_polls_holds_a_conversation(base: str, hollis: Visitor) -> None:
    async with application(base) as running:
        assert running.updater is not None
        await running.start()
        await running.updater.start_polling()

        await converse(hollis)

        await running.updater.stop()
        await running.stop()
