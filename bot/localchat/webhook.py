"""Delivery of updates to a webhook: one at a time, in order, again until it is taken.

Waits are machine seconds.
"""

from __future__ import annotations

import asyncio
import logging
from time import time
from typing import Any, Final

import aiohttp

from bot.localchat.updates import Updates

log: Final = logging.getLogger(__name__)

_TIMEOUT: Final = aiohttp.ClientTimeout(total=60)


class WebhookDelivery:
    """Posts what waits whenever a webhook is set."""

    def __init__(
        self, updates: Updates, *, first_pause_seconds: float, most_pause_seconds: float = 30.0
    ) -> None:
        self._updates = updates
        self._first_pause = first_pause_seconds
        self._most_pause = most_pause_seconds

    async def run(self) -> None:
        """Deliver until cancelled."""
        pause = self._first_pause
        async with aiohttp.ClientSession(timeout=_TIMEOUT) as session:
            while True:
                webhook = self._updates.webhook
                waiting = self._updates.waiting(0, 1) if webhook is not None else []
                if webhook is None or not waiting:
                    await self._updates.arrival()
                    continue
                problem = await _post(session, webhook, waiting[0])
                if self._updates.webhook is None or problem is None:
                    pause = self._first_pause
                    if problem is None:
                        self._updates.confirm(waiting[0]["update_id"] + 1)
                    continue
                self._updates.note_webhook_error(int(time()), problem)
                await asyncio.sleep(pause)
                pause = min(pause * 2, self._most_pause)


async def _post(
    session: aiohttp.ClientSession, webhook: dict[str, Any], update: dict[str, Any]
) -> str | None:
    """None when the update was taken, else what went wrong."""
    headers = {}
    if webhook.get("secret"):
        headers["X-Telegram-Bot-Api-Secret-Token"] = webhook["secret"]
    try:
        async with session.post(webhook["url"], json=update, headers=headers) as answer:
            if 200 <= answer.status < 300:
                return None
            return f"Wrong response from the webhook: {answer.status} {answer.reason}"
    except (aiohttp.ClientError, TimeoutError):
        return "Connection failed"
