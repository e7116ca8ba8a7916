"""What somebody did, as they themselves know it: the truth beside which the bot is judged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from tests.simulation.phrases import Pair


class Kind(StrEnum):
    SAYS = "says"
    EDITS = "edits"
    TAKES_BACK = "takes back"  #: the last reading, by command
    PRESSES = "presses"
    CLOSES = "closes"  #: blocks the bot
    OPENS = "opens"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One thing that a person sent to the bot."""

    kind: Kind
    who: str  #: the person's name
    chat: int
    at: datetime
    text: str = ""
    message: int | None = None  #: the number of the message that was written or edited
    pairs: tuple[Pair, ...] | None = None  #: the readings in it; None: whatever it may hold
    danger: bool = False  #: plain words for a sign of the writer's that cannot wait
    red: bool = False  #: and that sign alone is an emergency, whatever the numbers
    for_either: bool = False  #: the same, of one of two in a chat, and not said of whom
    reports: str | None = None  #: of which patient a contact tells such a sign
    may_end: bool = False  #: says that somebody is there, which may end an alarm
    do: str = ""  #: what the pressed button does
    about: str | None = None  #: and of which patient

    def __str__(self) -> str:
        what = self.do if self.kind is Kind.PRESSES else repr(self.text) if self.text else ""
        return f"{self.at:%Y-%m-%d %H:%M:%S} {self.who} {self.kind} {what}".rstrip()
