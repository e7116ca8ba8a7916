"""A property that is worked out when it is first asked for, and then kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

Of = TypeVar("Of")
Value = TypeVar("Value")


class once(Generic[Of, Value]):  # noqa: N801 - reads as the decorator that it is
    """As `functools.cached_property`, for objects that only one thread sees.

    That one takes a lock in Python 3.11, which costs more than most of what is kept.
    """

    def __init__(self, work_out: Callable[[Of], Value]) -> None:
        self._work_out = work_out
        self._name = work_out.__name__
        self.__doc__ = work_out.__doc__

    def __get__(self, of: Of, kind: type[Of]) -> Value:
        value: Value = self._work_out(of)
        of.__dict__[self._name] = value  # found before this descriptor from now on
        return value
