"""What has been committed, kept beside the database: learned from its changes alone."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from heapq import heappop, heappush
from typing import Any, Final

from tests.simulation.acts import Act
from tests.simulation.watching import Change

ALARM: Final = 0


@dataclass(slots=True)
class Row:
    """A row of the outbox, and what became of it outside."""

    id: int
    chat: int
    lane: str
    rank: int
    about: str | None
    to: str | None
    plain: str
    html: str
    tokens: str | None
    has_file: bool
    queued_at: datetime
    by: str  #: the work, or the kind of act, that queued it
    state: str = "waiting"
    until: datetime | None = None  #: the end of the lease of whom it was sent by last
    began: bool = False  #: under way now
    effects: int = 0  #: how often it reached the chat
    concerned: int = 0  #: crashes and lost answers while it was under way
    refused: bool = False  #: the platform does not take it, ever


@dataclass(slots=True)
class Link:
    consent: str
    role: str
    reachable: bool


@dataclass(slots=True)
class Someone:
    name: str
    chat: int | None
    is_patient: bool
    alarm_open: bool = False
    opened_at: datetime | None = None  #: of the open alarm
    opened_after: int = 0  #: the last message that was queued before it


@dataclass(slots=True)
class Step:
    """One piece of work on the database, and what it was about."""

    name: str
    act: Act | None = None
    update: int | None = None

    def __str__(self) -> str:
        return f"{self.name} <- {self.act}" if self.act else self.name


@dataclass(slots=True)
class Books:
    """The mirror. `now` is asked for the moments of rows."""

    rows: dict[int, Row] = field(default_factory=dict)
    waiting: dict[int, dict[int, Row]] = field(default_factory=lambda: defaultdict(dict))
    recalled: dict[int, dict[int, Row]] = field(default_factory=lambda: defaultdict(dict))
    people: dict[str, Someone] = field(default_factory=dict)
    links: dict[tuple[str, str], Link] = field(default_factory=dict)
    timers: dict[tuple[str, str], str] = field(default_factory=dict)
    handled: set[int] = field(default_factory=set)
    kept: dict[int, tuple[Any, ...]] = field(default_factory=dict)  #: readings that count
    _buttons: dict[str, str] = field(default_factory=dict)
    _due: list[tuple[str, str, str]] = field(default_factory=list)
    _last: int = 0  #: the last message that was queued

    def take(self, changes: list[Change], now: datetime, step: Step) -> None:
        """Enter what a transaction has changed."""
        by = str(step.act.kind) if step.act else step.name
        last = self._last
        for table, what, values in changes:
            match table:
                case "outbox":
                    self._outbox(what, values, now, by)
                case "timers":
                    self._timer(what, values)
                case "persons":
                    self._person(values, now, last)
                case "links":
                    patient, contact, role, consent, reachable = values
                    self.links[patient, contact] = Link(consent, role, bool(reachable))
                case "buttons":
                    self._buttons[values[0]] = values[2]
                case "seen_updates":
                    self.handled.add(values[1])
                case "readings" if what == "insert":
                    self.kept[values[0]] = values
                case "readings" if values[1] != "kept":
                    self.kept.pop(values[0], None)
                case _:
                    pass

    # --- what is asked of it

    def meaning(self, token: str) -> tuple[str, str | None, str]:
        """What a button does, about whom, with which argument."""
        action = json.loads(self._buttons[token])
        return action["do"], action.get("about"), action.get("argument", "")

    def next_due(self) -> datetime | None:
        """When the next timer falls due."""
        while self._due:
            due, person, key = self._due[0]
            if self.timers.get((person, key)) == due:
                return moment_of(due)
            heappop(self._due)
        return None

    def waits(self) -> bool:
        return any(self.waiting.values())

    def may_arrive(self, chat: int) -> Iterator[Row]:
        """What waits for a chat, and what was recalled while it was under way."""
        yield from self.waiting[chat].values()
        yield from (row for row in self.recalled[chat].values() if row.began)

    def contacts(self, patient: str) -> Iterator[tuple[str, Link, Someone]]:
        for (whose, contact), link in self.links.items():
            if whose == patient:
                yield contact, link, self.people[contact]

    def agreed(self, patient: str, role: str | None = None) -> list[str]:
        """Contacts who may be told and have a chat."""
        return [
            contact
            for contact, link, someone in self.contacts(patient)
            if link.consent == "agreed"
            and someone.chat is not None
            and (role is None or link.role == role)
        ]

    def patient_in(self, chat: int) -> str | None:
        return next(
            (id for id, one in self.people.items() if one.chat == chat and one.is_patient), None
        )

    # --- entering

    def _outbox(self, what: str, values: tuple[Any, ...], now: datetime, by: str) -> None:
        if what == "insert":
            id, chat, lane, rank, about, to, plain, html, buttons, attachment = values
            row = Row(
                id,
                chat,
                lane,
                rank,
                about,
                to,
                plain,
                html,
                buttons,
                attachment is not None,
                now,
                by,
            )
            self.rows[id] = self.waiting[chat][id] = row
            self._last = id
        elif what == "update of state":
            row = self.rows[values[0]]
            row.state = values[1]
            self.waiting[row.chat].pop(row.id, None)
            self.recalled[row.chat].pop(row.id, None)
            if row.state == "recalled":  # what is under way may still arrive
                self.recalled[row.chat][row.id] = row
            else:
                row.began = False

    def _timer(self, what: str, values: tuple[Any, ...]) -> None:
        person, key = values[:2]
        if what == "delete":
            self.timers.pop((person, key), None)
            return
        self.timers[person, key] = values[2]
        heappush(self._due, (values[2], person, key))

    def _person(self, values: tuple[Any, ...], now: datetime, last: int) -> None:
        id, name, chat, alarm_open, state = values
        before = self.people.get(id)
        is_open = bool(alarm_open)
        opened, after = (before.opened_at, before.opened_after) if before else (None, 0)
        if is_open and not (before and before.alarm_open):
            opened, after = now, last
        self.people[id] = Someone(name, chat, state is not None, is_open, opened, after)


def moment_of(text: str) -> datetime:
    """A moment as SQLite keeps it, aware."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)
