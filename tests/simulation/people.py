"""The people: patients, those around them, and strangers, each with habits of their own.

They know nothing of the bot's words. A person reads a message by its buttons (what each does
stands in the database) and does what a person might: late, badly typed, or not at all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from random import Random
from typing import TYPE_CHECKING, Final

from tests.simulation import phrases
from tests.simulation.acts import Act, Kind
from tests.simulation.phrases import Body, Pair
from tests.simulation.platform import Arrived

if TYPE_CHECKING:
    from tests.simulation.world import World

MINUTE: Final = 60.0
HOUR: Final = 3600.0
WEEK: Final = 7 * 24 * HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How likely an answer is, and how often in a week the rest happens."""

    answers: float = 0.85
    ordinary: float = 2.0
    danger: float = 0.0
    severe: float = 0.0
    edits: float = 0.1
    takes_back: float = 0.05
    closes: float = 0.0
    travels: float = 0.05
    asks: float = 0.3  #: commands
    slips: float = 0.1  #: of ordinary texts that hold a slip of the finger


class Person:
    """Somebody with a chat."""

    def __init__(self, world: World, name: str, habits: Habits) -> None:
        self.world = world
        self.name = name
        self.habits = habits
        self.dice = Random(f"{world.seed} {name}")
        self.chat = world.platform.opened(name)
        self.chat.read = self.reads

    def reads(self, arrived: Arrived) -> None:
        """A message has come."""

    def lives(self) -> None:
        """Begin with what comes from this person alone."""
        self.now_and_then(self.habits.ordinary, self.says_something)
        self.now_and_then(self.habits.closes, self.closes_for_a_while)

    # --- ways of acting

    def now_and_then(self, times_a_week: float, act: Callable[[], object]) -> None:
        """Again and again, at moments that know nothing of each other."""
        if times_a_week <= 0:
            return

        def again() -> None:
            act()
            self.after(self.dice.expovariate(times_a_week) * WEEK, again)

        self.after(self.dice.expovariate(times_a_week) * WEEK, again)

    def after(self, seconds: float, act: Callable[[], object]) -> None:
        self.world.later(seconds, act)

    def some_minutes(self, usual: float = 3.0) -> float:
        """Seconds until an answer: mostly a few minutes, sometimes far too late."""
        return min(self.dice.lognormvariate(0, 1.0) * usual * MINUTE, 9 * HOUR)

    def chance(self, likely: float) -> bool:
        return self.dice.random() < likely

    # --- acts

    def says(
        self,
        text: str,
        *,
        pairs: tuple[Pair, ...] | None = None,
        danger: bool = False,
        red: bool = False,
        reports: str | None = None,
        kind: Kind = Kind.SAYS,
    ) -> Act:
        act = Act(
            kind=kind,
            who=self.name,
            chat=self.chat.id,
            at=self.world.now(),
            text=text,
            message=self.chat.messages + 1,
            pairs=pairs,
            danger=danger,
            red=red,
            reports=reports,
        )
        self.world.platform.says(self.chat, text, act)
        return act

    def presses(self, arrived: Arrived, token: str) -> None:
        do, about, _ = self.world.books.meaning(token)
        act = Act(
            kind=Kind.PRESSES,
            who=self.name,
            chat=self.chat.id,
            at=self.world.now(),
            do=do,
            about=about,
        )
        self.world.platform.presses(self.chat, arrived.message, token, act)

    def will_press(self, arrived: Arrived, token: str, usual: float = 3.0) -> None:
        self.after(self.some_minutes(usual), lambda: self.presses(arrived, token))

    def offered(self, arrived: Arrived) -> dict[str, str]:
        """What the message's buttons do, with their tokens."""
        return {self.world.books.meaning(token)[0]: token for token in arrived.tokens}

    def says_something(self) -> None:
        text = phrases.ordinary(self.dice)
        self.says(phrases.slipped(text, self.dice) if self.chance(self.habits.slips) else text)

    def closes_for_a_while(self) -> None:
        self._closes(True)
        self.after(self.dice.expovariate(1 / (10 * HOUR)), lambda: self._closes(False))

    def _closes(self, closed: bool) -> None:
        kind = Kind.CLOSES if closed else Kind.OPENS
        act = Act(kind=kind, who=self.name, chat=self.chat.id, at=self.world.now())
        self.world.platform.closes(self.chat, closed, act)


