"""What must hold of sending: in order, alarms first, as often as it must be, never not at all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from storage.messages import Claim
from tests.simulation.books import ALARM, Books, Row
from tests.simulation.platform import Arrived
from tests.simulation.verdict import Verdict
from tests.simulation.watching import Change

if TYPE_CHECKING:
    from tests.simulation.world import World

_LONG_AGO: Final = datetime(2000, 1, 1, tzinfo=UTC)
#: An alarm that nothing hinders reaches its chat in this time.
_PROMPTLY: Final = timedelta(seconds=40)
#: The longest time for which a lost answer, or being too fast, holds up what comes behind.
_TROUBLE: Final = timedelta(minutes=3)
#: A claim may have been on its way when the alarm was stored, or a lease ran out.
_UNDER_WAY: Final = timedelta(milliseconds=10)
#: One message a second is allowed in each chat.
_PAUSE: Final = timedelta(seconds=2)


class SendingRules:
    """Judges each message on its way."""

    def __init__(self, world: World, verdict: Verdict) -> None:
        self._world = world
        self._verdict = verdict
        self._last: dict[int, datetime] = {}  #: when a chat last got something
        self._held: set[tuple[int, str]] = set()  #: lanes that a worker has claimed
        self._troubled: dict[int, datetime] = {}  #: when an answer to a chat was last lost

    @property
    def books(self) -> Books:
        return self._world.books

    def demand(self, holds: object, what: str) -> None:
        self._verdict.demand(holds, what)

    def claimed(self, claims: Sequence[Claim]) -> None:
        """Workers have taken these lanes: no alarm elsewhere was left for a lesser message."""
        self._held.update((claim.chat, claim.lane) for claim in claims)
        lesser = [claim for claim in claims if claim.rank > ALARM]
        if not lesser:
            return
        for chat, rows in self.books.waiting.items():
            heads = [row for row in rows.values() if row.lane == lesser[0].lane]
            head = min(heads, key=lambda row: (row.rank, row.id), default=None)
            if head is None or head.rank != ALARM or (chat, head.lane) in self._held:
                continue
            if self._world.now() - head.queued_at < _UNDER_WAY:
                continue
            self.demand(not self._may_write(chat), f"{shortly(head)} waits behind lesser ones")

    def given_back(self, claim: Claim) -> None:
        self._held.discard((claim.chat, claim.lane))

    def ended(self) -> None:
        """The process is gone, and with it what it held."""
        self._held.clear()
        self.concerned()
        for rows in self.books.waiting.values():
            for row in rows.values():
                row.began = False

    def began(self, id: int, until: datetime) -> None:
        """A message is about to be sent by whom it is lent to until then: nothing more urgent
        waits in its lane."""
        row = self.books.rows.get(id)
        self.demand(row, f"message {id} is sent before what it tells of is stored")
        if row is None:
            return
        twice = row.began and row.until is not None and self._world.now() < row.until
        self.demand(not twice, f"sent by two at a time: {shortly(row)}")
        row.began, row.until = True, until
        for other in self.books.waiting[row.chat].values():
            if other.lane == row.lane:
                self.demand(
                    (row.rank, row.id) <= (other.rank, other.id),
                    f"{shortly(row)} goes before {shortly(other)}",
                )

    def concerned(self, chat: int | None = None) -> None:
        """A crash, or an answer that was lost: what was under way may be sent again."""
        for id, rows in self.books.waiting.items():
            if chat is None or id == chat:
                self._troubled[id] = self._world.now()
                for row in rows.values():
                    row.concerned += row.began

    def arrived(self, arrived: Arrived) -> None:
        """A message has reached a chat."""
        row = self._row_of(arrived)
        self.demand(row, f"nothing of this is stored: {arrived.text!r}")
        if row is None:
            return
        row.effects += 1
        self._last[row.chat] = self._world.now()
        self._verdict.seen["message"] += 1
        self.demand(row.effects <= 1 + row.concerned, f"sent {row.effects} times: {shortly(row)}")
        if row.rank == ALARM and row.effects == 1 and not row.concerned:
            undisturbed = self._world.last_trouble + _TROUBLE < row.queued_at
            late = self._world.now() - row.queued_at > _PROMPTLY
            self.demand(not (undisturbed and late), f"an alarm was late: {shortly(row)}")

    def _may_write(self, chat: int) -> bool:
        """Whether the chat has had its pause, and no lost answer holds it up."""
        now = self._world.now()
        paused = now - self._last.get(chat, _LONG_AGO) > _PAUSE
        return paused and now - self._troubled.get(chat, _LONG_AGO) > _TROUBLE

    def _row_of(self, arrived: Arrived) -> Row | None:
        """The row that is under way: of one chat there is at most one of texts, one of files."""
        for row in self.books.may_arrive(arrived.chat):
            same = arrived.text in {row.html, row.plain} or row.has_file == arrived.has_file
            if row.began and same and arrived.has_file == row.has_file:
                return row
        return None

    def refused(self, chat: int) -> None:
        """The platform refuses what is under way to this chat for good; it has had its second."""
        self._last[chat] = self._world.now()
        for row in self.books.may_arrive(chat):
            row.refused = row.refused or row.began

    def settled(self, changes: list[Change]) -> None:
        """What is noted as sent was sent, what was given up refused, and what was recalled
        was for somebody who may not be told any more."""
        for table, what, values in changes:
            if table == "outbox" and what == "update of state":
                row = self.books.rows[values[0]]
                if values[1] == "recalled":
                    link = self.books.links.get((str(row.about), str(row.to)))
                    ended = link is not None and link.consent != "agreed"
                    self._verdict.seen["recalled"] += 1
                    self.demand(ended, f"recalled from whoever may be told: {shortly(row)}")
                    continue
                self._held.discard((row.chat, row.lane))
                told = row.effects >= 1 if values[1] == "sent" else row.refused
                self.demand(told, f"noted as {values[1]} and never was: {shortly(row)}")

    def confirmed(self, updates: list[int]) -> None:
        """The platform has been told to forget these."""
        lost = [update for update in updates if update not in self.books.handled]
        self.demand(not lost, f"confirmed before they were handled: {lost}")

    def at_rest(self, pending: Iterable[Any]) -> None:
        left = [row for rows in self.books.waiting.values() for row in rows.values()]
        self.demand(not left, f"never sent: {[shortly(row) for row in left[:3]]}")
        self.demand(not list(pending), "updates were never fetched")


def shortly(row: Row) -> str:
    to = row.to or "the patient"
    return f"message {row.id} of rank {row.rank} to {to} about {row.about}: {row.plain[:60]!r}"
