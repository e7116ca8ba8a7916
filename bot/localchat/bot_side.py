"""The bot's side over HTTP: `/bot<token>/<method>` and `/file/bot<token>/<path>`."""

from __future__ import annotations

import asyncio
import hmac
import logging
from time import monotonic
from typing import Any, Final

from aiohttp import web

from bot.localchat import parameters, refusals
from bot.localchat.exchange import Exchange
from bot.localchat.faults import Call, Calls, Fault, Faults
from bot.localchat.methods import METHODS
from bot.localchat.parameters import Parameters
from bot.localchat.refusals import Refusal

log: Final = logging.getLogger(__name__)


class BotSide:
    """Answers the bot's calls, with the faults that were ordered, and lists them."""

    def __init__(self, exchange: Exchange) -> None:
        self._exchange = exchange
        self.faults = Faults()
        self.calls = Calls()

    def routes(self) -> list[web.RouteDef]:
        """The paths under which a bot calls."""
        return [
            web.route("*", "/bot{token}/{method}", self._call),
            web.get("/file/bot{token}/{path:.+}", self._file),
        ]

    async def _call(self, request: web.Request) -> web.StreamResponse:
        method = request.match_info["method"]
        chat: int | None = None
        outcome = "ok"
        try:
            self._check_token(request)
            given = await parameters.read(request)
            chat = given.integer("chat_id")
            fault = self.faults.take(method, chat)
            if fault is not None:
                outcome = fault.value
                return await self._fail(request, method, given, fault)
            return web.json_response({"ok": True, "result": await self._run(method, given)})
        except Refusal as refusal:
            outcome = str(refusal)
            return web.json_response(refusal.body(), status=refusal.code)
        except asyncio.CancelledError:
            if outcome == "ok":
                outcome = "client gone"
            raise
        except Exception:
            # A bot must be able to go on; the traceback shows code, never what was said.
            log.exception("call failed", extra={"action": "localchat"})
            broken = refusals.server_error()
            outcome = str(broken)
            return web.json_response(broken.body(), status=broken.code)
        finally:
            self.calls.append(
                Call(method=method, chat=chat, machine_time=monotonic(), outcome=outcome)
            )

    async def _run(self, method: str, given: Parameters) -> Any:
        found = METHODS.get(method.lower())
        if found is None:
            raise refusals.method_not_found()
        return await found(self._exchange, given)

    async def _fail(
        self, request: web.Request, method: str, given: Parameters, fault: Fault
    ) -> web.StreamResponse:
        match fault:
            case Fault.SERVER_ERROR:
                raise refusals.server_error()
            case Fault.FLOOD:
                raise refusals.flood(1)
            case Fault.DROP_BEFORE_EFFECT:
                pass
            case Fault.DROP_AFTER_EFFECT:
                await self._run(method, given)
            case Fault.TIMEOUT:
                # A client that gives up cancels the call.
                await self._exchange.closing.wait()
        if request.transport is not None:
            request.transport.abort()
        return web.Response()

    async def _file(self, request: web.Request) -> web.StreamResponse:
        try:
            self._check_token(request)
        except Refusal as refusal:
            return web.json_response(refusal.body(), status=refusal.code)
        file = self._exchange.files.by_path(request.match_info["path"])
        if file is None:
            body = {"ok": False, "error_code": 404, "description": "Not Found"}
            return web.json_response(body, status=404)
        return web.Response(
            body=self._exchange.files.content(file), content_type="application/octet-stream"
        )

    def _check_token(self, request: web.Request) -> None:
        given = request.match_info["token"].encode()
        if not hmac.compare_digest(given, self._exchange.token.encode()):
            raise refusals.unauthorized()