class Patient(Person):
    """Somebody who measures."""

    def __init__(self, world: World, name: str, habits: Habits) -> None:
        super().__init__(world, name, habits)
        self.id = name.lower()
        self.body = Body.of(self.dice)
        self.calm_again = True
        self._last: Act | None = None
        self._wants_place = False

    def lives(self) -> None:
        super().lives()
        habits = self.habits
        self.now_and_then(habits.danger, self.is_in_danger)
        self.now_and_then(habits.severe, self.measures_severe)
        self.now_and_then(habits.edits, self.edits_the_last)
        self.now_and_then(habits.takes_back, self.takes_back)
        self.now_and_then(habits.travels, self.travels)
        self.now_and_then(habits.asks, self.asks)

    def reads(self, arrived: Arrived) -> None:
        offered = self.offered(arrived)
        if not offered:
            return
        answers = self.chance(self.habits.answers)
        if "set" in offered and self._wants_place:
            self._chooses_place(arrived)
        elif not answers:
            return
        elif "symptoms_none" in offered and "ambulance" not in offered:
            self._answers_signs(arrived, offered)
        elif "ambulance" in offered:
            self._answers_emergency(arrived, offered)
        elif "help_came" in offered:
            do = self.dice.choice(("help_came", "help_came", "help_not_yet"))
            self.will_press(arrived, offered[do])
        elif "ready" in offered:
            self._answers_prompt(arrived, offered)
        elif "consent_yes" in offered and len(arrived.tokens) == 3:
            self.will_press(arrived, self.dice.choice(arrived.tokens), 20)
        elif self.chance(0.3):
            self.will_press(arrived, self.dice.choice(arrived.tokens), 10)

    # --- answers

    def _answers_prompt(self, arrived: Arrived, offered: dict[str, str]) -> None:
        today = self.body.today(self.dice)
        way = self.dice.random()
        if way < 0.06:
            self.will_press(arrived, offered[self.dice.choice(("later", "skip"))], 5)
        elif way < 0.25 and "rested" in offered:
            delay = self.some_minutes(10)
            self.after(delay, lambda: self.presses(arrived, offered["rested"]))
            self.after(delay + 90, lambda: self.measures(today))
            self.after(delay + 200, lambda: self.measures(today))
        elif way < 0.4:
            delay = self.some_minutes(10)
            self.after(delay, lambda: self.measures(today))
            self.after(delay + 100, lambda: self.measures(today))
        else:
            self.after(self.some_minutes(12), lambda: self.measures_twice(today))

    def _answers_signs(self, arrived: Arrived, offered: dict[str, str]) -> None:
        way = self.dice.random()
        if way < 0.65:
            self.will_press(arrived, offered["symptoms_none"])
        elif way < 0.8:
            self.after(self.some_minutes(), lambda: self.says(self.dice.choice(phrases.NO_SIGN)))
        elif way < 0.9 and "symptoms_yes" in offered and self.habits.danger:
            self.will_press(arrived, offered["symptoms_yes"])
        self._measures_again()

    def _answers_emergency(self, arrived: Arrived, offered: dict[str, str]) -> None:
        way = self.dice.random()
        if way < 0.6:
            self.will_press(arrived, self.dice.choice(sorted(offered.values())))
        elif way < 0.75:
            self._measures_again()
            self.after(25 * MINUTE, lambda: self.says("none of these signs"))

    def _measures_again(self) -> None:
        """A quarter of an hour later, mostly lower."""
        below = self.chance(0.8)
        today = self.body.today(self.dice) if below else None
        delay = self.dice.uniform(6, 22) * MINUTE
        self.after(delay, lambda: self.measures(today))
        self.after(delay + 80, lambda: self.measures(today))

    # --- measuring

    def measures(self, today: Body | None) -> None:
        """One reading; without a body it is severe."""
        pair = today.pair(self.dice) if today else phrases.severe(self.dice)
        text = phrases.typed(pair, today.pulse if today else 80, self.dice)
        self._last = self.says(text, pairs=(pair,))

    def measures_twice(self, today: Body) -> None:
        pairs = (today.pair(self.dice), today.pair(self.dice))
        text = " ".join(f"{systolic}/{diastolic}" for systolic, diastolic in pairs)
        self._last = self.says(text, pairs=pairs)

    def measures_severe(self) -> None:
        self.measures(None)

    def is_in_danger(self) -> None:
        """A sign that cannot wait, alone or beside numbers."""
        if self.chance(0.5):
            self.says(self.dice.choice(phrases.DANGER), pairs=(), danger=True, red=True)
            return
        pair = phrases.severe(self.dice)
        red = self.chance(0.5)
        sign = self.dice.choice(phrases.DANGER if red else phrases.WITH_SEVERE)
        text = f"{pair[0]}/{pair[1]} and {sign}"
        self._last = self.says(text, pairs=(pair,), danger=True, red=red)
        if self.chance(0.3):  # it was typed wrong, or is thought to have been
            self.after(self.some_minutes(2), self._corrects_to_calm)
        elif self.chance(0.3):
            self.after(self.some_minutes(2), self.takes_back)

    def _corrects_to_calm(self) -> None:
        """The number is changed and the sign left out: only a number is taken back by that."""
        last = self._last
        if last is not None and last.message is not None and last.pairs:
            self._edits(last, tuple((132, d % 10 + 80) for _, d in last.pairs))

    def edits_the_last(self) -> None:
        last = self._last
        if last is None or last.message is None or not last.pairs:
            return
        if self.world.now() - last.at > timedelta(hours=40):
            return  # then they would be asked first
        self._edits(last, tuple((s + self.dice.randint(-9, 9), d) for s, d in last.pairs))

    def _edits(self, last: Act, pairs: tuple[tuple[int, int], ...]) -> None:
        assert last.message is not None
        text = " ".join(f"{systolic}/{diastolic}" for systolic, diastolic in pairs)
        act = Act(
            kind=Kind.EDITS,
            who=self.name,
            chat=self.chat.id,
            at=self.world.now(),
            text=text,
            message=last.message,
            pairs=pairs,
        )
        self.world.platform.edits(self.chat, last.message, last.at, text, act)

    def takes_back(self) -> None:
        self.says("/undo", kind=Kind.TAKES_BACK)
        self._last = None

    # --- the rest of a life

    def asks(self) -> None:
        self.says(self.dice.choice(("/week", "/family", "/help", "/plan", "/report")), pairs=())

    def travels(self) -> None:
        """Somewhere else for a while, and the bot is told."""
        self._wants_place = True
        self.says("/settings", pairs=())

    def _chooses_place(self, arrived: Arrived) -> None:
        self._wants_place = False
        token = next((t for t in arrived.tokens if self.world.books.meaning(t)[2] == "place"), None)
        if token is not None:
            self.presses(arrived, token)
            place = self.dice.choice(("Pune", "Halifax", "Lisbon"))
            self.after(40, lambda: self.says(place, pairs=()))


