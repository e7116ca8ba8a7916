"""The words of the report: keys of one language and numbers, as they are printed."""

from __future__ import annotations

from fractions import Fraction

from bot.wording.catalogue import Wording
from domain.averaging import printed
from domain.messages import Line, Value, line


class Saying:
    """The words of a language, by key."""

    def __init__(self, words: Wording) -> None:
        self._words = words

    def __call__(self, key: str, **values: Value) -> str:
        return self._words.plain(line(key, **values))

    def line(self, one: Line) -> str:
        return self._words.plain(one)

    def all(self, lines: tuple[Line, ...]) -> list[str]:
        return [self._words.plain(one) for one in lines]

    def decimal(self, value: Fraction | None) -> str:
        if value is None:
            return self("report.nothing")
        return self("report.decimal", value=printed(value))
