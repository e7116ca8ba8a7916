"""What the days show, as it stands in the report: with the real compiler, in every language."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from bot.pictures import compiler
from bot.pictures import report as report_page
from bot.pictures.report import report_data
from bot.wording.catalogue import languages, wording
from domain.averaging_rules import RULES
from domain.messages import line
from domain.people import Note, NoteKind
from domain.plans import PlanKind
from domain.readings import Arm, Mmhg, Reading, Setting
from domain.report import ReportView, report_view
from domain.report_evidence import doubt_lines, explained

WORDS = wording("en")
LISBON = ZoneInfo("Europe/Lisbon")
MADE = datetime(2026, 4, 14, 18, 30, tzinfo=LISBON)

#: What a text looks like when the catalogue lacks one of its forms.
KEY = re.compile(r"\b(report|evidence)\.[a-z_]+\b")


def reading(day: int, hour: int, systolic: int, diastolic: int, minute: int = 0) -> Reading:
    at = datetime(2026, 3, day, hour, minute, tzinfo=LISBON)
    return Reading(systolic=Mmhg(systolic), diastolic=Mmhg(diastolic), at=at)


def rough_report() -> ReportView:
    """A hundred invented days with new tablets, visits, and much to doubt."""
    chance = Random(5)
    first, changed = date(2026, 1, 5), 60
    readings = []
    for number in range(100):
        day = first + timedelta(days=number)
        level = chance.gauss(148 - 10 * (number >= changed), 6) + 50 * (number == 22)
        for clock in (time(7, 30), time(20)):
            for place in range(2 if chance.random() < 0.7 else 1):
                systolic = level + chance.gauss(0, 4) - 7 * place
                step = 10 if chance.random() < 0.4 else 1  # rounded on its way, or not
                top = Mmhg(step * round(systolic / step))
                at = datetime.combine(day, clock, LISBON) + timedelta(seconds=25 * place)
                arm = chance.choice((Arm.LEFT, Arm.RIGHT))
                low = Mmhg(round(0.6 * systolic))
                readings.append(Reading(systolic=top, diastolic=low, at=at, arm=arm))
    begun = datetime.combine(first + timedelta(days=changed), time(9), LISBON)
    visits = [reading(day, 11, 165, 95, minute) for day in (3, 17) for minute in (0, 2)]
    readings += [replace(one, setting=Setting.CLINIC) for one in visits]
    return report_view(
        readings,
        zone=LISBON,
        first_day=first,
        last_day=date(2026, 4, 14),
        rule=RULES["esh"],
        target=(135, 85),
        made=MADE,
        asked=300,
        notes=(Note(kind=NoteKind.PLAN, at=begun, code=PlanKind.NEW_TABLETS_WEEK),),
        invented=True,
    )


@pytest.mark.parametrize("language", languages())
def test_what_the_days_show_stands_in_the_first_two_pages_with_every_doubt(language: str) -> None:
    view, words = rough_report(), wording(language)
    data = report_data(view, words, "Hollis")
    reader = PdfReader(io.BytesIO(compiler.strict_pdf(report_page.TEMPLATE, data, made=MADE)))
    told = " ".join(" ".join(page.extract_text() for page in reader.pages[:2]).split())

    assert not KEY.search(json.dumps(data))
    said = [
        *doubt_lines(view.evidence),
        *(one for part in explained(view.evidence) for one in part),
    ]
    assert len(said) > 12
    for one in said:
        assert words.plain(one) in told
    assert words.plain(line("report.readings")) in reader.pages[1].extract_text()


def test_differences_show_their_sign_and_every_figure_its_range() -> None:
    data = report_data(rough_report(), WORDS, "Hollis")
    evidence = data["evidence"]
    assert isinstance(evidence, dict)

    figures = {row[0]: row[1] for row in evidence["rows"]}

    number = r"\d+\.\d"
    plain, signed = rf"{number} \({number} to {number}\)", rf"−{number} \(−{number} to −{number}\)"
    assert figures["Trend"] == "falling"
    assert figures["Since new tablets, 6 Mar"] == "lower"
    for title in ("Mean of these 100 days", "Day-to-day SD"):
        assert re.fullmatch(plain, figures[title])
    for title in ("Change in 30 days", "After minus before"):
        assert re.fullmatch(signed, figures[title])


@pytest.mark.parametrize("language", languages())
def test_too_few_days_leave_one_line_of_evidence(language: str) -> None:
    view = report_view(
        [reading(9, 7, 142, 91), reading(10, 7, 139, 88)],
        zone=LISBON,
        first_day=date(2026, 3, 9),
        last_day=date(2026, 3, 15),
        rule=RULES["esh"],
        target=(135, 85),
        made=MADE,
    )

    evidence = report_data(view, wording(language), "Hollis")["evidence"]

    assert isinstance(evidence, dict)
    assert (evidence["rows"], evidence["lines"]) == ([], [])
    assert re.search(r"2 d.+ 3\b", evidence["basis"])


@pytest.mark.parametrize("language", languages())
def test_the_two_means_of_different_days_say_of_which_they_are(language: str) -> None:
    data = report_data(rough_report(), wording(language), "Hollis")
    average = data["average"]
    assert isinstance(average, dict)

    rule, *halves, everything = average["rows"]

    assert rule["days"] != everything["days"]
    assert re.search(r"\b9 .*\b14 ", rule["days"])
    assert re.search(r"\b5 .*\b14 ", everything["days"])
    assert [row["days"] for row in halves] == [None, None]


def test_what_was_taken_at_the_clinic_is_counted_compared_and_marked() -> None:
    data = report_data(rough_report(), WORDS, "Hollis")
    reader = PdfReader(io.BytesIO(compiler.strict_pdf(report_page.TEMPLATE, data, made=MADE)))
    table = " ".join(" ".join(page.extract_text() for page in reader.pages).split())

    assert "4 readings were taken at the clinic" in reader.pages[0].extract_text()
    assert "Office 165/95, home" in table
    assert table.count("at the clinic, not in the average") == 4
