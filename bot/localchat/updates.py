"""The queue of updates, and the one long poll that may wait on it.

Ids begin anywhere and count up. An update stays until a later offset confirms it or the
webhook took it. Waiting is in machine seconds. Unlike the platform, which forgets updates
after a day, this queue keeps them: a demo left over a weekend goes on where it was.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from bot.localchat.refusals import Refusal, conflict
from bot.localchat.store import Store

Json = dict[str, Any]

KINDS: Final = ("message", "edited_message", "callback_query", "my_chat_member")
_MOST_WAIT: Final = 50.0


@dataclass(slots=True)
class _Poll:
    """A getUpdates call that waits; `refusal` ends it."""

    refusal: Refusal | None = None


class Updates:
    """Updates of one folder, oldest first."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._sleepers: set[asyncio.Event] = set()
        self._poll: _Poll | None = None
        self._closed = False
        if store.setting("next_update") is None:
            store.put_setting("next_update", 100_000_000 + secrets.randbelow(800_000_000))

    @property
    def webhook(self) -> Json | None:
        """What setWebhook was given, None when updates are fetched."""
        found = self._store.setting("webhook")
        return found if isinstance(found, dict) else None

    def set_webhook(self, webhook: Json | None) -> None:
        """Deliver by POST from now on, or, with None, keep for getUpdates."""
        self._store.put_setting("webhook", webhook)
        self._end_poll(conflict("terminated by setWebhook request"))
        self._wake()

    def note_webhook_error(self, date: int, message: str) -> None:
        """Remember the last failed delivery; the webhook stays as it is."""
        webhook = self.webhook
        if webhook is not None:
            error = {"last_error_date": date, "last_error_message": message}
            self._store.put_setting("webhook", webhook | error)

    def allow(self, kinds: list[str]) -> None:
        """Which kinds are queued from now on; an empty list means all."""
        self._store.put_setting("allowed_updates", kinds)

    def allowed(self) -> tuple[str, ...]:
        """The kinds that are queued; empty for all."""
        return tuple(self._store.setting("allowed_updates", []))

    def continue_at(self, update: int) -> None:
        """Give the next update this id, as the platform does after a quiet week."""
        self._store.put_setting("next_update", update)

    def add(self, kind: str, content: Json) -> None:
        """Queue an update, in the transaction of what caused it."""
        allowed = self.allowed()
        if allowed and kind not in allowed:
            return
        with self._store.transaction():
            key = int(self._store.setting("next_update"))
            self._store.put_setting("next_update", key + 1)
            self._store.insert(
                "INSERT INTO pending_update VALUES (?, ?, ?)", (key, kind, json.dumps(content))
            )
            self._store.after_commit(self._wake)

    def pending_count(self) -> int:
        """How many updates wait."""
        row = self._store.row("SELECT COUNT(*) AS n FROM pending_update")
        return 0 if row is None else int(row["n"])

    def drop_all(self) -> None:
        """Forget everything that waits."""
        self._store.execute("DELETE FROM pending_update")

    def confirm(self, offset: int) -> int:
        """Forget what lies before the offset; the id from which to answer.

        A negative offset keeps that many of the newest and forgets all before them.
        """
        if offset < 0:
            row = self._store.row(
                "SELECT MIN(id) AS id FROM "
                "(SELECT id FROM pending_update ORDER BY id DESC LIMIT ?)",
                (-offset,),
            )
            offset = 0 if row is None or row["id"] is None else int(row["id"])
        if offset > 0:
            self._store.execute("DELETE FROM pending_update WHERE id < ?", (offset,))
        return offset

    def waiting(self, start: int, limit: int) -> list[Json]:
        """Updates from that id on, as the Bot API shows them."""
        rows = self._store.rows(
            "SELECT * FROM pending_update WHERE id >= ? ORDER BY id LIMIT ?", (start, limit)
        )
        return [{"update_id": row["id"], row["kind"]: json.loads(row["content"])} for row in rows]

    async def fetch(self, offset: int, limit: int, timeout: float) -> list[Json]:
        """What getUpdates answers, waiting up to `timeout` machine seconds for the first.

        Raises:
            Refusal: 409 while a webhook is set, or when another call took over.
        """
        if self.webhook is not None:
            raise conflict(
                "can't use getUpdates method while webhook is active; "
                "use deleteWebhook to delete the webhook first"
            )
        if not 1 <= limit <= 100:
            limit = 100
        self._end_poll(
            conflict(
                "terminated by other getUpdates request; "
                "make sure that only one bot instance is running"
            )
        )
        start = self.confirm(offset)
        poll = self._poll = _Poll()
        try:
            return await self._wait(poll, start, limit, min(max(timeout, 0.0), _MOST_WAIT))
        finally:
            if self._poll is poll:
                self._poll = None

    async def arrival(self) -> None:
        """Return when something may have been queued or changed since this call."""
        event = asyncio.Event()
        self._sleepers.add(event)
        try:
            await event.wait()
        finally:
            self._sleepers.discard(event)

    @property
    def is_polled(self) -> bool:
        """Whether a getUpdates call waits at this moment."""
        return self._poll is not None

    def close(self) -> None:
        """Let a waiting call answer at once; nothing is confirmed by it."""
        self._closed = True
        self._wake()

    async def _wait(self, poll: _Poll, start: int, limit: int, seconds: float) -> list[Json]:
        loop = asyncio.get_running_loop()
        end = loop.time() + seconds
        # Registered before the first look: what comes between a look and the wait wakes it.
        arrived = asyncio.Event()
        self._sleepers.add(arrived)
        try:
            while True:
                arrived.clear()
                if poll.refusal is not None:
                    raise poll.refusal
                found = self.waiting(start, limit)
                left = end - loop.time()
                if found or left <= 0 or self._closed:
                    return found
                with suppress(TimeoutError):
                    await asyncio.wait_for(arrived.wait(), left)
        finally:
            self._sleepers.discard(arrived)

    def _end_poll(self, refusal: Refusal) -> None:
        if self._poll is not None:
            self._poll.refusal = refusal
            self._poll = None
            self._wake()

    def _wake(self) -> None:
        for event in self._sleepers:
            event.set()
