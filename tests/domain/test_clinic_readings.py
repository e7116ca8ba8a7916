"""Readings taken at the clinic: kept and marked, beside the averages of home and not in them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from domain.averaging import Why
from domain.averaging_rules import RULES
from domain.evidence.office import Pattern
from domain.people import Step
from domain.readings import Mmhg, Reading, Setting
from domain.report import clinic_lines, report_view
from domain.shown import Pair
from domain.week import caption, week_view
from tests.domain.conftest import Stage

CLINIC, HOME = Setting.CLINIC, Setting.HOME


def settings(stage: Stage) -> list[Setting]:
    return [kept.reading.setting for kept in stage.patient.readings]


def test_a_reading_of_the_clinic_is_kept_and_marked_and_the_person_is_told(stage: Stage) -> None:
    stage.says("at the doctor's 150/92")

    assert (stage.pairs(), settings(stage)) == ([(150, 92)], [CLINIC])
    assert stage.heard() == ["clinic.kept", "clinic.why", "caution.short"]
    assert stage.values("clinic.kept")["shown"] == "150/92"


def test_no_second_reading_is_asked_for_after_one_of_the_clinic(stage: Stage) -> None:
    stage.says("nurse took it: 148/90")
    stage.passes(hours=3)

    assert stage.step is None
    assert "measure.second" not in stage.heard()
    assert "reading.single" not in stage.heard()


def test_a_visit_to_the_clinic_is_no_part_of_the_occasion_at_home(stage: Stage) -> None:
    stage.patient = replace(stage.patient, language="es")
    stage.says("150/92 en el centro de salud")
    stage.says("142/91")
    stage.passes(minutes=2)

    assert settings(stage) == [CLINIC, HOME]
    assert stage.step is Step.SECOND
    stage.says("138/89")
    # The mean of the two at home, and no week so far from the visit.
    assert stage.values("average")["shown"] == "140/90"
    assert "week.so_far" not in stage.heard()


def test_a_symptom_beside_it_is_answered_as_always(stage: Stage) -> None:
    stage.says("at the doctor's 150/92, a bit dizzy")

    assert stage.heard() == ["clinic.kept", "symptom.next_visit", "caution.short"]


def test_each_of_two_readings_is_answered_by_its_place(stage: Stage) -> None:
    stage.says("at the clinic 150/92 and at home 138/84")

    assert sorted(settings(stage)) == [CLINIC, HOME]
    assert stage.heard()[0] == "clinic.kept"
    assert "reading.first" in stage.heard()


# --- corrections


def test_a_corrected_number_stays_where_it_was_taken(stage: Stage) -> None:
    stage.says("at the doctor's 150/92")
    stage.says("sorry, I meant 152/92")

    assert (stage.pairs(), settings(stage)) == ([(152, 92)], [CLINIC])
    assert "average" not in stage.heard()


def test_a_corrected_single_number_stays_there_too(stage: Stage) -> None:
    stage.says("at the doctor's 150/92")
    stage.says("bottom should be 81")

    assert (stage.pairs(), settings(stage)) == ([(150, 81)], [CLINIC])


def test_the_words_of_an_edited_message_say_where_it_was_taken(stage: Stage) -> None:
    message = stage.says("150/92")
    stage.edits(message, "150/92 at the doctor's")
    assert settings(stage) == [CLINIC]

    stage.edits(message, "150/92")
    assert settings(stage) == [HOME]


def test_a_later_message_may_say_where_it_was_taken(stage: Stage) -> None:
    stage.says("150/92")
    stage.says("that was at the doctor's")

    assert (stage.pairs(), settings(stage)) == ([(150, 92)], [CLINIC])
    assert stage.heard()[-1] == "clinic.marked.clinic"

    stage.says("no, that was at home")
    assert settings(stage) == [HOME]
    assert stage.heard()[-1] == "clinic.marked.home"


def test_where_nothing_was_sent_nothing_is_marked(stage: Stage) -> None:
    stage.says("that was at the doctor's")

    assert stage.pairs() == []
    assert "clinic.marked.clinic" not in stage.heard()


def test_the_button_takes_the_mark_away_once(stage: Stage) -> None:
    stage.says("at the doctor's 150/92 148/90")
    stage.taps("button.taken_at_home")

    assert settings(stage) == [HOME, HOME]
    assert stage.heard()[-2:] == ["clinic.marked.home"] * 2

    stage.taps("button.taken_at_home")
    assert stage.heard()[-1] == "old_button"


def test_a_severe_reading_that_was_taken_at_home_after_all_is_weighed(stage: Stage) -> None:
    stage.says("at the doctor's 150/92")
    first = stage.patient.readings[0]
    severe = replace(first, reading=replace(first.reading, systolic=Mmhg(192)))
    stage.patient = replace(stage.patient, readings=(severe,))
    stage.taps("button.taken_at_home")

    assert stage.alarm is not None


def test_a_doubt_about_a_reading_of_the_clinic_keeps_its_place(stage: Stage) -> None:
    stage.says("at the clinic the top was 150")
    stage.says("the bottom was 92")

    assert (stage.pairs(), settings(stage)) == ([(150, 92)], [CLINIC])


# --- the weekly picture and the report

ZONE = ZoneInfo("Europe/Lisbon")
FIRST = date(2026, 3, 2)


def at(day: int, hour: int, systolic: int, setting: Setting = HOME, minute: int = 0) -> Reading:
    moment = datetime(2026, 3, 2, hour, minute, tzinfo=ZONE) + timedelta(days=day)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(80), at=moment, setting=setting)


WEEK = [at(day, hour, 126, minute=m) for day in range(7) for hour in (7, 20) for m in (0, 2)]
VISITS = [at(day, 11, 152, CLINIC, minute=m) for day in (1, 4) for m in (0, 3)]


def test_the_weekly_picture_names_the_visits_and_leaves_them_out_of_its_means() -> None:
    view = week_view([*WEEK, *VISITS], zone=ZONE, first_day=FIRST, target=(135, 85))
    without = week_view(WEEK, zone=ZONE, first_day=FIRST, target=(135, 85))

    assert [str(occasion.value) for occasion in view.at_clinic] == ["152/80", "152/80"]
    assert replace(view, at_clinic=()) == without
    assert [line.key for line in caption(view, "Hollis")].count("week.clinic") == 1
    assert "week.clinic" not in [line.key for line in caption(without, "Hollis")]


def test_the_report_compares_office_and_home_and_shows_every_reading() -> None:
    view = report_view(
        [*WEEK, *VISITS],
        zone=ZONE,
        first_day=FIRST,
        last_day=FIRST + timedelta(days=6),
        rule=RULES["esh"],
        target=(135, 85),
        made=datetime(2026, 3, 9, 9, tzinfo=ZONE),
    )

    office = view.evidence.office
    assert office is not None
    assert (office.office, office.home) == (Pair(152, 80), Pair(126, 80))
    assert (office.visits, office.pattern) == (2, Pattern.OFFICE_ONLY)
    assert view.everything.readings == len(WEEK)
    assert len(view.rows) == len(WEEK) + len(VISITS)
    assert sum(row.left_out is Why.CLINIC for row in view.rows) == len(VISITS)
    assert view.quality.occasions == len(WEEK) / 2
    assert [line.values["count"] for line in clinic_lines(view)] == [len(VISITS)]


def test_a_report_without_a_visit_says_nothing_of_the_office() -> None:
    view = report_view(
        WEEK,
        zone=ZONE,
        first_day=FIRST,
        last_day=FIRST + timedelta(days=6),
        rule=RULES["esh"],
        target=(135, 85),
        made=datetime(2026, 3, 9, 9, tzinfo=ZONE),
    )

    assert view.evidence.office is None
    assert clinic_lines(view) == ()
