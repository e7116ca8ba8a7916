"""What the practitioner's report is made of."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.wording.catalogue import wording
from domain.averaging import Why
from domain.averaging_rules import RULES
from domain.danger import MORE_RED_FLAGS, RED_FLAGS, SEVERE_SYMPTOMS, Level
from domain.evidence.record import quality_of
from domain.people import Note, NoteKind
from domain.readings import CameAs, Mmhg, Reading, spread_over_seconds
from domain.report import (
    LONGEST_DAYS,
    TOLD_KINDS,
    ReportView,
    caution_lines,
    enough_lines,
    first_day_of_report,
    quality_lines,
    record_lines,
    report_view,
    severe_lines,
    told_line,
)
from domain.shown import Against
from domain.talk.fitting import OPTIONS
from domain.watch import Finding

LISBON = ZoneInfo("Europe/Lisbon")
FIRST, LAST = date(2026, 3, 2), date(2026, 3, 15)


def reading(day: int, hour: int, systolic: int, diastolic: int, *, second: int = 0) -> Reading:
    at = datetime(2026, 3, day, hour, 30, tzinfo=LISBON) + timedelta(seconds=second)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at)


def full_days(*days: int) -> list[Reading]:
    """Two readings a minute apart, morning and evening, on each day."""
    return [
        reading(day, hour, 138 if hour < 12 else 132, 84, second=second)
        for day in days
        for hour in (7, 20)
        for second in (0, 70)
    ]


def report(readings: list[Reading], rule: str = "nice", notes: tuple[Note, ...] = ()) -> ReportView:
    return report_view(
        readings,
        zone=LISBON,
        first_day=FIRST,
        last_day=LAST,
        rule=RULES[rule],
        target=(135, 85),
        made=datetime(2026, 3, 15, 18, tzinfo=UTC),
        asked=28,
        notes=notes,
    )


def test_every_reading_of_the_period_stands_in_the_table_oldest_first() -> None:
    outside = [reading(1, 7, 150, 90), reading(16, 7, 150, 90)]

    view = report([*reversed(full_days(2, 3)), *outside])

    assert [row.at.day for row in view.rows] == [2, 2, 2, 2, 3, 3, 3, 3]
    assert [row.opens_day for row in view.rows] == [True, *[False] * 3, True, *[False] * 3]
    assert view.rows == tuple(sorted(view.rows, key=lambda row: row.at))


def test_a_reading_that_the_rule_leaves_out_says_why() -> None:
    view = report(full_days(2, 9, 10, 11, 12), rule="nice")

    why = {row.at.day: row.left_out for row in view.rows}

    assert why == {2: Why.BEFORE_WEEK, 9: None, 10: None, 11: None, 12: None} | {9: Why.FIRST_DAY}
    assert view.average.overall.readings == 12
    assert view.everything.readings == 20


def test_a_reading_told_twice_is_in_the_table_twice_and_once_in_the_average() -> None:
    view = report([reading(9, 7, 140, 85), reading(9, 7, 140, 85)], rule="all")

    assert [row.left_out for row in view.rows] == [None, Why.DUPLICATE]
    assert view.average.overall.readings == 1


def test_an_average_of_enough_readings_is_compared_with_the_target() -> None:
    view = report(full_days(9, 10, 11, 12))

    # Days 10 to 12: (138 * 6 + 132 * 6) / 12 = 135, 84.
    assert view.against is Against.EDGE
    assert [said.key for said in enough_lines(view)] == ["report.enough"]


def test_what_a_short_record_lacks_is_said() -> None:
    view = report(full_days(9, 10))

    lacks = [(said.key, dict(said.values)) for said in enough_lines(view)]

    assert lacks == [
        ("report.not_enough", {}),
        ("report.lack.days", {"needed": 4, "found": 2}),
        ("report.lack.readings", {"needed": 12, "found": 4}),
    ]


def test_without_readings_there_is_a_report_without_an_average() -> None:
    view = report([])

    assert view.against is Against.NONE
    assert view.rows == ()
    assert view.average.overall.systolic is None


@pytest.mark.parametrize(("systolic", "severe"), [(179, False), (180, True)])
def test_a_severe_reading_is_marked_in_its_row_and_counted(systolic: int, severe: bool) -> None:
    view = report([reading(9, 7, systolic, 84)])

    assert [row.severe for row in view.rows] == [severe]
    assert [said.values["count"] for said in severe_lines(view)] == [1] * severe


def test_symptoms_alarms_and_medicine_notes_of_the_period_are_told_in_order() -> None:
    def note(day: int, kind: NoteKind, code: str = "", text: str = "") -> Note:
        at = datetime(2026, 3, day, 9, tzinfo=UTC)
        return Note(kind=kind, at=at, code=code, text=text)

    notes = (
        note(12, NoteKind.ALARM, "urgent"),
        note(2, NoteKind.MEDICINE, text="New dose, as the doctor said"),
        note(11, NoteKind.SYMPTOM, "headache"),
        note(11, NoteKind.MISSED, "evening"),
        note(11, NoteKind.SYMPTOM, "none"),
        note(13, NoteKind.FINDING, "very_fast", "128"),
        note(13, NoteKind.FINDING, "earlier_sign", "fainting"),
        note(13, NoteKind.FINDING, "fall"),
        note(13, NoteKind.FINDING, "no_signs"),
        note(14, NoteKind.ALARM_ENDED, "helped"),
        note(14, NoteKind.CONDITION, "irregular"),
        note(20, NoteKind.SYMPTOM, "cough"),
    )

    view = report([], notes=notes)

    assert [told_line(told).key for told in view.told] == [
        "report.medicine",
        "symptom.headache",
        "report.alarm.urgent",
        "report.found",
        "report.found",
        "patients.found.fall",
        "patients.how.helped",
        "report.condition.irregular",
    ]
    words = [wording("en").plain(told_line(told)) for told in view.told]
    assert words[3].endswith("(128)")
    assert words[4].endswith("(fainting)")
    assert all(words)


@pytest.mark.parametrize("kind", sorted(TOLD_KINDS))
def test_whatever_is_noted_has_words_in_the_report(kind: NoteKind) -> None:
    codes = {
        NoteKind.SYMPTOM: (*RED_FLAGS, *MORE_RED_FLAGS, *SEVERE_SYMPTOMS, "sign"),
        NoteKind.ALARM: tuple(level.code for level in Level if level),
        NoteKind.ALARM_ENDED: (
            *("calm", "below", "corrected", "helped", "there", "made_sure", "not_about"),
            *("no_word", "as_usual", "seen"),
        ),
        NoteKind.FINDING: tuple(Finding),
        NoteKind.CONDITION: OPTIONS,
        NoteKind.MEDICINE: ("",),
    }[kind]
    at = datetime(2026, 3, 12, 9, tzinfo=UTC)
    view = report([], notes=[Note(kind=kind, at=at, code=code, text="cough") for code in codes])
    assert len(view.told) == len(codes)
    for told in view.told:
        for language in ("en", "es"):
            assert wording(language).plain(told_line(told))


@pytest.mark.parametrize(
    ("seconds", "short", "together"),
    [
        pytest.param(1, 0, 1, id="told in one message"),
        pytest.param(14, 0, 1, id="less than a cuff needs"),
        pytest.param(15, 1, 0, id="measured in haste"),
        pytest.param(59, 1, 0, id="just under a minute"),
        pytest.param(60, 0, 0, id="a minute"),
    ],
)
def test_pauses_under_a_minute_are_counted_where_they_are_known(
    seconds: int, short: int, together: int
) -> None:
    pair = [reading(9, 7, 140, 85), reading(9, 7, 138, 84, second=seconds)]

    quality = quality_of(pair, asked=None)

    assert (quality.short_gaps, quality.together) == (short, together)
    assert quality.gaps + quality.together == 1


def test_readings_of_one_message_count_as_a_pause_that_is_not_known() -> None:
    told = [reading(9, 7, 140, 85), reading(9, 7, 138, 84)]
    moment = datetime(2026, 3, 9, 8, tzinfo=LISBON)

    quality = quality_of(spread_over_seconds(told, moment), asked=2)

    assert (quality.gaps, quality.together, quality.single) == (0, 1, 0)


def test_remarks_on_the_record_name_only_what_there_is() -> None:
    doubtful = Reading(
        systolic=Mmhg(220),
        diastolic=Mmhg(84),
        at=datetime(2026, 3, 10, 7, tzinfo=LISBON),
        came_as=CameAs.CONFIRMED,
    )

    view = report([*full_days(9), doubtful])

    remarks = {said.key: dict(said.values) for said in quality_lines(view)}
    assert remarks == {
        "report.quality.asked": {"done": 3, "asked": 28},
        "report.quality.single": {"count": 1, "of": 3},
        "report.quality.gaps": {"count": 0, "of": 2},
        "report.quality.confirmed": {"count": 1},
    }


def test_a_remark_that_a_doubt_makes_is_not_made_twice() -> None:
    doubted, sure = report(full_days(9)), report(full_days(*range(2, 16)))

    assert [said.key for said in record_lines(doubted)] == ["report.quality.gaps"]
    assert [said.key for said in record_lines(sure)] == [
        "report.quality.asked",
        "report.quality.gaps",
    ]
    assert [said.key for said in record_lines(report([]))] == ["report.quality.none"]


@pytest.mark.parametrize("earlier", [0, 1, 3])
def test_readings_before_the_report_begins_are_counted_and_told_of(earlier: int) -> None:
    before = [reading(1, 7, 150, 90, second=second) for second in range(earlier)]
    for inside in (full_days(2, 3), []):
        told = {one.key: dict(one.values) for one in record_lines(report([*before, *inside]))}
        assert told.get("report.earlier") == ({"count": earlier} if earlier else None)


@pytest.mark.parametrize(
    ("ago", "first"),
    [
        pytest.param([0], 0, id="today"),
        pytest.param([30, 12, -3], 30, id="what is later does not count"),
        pytest.param([4000, LONGEST_DAYS - 1, 3], LONGEST_DAYS - 1, id="just within"),
        pytest.param([4000, LONGEST_DAYS, 3], 3, id="just too long ago"),
        pytest.param([], 0, id="nothing"),
    ],
)
def test_a_report_begins_with_the_first_reading_of_at_most_a_year(
    ago: list[int], first: int
) -> None:
    days = [LAST - timedelta(days=n) for n in ago]

    assert first_day_of_report(days, LAST) == LAST - timedelta(days=first)


def test_the_cautions_name_typing_monitor_decisions_and_the_program_itself() -> None:
    assert [said.key.rsplit(".", 1)[1] for said in caution_lines()] == [
        "typed",
        "monitor",
        "decide",
        "device",
    ]
