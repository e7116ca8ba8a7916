"""What came from the platform: updates already handled, buttons given out, the bot's name.

Machine time, because the platform knows no other.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache
from typing import Final

from sqlalchemy import Connection, Executable, delete, not_, select, update

from domain.events import Action
from domain.outcome import Rank
from domain.people import ChatId
from storage import codec
from storage.tables import bots, buttons, outbox, runs, seen_updates, unhandled
from storage.upserts import insert_into, upsert

#: The platform repeats an update for at most a day; two weeks is far on the safe side.
SEEN_DAYS: Final = 14
#: A button older than this answers like one that was never given.
BUTTON_DAYS: Final = 90
#: How long texts that were sent are kept, to answer for what was said. Of an alarm the
#: times stay for good, without its words.
SENT_DAYS: Final = 30
#: A process of the bot that has not been heard of for so long is forgotten.
RUN_DAYS: Final = 90

_INSERT_BUTTON: Final = buttons.insert()


def seen(connection: Connection, bot: int, update_id: int, machine_now: datetime) -> bool:
    """Whether the update was handled before; from now on it was.

    A set, never compared by size: after a quiet week the platform's ids start anywhere.
    """
    row = {"bot": bot, "update_id": update_id, "at": machine_now}
    new = connection.execute(_insert_unseen(connection.dialect.name), row).first()
    return new is None


@cache
def _insert_unseen(dialect: str) -> Executable:
    return (
        insert_into(dialect, seen_updates)
        .on_conflict_do_nothing()
        .returning(seen_updates.c.update_id)
    )


def keep_buttons(
    connection: Connection,
    chat: ChatId,
    actions: Mapping[str, Action],
    machine_now: datetime,
) -> None:
    """Remember what the tokens of a message stand for. They work in this chat only."""
    if actions:
        connection.execute(
            _INSERT_BUTTON,
            [
                {
                    "token": token,
                    "chat": chat,
                    "action": codec.action_text(action),
                    "created_at": machine_now,
                }
                for token, action in actions.items()
            ],
        )


def button(connection: Connection, token: str, chat: ChatId) -> Action | None:
    """What a button stands for, None when unknown, forgotten or given to another chat."""
    found = connection.scalar(
        select(buttons.c.action).where(buttons.c.token == token, buttons.c.chat == chat)
    )
    return None if found is None else codec.action(found)


def keep_unhandled(
    connection: Connection,
    *,
    bot: int,
    update_id: int | None,
    chat: ChatId | None,
    event: str,
    problem: str,
    machine_now: datetime,
) -> None:
    """Keep an event that could not be handled, whole, so that nothing is lost."""
    connection.execute(
        unhandled.insert().values(
            bot=bot, update_id=update_id, chat=chat, event=event, problem=problem, at=machine_now
        )
    )


def set_bot(connection: Connection, bot: int, username: str) -> None:
    """Store the bot's name, so that `cuffbell invite` can print a link."""
    upsert(connection, bots, [{"id": bot, "username": username}], changed=("username",))


def bot_name(connection: Connection) -> str | None:
    """The bot's user name, None before the first run."""
    return connection.scalar(select(bots.c.username).order_by(bots.c.id.desc()).limit(1))


def prune(connection: Connection, machine_now: datetime) -> None:
    """Forget what is too old to matter. Readings and notes are never pruned."""
    for column, days in (
        (seen_updates.c.at, SEEN_DAYS),
        (buttons.c.created_at, BUTTON_DAYS),
        (runs.c.seen_at, RUN_DAYS),
    ):
        connection.execute(delete(column.table).where(column < machine_now - timedelta(days=days)))
    old = outbox.c.sent_at < machine_now - timedelta(days=SENT_DAYS)
    is_alarm = outbox.c.rank == int(Rank.ALARM)
    connection.execute(delete(outbox).where(old, not_(is_alarm)))
    connection.execute(
        update(outbox)
        .where(old, is_alarm, outbox.c.plain != "")
        .values(html="", plain="", buttons=None, keyboard=None, attachment=None)
    )
