"""How `cuffbell average` shows an average: as a JSON object and as a text that says the same.

Pressures in mmHg and pulse in beats per minute to one decimal, as `domain.averaging.printed`
makes them. `written` holds the moments as they stood in the input, in the order in which
the readings were passed to `average`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final

from domain.averaging import Average, Lack, Least, Mean, Why, printed
from domain.bands import Band

_LEASTS: Final[Mapping[Least, tuple[str, str]]] = {
    Least.DAYS: ("day with readings", "days with readings"),
    Least.CONSECUTIVE_DAYS: (
        "day with readings",
        "days with readings that follow one another",
    ),
    Least.READINGS: ("reading", "readings"),
    Least.REPEATED_OCCASIONS: (
        "occasion of two or more readings",
        "occasions of two or more readings",
    ),
    Least.MORNINGS_OR_EVENINGS: ("morning or evening", "mornings or as many evenings"),
}

_WHYS: Final[Mapping[Why, str]] = {
    Why.CLINIC: "taken at the clinic",
    Why.DUPLICATE: "the same reading is there before",
    Why.BEFORE_WEEK: "before the week that counts",
    Why.FIRST_DAY: "first day",
    Why.AFTERNOON: "neither morning nor evening",
}


def as_json(average: Average, written: Sequence[str]) -> dict[str, object]:
    """The object that --json prints."""
    overall = average.overall
    return {
        "rule": average.rule.name,
        "source": f"{average.rule.source} ({average.rule.status})",
        "days": len(average.days),
        "occasions": overall.occasions,
        "readings_used": overall.readings,
        "readings_left_out": [
            {"at": written[out.place], "why": out.why.value} for out in average.left_out
        ],
        **_means(overall),
        "enough": average.enough,
        "missing": None if average.enough else _missing(average.lacks),
        "band": _band(overall.band),
        "guideline": average.guideline.value,
        "morning": _half(average.morning),
        "evening": _half(average.evening),
    }


def _half(mean: Mean) -> dict[str, object]:
    counts = {"occasions": mean.occasions, "readings": mean.readings}
    return counts | _means(mean) | {"band": _band(mean.band)}


def _means(mean: Mean) -> dict[str, object]:
    return {
        "systolic": _number(mean.systolic),
        "diastolic": _number(mean.diastolic),
        "pulse": _number(mean.pulse),
    }


def _number(mean: Fraction | None) -> float | None:
    return None if mean is None else float(printed(mean))


def _band(band: Band | None) -> str | None:
    return None if band is None else band.name


def _missing(lacks: Sequence[Lack]) -> str:
    return "; ".join(_lack(lack) for lack in lacks)


def _lack(lack: Lack) -> str:
    one, more = _LEASTS[lack.least]
    found = "no" if lack.found == 0 else f"only {lack.found}"
    return f"{found} {one if lack.found == 1 else more}, at least {lack.needed} are needed"


def as_text(average: Average, written: Sequence[str]) -> str:
    """The lines that are printed without --json, without the last line's end."""
    rule = average.rule
    lines = [f"Rule {rule.name}: {rule.source} ({rule.status})"]
    if rule.remark:
        lines.append(f"  {rule.remark}")
    if average.enough:
        lines.append("Enough readings for this rule.")
    else:
        lines.append(f"Not enough for this rule: {_missing(average.lacks)}.")
    lines += [
        f"Average of {_count(len(average.days), 'day')}: {_mean_text(average.overall)}",
        f"Morning: {_mean_text(average.morning)}",
        f"Evening: {_mean_text(average.evening)}",
        f"Bands of {average.guideline}.",
    ]
    lines.append("Left out:" if average.left_out else "Left out: nothing.")
    lines += [f"  {written[out.place]}  {_WHYS[out.why]}" for out in average.left_out]
    return "\n".join(lines)


def _mean_text(mean: Mean) -> str:
    if mean.systolic is None or mean.diastolic is None or mean.band is None:
        return "none, no readings"
    pulse = "no pulse" if mean.pulse is None else f"pulse {_number(mean.pulse)}"
    return (
        f"{_number(mean.systolic)}/{_number(mean.diastolic)} mmHg, {pulse}, "
        f"{mean.band.name.replace('_', ' ')} "
        f"({_count(mean.readings, 'reading')}, {_count(mean.occasions, 'occasion')})"
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
