"""Patients: they measure, answer late or not at all, mistype, correct, travel, fall ill."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from tests.simulation import phrases
from tests.simulation.acts import Act, Kind
from tests.simulation.people import MINUTE, Habits, Person
from tests.simulation.phrases import Body
from tests.simulation.platform import Arrived

if TYPE_CHECKING:
    from tests.simulation.world import World


class Patient(Person):
    """Somebody who measures."""

    def __init__(self, world: World, name: str, habits: Habits) -> None:
        super().__init__(world, name, habits)
        self.id = name.lower()
        self.body = Body.of(self.dice)
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
        if self.patients:
            self.now_and_then(habits.danger, lambda: self.reports(phrases.TOLD))

    def reads(self, arrived: Arrived) -> None:
        offered = self.offered(arrived)
        if not offered:
            return
        answers = self.chance(self.answers)
        if "set" in offered and self._wants_place:
            self._chooses_place(arrived)
        elif self.is_called(offered):
            self.answers_a_call(arrived, offered)
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
        elif self.chance(0.06):
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
        elif way > 0.93 and self.habits.danger:
            self.will_remark()
        self._measures_again()

    def _answers_emergency(self, arrived: Arrived, offered: dict[str, str]) -> None:
        way = self.dice.random()
        if way < 0.6:
            self.will_press(arrived, self.dice.choice(sorted(offered.values())))
        elif way < 0.75:
            self._measures_again()
            self.after(25 * MINUTE, lambda: self.says("none of these signs"))
        elif way < 0.9:
            self.will_remark()

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
            if self.chance(0.2):
                self.after(self.some_minutes(2), self.takes_back)
            return
        pair = phrases.severe(self.dice)
        red = self.chance(0.5)
        sign = self.dice.choice(phrases.DANGER if red else phrases.WITH_SEVERE)
        text = f"{pair[0]}/{pair[1]} and {sign}"
        self._last = self.says(text, pairs=(pair,), danger=True, red=red)
        if self.chance(0.3):  # it was typed wrong, or is thought to have been
            self.after(self.some_minutes(2), self._corrects_to_calm)
        elif self.chance(0.5):
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
