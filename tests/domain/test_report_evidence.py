"""What the report says of trend, change of medicine, spread, target, office and doubts."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from domain.bands import Guideline
from domain.evidence.change import LEAST_DAYS_EACH, Shift
from domain.evidence.days import Part
from domain.evidence.office import Pattern
from domain.evidence.quality import Kind
from domain.evidence.trend import Direction
from domain.messages import Line
from domain.people import Note, NoteKind
from domain.plans import PlanKind
from domain.readings import Mmhg, Reading
from domain.report_evidence import (
    ReportEvidence,
    basis_line,
    change_lines,
    doubt_lines,
    explained,
    medicine_changed,
    report_evidence,
    spread_lines,
    too_few_line,
    trend_lines,
    weekday_lines,
)
from domain.shown import Pair

LISBON = ZoneInfo("Europe/Lisbon")
FIRST = date(2026, 1, 5)
BOTH = (time(7, 30), time(20))


def record(
    days: int,
    *,
    level: float = 140,
    slope: float = 0,
    sd: float = 4,
    first: date = FIRST,
    clocks: tuple[time, ...] = BOTH,
    pause: int = 75,
    seed: int = 11,
) -> list[Reading]:
    """Pairs on each day; `slope` in mmHg a day, `sd` between days."""
    chance = Random(seed)
    found = []
    for number in range(days):
        middle = level + slope * number + chance.gauss(0, sd)
        for clock in clocks:
            at = datetime.combine(first + timedelta(days=number), clock, LISBON)
            for place in range(2):
                systolic = round(middle + chance.gauss(0, 2))
                found.append(
                    Reading(
                        systolic=Mmhg(systolic),
                        diastolic=Mmhg(round(systolic * 0.6)),
                        at=at + timedelta(seconds=pause * place),
                    )
                )
    return found


def shown(
    readings: list[Reading],
    *,
    asked: int | None = None,
    notes: tuple[Note, ...] = (),
    office: tuple[Reading, ...] = (),
) -> ReportEvidence:
    return report_evidence(
        readings,
        zone=LISBON,
        target=Pair(135, 85),
        guideline=Guideline.ESH_2021,
        average=Pair(140, 84),
        asked=asked,
        notes=notes,
        office=office,
    )


def begun(day: date, kind: str = PlanKind.NEW_TABLETS_WEEK) -> Note:
    return Note(kind=NoteKind.PLAN, at=datetime.combine(day, time(9), LISBON), code=kind)


def keys(lines: tuple[Line, ...]) -> list[str]:
    return [said.key for said in lines]


@pytest.mark.parametrize(
    ("slope", "direction"),
    [(0.3, Direction.RISING), (-0.3, Direction.FALLING), (0.0, Direction.STEADY)],
)
def test_sixty_days_tell_where_the_pressure_goes(slope: float, direction: Direction) -> None:
    found = shown(record(60, slope=slope))

    assert [of.trend.direction for of in found.figures] == [direction] * 2
    assert found.tells
    said = keys(trend_lines(found))
    assert said == (["report.trend.steady_means"] if direction is Direction.STEADY else [])


@pytest.mark.parametrize(
    ("days", "more", "soonest"),
    [
        pytest.param(5, 9, 21, id="days and weeks are missing"),
        pytest.param(13, 1, 21, id="one day and a week"),
        pytest.param(14, 1, 21, id="days enough, too close together"),
        pytest.param(20, 1, 21, id="one day"),
    ],
)
def test_a_trend_that_cannot_be_told_says_how_many_days_it_takes(
    days: int, more: int, soonest: int
) -> None:
    (said,) = trend_lines(shown(record(days)))

    assert said.key == "report.trend.few"
    assert said.values["count"] == more
    assert said.values["day"] == FIRST + timedelta(days=soonest - 1)


def test_days_that_differ_too_much_leave_the_trend_open() -> None:
    found = shown(record(24, sd=14))

    assert found.figures[0].trend.direction is Direction.CANNOT_TELL
    assert "report.trend.wide" in keys(trend_lines(found))


def test_a_single_wild_day_is_named_as_left_out_of_the_trend() -> None:
    readings = record(40)
    readings[80:84] = record(1, level=205, first=FIRST + timedelta(days=20))

    said = {one.key: one.values.get("count") for one in trend_lines(shown(readings))}

    assert said["report.trend.wild.systolic"] == 1


@pytest.mark.parametrize(("days", "tells"), [(0, False), (2, False), (3, True)])
def test_with_fewer_than_three_days_there_is_one_line(days: int, tells: bool) -> None:
    found = shown(record(days))

    assert found.tells is tells
    if not tells:
        assert dict(too_few_line(found).values) == {"count": days, "needed": 3}


@pytest.mark.parametrize(
    ("clocks", "part"),
    [(BOTH, Part.BOTH), (BOTH[:1], Part.MORNING), (BOTH[1:], Part.EVENING), ((time(14),), "whole")],
)
def test_the_report_says_which_days_the_figures_are_of(clocks: tuple[time, ...], part: str) -> None:
    said = basis_line(shown(record(10, clocks=clocks)))

    assert said.key == f"report.evidence.basis.{part}"
    assert dict(said.values) == {
        "count": 10,
        "first": FIRST,
        "last": FIRST + timedelta(days=9),
    }


def test_days_of_more_than_half_a_year_ago_do_not_count() -> None:
    old = record(100, level=190)
    new = record(20, level=120, first=FIRST + timedelta(days=300))

    found = shown([*old, *new])

    assert found.days == 20
    assert found.at_target is not None
    assert (found.at_target.below, found.at_target.days) == (20, 20)
    level = found.figures[0].trend.level
    assert level is not None
    assert level.mean.high < 130


def test_only_the_plan_for_new_tablets_marks_a_change_of_medicine() -> None:
    told = Note(kind=NoteKind.MEDICINE, at=datetime(2026, 2, 1, 8, tzinfo=UTC), text="Took it late")
    notes = (begun(date(2026, 1, 9)), begun(date(2026, 2, 3)), begun(date(2026, 3, 1), "own-days"))

    assert medicine_changed((told, notes[2]), LISBON) is None
    assert medicine_changed((told, *notes), LISBON) == date(2026, 2, 3)


def test_without_a_change_of_medicine_nothing_is_compared() -> None:
    found = shown(record(60))

    assert [of.change for of in found.figures] == [None, None]
    assert change_lines(found) == ()


def test_a_fall_after_new_tablets_is_told_with_its_range_and_its_caution() -> None:
    changed = FIRST + timedelta(days=30)
    readings = [*record(30, level=150), *record(45, level=138, first=changed, seed=12)]

    found = shown(readings, notes=(begun(changed),))

    change = found.figures[0].change
    assert change is not None
    assert change.shift is Shift.LOWER
    assert change.difference is not None
    assert change.difference.low < -12 < change.difference.high < 0
    assert keys(change_lines(found)) == [
        "report.change.compared",
        "report.change.needed",
        "report.change.caution",
    ]
    compared, needed, _ = change_lines(found)
    assert compared.values["settled"] == changed + timedelta(days=14)
    assert needed.values["count"] == change.days_needed


def test_a_short_time_before_new_tablets_is_pointed_out() -> None:
    changed = FIRST + timedelta(days=7)
    readings = [*record(7, level=150), *record(45, level=138, first=changed, seed=12)]

    said = change_lines(shown(readings, notes=(begun(changed),)))

    assert said[-1].key == "report.change.short_before"
    assert said[-1].values["count"] == 6


@pytest.mark.parametrize(
    ("before", "after", "key", "count"),
    [
        pytest.param(5, 30, "few_before", 4, id="never enough before"),
        pytest.param(0, 30, "few_before", 0, id="nothing before"),
        # The first day of a period never counts.
        pytest.param(20, 10, "more_days", LEAST_DAYS_EACH + 1, id="not settled yet"),
        pytest.param(20, 14, "more_days", LEAST_DAYS_EACH + 1, id="settled today"),
        pytest.param(20, 17, "more_days", LEAST_DAYS_EACH - 2, id="three days since"),
        pytest.param(20, 20, "more_days", 1, id="one more"),
    ],
)
def test_what_a_comparison_lacks_is_said_with_the_days_that_are_missing(
    before: int, after: int, key: str, count: int
) -> None:
    changed = FIRST + timedelta(days=before)
    readings = record(before + after)

    found = shown(readings, notes=(begun(changed),))

    assert found.figures[0].change is not None
    assert found.figures[0].change.shift is Shift.CANNOT_TELL
    said = {one.key: one.values.get("count") for one in change_lines(found)}
    assert said[f"report.change.{key}"] == count


def test_one_day_more_than_the_last_that_lacks_can_tell() -> None:
    found = shown(record(41), notes=(begun(FIRST + timedelta(days=20)),))

    assert found.figures[0].change is not None
    assert found.figures[0].change.shift is not Shift.CANNOT_TELL


def test_a_time_after_new_tablets_without_readings_is_over_one_day() -> None:
    changed = FIRST + timedelta(days=20)
    readings = [*record(20), *record(5, first=changed + timedelta(days=60))]

    said = {
        one.key: one.values.get("count")
        for one in change_lines(shown(readings, notes=(begun(changed),)))
    }

    assert said["report.change.few_after"] == 0


def test_office_readings_stand_beside_those_at_home_and_in_no_figure_of_them() -> None:
    at = datetime(2026, 1, 20, 11, tzinfo=LISBON)
    office = tuple(
        Reading(systolic=Mmhg(168), diastolic=Mmhg(96), at=at + timedelta(minutes=n))
        for n in range(2)
    )

    found, without = shown(record(20), office=office), shown(record(20))

    assert found.office is not None
    assert found.office.pattern is Pattern.BOTH
    assert (found.office.office, found.office.home) == (Pair(168, 96), Pair(140, 84))
    assert found.figures == without.figures
    assert without.office is None
    assert keys(explained(found)[0])[0] == "evidence.office.both"
    assert not any(
        key.startswith("evidence.office") for part in explained(without) for key in keys(part)
    )


def test_doubts_come_with_what_may_move_the_average_most_first() -> None:
    found = shown(record(14, pause=25), asked=80)

    assert {Kind.INCOMPLETE, Kind.SHORT_PAUSES} <= {one.kind for one in found.doubts}
    effects = [one.effect for one in found.doubts]
    assert effects == sorted(effects, reverse=True)
    assert len(doubt_lines(found)) == len(found.doubts)
    assert shown(record(14), asked=28).doubts == ()


def test_what_bears_on_the_decision_is_explained_first() -> None:
    parts = [keys(part)[0] for part in explained(shown(record(10)))]

    assert parts == [
        "report.at_target",
        "report.trend.few",
        "report.spread.cv",
        "report.pulse_pressure",
    ]


def test_the_spread_of_the_days_is_told_with_its_steps_where_days_follow_each_other() -> None:
    apart = [r for day in range(8) for r in record(1, first=FIRST + timedelta(2 * day), seed=day)]

    assert keys(spread_lines(shown(record(8)))) == ["report.spread.cv", "report.spread.arv"]
    assert keys(spread_lines(shown(apart))) == ["report.spread.cv"]
    assert spread_lines(shown(record(2))) == ()


def test_weekdays_are_told_only_where_they_differ() -> None:
    calm = [r for n in range(70) for r in record(1, sd=3, first=FIRST + timedelta(n), seed=n)]
    sundays = [
        replace(r, systolic=Mmhg(r.systolic + 15)) if r.at.weekday() == 6 else r for r in calm
    ]

    assert weekday_lines(shown(calm)) == ()
    (told,) = weekday_lines(shown(sundays))
    assert told.key == "report.weekdays.systolic"
    highest = told.values["high"]
    assert isinstance(highest, date)
    assert highest.weekday() == 6
