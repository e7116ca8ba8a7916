"""What must hold after every step, judged by what is stored and by what people receive.

Nothing here knows how the program works inside: only rows of the database, messages that
reach a chat, and what the people themselves did (`acts.py`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from tests.simulation.acts import Kind
from tests.simulation.alarm_rules import AlarmRules
from tests.simulation.books import ALARM, Books, Row, Step, moment_of
from tests.simulation.sending_rules import SendingRules
from tests.simulation.verdict import Verdict
from tests.simulation.watching import Change, text_of

if TYPE_CHECKING:
    from tests.simulation.world import World

#: The platform's dates are whole seconds.
_SECOND: Final = timedelta(seconds=1)
_NUMBERS: Final = re.compile(r"\b\d{2,3}\s*/\s*\d{2,3}\b")
#: So long after a reading it may be called mistyped and be replaced by the next.
_CORRECTED_WITHIN: Final = timedelta(hours=13)
#: Work that is no answer to what somebody sent: it changes no reading.
_NOBODYS: Final = frozenset({"fire_due", "delivery_failed"})


class Invariants:
    """The judge of one world: of alarms, of sending, and here of all the rest."""

    def __init__(self, world: World, verdict: Verdict) -> None:
        self._world = world
        self._verdict = verdict
        self.alarms = AlarmRules(world, verdict)
        self.sending = SendingRules(world, verdict)

    @property
    def books(self) -> Books:
        return self._world.books

    def demand(self, holds: object, what: str) -> None:
        self._verdict.demand(holds, what)

    # --- a transaction has been committed

    def committed(self, step: Step, changes: list[Change]) -> None:
        """Judge what a transaction changed; the books still hold what was before."""
        books = self.books
        before_open = {id: one.opened_at for id, one in books.people.items() if one.alarm_open}
        was_agreed = {pair for pair, link in books.links.items() if link.consent == "agreed"}
        self._once(step, changes)
        books.take(changes, self._world.now(), step)
        inserted = [v[0] for t, what, v in changes if t == "outbox" and what == "insert"]
        new = [books.rows[id] for id in inserted]
        self._nothing_unhandled(changes)
        self._not_in_the_future(changes)
        self._readings(step, changes, before_open)
        for row in new:
            self._may_be_told(row, was_agreed)
        self.alarms.committed(step, changes, new, before_open)
        self.sending.settled(changes)

    def _once(self, step: Step, changes: list[Change]) -> None:
        if step.update is None:
            return
        if step.update in self.books.handled:
            self.demand(not changes, f"update {step.update} had its effect twice: {step}")
            self._verdict.seen["repeated update"] += 1
            return
        seen = [values[1] for table, _, values in changes if table == "seen_updates"]
        self.demand(seen == [step.update], f"update {step.update} was not noted: {step}")

    def _nothing_unhandled(self, changes: list[Change]) -> None:
        for table, _, values in changes:
            self.demand(table != "unhandled", f"an event could not be handled: {values}")

    def _not_in_the_future(self, changes: list[Change]) -> None:
        latest = text_of(self._world.now() + _SECOND)
        for table, what, values in changes:
            moments: Sequence[str] = ()
            if table == "readings" and what == "insert":
                moments = (values[4], values[7])
            elif table in {"notes", "seen_updates"}:
                moments = (values[2],)
            for moment in moments:
                self.demand(moment <= latest, f"{table} holds a moment to come: {values}")

    # --- readings

    def _readings(
        self, step: Step, changes: list[Change], before_open: dict[str, datetime | None]
    ) -> None:
        touched = [values for table, _, values in changes if table == "readings"]
        self.demand(not touched or step.name not in _NOBODYS, f"{step} changed {touched}")
        made = [v for table, what, v in changes if table == "readings" and what == "insert"]
        for values in made:
            twin = [k for k in self.books.kept.values() if k[1:5] == values[1:5]]
            self.demand(len(twin) <= 1, f"a reading is stored twice: {values} in {step}")
        act = step.act
        if act is None or act.pairs is None or step.update is None or not changes:
            return
        patient = self.books.patient_in(act.chat)
        if patient is None:
            return
        if act.kind is Kind.SAYS and (act.pairs or act.danger):
            stored = [(v[5], v[6]) for v in made]
            self.demand(sorted(stored) == sorted(act.pairs), f"{act}: stored were {stored}")
            self._verdict.seen["reading"] += len(act.pairs)
            old = [v[4] for v in made if moment_of(v[7]) - moment_of(v[4]) > _CORRECTED_WITHIN]
            self.demand(not old, f"{act}: stored as measured at {old}")
        elif act.kind is Kind.EDITS:
            self._verdict.seen["edit"] += 1
        elif act.kind is Kind.PRESSES:
            owned = [(v[1], v[5], v[6]) for v in made]
            wanted = [(act.about, *pair) for pair in act.pairs]
            self.demand(owned == wanted, f"{act} for {act.about}: stored were {owned}")
            self._verdict.seen["owned reading"] += len(act.pairs)
        # In an alarm a number that was called mistyped is replaced by the next.
        if act.kind is Kind.SAYS and (not made or patient not in before_open):
            gone = [v for t, w, v in changes if t == "readings" and w != "insert"]
            self.demand(not gone, f"{act}: readings were taken out: {gone}")

    # --- who may be told

    def _may_be_told(self, row: Row, was_agreed: set[tuple[str, str]]) -> None:
        books = self.books
        here = [id for id, one in books.people.items() if one.chat == row.chat]
        if not here:
            names = [one.name for one in books.people.values() if one.is_patient]
            told = [name for name in names if name in row.plain]
            self.demand(not told, f"a stranger reads of {told}: {row.plain!r}")
            self._verdict.seen["stranger"] += 1
            return
        if row.about is None or row.about in here:
            return
        pairs = [(row.about, person) for person in here]
        linked = [pair for pair in pairs if pair in books.links]
        self.demand(linked, f"told of a patient who is not theirs: {row.plain!r}")
        if any(pair in was_agreed or books.links[pair].consent == "agreed" for pair in linked):
            self._verdict.seen["told with consent"] += 1
            return
        self._verdict.seen["told without consent"] += 1
        harmless = row.rank != ALARM and not row.has_file and not _NUMBERS.search(row.plain)
        self.demand(harmless, f"told without consent: {row.plain!r}")
