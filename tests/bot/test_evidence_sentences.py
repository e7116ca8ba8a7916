"""Every finding has a sentence for the practitioner and one to say to the person."""

from __future__ import annotations

import re

import pytest

from bot.wording.catalogue import languages, wording
from domain.evidence.days import Pressure
from domain.evidence.intervals import Interval
from domain.evidence.office import LIMITS, Compared, Pattern
from domain.evidence.quality import Finding, Kind, Strength
from domain.evidence.sentences import office_lines, sentence_of
from domain.record_quality import Cause, said_to_the_person
from domain.shown import Pair

FALL = Interval(6.25, 4.01, 8.49)


def finding(kind: Kind, cause: Cause, pressure: Pressure | None = None) -> Finding:
    return Finding(
        kind=kind,
        cause=cause,
        strength=Strength.MUCH,
        count=12,
        of=14,
        effect=1.5,
        pressure=pressure,
        expected=0.1,
        seconds=20.4,
        fall=FALL,
    )


NUMBERS = {
    Kind.INCOMPLETE: ["12", "14"],
    Kind.SHORT_PAUSES: ["12", "14", "20"],
    Kind.FALLING: ["6.2", "95", "4.0", "8.5"],
    Kind.SINGLE: ["12", "14"],
    Kind.ARM_CHANGES: ["12", "14"],
    Kind.REPEATED: ["12", "14"],
    Kind.ROUNDED: ["86", "14", "0", "10"],
}


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("kind", Kind)
def test_a_finding_is_told_with_its_numbers(kind: Kind, language: str) -> None:
    for pressure in (Pressure.SYSTOLIC, Pressure.DIASTOLIC):
        text = wording(language).plain(sentence_of(finding(kind, Cause.NUMBERS_ROUNDED, pressure)))

        shown = re.findall(r"\d+(?:[.,]\d+)?", text)
        assert sorted(n.replace(",", ".") for n in shown) == sorted(NUMBERS[kind])


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("cause", Cause)
def test_a_cause_has_one_sentence_for_the_person_without_any_reproach(
    cause: Cause, language: str
) -> None:
    text = wording(language).plain(said_to_the_person(cause))

    assert re.fullmatch(r"[^.?!]+[.?]", text)
    assert not re.search(r"\b(?:must|wrong|fail|mistake|debe|mal|error|culpa)", text, re.I)


def test_a_second_reading_too_soon_is_asked_to_wait_a_full_minute() -> None:
    early = finding(Kind.SHORT_PAUSES, Cause.NO_FULL_MINUTE)

    assert wording("en").plain(sentence_of(early)) == (
        "12 of 14 pauses between readings were under a minute, 20 seconds on average: "
        "second readings may be off."
    )
    assert "wait a full minute" in wording("en").plain(said_to_the_person(early.cause))


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("pattern", Pattern)
def test_office_and_home_are_told_as_numbers_and_no_disease_is_named(
    pattern: Pattern, language: str
) -> None:
    for limits in LIMITS.values():
        found = Compared(
            visits=2,
            office=Pair(152, 92),
            home=Pair(128, 79),
            systolic=Interval(24.0, 8.0, 40.0),
            diastolic=Interval(13.0, 2.0, 24.0),
            pattern=pattern,
            limits=limits,
        )
        texts = [wording(language).plain(said) for said in office_lines(found)]

        assert "152/92" in texts[0]
        assert str(limits.home) in texts[0]
        assert "20/10" in texts[-1]
        assert not re.search("hypertens|hipertens", " ".join(texts), re.I)
