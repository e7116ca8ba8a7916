"""What an event changed about an alarm: rows of the state before and after."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bot.alarm_changes import AlarmChange, Happened, alarm_changes
from domain.people import Alarm, AlarmStage, PersonId, State

OPENED = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
ASKED = Alarm(stage=AlarmStage.ASKED, opened=OPENED)
EMERGENCY = replace(ASKED, stage=AlarmStage.EMERGENCY)
SAID = replace(EMERGENCY, patient_said="ambulance")
ANSWERED = replace(SAID, answered_by=(PersonId("wren"),))
BOTH = replace(ANSWERED, answered_by=(PersonId("wren"), PersonId("okafor")))


@pytest.mark.parametrize(
    ("before", "after", "happened"),
    [
        (None, None, []),
        (None, ASKED, [Happened.RAISED]),
        (None, EMERGENCY, [Happened.RAISED, Happened.EMERGENCY]),
        (ASKED, ASKED, []),
        (ASKED, EMERGENCY, [Happened.EMERGENCY]),
        (EMERGENCY, replace(EMERGENCY, rounds=3), []),
        (EMERGENCY, SAID, [Happened.ANSWERED_BY_PATIENT]),
        (SAID, replace(SAID, patient_said="helper"), []),
        (SAID, ANSWERED, [Happened.ANSWERED_BY_CONTACT]),
        (ANSWERED, BOTH, []),
        (BOTH, None, [Happened.ENDED]),
    ],
)
def test_each_step_of_an_alarm_is_seen_once(
    before: Alarm | None, after: Alarm | None, happened: list[Happened]
) -> None:
    now = OPENED + timedelta(seconds=90)

    found = alarm_changes(State(alarm=before), State(alarm=after), now)

    assert list(found) == [AlarmChange(happened=h, after=timedelta(seconds=90)) for h in happened]


def test_a_state_that_did_not_change_holds_no_step() -> None:
    assert alarm_changes(State(alarm=ASKED), None, OPENED) == ()


def test_a_clock_that_was_put_back_gives_no_negative_span() -> None:
    (change,) = alarm_changes(None, State(alarm=ASKED), OPENED - timedelta(hours=1))
    assert change.after == timedelta(0)
