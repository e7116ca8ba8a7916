"""The client of the Bot API, made from the settings.

Two ways in which it differs from the library's own: updates come raw, so that one which the
library cannot read does not hide the others, and a server on this machine is never sought
through a proxy.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, cast
from urllib.parse import urlsplit

from telegram import Bot
from telegram.request import HTTPXRequest

#: The kinds of update that the bot uses, as the platform names them.
ALLOWED_UPDATES: Final = ("message", "edited_message", "callback_query", "my_chat_member")

_LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})
_CONNECT_SECONDS: Final = 5.0
_POOL_SECONDS: Final = 5.0
_ANSWER_SECONDS: Final = 10.0
_UPLOAD_SECONDS: Final = 30.0


class Client(Bot):
    """The library's bot with raw updates."""

    async def raw_updates(
        self, offset: int | None, wait_seconds: float, allowed: Sequence[str] = ALLOWED_UPDATES
    ) -> list[dict[str, Any]]:
        """Updates from `offset` on, as the platform wrote them; waits for the first.

        Asking with an offset confirms all updates before it. Raises the library's errors.
        """
        data: dict[str, Any] = {
            "timeout": int(wait_seconds),
            "allowed_updates": list(allowed),
            "limit": 100,
        }
        if offset is not None:
            data["offset"] = offset
        # The platform answers at the latest after `wait_seconds`; the rest is for the way.
        answer = await self._post("getUpdates", data, read_timeout=wait_seconds + _ANSWER_SECONDS)
        return cast("list[dict[str, Any]]", answer)


def make_client(token: str, server: str) -> Client:
    """A client for the bot of this token at a Bot API server (scheme, host and port)."""
    outside = urlsplit(server).hostname not in _LOOPBACK
    return Client(
        token,
        base_url=f"{server}/bot",
        base_file_url=f"{server}/file/bot",
        request=_request(64, trust_env=outside),
        get_updates_request=_request(1, trust_env=outside),
    )


def _request(connections: int, *, trust_env: bool) -> HTTPXRequest:
    return HTTPXRequest(
        connection_pool_size=connections,
        connect_timeout=_CONNECT_SECONDS,
        read_timeout=_ANSWER_SECONDS,
        write_timeout=_ANSWER_SECONDS,
        pool_timeout=_POOL_SECONDS,
        media_write_timeout=_UPLOAD_SECONDS,
        httpx_kwargs={"trust_env": trust_env},
    )
