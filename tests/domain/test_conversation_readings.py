"""Every reading that was sent counts, once, in its last version, whatever else is sent."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from domain.people import (
    MessageRef,
)
from tests.domain.watched_stage import (
    PAIRS,
    TIMES,
    watched,
)


class Model:
    """What a careful reader would keep of plain readings, edits and undo."""

    def __init__(self) -> None:
        self.made: dict[MessageRef, list[tuple[int, int]]] = {}
        self.order: list[MessageRef] = []

    def says(self, message: MessageRef, pairs: Iterable[tuple[int, int]]) -> None:
        self.made[message] = list(pairs)
        self.order.append(message)

    def undo(self) -> None:
        for message in reversed(self.order):
            if self.made[message]:
                self.made[message].pop()
                return

    @property
    def pairs(self) -> list[tuple[int, int]]:
        return sorted(pair for pairs in self.made.values() for pair in pairs)


class Readings(RuleBasedStateMachine):
    """Every reading that was sent counts, once, in its last version."""

    def __init__(self) -> None:
        super().__init__()
        self.stage = watched()
        self.model = Model()

    @rule(pairs=st.lists(PAIRS, min_size=1, max_size=3))
    def measures(self, pairs: list[tuple[int, int]]) -> None:
        message = self.stage.says(" ".join(f"{s}/{d}" for s, d in pairs))
        self.model.says(message, pairs)
        self.stage.passes(minutes=1)

    @rule(data=st.data(), pairs=st.lists(PAIRS, max_size=2))
    def edits(self, data: st.DataObject, pairs: list[tuple[int, int]]) -> None:
        if not self.model.order:
            return
        message = data.draw(st.sampled_from(self.model.order))
        written = next(
            (k.written_at for k in self.stage.patient.readings if k.made_by == message), None
        )
        if written is None or self.stage.now - written > timedelta(hours=48):
            return
        text = " ".join(f"{s}/{d}" for s, d in pairs) or "never mind"
        self.stage.edits(message, text, written_at=written)
        self.model.made[message] = pairs

    @rule()
    def takes_one_back(self) -> None:
        self.stage.says("/undo")
        self.model.undo()
        self.stage.passes(minutes=1)

    @rule(text=st.sampled_from(("hello", "headache", "no", "my chest hurts", "/week", "")))
    def says_something_else(self, text: str) -> None:
        self.stage.says(text)
        self.stage.passes(minutes=1)

    @rule(minutes=TIMES)
    def time_passes(self, minutes: float) -> None:
        self.stage.passes(minutes=minutes)

    @invariant()
    def the_conversation_keeps_what_the_model_keeps(self) -> None:
        assert sorted(self.stage.pairs()) == self.model.pairs


TestReadings = Readings.TestCase
TestReadings.settings = settings(max_examples=100, stateful_step_count=20, deadline=None)
