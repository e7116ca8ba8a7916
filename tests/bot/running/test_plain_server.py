"""A Bot API server that knows only what is needed: the bot starts, answers and goes on."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from pathlib import Path
from typing import Any

from aiohttp import web

BOT = {"id": 7, "is_bot": True, "first_name": "Cuffbell", "username": "a_bot"}
CHAT = {"id": 4711, "type": "private", "first_name": "Hollis"}


def message(number: int, text: str) -> dict[str, Any]:
    sender = {"id": 4711, "is_bot": False, "first_name": "Hollis"}
    return {"message_id": number, "date": 1, "chat": CHAT, "from": sender, "text": text}


class PlainServer:
    """getMe, getUpdates and sendMessage; everything else is unknown (404)."""

    def __init__(self) -> None:
        self.waiting = [{"update_id": 10, "message": message(1, "hello")}]
        self.sent: list[str] = []

    async def answer(self, request: web.Request) -> web.Response:
        method = request.match_info["method"]
        fields = await request.post()
        if method == "getMe":
            return web.json_response({"ok": True, "result": BOT})
        if method == "getUpdates":
            return await self._updates(int(str(fields.get("offset", 0))))
        if method == "sendMessage":
            self.sent.append(str(fields["text"]))
            return web.json_response({"ok": True, "result": message(100, "sent")})
        return web.json_response(
            {"ok": False, "error_code": 404, "description": "Not Found"}, status=404
        )

    async def _updates(self, offset: int) -> web.Response:
        found = [u for u in self.waiting if int(str(u["update_id"])) >= offset]
        if not found:
            await asyncio.sleep(0.2)
        return web.json_response({"ok": True, "result": found})


async def test_a_server_without_webhooks_menus_and_typing_is_enough(tmp_path: Path) -> None:
    server = PlainServer()
    app = web.Application()
    app.router.add_route("*", "/bot7:secret/{method}", server.answer)
    runner = web.AppRunner(app)
    await runner.setup()
    site = web.TCPSite(runner, "127.0.0.1", 0)
    await site.start()
    address = f"http://127.0.0.1:{runner.addresses[0][1]}"
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "bot.cli", "run"),
        env=os.environ
        | {
            "CUFFBELL_TELEGRAM_TOKEN": "7:secret",
            "CUFFBELL_TELEGRAM_API": address,
            "CUFFBELL_DATABASE": f"sqlite:///{tmp_path / 'cuffbell.db'}",
        },
        stderr=asyncio.subprocess.DEVNULL,
    )

    async with asyncio.timeout(30):
        while not server.sent:
            assert process.returncode is None
            await asyncio.sleep(0.02)
    process.send_signal(signal.SIGTERM)
    status = await process.wait()
    await runner.cleanup()

    assert "by invitation only" in server.sent[0]
    assert status == 0
