"""The chat's menu of commands, in every language that has a wording."""

from __future__ import annotations

from typing import Final

from telegram import Bot, BotCommand

from bot.wording.catalogue import DEFAULT_LANGUAGE, languages, wording
from domain.messages import line

#: In the order in which the menu shows them: what people use daily comes first.
MENU: Final = (
    "ready",
    "week",
    "report",
    "undo",
    "plan",
    "family",
    "details",
    "invite",
    "patients",
    "hours",
    "settings",
    "language",
    "stop",
    "resume",
    "cautions",
    "help",
    "start",
)


def menu(language: str) -> list[BotCommand]:
    """The commands with what they do, in the words of one language."""
    words = wording(language)
    return [BotCommand(name, words.plain(line(f"command.{name}"))) for name in MENU]


async def set_menu(bot: Bot) -> None:
    """Tell the platform the commands. Raises the library's errors."""
    for language in languages():
        code = None if language == DEFAULT_LANGUAGE else language.split("-")[0]
        await bot.set_my_commands(menu(language), language_code=code)
