"""Limits of what is no alarm against what is published, with the source beside each row.

NEWS2 is the National Early Warning Score 2 of the Royal College of Physicians, 2017, from
memory throughout. It scores adults who are acutely ill; used at home it errs on the careful
side, and what follows from a score here is common practice.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain import watch
from domain.danger import LOW_SYSTOLIC, LOW_WITH_DIZZINESS
from domain.readings import Bpm, Mmhg, Reading
from domain.watch import Finding, Heading, findings

AT = datetime(2026, 3, 10, 7, tzinfo=UTC)

#: source, systolic, symptoms, takes medicine, finding, heading
_SYSTOLIC = [
    ("NEWS2: <=90 scores 3; practice: below 90", 89, (), False, Finding.LOW, Heading.TODAY),
    ("practice: below 90", 90, (), False, None, None),
    ("NEWS2: <=90 scores 3, sign or none", 60, ("cough",), False, Finding.LOW, Heading.TODAY),
    ("NEWS2: 91-100 scores 2", 90, ("dizziness",), False, Finding.LOW_WITH_SIGN, Heading.TODAY),
    ("NEWS2: 91-100 scores 2", 99, ("dizziness",), False, Finding.LOW_WITH_SIGN, Heading.TODAY),
    ("common practice: below 100", 100, ("dizziness",), False, None, None),
    ("common practice: falls", 95, ("x_fall",), False, Finding.LOW_WITH_SIGN, Heading.TODAY),
    ("common practice: other signs", 95, ("cough",), False, None, None),
    ("common practice: on medicine", 99, (), True, Finding.LOW_ON_MEDICINE, Heading.TODAY),
    ("common practice: on medicine", 90, (), True, Finding.LOW_ON_MEDICINE, Heading.TODAY),
    ("common practice: on medicine", 100, (), True, None, None),
    ("FHIR R4 example, 107/60: no alert", 107, ("dizziness",), True, None, None),
]


@pytest.mark.parametrize(("source", "systolic", "told", "takes", "finding", "heading"), _SYSTOLIC)
def test_low_pressure_follows_the_scores_of_acute_care(
    source: str,
    systolic: int,
    told: tuple[str, ...],
    takes: bool,
    finding: Finding | None,
    heading: Heading | None,
) -> None:
    reading = Reading(systolic=Mmhg(systolic), diastolic=Mmhg(min(60, systolic - 10)), at=AT)
    found = [f for f in findings([reading], told, on_medicine=takes) if f.finding.startswith("low")]
    found = [f for f in found if f.finding is not Finding.LOW_DIASTOLIC]
    assert [(f.finding, f.row.heading) for f in found] == ([(finding, heading)] if finding else [])


#: source, pulse, symptoms, finding, heading
_PULSE = [
    ("NEWS2: <=40 scores 3; practice: below 40", 39, (), Finding.VERY_SLOW, Heading.TODAY),
    ("practice: below 40", 39, ("dizziness",), Finding.SLOW_WITH_SIGN, Heading.CALL),
    ("practice: other signs", 39, ("cough",), Finding.VERY_SLOW, Heading.TODAY),
    ("NEWS2: 41-50 scores 1", 40, (), Finding.RATHER_SLOW, Heading.NEXT_VISIT),
    ("practice: below 50 with dizziness", 40, ("dizziness",), Finding.RATHER_SLOW_WITH_SIGN,
     Heading.TODAY),
    ("practice: below 50 with dizziness", 49, ("dizziness",), Finding.RATHER_SLOW_WITH_SIGN,
     Heading.TODAY),
    ("practice: below 50, often normal", 49, (), Finding.RATHER_SLOW, Heading.NEXT_VISIT),
    ("practice: below 50", 50, ("dizziness",), None, None),
    ("NEWS2: 51-90 scores 0", 90, ("dizziness",), None, None),
    ("practice: above 100", 100, (), None, None),
    ("practice: above 100 repeated; one is not", 101, (), None, None),
    ("practice: above 120 the same day", 120, (), None, None),
    ("practice: above 120 the same day", 121, (), Finding.VERY_FAST, Heading.TODAY),
    ("practice: above 130 with symptoms", 130, ("palpitations",), Finding.VERY_FAST,
     Heading.TODAY),
    ("NEWS2: >=131 scores 3", 131, (), Finding.VERY_FAST, Heading.TODAY),
    ("NEWS2: >=131 scores 3; with symptoms", 131, ("palpitations",), Finding.FAST_WITH_SIGN,
     Heading.CALL),
    ("practice: above 130 with symptoms", 131, ("weakness",), Finding.FAST_WITH_SIGN,
     Heading.CALL),
]  # fmt: skip


@pytest.mark.parametrize(("source", "pulse", "told", "finding", "heading"), _PULSE)
def test_a_pulse_follows_the_scores_of_acute_care(
    source: str,
    pulse: int,
    told: tuple[str, ...],
    finding: Finding | None,
    heading: Heading | None,
) -> None:
    reading = Reading(systolic=Mmhg(128), diastolic=Mmhg(78), pulse=Bpm(pulse), at=AT)
    found = findings([reading], told, on_medicine=False)
    assert [(f.finding, f.row.heading) for f in found] == ([(finding, heading)] if finding else [])


@pytest.mark.parametrize(
    ("pulses", "found"),
    [((101, 101), True), ((100, 120), False), ((101, None), False), ((101, 119), True)],
)
def test_above_100_counts_when_it_is_repeated(pulses: tuple[int | None, ...], found: bool) -> None:
    """Common practice: above 100, repeated at rest."""
    readings = [
        Reading(systolic=Mmhg(128), diastolic=Mmhg(78), pulse=None if p is None else Bpm(p), at=AT)
        for p in pulses
    ]
    shown = {f.finding for f in findings(readings, (), on_medicine=False)}
    assert shown == ({Finding.FAST} if found else set())


@pytest.mark.parametrize(
    ("diastolics", "takes", "found"),
    [
        ((59, 59), True, True),
        ((60, 60), True, False),
        ((59, 60), True, False),
        ((40, 40), False, False),
    ],
)
def test_a_low_lower_number_is_mentioned_in_treated_people(
    diastolics: tuple[int, ...], takes: bool, found: bool
) -> None:
    """Common practice: below 60 in treated, older people or with coronary disease."""
    readings = [Reading(systolic=Mmhg(128), diastolic=Mmhg(d), at=AT) for d in diastolics]
    shown = {f.finding for f in findings(readings, (), on_medicine=takes)}
    assert shown == ({Finding.LOW_DIASTOLIC} if found else set())


def test_low_pressure_here_and_in_the_level_of_a_message_is_the_same() -> None:
    rows = {row.finding: row for row in watch.ROWS}
    assert rows[Finding.LOW].most == LOW_SYSTOLIC - 1
    assert rows[Finding.LOW_WITH_SIGN].most == LOW_WITH_DIZZINESS - 1


def test_every_row_names_its_source() -> None:
    assert all("NEWS2" in row.source or "common practice" in row.source for row in watch.ROWS)


def test_the_unusual_and_the_mark_are_as_published() -> None:
    """Change from the own median: common practice. Kato 2010: below 10 mmHg is usual variation.

    Mark: >=2 of 3 readings, community study, BMJ Open 2016.
    """
    assert (watch.FAR_SYSTOLIC, watch.FAR_DIASTOLIC) == (40, 25)
    assert (watch.RISE, watch.RISE_DAYS) == (10, 7)
    assert watch.MARKED_READINGS == 2
