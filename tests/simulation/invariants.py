"""What must hold after every step, judged by what is stored and by what people receive.

Nothing here knows how the program works inside: only rows of the database, messages that
reach a chat, and what the people themselves did (`acts.py`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from tests.simulation.acts import Act, Kind
from tests.simulation.books import ALARM, Books, Row, Step
from tests.simulation.platform import Arrived
from tests.simulation.watching import Change, text_of

if TYPE_CHECKING:
    from tests.simulation.world import World

#: An alarm that nothing hinders reaches its chat in this time.
_PROMPTLY: Final = timedelta(seconds=40)
#: The longest time for which a lost answer, or being too fast, holds up what comes behind.
_TROUBLE: Final = timedelta(minutes=3)
#: So many lesser messages may go before an alarm that waits: those already on their way.
_ON_THEIR_WAY: Final = 20
#: The platform's dates are whole seconds.
_SECOND: Final = timedelta(seconds=1)
#: These do not end an alarm, whoever presses them.
_NEVER_ENDS: Final = frozenset(
    {"slip", "ambulance", "helper", "cannot_phone", "see_to_it", "help_not_yet", "symptoms_yes"}
    | {"ready", "rested", "later", "skip"}
    | {"consent_yes", "consent_no", "consent_alarms", "consent_withdraw"}
)
#: Timers that belong to an alarm.
_OF_AN_ALARM: Final = ("severe.", "emergency.", "alarm.")
_NUMBERS: Final = re.compile(r"\b\d{2,3}\s*/\s*\d{2,3}\b")
#: In what contacts read when messages to the patient are refused.
_NOT_REACHED: Final = "are not delivered"
_DAY: Final = timedelta(hours=23)


class Invariants:
    """The judge of one world. `broken` is the first thing that did not hold."""

    def __init__(self, world: World) -> None:
        self._world = world
        self.broken: str | None = None
        self.seen: Counter[str] = Counter()  #: how often each kind of thing was judged
        self._emergency: dict[str, datetime] = {}  #: patients in one, and since when
        self._signs: dict[str, datetime] = {}  #: patients who told a red flag, and when
        self._last: dict[int, datetime] = {}  #: when a chat last got something
        self._spent: set[int] = set()

    @property
    def books(self) -> Books:
        return self._world.books

    def demand(self, holds: object, what: str) -> None:
        if not holds and self.broken is None:
            self.broken = what
            self._world.stop()

    # --- a transaction has been committed

    def committed(self, step: Step, changes: list[Change]) -> None:
        """Judge what a transaction changed; the books still hold what was before."""
        before_open = {id: one.opened_at for id, one in self.books.people.items() if one.alarm_open}
        was_agreed = {pair for pair, link in self.books.links.items() if link.consent == "agreed"}
        self._once(step, changes)
        self.books.take(changes, self._world.now())
        new = [
            self.books.rows[values[0]]
            for table, what, values in changes
            if table == "outbox" and what == "insert"
        ]
        self._nothing_unhandled(changes)
        self._not_in_the_future(changes)
        self._readings(step, changes)
        for row in new:
            self._may_be_told(row, was_agreed)
        if step.act is not None and step.update is not None and changes:
            self._danger_is_answered(step.act, new)
        self._failures(changes, new)
        for person, opened in before_open.items():
            if not self.books.people[person].alarm_open:
                self._ended(person, opened, step, new)
        if changes and any(table == "timers" for table, _, _ in changes):
            self._no_timer_of_an_ended_alarm()

    def _once(self, step: Step, changes: list[Change]) -> None:
        if step.update is None:
            return
        if step.update in self.books.handled:
            self.demand(not changes, f"update {step.update} had its effect twice: {step}")
            self.seen["repeated update"] += 1
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

    def _readings(self, step: Step, changes: list[Change]) -> None:
        made = [v for table, what, v in changes if table == "readings" and what == "insert"]
        for values in made:
            twin = [k for k in self.books.kept.values() if k[1:5] == values[1:5]]
            self.demand(len(twin) <= 1, f"a reading is stored twice: {values} in {step}")
        act = step.act
        if act is None or act.pairs is None or step.update is None or not changes:
            return
        if self.books.patient_in(act.chat) is None:
            return
        if act.kind is Kind.SAYS and (act.pairs or act.danger):
            stored = [(v[5], v[6]) for v in made]
            self.demand(sorted(stored) == sorted(act.pairs), f"{act}: stored were {stored}")
            self.seen["reading"] += len(act.pairs)
        elif act.kind is Kind.EDITS and act.message not in self._spent:
            self.seen["edit"] += 1
        if act.kind is Kind.SAYS and not made:
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
            self.seen["stranger"] += 1
            return
        if row.about is None or row.about in here:
            return
        pairs = [(row.about, person) for person in here]
        linked = [pair for pair in pairs if pair in books.links]
        self.demand(linked, f"told of a patient who is not theirs: {row.plain!r}")
        if any(pair in was_agreed or books.links[pair].consent == "agreed" for pair in linked):
            self.seen["told with consent"] += 1
            return
        self.seen["told without consent"] += 1
        harmless = row.rank != ALARM and not row.has_file and not _NUMBERS.search(row.plain)
        self.demand(harmless, f"told without consent: {row.plain!r}")

    # --- danger

    def _danger_is_answered(self, act: Act, new: list[Row]) -> None:
        patient = self.books.patient_in(act.chat) if act.danger else act.reports
        if patient is None:
            return
        if act.reports and act.reports not in {
            p
            for p, c in self.books.links
            if self.books.people[c].chat == act.chat and c in self.books.agreed(p)
        }:
            return
        self.seen["danger"] += 1
        alarms = [row for row in new if row.rank == ALARM and row.about == patient]
        own = self.books.people[patient].chat
        self.demand(any(row.chat == own for row in alarms), f"the patient is not answered: {act}")
        already = set()
        if patient in self._emergency:
            already = self._told_since(patient, self._emergency[patient])
        for contact in self.books.agreed(patient, "carer"):
            chat = self.books.people[contact].chat
            if act.chat == chat:
                continue
            called = chat in already or any(row.chat == chat for row in alarms)
            self.demand(called, f"{contact} is not called: {act}")
        self._emergency.setdefault(patient, self._world.now())
        if act.red:
            self._signs.setdefault(patient, self._world.now())

    def _told_since(self, patient: str, since: datetime) -> set[int]:
        """Chats that alarms about the patient were queued for."""
        return {
            row.chat
            for row in self.books.rows.values()
            if row.about == patient and row.rank == ALARM and row.queued_at >= since
        }

    def _failures(self, changes: list[Change], new: list[Row]) -> None:
        """An alarm that cannot be delivered is told to those who can act."""
        for table, what, values in changes:
            if table != "outbox" or what != "update of state" or values[1] != "failed":
                continue
            row = self.books.rows[values[0]]
            someone = self.books.people.get(row.about or "")
            if row.rank != ALARM or someone is None or not someone.alarm_open:
                continue
            self.seen["failed alarm"] += 1
            opened = someone.opened_at
            if row.to is None:
                carers = self.books.agreed(str(row.about), "carer")
                wanted = {self.books.people[c].chat for c in carers}
                told = {  # once in an alarm is enough
                    r.chat
                    for r in self.books.rows.values()
                    if r.about == row.about
                    and r.to is not None
                    and _NOT_REACHED in r.plain
                    and (opened is None or r.queued_at >= opened)
                }
                self.demand(wanted <= told, f"nobody learns that {someone.name} is not reached")
                continue
            name = self.books.people[row.to].name
            self.demand(
                any(
                    r.chat == someone.chat and name in r.plain and r.rank == ALARM
                    for r in self.books.rows.values()
                    if opened is None or r.queued_at >= opened
                ),
                f"{someone.name} does not learn that {name} is not reached",
            )

    def _ended(self, person: str, opened: datetime | None, step: Step, new: list[Row]) -> None:
        """An alarm is over: by whom, and do those who were told learn it?"""
        self.seen["alarm ended"] += 1
        act, now = step.act, self._world.now()
        someone = self.books.people[person]
        since = opened or now
        self._emergency.pop(person, None)
        signs = self._signs.pop(person, None)
        told = self._told_since(person, since)
        if step.name == "fire_due":
            self.demand(now - since >= _DAY, f"a timer ended {person}'s alarm of {since}")
            carers = {self.books.people[c].chat for c in self.books.agreed(person, "carer")}
            if signs is not None:
                self.demand(carers <= told, f"{person}'s alarm ended and somebody was not called")
        elif act is None:
            self.demand(False, f"{step} ended {person}'s alarm")
        elif act.kind is Kind.PRESSES:
            self.demand(act.do not in _NEVER_ENDS, f"{step} ended {person}'s alarm")
        else:
            self.demand(act.chat == someone.chat, f"{step} ended {person}'s alarm")
            if signs is not None:
                calm = self._calm_readings(person, since)
                self.demand(calm >= 2, f"{step} ended an alarm with a sign, {calm} calm readings")
        learn = {row.chat for row in new if row.about == person}
        for contact in self.books.agreed(person):
            chat = self.books.people[contact].chat
            if chat in told and self._was_reached(person, chat, since):
                self.demand(chat in learn, f"{contact} does not learn how it ended: {step}")

    def _was_reached(self, person: str, chat: int | None, since: datetime) -> bool:
        return not any(
            row.state == "failed"
            for row in self.books.rows.values()
            if row.about == person and row.chat == chat and row.queued_at >= since
        )

    def _calm_readings(self, person: str, since: datetime) -> int:
        moment = text_of(since - _SECOND)
        return sum(
            values[1] == person and values[4] >= moment and values[5] < 180 and values[6] < 110
            for values in self.books.kept.values()
        )

    def _no_timer_of_an_ended_alarm(self) -> None:
        for person, key in self.books.timers:
            if key.startswith(_OF_AN_ALARM):
                self.seen["timer of an alarm"] += 1
                self.demand(
                    self.books.people[person].alarm_open,
                    f"{key} of {person} goes on after the alarm",
                )

    # --- sending

    def began(self, id: int) -> None:
        """A message is about to be sent: nothing more urgent waits in its lane."""
        row = self.books.rows[id]
        row.began = True
        for other in self.books.waiting[row.chat].values():
            if other.lane == row.lane:
                self.demand(
                    (row.rank, row.id) <= (other.rank, other.id),
                    f"{_short(row)} goes before {_short(other)}",
                )

    def concerned(self, chat: int | None = None) -> None:
        """A crash, or an answer that was lost: what was under way may be sent again."""
        for id, rows in self.books.waiting.items():
            if chat is None or id == chat:
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
        self.seen["message"] += 1
        self.demand(row.effects <= 1 + row.concerned, f"sent {row.effects} times: {_short(row)}")
        if row.rank == ALARM and row.effects == 1 and not row.concerned:
            undisturbed = self._world.last_trouble + _TROUBLE < row.queued_at
            late = self._world.now() - row.queued_at > _PROMPTLY
            self.demand(not (undisturbed and late), f"an alarm was late: {_short(row)}")
        if row.rank != ALARM:
            self._overtakes(row)

    def _overtakes(self, row: Row) -> None:
        for chat, rows in self.books.waiting.items():
            for other in rows.values():
                if other.rank == ALARM and chat != row.chat and not other.concerned:
                    other.overtaken += not other.began and self._may_write(chat)
                    self.demand(
                        other.overtaken <= _ON_THEIR_WAY,
                        f"{_short(other)} waits behind lesser ones",
                    )

    def _may_write(self, chat: int) -> bool:
        """Whether the chat has had its pause: one message a second is allowed in each."""
        last = self._last.get(chat)
        return last is None or self._world.now() - last > 2 * _SECOND

    def _row_of(self, arrived: Arrived) -> Row | None:
        """The row that is under way: of one chat there is at most one of texts, one of files."""
        for row in self.books.waiting[arrived.chat].values():
            same = arrived.text in {row.html, row.plain} or row.has_file == arrived.has_file
            if row.began and same and arrived.has_file == row.has_file:
                return row
        return None

    def settled(self, changes: list[Change]) -> None:
        """Rows that are noted as sent were sent."""
        for table, what, values in changes:
            if table == "outbox" and what == "update of state" and values[1] == "sent":
                row = self.books.rows[values[0]]
                self.demand(row.effects >= 1, f"noted as sent and never was: {_short(row)}")

    def confirmed(self, updates: list[int]) -> None:
        """The platform has been told to forget these."""
        lost = [update for update in updates if update not in self.books.handled]
        self.demand(not lost, f"confirmed before they were handled: {lost}")

    # --- when everything has calmed down

    def at_rest(self, pending: Iterable[Any]) -> None:
        left = [row for rows in self.books.waiting.values() for row in rows.values()]
        self.demand(not left, f"never sent: {[_short(row) for row in left[:3]]}")
        self.demand(not list(pending), "updates were never fetched")


def _short(row: Row) -> str:
    to = row.to or "the patient"
    return f"message {row.id} of rank {row.rank} to {to} about {row.about}: {row.plain[:60]!r}"


Demand = Callable[[object, str], None]
