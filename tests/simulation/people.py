"""People: what all have in common, those around patients, and strangers.

They know nothing of the bot's words. A person reads a message by its buttons (what each does
stands in the database) and does what a person might: late, badly typed, or not at all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import TYPE_CHECKING, Final

from tests.simulation import phrases
from tests.simulation.acts import Act, Kind
from tests.simulation.phrases import Pair
from tests.simulation.platform import Arrived

if TYPE_CHECKING:
    from tests.simulation.world import World

MINUTE: Final = 60.0
HOUR: Final = 3600.0
WEEK: Final = 7 * 24 * HOUR
_OF_A_CALL: Final = ("see_to_it", "i_am_there", "it_is_over")


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How likely an answer is, and how often in a week the rest happens."""

    answers: float = 0.85
    silent: float = 0.0  #: of the people: these hardly ever answer
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
        self.answers = 0.1 if self.chance(habits.silent) else habits.answers
        self.patients: list[str] = []  #: ids of those whom they look after
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
        for_either: bool = False,
        reports: str | None = None,
        may_end: bool = False,
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
            for_either=for_either,
            reports=reports,
            may_end=may_end,
        )
        self.world.platform.says(self.chat, text, act)
        return act

    def presses(
        self,
        arrived: Arrived,
        token: str,
        *,
        pairs: tuple[Pair, ...] | None = None,
        red: bool = False,
    ) -> None:
        """Press a button; `pairs` and `red` are of the message that waits in it."""
        do, about, _ = self.world.books.meaning(token)
        act = Act(
            kind=Kind.PRESSES,
            who=self.name,
            chat=self.chat.id,
            at=self.world.now(),
            do=do,
            about=about,
            pairs=pairs,
            red=red,
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

    def is_called(self, offered: dict[str, str]) -> bool:
        """Whether the buttons are those of an alarm of somebody whom they look after."""
        return any(do in offered for do in _OF_A_CALL)

    def answers_a_call(self, arrived: Arrived, offered: dict[str, str]) -> None:
        known = [do for do in _OF_A_CALL if do in offered]
        if self.chance(0.2):
            self.will_remark()
        elif self.chance(self.answers):
            self.will_press(arrived, offered[self.dice.choice(known)], 4)

    def reports(self, said: Sequence[str]) -> None:
        """They see a sign that cannot wait in somebody whom they look after."""
        about = self.patients[0] if len(self.patients) == 1 else None
        self.says(self.dice.choice(said), pairs=(), red=True, reports=about)

    def remarks(self) -> None:
        """Says of an alarm what the buttons say, or something near it."""
        text, may_end = phrases.remark(self.dice)
        self.says(text, may_end=may_end)

    def will_remark(self) -> None:
        self.after(self.some_minutes(4), self.remarks)

    def closes_for_a_while(self) -> None:
        self._closes(True)
        self.after(self.dice.expovariate(1 / (10 * HOUR)), lambda: self._closes(False))

    def _closes(self, closed: bool) -> None:
        kind = Kind.CLOSES if closed else Kind.OPENS
        act = Act(kind=kind, who=self.name, chat=self.chat.id, at=self.world.now())
        self.world.platform.closes(self.chat, closed, act)


class Around(Person):
    """A carer or a practitioner of one patient or several."""

    def __init__(self, world: World, name: str, habits: Habits) -> None:
        super().__init__(world, name, habits)
        self.id = name.lower()

    def lives(self) -> None:
        super().lives()
        self.now_and_then(self.habits.danger, lambda: self.reports(phrases.REPORTED))
        self.now_and_then(self.habits.asks, self.asks)

    def reads(self, arrived: Arrived) -> None:
        offered = self.offered(arrived)
        if self.is_called(offered):
            self.answers_a_call(arrived, offered)
        elif offered and self.chance(0.15):
            self.will_press(arrived, self.dice.choice(arrived.tokens), 4)

    def asks(self) -> None:
        self.says(self.dice.choice(phrases.ASKED), pairs=())


class Stranger(Person):
    """Somebody who was never invited."""

    def lives(self) -> None:
        super().lives()
        self.now_and_then(1.0, self.tries_to_get_in)

    def tries_to_get_in(self) -> None:
        self.says(f"/start {self.dice.randrange(10**9)}", pairs=())
