"""The table of an alarm: complete, drawn in the docs, and the only way from stage to stage."""

from __future__ import annotations

from pathlib import Path

import pytest

from domain import alarm_table
from domain.alarm_table import WAITS, AlarmStage, Happening, after, drawn
from domain.conversation import TIMERS

_DOCS = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_danger_leads_to_the_emergency_from_everywhere() -> None:
    for stage in (None, *AlarmStage):
        assert after(stage, Happening.DANGER) is AlarmStage.EMERGENCY


def test_an_emergency_is_never_made_less_only_ended() -> None:
    for happening in Happening:
        assert after(AlarmStage.EMERGENCY, happening) in {AlarmStage.EMERGENCY, None}


@pytest.mark.parametrize(
    "happening",
    [Happening.NO_SIGN, Happening.PAIR_BELOW, Happening.AS_USUAL, Happening.SEEN],
)
def test_a_word_or_a_pair_alone_does_not_end_an_emergency(happening: Happening) -> None:
    assert after(AlarmStage.EMERGENCY, happening) is AlarmStage.EMERGENCY


def test_every_stage_can_be_reached_and_left() -> None:
    reached = {stage for stage in alarm_table.TABLE.values() if stage is not None}
    assert reached == set(AlarmStage)
    for stage in AlarmStage:
        assert after(stage, Happening.DAY_OVER) is None


def test_every_stage_has_a_wait_that_ends_it_and_each_wait_is_answered() -> None:
    assert alarm_table.END.stages == frozenset(AlarmStage)
    for wait in WAITS:
        assert wait.key in TIMERS
        assert wait.source


def test_the_docs_draw_the_table_as_it_is() -> None:
    assert "\n".join(drawn()) in _DOCS.read_text(encoding="utf-8")
