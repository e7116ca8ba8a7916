"""What must hold of danger: everybody who is to know is told, until it has truly ended."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from domain.danger import SEVERE
from tests.simulation.acts import Act, Kind
from tests.simulation.books import ALARM, Books, Row, Step
from tests.simulation.verdict import Verdict
from tests.simulation.watching import Change, text_of

if TYPE_CHECKING:
    from tests.simulation.world import World

#: These do not end an alarm, whoever presses them.
_NEVER_ENDS: Final = frozenset(
    {"slip", "ambulance", "helper", "cannot_phone", "see_to_it", "help_not_yet", "symptoms_yes"}
    | {"ready", "rested", "later", "skip"}
    | {"consent_yes", "consent_no", "consent_alarms", "consent_withdraw"}
)
#: Timers that belong to an alarm.
_OF_AN_ALARM: Final = ("severe.", "emergency.", "alarm.")
#: In what contacts read when messages to the patient are refused.
_NOT_REACHED: Final = "are not delivered"
#: A refused message, and a chat that was closed, are told of at once.
_TELLS_OF_IT: Final = frozenset({"delivery_failed", str(Kind.CLOSES)})
_SECOND: Final = timedelta(seconds=1)
#: An alarm that nobody ends is over by itself after a day, less what it may be late.
_DAY: Final = timedelta(hours=23)
_SEVERE_BELOW: Final = SEVERE.diastolic or 0
#: Whoever says nothing of a severe number: the contacts know by then.
_SILENT: Final = timedelta(minutes=12)
#: An emergency to which nobody says anything: everybody has been called again by then.
_AGAIN: Final = timedelta(minutes=8)
#: A timer that is due at once has fallen by then, also where the database was busy.
_SOON: Final = timedelta(minutes=2)
#: Danger of which nobody says whose it is counts as everybody's after this.
_UNSAID: Final = timedelta(minutes=3)
_SAYS_WHOSE: Final = frozenset({"owner", "owner_none"})


class AlarmRules:
    """Judges each alarm from its first word to its end."""

    def __init__(self, world: World, verdict: Verdict) -> None:
        self._world = world
        self._verdict = verdict
        self._emergency: dict[str, datetime] = {}  #: patients in one, and since when
        self._signs: dict[str, datetime] = {}  #: patients who told a red flag, and when
        self._closed: dict[int, datetime] = {}  #: when a chat was last closed
        self._last_act: dict[int, datetime] = {}  #: when a chat was last heard
        self._owned: dict[int, datetime] = {}  #: when it was last said there whose something is

    @property
    def books(self) -> Books:
        return self._world.books

    def demand(self, holds: object, what: str) -> None:
        self._verdict.demand(holds, what)

    def committed(
        self,
        step: Step,
        changes: list[Change],
        new: list[Row],
        before_open: dict[str, datetime | None],
    ) -> None:
        """Judge a transaction; `new` are its messages, `before_open` alarms that were open."""
        act = step.act
        if act is not None and step.update is not None and changes:
            self._last_act[act.chat] = self._world.now()
            if act.kind is Kind.CLOSES:
                self._closed[act.chat] = self._world.now()
            self._danger_is_answered(act, new, before_open)
            self._either_is_looked_after(act, new)
            self._will_not_be_forgotten(act, before_open)
        self._failures(changes, new)
        for person, opened in before_open.items():
            if not self.books.people[person].alarm_open:
                self._ended(person, opened, step, new)
        if any(table == "timers" for table, _, _ in changes):
            self._no_timer_of_an_ended_alarm()

    # --- its beginning

    def _danger_is_answered(
        self, act: Act, new: list[Row], before_open: dict[str, datetime | None]
    ) -> None:
        patient = self.books.patient_in(act.chat) if act.danger else act.reports
        if act.kind is Kind.PRESSES and act.red:
            patient = act.about  # of two in a chat it was said to be theirs
        if patient is None:
            return
        if act.reports and act.reports not in {
            p
            for p, c in self.books.links
            if self.books.people[c].chat == act.chat and c in self.books.agreed(p)
        }:
            return
        if act.reports and self.books.patient_in(act.chat) is not None:
            self._raised_soon(patient, act)
            return
        self._verdict.seen["danger"] += 1
        alarms = [row for row in new if row.rank == ALARM and row.about == patient]
        own = self.books.people[patient].chat
        self.demand(any(row.chat == own for row in alarms), f"the patient is not answered: {act}")
        already = set()
        if patient in self._emergency:
            already = self._told_since(patient, self._emergency[patient])
        opened = before_open.get(patient)
        if act.kind is Kind.PRESSES and opened is not None:
            already |= self._told_since(patient, opened)  # it counted as theirs already
        for contact in self.books.agreed(patient, "carer"):
            chat = self.books.people[contact].chat
            if act.chat == chat:
                continue
            called = chat in already or any(row.chat == chat for row in alarms)
            self.demand(called, f"{contact} is not called: {act}")
        self._emergency.setdefault(patient, self._world.now())
        if act.red:
            self._signs.setdefault(patient, self._world.now())

    def _raised_soon(self, patient: str, act: Act) -> None:
        """Somebody who measures too tells of whom they look after: raised by that one's timer."""
        since = self._world.now()

        def look() -> None:
            if self._world.last_down >= since or self._world.over:
                return
            self._verdict.seen["danger of another"] += 1
            own = self.books.people[patient].chat
            told = own in self._told_since(patient, since)
            self.demand(told, f"{patient} hears nothing of what was told: {act}")

        self._world.later(_SOON.total_seconds(), look)

    def _either_is_looked_after(self, act: Act, new: list[Row]) -> None:
        """Of two in a chat one is in danger: advice at once; without a word it counts for both."""
        if act.kind is Kind.PRESSES and act.do in _SAYS_WHOSE:
            self._owned[act.chat] = self._world.now()
        if not act.for_either:
            return
        since = self._world.now()
        advice = any(row.chat == act.chat and row.rank == ALARM for row in new)
        self.demand(advice, f"danger is not answered before it is known whose it is: {act}")
        both = [id for id, one in self.books.people.items() if one.chat == act.chat]

        def look() -> None:
            settled = self._owned.get(act.chat, since) > since
            if settled or self._world.last_down >= since or self._world.over:
                return
            self._verdict.seen["danger of either"] += 1
            for id in (id for id in both if self.books.people[id].is_patient):
                told = act.chat in self._told_since(id, since)
                self.demand(told, f"nobody said whose it was, and {id} is forgotten: {act}")

        self._world.later((_UNSAID + _SOON).total_seconds(), look)

    def _told_since(self, patient: str, since: datetime) -> set[int]:
        """Chats that alarms about the patient were queued for."""
        return {
            row.chat
            for row in self.books.rows.values()
            if row.about == patient and row.rank == ALARM and row.queued_at >= since
        }

    def _told_unasked(self, patient: str, after: int) -> set[int]:
        """The same behind a message, without what only answers a button or ends a rehearsal."""
        return {
            row.chat
            for row in self.books.rows.values()
            if row.about == patient and row.rank == ALARM and row.id > after
            if row.by != Kind.PRESSES and "rehearsal" not in row.plain
        }

    # --- while nobody says anything

    def _will_not_be_forgotten(self, act: Act, before_open: dict[str, datetime | None]) -> None:
        """Whoever opens an alarm and then says nothing more is looked after some time later."""
        patient = self.books.patient_in(act.chat)
        if patient is None or patient in before_open or not self.books.people[patient].alarm_open:
            return
        severe = any(s >= SEVERE.systolic or d >= _SEVERE_BELOW for s, d in act.pairs or ())
        if act.red:
            self._look_again(patient, _AGAIN, 2)
        elif severe and not act.danger:
            self._look_again(patient, _SILENT, 1)

    def _look_again(self, patient: str, after: timedelta, times: int) -> None:
        since = self._world.now()

        def look() -> None:
            someone = self.books.people[patient]
            carers = self.books.agreed(patient, "carer")
            chats = {someone.chat, *(self.books.people[carer].chat for carer in carers)}
            spoken = any(self._last_act.get(chat or 0, since) > since for chat in chats)
            ended = self._world.over or someone.opened_at != since
            if spoken or self._world.last_down >= since or ended:
                return
            self._verdict.seen["silence"] += 1
            for carer in carers:
                chat = self.books.people[carer].chat
                calls = sum(
                    row.chat == chat and row.rank == ALARM and row.queued_at >= since
                    for row in self.books.rows.values()
                    if row.about == patient
                )
                reached = self.books.links[patient, carer].reachable
                self.demand(calls >= times or not reached, f"{carer} was called {calls} times")

        self._world.later(after.total_seconds(), look)

    # --- when it cannot be delivered

    def _failures(self, changes: list[Change], new: list[Row]) -> None:
        """An alarm that cannot be delivered is told to those who can act."""
        for table, what, values in changes:
            if table != "outbox" or what != "update of state" or values[1] != "failed":
                continue
            row = self.books.rows[values[0]]
            someone = self.books.people.get(row.about or "")
            if row.rank != ALARM or someone is None or not someone.alarm_open:
                continue
            self._verdict.seen["failed alarm"] += 1
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
            was_known = not self.books.links[str(row.about), row.to].reachable and not new
            patient_knows = any(
                r.chat == someone.chat
                and name in r.plain
                and (was_known or r.by in _TELLS_OF_IT)
                and (opened is None or r.queued_at >= opened)
                for r in self.books.rows.values()
            )
            self.demand(patient_knows, f"{someone.name} does not learn that {name} is not reached")

    # --- its end

    def _ended(self, person: str, opened: datetime | None, step: Step, new: list[Row]) -> None:
        """An alarm is over: by whom, and do those who were told learn it?"""
        self._verdict.seen["alarm ended"] += 1
        act, now = step.act, self._world.now()
        someone = self.books.people[person]
        since = opened or now
        self._emergency.pop(person, None)
        signs = self._signs.pop(person, None)
        told = self._told_unasked(person, someone.opened_after)
        if step.name == "fire_due":
            self.demand(now - since >= _DAY, f"a timer ended {person}'s alarm of {since}")
            carers = {self.books.people[c].chat for c in self.books.agreed(person, "carer")}
            if signs is not None:
                self.demand(carers <= told, f"{person}'s alarm ended and somebody was not called")
        elif act is None:
            self.demand(False, f"{step} ended {person}'s alarm")
        elif act.kind is Kind.PRESSES:
            self.demand(act.do not in _NEVER_ENDS, f"{step} ended {person}'s alarm")
        elif not act.may_end:
            self.demand(act.chat == someone.chat, f"{step} ended {person}'s alarm")
            if signs is not None:
                calm = self._calm_readings(person, since)
                self.demand(calm >= 2, f"{step} ended an alarm with a sign, {calm} calm readings")
        learn = {row.chat for row in new if row.about == person}
        for contact in self.books.agreed(person):
            chat = self.books.people[contact].chat
            if chat is not None and chat in told and self._was_reached(person, chat, since):
                self.demand(chat in learn, f"{contact} does not learn how it ended: {step}")

    def _was_reached(self, person: str, chat: int, since: datetime) -> bool:
        """Whether nothing was refused by the chat since, and it was not closed."""
        closed = self._closed.get(chat)
        if closed is not None and closed >= since:
            return False
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
                self._verdict.seen["timer of an alarm"] += 1
                self.demand(
                    self.books.people[person].alarm_open,
                    f"{key} of {person} goes on after the alarm",
                )
