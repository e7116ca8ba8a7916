"""What the Bot API answers when it does not do what it was asked.

Codes and texts are those of the open HTTP API, so that a bot meets here what it will meet
on the platform. Texts: observed behaviour of the public server (from memory).
"""

from __future__ import annotations

from typing import Any


class Refusal(Exception):  # noqa: N818 - an answer, not a fault of ours
    """One refused call.

    Attributes:
        code: the `error_code`, also the HTTP status.
        description: the text after which client libraries choose their exception.
        retry_after: whole seconds of machine time to wait, for code 429 only.
    """

    def __init__(self, code: int, description: str, retry_after: int | None = None) -> None:
        super().__init__(f"{code} {description}")
        self.code = code
        self.description = description
        self.retry_after = retry_after

    def body(self) -> dict[str, Any]:
        """The JSON answer."""
        answer: dict[str, Any] = {
            "ok": False,
            "error_code": self.code,
            "description": self.description,
        }
        if self.retry_after is not None:
            answer["parameters"] = {"retry_after": self.retry_after}
        return answer


def bad_request(reason: str) -> Refusal:
    """400: the call can never succeed as it stands."""
    return Refusal(400, f"Bad Request: {reason}")


def unauthorized() -> Refusal:
    """401: the token is not the one this server was started with."""
    return Refusal(401, "Unauthorized")


def forbidden(reason: str) -> Refusal:
    """403: the person does not want, or can no longer get, messages from the bot."""
    return Refusal(403, f"Forbidden: {reason}")


def method_not_found() -> Refusal:
    """404: this server does not know the method."""
    return Refusal(404, "Not Found: method not found")


def conflict(reason: str) -> Refusal:
    """409: two ways of fetching updates are in each other's way."""
    return Refusal(409, f"Conflict: {reason}")


def too_large() -> Refusal:
    """413: the upload is bigger than a bot may send."""
    return Refusal(413, "Request Entity Too Large")


def flood(retry_after: int) -> Refusal:
    """429: wait that many seconds of machine time."""
    return Refusal(429, f"Too Many Requests: retry after {retry_after}", retry_after)


def server_error() -> Refusal:
    """500: the platform had a bad moment."""
    return Refusal(500, "Internal Server Error")
