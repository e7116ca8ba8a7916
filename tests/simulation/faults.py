"""What goes wrong, and when: thrown from one seeded source, at rates that a world chooses.

Every question here is a step at which something may happen. While `calm` holds nothing does,
so that a world can settle and be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from random import Random
from typing import Final


class Blow(StrEnum):
    """What a step may suffer."""

    NONE = "none"
    CRASH_BEFORE = "crash before"
    CRASH_INSIDE = "crash inside"
    CRASH_AFTER = "crash after"
    BUSY = "database busy"
    LOST_BEFORE = "connection lost before it took effect"
    LOST_AFTER = "connection lost after it took effect"
    SILENT_BEFORE = "no answer, and no effect"
    SILENT_AFTER = "no answer, but the effect"
    FLOOD = "too many messages"
    BROKEN = "server error"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """How likely each step suffers, and how likely what is sent to the bot is muddled."""

    database: float = 0.0
    send: float = 0.0
    fetch: float = 0.0
    again: float = 0.0  #: an update that was given is given once more
    behind: float = 0.0  #: an update overtakes the one before it
    long: float = 0.1  #: of the outages: those that last for hours


CALM: Final = Rates()
STORMY: Final = Rates(database=0.004, send=0.05, fetch=0.01, again=0.03, behind=0.05)
#: A step in fifty breaks.
ROUGH: Final = Rates(database=0.02, send=0.05, fetch=0.02, again=0.05, behind=0.1)
#: Little breaks, but for long.
ABSENT: Final = Rates(database=0.0005, send=0.02, long=0.7)

_IN_DATABASE: Final = (Blow.CRASH_BEFORE, Blow.CRASH_INSIDE, Blow.CRASH_AFTER, Blow.BUSY)
_IN_SENDING: Final = (
    Blow.CRASH_BEFORE,
    Blow.CRASH_AFTER,
    Blow.LOST_BEFORE,
    Blow.LOST_AFTER,
    Blow.SILENT_BEFORE,
    Blow.SILENT_AFTER,
    Blow.FLOOD,
    Blow.BROKEN,
)


class Faults:
    """The faults of one world."""

    def __init__(self, dice: Random, rates: Rates) -> None:
        self._dice = dice
        self._rates = rates
        self.calm = False
        self.struck = 0

    def in_database(self) -> Blow:
        return self._thrown(self._rates.database, _IN_DATABASE)

    def in_sending(self) -> Blow:
        return self._thrown(self._rates.send, _IN_SENDING)

    def in_fetching(self) -> Blow:
        return self._thrown(self._rates.fetch, (Blow.CRASH_AFTER, Blow.BROKEN, Blow.LOST_AFTER))

    def comes_again(self) -> bool:
        return not self.calm and self._dice.random() < self._rates.again

    def overtakes(self) -> bool:
        return not self.calm and self._dice.random() < self._rates.behind

    def statement(self) -> int:
        """At which statement a transaction breaks off."""
        return self._dice.randint(1, 25)

    def seconds(self, shortest: float, longest: float) -> float:
        return self._dice.uniform(shortest, longest)

    def downtime(self) -> float:
        """Seconds until the host starts the process again: mostly at once, rarely hours."""
        if self._dice.random() >= self._rates.long:
            return self._dice.uniform(1, 20)
        return self._dice.choice((300.0, 1800.0, 4 * 3600.0, 14 * 3600.0))

    def _thrown(self, rate: float, blows: tuple[Blow, ...]) -> Blow:
        if self.calm or not rate or self._dice.random() >= rate:
            return Blow.NONE
        self.struck += 1
        return self._dice.choice(blows)