class Around(Person):
    """A carer or a practitioner of one patient or several."""

    def __init__(self, world: World, name: str, habits: Habits) -> None:
        super().__init__(world, name, habits)
        self.id = name.lower()
        self.patients: list[Patient] = []

    def lives(self) -> None:
        super().lives()
        self.now_and_then(self.habits.danger, self.reports)

    def reads(self, arrived: Arrived) -> None:
        offered = self.offered(arrived)
        known = [do for do in ("see_to_it", "i_am_there", "it_is_over") if do in offered]
        if known and self.chance(self.habits.answers):
            self.will_press(arrived, offered[self.dice.choice(known)], 4)
        elif offered and self.chance(0.05):
            self.will_press(arrived, self.dice.choice(arrived.tokens), 4)

    def reports(self) -> None:
        """They see a sign that cannot wait."""
        about = self.patients[0].id if len(self.patients) == 1 else None
        self.says(self.dice.choice(phrases.REPORTED), pairs=(), red=True, reports=about)


class Stranger(Person):
    """Somebody who was never invited."""

    def lives(self) -> None:
        super().lives()
        self.now_and_then(1.0, self.tries_to_get_in)

    def tries_to_get_in(self) -> None:
        self.says(f"/start {self.dice.randrange(10**9)}", pairs=())
