""" "Seen, my plan until DATE": what it silences, and what it never does."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from domain.practice_marks import NEVER_SILENT, Finding, Seen, silences

ABOVE = Finding("above_target")
TODAY = date(2026, 6, 10)
SEEN = Seen(
    by="Dr. Okafor-Lindqvist",
    at=datetime(2026, 6, 1, 9, tzinfo=UTC),
    until=date(2026, 7, 1),
    finding=ABOVE,
    value=(143, 88),
)


@pytest.mark.parametrize(
    ("value", "silent"),
    [
        ((143, 88), True),
        ((120, 70), True),
        ((152, 92), True),
        ((153, 88), False),  # 10 more is another matter
        ((143, 93), False),  # 5 more in the diastolic
        (None, False),
    ],
)
def test_the_same_finding_is_silent_until_it_is_worse(
    value: tuple[int, int] | None, silent: bool
) -> None:
    assert silences(SEEN, ABOVE, value, TODAY) is silent


@pytest.mark.parametrize(
    ("today", "silent"),
    [(date(2026, 6, 30), True), (date(2026, 7, 1), False), (date(2026, 7, 2), False)],
)
def test_on_the_day_of_the_next_look_it_is_told_again(today: date, silent: bool) -> None:
    assert silences(SEEN, ABOVE, (143, 88), today) is silent


def test_another_finding_is_told() -> None:
    assert not silences(SEEN, Finding("silent"), (143, 88), TODAY)


@pytest.mark.parametrize("finding", sorted(NEVER_SILENT))
def test_what_cannot_wait_is_never_silent(finding: Finding) -> None:
    assert not silences(replace(SEEN, finding=finding), finding, (143, 88), TODAY)


def test_without_a_mark_everything_is_told() -> None:
    assert not silences(None, ABOVE, (143, 88), TODAY)


def test_a_finding_without_a_mean_stays_seen_while_there_is_none() -> None:
    silent = replace(SEEN, finding=Finding("silent"), value=None)

    assert silences(silent, Finding("silent"), None, TODAY)
    assert not silences(silent, Finding("silent"), (143, 88), TODAY)
