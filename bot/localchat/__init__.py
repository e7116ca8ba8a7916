"""A chat of invented people on this machine, which speaks the Bot API to the bot.

`LocalChat` is the server, `PersonClock` what it needs, `Visitor` a person as a program for
tests; `Fault` and `FloodLimits` are bad moments and limits on order.
"""

from bot.localchat.faults import Call, Calls, Fault
from bot.localchat.limiter import FloodLimits
from bot.localchat.people import NotPossibleError, People
from bot.localchat.ports import STEPS, PersonClock
from bot.localchat.server import LocalChat
from bot.localchat.store import FolderInUseError, NewerFolderError
from bot.localchat.visitor import RefusedError, Visitor

__all__ = [
    "STEPS",
    "Call",
    "Calls",
    "Fault",
    "FloodLimits",
    "FolderInUseError",
    "LocalChat",
    "NewerFolderError",
    "NotPossibleError",
    "People",
    "PersonClock",
    "RefusedError",
    "Visitor",
]
