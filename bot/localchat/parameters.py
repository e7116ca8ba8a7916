"""The parameters of a call, from the query, JSON, a form or multipart.

Clients send numbers, flags and objects as text in forms and as themselves in JSON; both
read the same here. Wrong types are refused as the platform does.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import isfinite
from typing import Any

from aiohttp import web

from bot.localchat.files import Upload
from bot.localchat.refusals import bad_request, too_large


class Parameters:
    """What a call was given. Names that are absent or empty read as None."""

    def __init__(self, values: Mapping[str, Any], uploads: Mapping[str, Upload]) -> None:
        self._values = values
        self._uploads = uploads

    def text(self, name: str) -> str | None:
        """A text as it was sent.

        Raises:
            Refusal: 400 for half a character, which JSON can carry and UTF-8 cannot.
        """
        value = self._values.get(name)
        if value is None:
            return None
        text = value if isinstance(value, str) else json.dumps(value)
        if any("\ud800" <= character <= "\udfff" for character in text):
            raise bad_request("strings must be encoded in UTF-8")
        return text

    def integer(self, name: str) -> int | None:
        """A whole number of 64 bits; None for anything else, as the platform reads it."""
        value = self._values.get(name)
        if isinstance(value, bool) or value is None:
            return None
        try:
            number = int(str(value))
        except ValueError:
            return None
        return number if abs(number) < 2**63 else None

    def number(self, name: str) -> float | None:
        """A finite number with or without a fraction; None for anything else."""
        try:
            number = float(str(self._values.get(name)))
        except ValueError:
            return None
        return number if isfinite(number) else None

    def flag(self, name: str) -> bool:
        """True for true, "true", "yes" and 1."""
        return str(self._values.get(name)).lower() in ("true", "yes", "1")

    def json(self, name: str) -> Any:
        """An object or list, given as itself or as text.

        Raises:
            Refusal: 400 when the text is not JSON.
        """
        value = self._values.get(name)
        if not isinstance(value, str):
            return value
        if not value:
            return None
        try:
            return json.loads(value)
        except ValueError as error:
            raise bad_request(f"can't parse {name.replace('_', ' ')} JSON object") from error

    def upload(self, name: str) -> Upload | None:
        """The bytes sent under that name or, by attach://, under another one."""
        if name in self._uploads:
            return self._uploads[name]
        value = self._values.get(name)
        if isinstance(value, str) and value.startswith("attach://"):
            return self._uploads.get(value.removeprefix("attach://"))
        return None


async def read(request: web.Request) -> Parameters:
    """All parameters of a request.

    Raises:
        Refusal: 400 for a body that is not what its type says, 413 for one too big.
    """
    values: dict[str, Any] = dict(request.query)
    uploads: dict[str, Upload] = {}
    if request.method == "POST":
        try:
            if request.content_type == "application/json":
                values |= await _json_body(request)
            else:
                await _form_body(request, values, uploads)
        except web.HTTPRequestEntityTooLarge as error:
            raise too_large() from error
    return Parameters(values, uploads)


async def _json_body(request: web.Request) -> dict[str, Any]:
    try:
        body = json.loads(await request.read() or b"{}")
    except ValueError as error:
        raise bad_request("can't parse JSON object") from error
    if not isinstance(body, dict):
        raise bad_request("can't parse JSON object")
    return body


async def _form_body(
    request: web.Request, values: dict[str, Any], uploads: dict[str, Upload]
) -> None:
    try:
        form = await request.post()
    except ValueError as error:
        raise bad_request("can't parse the form") from error
    for name, field in form.items():
        if isinstance(field, web.FileField):
            with field.file as file:
                uploads[name] = Upload(
                    name=field.filename, content=file.read(), mime=field.content_type
                )
        elif isinstance(field, str):
            values[name] = field
