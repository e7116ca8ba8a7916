"""Two patients who share one chat: of what is typed there it has to be asked whose it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.simulation import phrases
from tests.simulation.people import MINUTE, Habits, Person
from tests.simulation.phrases import Body, Pair
from tests.simulation.platform import Arrived, Chat

if TYPE_CHECKING:
    from tests.simulation.world import World


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """One of the two, as the town knows a patient."""

    id: str
    name: str
    chat: Chat
    body: Body


@dataclass(slots=True, kw_only=True)
class Typed:
    """What was typed about one of them, until it is said whose it is."""

    half: Half
    pairs: tuple[Pair, ...]
    red: bool
    said: bool = False


class Couple(Person):
    """They use one telephone."""

    def __init__(self, world: World, names: tuple[str, str], habits: Habits) -> None:
        super().__init__(world, "-".join(names), habits)
        self.halves = tuple(
            Half(id=name.lower(), name=name, chat=self.chat, body=Body.of(self.dice))
            for name in names
        )
        self._typed: dict[int, Typed] = {}  #: by the number of the message

    def lives(self) -> None:
        self.now_and_then(self.habits.closes, self.closes_for_a_while)
        for half in self.halves:
            self.now_and_then(self.habits.danger, lambda half=half: self.is_in_danger(half))  # type: ignore[misc]
            self.now_and_then(self.habits.severe, lambda half=half: self.measures(half, None))  # type: ignore[misc]

    def reads(self, arrived: Arrived) -> None:
        meant = [(*self.world.books.meaning(token), token) for token in arrived.tokens]
        offered = {do: token for do, _, _, token in meant}
        about = {whose for _, whose, _, _ in meant}
        if "owner" in offered:
            self._says_whose(arrived, meant)
        elif not self.chance(self.answers):
            return
        elif "ready" in offered:
            half = self._half(about)
            self.after(self.some_minutes(12), lambda: self.measures(half, half.body))
        elif "symptoms_none" in offered and "ambulance" not in offered:
            half = self._half(about)
            self.will_press(arrived, offered["symptoms_none"])
            delay = self.dice.uniform(6, 22) * MINUTE
            self.after(delay, lambda: self.measures(half, half.body))
        elif offered and self.chance(0.5 if "ambulance" in offered else 0.06):
            self.will_press(arrived, self.dice.choice(arrived.tokens))

    def _half(self, about: set[str | None]) -> Half:
        """The one whom a message is about."""
        return next((half for half in self.halves if half.id in about), self.halves[0])

    def _says_whose(self, arrived: Arrived, meant: list[tuple[str, str | None, str, str]]) -> None:
        """Mostly soon and rightly, sometimes wrongly, and now and then not at all."""
        number = int(meant[0][2].split("|", 2)[1])
        typed = self._typed.get(number)
        # Who is in danger has other things to do than to press a button.
        if typed is None or not self.chance(self.answers * (0.5 if typed.red else 1)):
            return
        right = next(token for _, whose, _, token in meant if whose == typed.half.id)
        token = right if self.chance(0.9) else self.dice.choice(arrived.tokens)
        self.after(self.some_minutes(1), lambda: self._owns(arrived, token, typed))

    def _owns(self, arrived: Arrived, token: str, typed: Typed) -> None:
        owns = self.world.books.meaning(token)[0] == "owner" and not typed.said
        typed.said = True
        pairs = typed.pairs if owns else None
        self.presses(arrived, token, pairs=pairs, red=typed.red and owns)

    def measures(self, half: Half, body: Body | None) -> None:
        """One reading of one of them; without a body it is severe."""
        pair = body.today(self.dice).pair(self.dice) if body else phrases.severe(self.dice)
        self._types(half, phrases.typed(pair, 72, self.dice), (pair,), red=False)

    def is_in_danger(self, half: Half) -> None:
        self._types(half, self.dice.choice(phrases.DANGER), (), red=True)

    def _types(self, half: Half, text: str, pairs: tuple[Pair, ...], *, red: bool) -> None:
        act = self.says(text, for_either=red)
        assert act.message is not None
        self._typed[act.message] = Typed(half=half, pairs=pairs, red=red)
