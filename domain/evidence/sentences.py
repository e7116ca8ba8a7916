"""Which sentence of the wording says a finding to the practitioner.

Keys and values only; the words are in the message catalogues. Numbers come rounded as they
are read: mmHg to one decimal, shares in whole percent, pauses in whole seconds.
"""

from __future__ import annotations

from fractions import Fraction

from domain.evidence.intervals import Interval
from domain.evidence.office import Compared
from domain.evidence.quality import Finding, Kind
from domain.messages import Line, Value, line
from domain.readings import whole


def sentence_of(finding: Finding) -> Line:
    """What was seen in the data, in one sentence for the practitioner."""
    counted: dict[str, Value] = {"count": finding.count, "of": finding.of}
    match finding.kind:
        case Kind.INCOMPLETE:
            return line("evidence.quality.incomplete", done=finding.count, asked=finding.of)
        case Kind.SHORT_PAUSES:
            seconds = whole(finding.seconds or 0)
            return line("evidence.quality.short_pauses", **counted, seconds=seconds)
        case Kind.FALLING if finding.fall is not None:
            return line("evidence.quality.falling", **_interval(finding.fall))
        case Kind.ROUNDED:
            return line(
                f"evidence.quality.rounded.{finding.pressure}",
                share=_percent(finding.count / finding.of),
                of=finding.of,
                expected=_percent(finding.expected or 0),
            )
        case _:
            return line(f"evidence.quality.{finding.kind}", **counted)


def office_lines(found: Compared) -> tuple[Line, ...]:
    """Office beside home: both means with their pattern, then the difference."""
    both: dict[str, Value] = {
        "office": str(found.office),
        "home": str(found.home),
        "office_limit": str(found.limits.office),
        "home_limit": str(found.limits.home),
    }
    size = "large" if found.large else "usual"
    return (
        line(f"evidence.office.{found.pattern}", **both),
        line("evidence.office.systolic", **_interval(found.systolic)),
        line("evidence.office.diastolic", **_interval(found.diastolic)),
        line(f"evidence.office.visits.{size}", count=found.visits),
    )


def _interval(found: Interval) -> dict[str, Value]:
    return {
        "mean": _tenths(found.estimate),
        "low": _tenths(found.low),
        "high": _tenths(found.high),
    }


def _tenths(value: float) -> Fraction:
    return Fraction(round(10 * value), 10)


def _percent(share: float) -> int:
    return whole(100 * share)
