"""Whether the pressure rises, falls or keeps its level over at most the last 180 days.

A line by least squares that knows the correlation between days (`intervals.py`), through all
days but those far from the others. Why not Theil-Sen with Mann-Kendall: on 28 days with a
correlation of 0.4 and no trend it finds one in 18 % of series, and its usual corrections do
no better, because they take the correlation from the same few days; the line's interval
needs no such estimate. What Theil-Sen is good at, not to be led by single wild days, leaving
them out of the line does as well. They stay in every mean.

Pressures in mmHg, slopes in mmHg per 30 days.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from domain.evidence.days import Bools, Floats, Ints, Pressure, Series
from domain.evidence.intervals import CLEAR_TAIL, Fit, Interval, Sample, fit, sample_of
from domain.evidence.levels import Level, level

#: Longer ago does not tell how it is going now; own choice, half a year.
WINDOW_DAYS: Final = 180

#: Fewer days, or days closer together, say nothing of a trend: a change of 10 mmHg could not
#: be told from none. Own choice.
LEAST_DAYS: Final = 14
LEAST_SPAN: Final = 21

#: The level is steady when a change over the window of more than this, up or down, can be
#: left out. Systolic: a change of 10 between two weeks is within usual variation (Kato 2010: 9.0);
#: half of it for the diastolic is common practice, and for the pulse pressure own choice.
STEADY_WITHIN: Final = {
    Pressure.SYSTOLIC: 10.0,
    Pressure.DIASTOLIC: 5.0,
    Pressure.PULSE_PRESSURE: 10.0,
}

#: How likely such a change may still be, in either direction: two one-sided tests (Schuirmann,
#: J Pharmacokinet Biopharm 1987;15:657, from memory) at the usual 5 %. A change of just so
#: much is called steady in fewer than 5 % of people, also at a correlation of 0.4.
STEADY_TAIL: Final = 0.05

#: Days more than this many robust SDs from the others' line are left out of it. Own choice:
#: then 1 or 2 % of people without a wild day lose one (median absolute deviations of few days
#: are rough), and the line holds as before.
FAR_SDS: Final = 4.0

#: With more wild days the level is not called steady: they may be the beginning of something.
MOST_WILD: Final = 1

#: Median absolute deviation to SD, normal distribution: 1 / 0.6745.
_MAD_TO_SD: Final = 1.4826

#: mmHg; days that hardly differ do not make one that does a wild one. Own choice: half of
#: the spread of ordinary people's days is some 4 (Kato 2010: 8.6).
LEAST_SD: Final = 4.0

_ROUNDS: Final = 5

SLOPE_DAYS: Final = 30


class Direction(StrEnum):
    RISING = "rising"
    FALLING = "falling"
    STEADY = "steady"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True)
class Trend:
    """What the last days of one person show. Without an interval it cannot be told."""

    direction: Direction
    days: int  #: with a value, in the window
    span: int  #: calendar days from the first to the last of them, both included
    level: Level | None  #: mean over the window
    slope: Interval | None  #: mmHg per 30 days
    change: Interval | None  #: mmHg along the line, from the first day to the last
    wild: int  #: days so far from the others that they were left out of the line


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Lines through many people's days. Regressor 1 is the change over the whole span."""

    found: Fit
    spans: Floats  #: days from the first day to the last, by person
    wild: Ints  #: days left out, by person


def trend(series: Series, pressure: Pressure) -> Trend:
    """The trend of one person's daily values over the `WINDOW_DAYS` before the last of them.

    Args:
        series: days to be compared with each other: see `Days.comparable_part`.
        pressure: what the values are; says which change is too small to matter.
    """
    if len(series) == 0:
        return Trend(Direction.CANNOT_TELL, 0, 0, None, None, None, 0)
    window = series.since(int(series.days[-1]) - WINDOW_DAYS + 1)
    span = int(window.days[-1] - window.days[0]) + 1
    if len(window) < LEAST_DAYS or span < LEAST_SPAN:
        return Trend(Direction.CANNOT_TELL, len(window), span, level(window), None, None, 0)
    lines = slopes_of(sample_of([window]))
    low, high = (float(end[0]) for end in lines.found.bounds(1))
    change = Interval(float(_estimates(lines)[0]), low, high)
    share = SLOPE_DAYS / (span - 1)
    return Trend(
        direction=directions(lines, pressure)[0],
        days=len(window),
        span=span,
        level=level(window),
        slope=Interval(change.estimate * share, low * share, high * share),
        change=change,
        wild=int(lines.wild[0]),
    )


def slopes_of(sample: Sample) -> Slopes:
    """Lines through the days of many people, each with at least `LEAST_DAYS` of them."""
    middle = sample.days.sum(axis=1, where=sample.present) / sample.counts
    last = np.take_along_axis(sample.days, sample.counts[:, None] - 1, axis=1)[:, 0]
    spans = (last - sample.days[:, 0]).astype(float)

    def along(some: Sample) -> Floats:
        places = (some.days - middle[:, None]) / spans[:, None]
        return np.where(some.present, places, 0.0)

    wild = _wild(sample, along(sample))
    rest = sample.only(~wild)
    return Slopes(fit(rest, along(rest)), spans, wild.sum(axis=1))


def directions(lines: Slopes, pressure: Pressure) -> list[Direction]:
    """What may be said of each person's line."""
    falls = lines.found.below(1, 0.0)
    within = STEADY_WITHIN[pressure]
    too_far = np.maximum(lines.found.below(1, -within), 1 - lines.found.below(1, within))
    found = np.select(
        [
            falls < CLEAR_TAIL,
            falls > 1 - CLEAR_TAIL,
            (too_far < STEADY_TAIL) & (lines.wild <= MOST_WILD),
        ],
        [Direction.RISING.value, Direction.FALLING.value, Direction.STEADY.value],
        Direction.CANNOT_TELL.value,
    )
    return [Direction(one) for one in found]


def _estimates(lines: Slopes) -> Floats:
    found: Floats = (lines.found.weights * lines.found.estimates[..., 1]).sum(axis=0)
    return found


def _wild(sample: Sample, along: Floats) -> Bools:
    """Which days lie far from a line that far days cannot draw to themselves.

    Such days are moved to where they are just not far, the line is laid again, and so on
    (Huber, Robust Statistics, 1981, from memory).
    """
    counts, present = sample.counts, sample.present
    kept, reach = sample.values, np.zeros((len(counts), 1))
    off = np.zeros_like(kept)
    for _ in range(_ROUNDS):
        middle = kept.sum(axis=1, where=present) / counts
        slope = (kept * along).sum(axis=1) / (along**2).sum(axis=1)
        line = middle[:, None] + slope[:, None] * along
        off = sample.values - line
        mad = np.nanmedian(np.where(present, np.abs(off), np.nan), axis=1)
        sd = np.maximum(mad * _MAD_TO_SD * np.sqrt(counts / (counts - 2)), LEAST_SD)
        reach = FAR_SDS * sd[:, None]
        kept = np.where(present, line + np.clip(off, -reach, reach), 0.0)
    return present & (np.abs(off) > reach)
