"""How sure a figure of daily values is, when one day is like the next.

Today's pressure resembles yesterday's, so thirty days tell less than thirty independent
ones. How much less hangs on the correlation from one day to the next, and some weeks of
readings are too few to estimate it: taken from the data alone it comes out too low, and the
intervals too narrow. So every figure is worked out under each correlation of `CORRELATIONS`;
its interval is that of Student's t under all of them together, each weighing as much as its
`weight` times how well it fits the days (restricted likelihood, Harville, JASA 1977;72:320,
from memory). With few days the fixed weights decide, with many the data.

Model: a day that lies k days after another is correlated with it by the k-th power of the
correlation (first-order autoregression), so missing days need no filling in.

Everything here is for many people at once: arrays have one row a person, days beyond a
person's own are padded and marked as absent. Values in mmHg, days as ordinals.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from domain.evidence.days import Bools, Floats, Ints, Series
from domain.sources import Status


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with the ends of its interval, in the unit of the figure."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Correlations:
    """Correlations from one day to the next, and what each weighs before any day is seen."""

    values: tuple[float, ...]
    weights: tuple[float, ...]
    source: str
    status: Status


#: Weights in which independent days and strongly alike ones have the most part, because the
#: figures must hold for both: chosen so that 95 % intervals of 3 to 180 days hold the truth in
#: 93 to 97 % of people whose correlations lie anywhere from 0 to 0.4, in at least 93 % at 0.4
#: itself, and in as little above 97 % as can be at 0. tests/outside/test_evidence_by_days.py
#: tries it.
CORRELATIONS: Final = Correlations(
    values=(0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7),
    weights=(0.60, 0.03, 0.03, 0.08, 0.03, 0.03, 0.15, 0.05),
    source="chosen by simulation to hold from 0 to 0.4; no published distribution was read",
    status=Status.OWN,
)

#: How often an interval shall hold the truth. Common practice.
CONFIDENCE: Final = 0.95

#: A direction is said when an interval of this confidence would leave out zero. It is wider
#: than the one that is shown, so that also at a correlation of 0.4 one is found in at most 5 % of
#: people who have none. Own choice, by simulation.
CLEAR_CONFIDENCE: Final = 0.97
CLEAR_TAIL: Final = (1 - CLEAR_CONFIDENCE) / 2

#: Fewer days have no interval: no guideline that names days is content with fewer
#: (ESH 2021, AHA/AMA 2020), and with two of them nothing can be said of a spread.
LEAST_DAYS: Final = 3

#: Variance in mmHg² of what rounding to whole numbers hides (uniform over one mmHg). Equal
#: values are not without any spread.
ROUNDING_VARIANCE: Final = 1 / 12

#: Days farther apart than this count as independent: 0.7 to the 40th is below 0.000001.
_FAR: Final = 40

#: Leaves a millionth of what lies between the correlations' own ends.
_HALVINGS: Final = 20

_PHI: Final = np.array(CORRELATIONS.values)
#: powers[j, k]: correlation j of days k apart.
_POWERS: Final = np.where(np.arange(_FAR + 1) < _FAR, _PHI[:, None] ** np.arange(_FAR + 1), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """Daily values of many people: arrays of people by days, the present days first."""

    days: Ints
    values: Floats
    present: Bools

    @property
    def counts(self) -> Ints:
        found: Ints = self.present.sum(axis=1)
        return found

    def only(self, chosen: Bools) -> Sample:
        """Without the days that are not chosen."""
        kept = self.present & chosen
        front = np.argsort(~kept, axis=1, kind="stable")
        return Sample(
            np.take_along_axis(self.days, front, axis=1),
            np.take_along_axis(self.values, front, axis=1),
            np.take_along_axis(kept, front, axis=1),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A regression on daily values under every correlation of `CORRELATIONS`.

    Axes: correlation, person, and for the estimates the regressor.
    """

    weights: Floats  #: sum over the correlations is 1
    estimates: Floats
    scales: Floats  #: standard errors of the estimates
    squares: Floats  #: sum of squared residuals, made independent; mmHg²
    freedom: Ints  #: degrees of freedom by person

    @property
    def correlation(self) -> Floats:
        """What the days tell of the correlation from one to the next, by person."""
        found: Floats = _PHI @ self.weights
        return found

    @property
    def variances(self) -> Floats:
        """Variance of one day's value about the regression, mmHg²."""
        return self.squares / self.freedom

    def bounds(self, regressor: int, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
        """Both ends of the interval of one regressor's estimate, by person."""
        at = self.estimates[..., regressor], self.scales[..., regressor]
        return t_bounds(self.weights, *at, self.freedom, confidence)

    def below(self, regressor: int, value: float) -> Floats:
        """Chance that one regressor's true value is below `value`, by person."""
        at = self.estimates[..., regressor], self.scales[..., regressor]
        return t_below(self.weights, *at, self.freedom, value)


def sample_of(series: Sequence[Series]) -> Sample:
    """The series of several people side by side."""
    most = max((len(one) for one in series), default=0)
    days = np.zeros((len(series), most), dtype=np.int64)
    values = np.zeros((len(series), most))
    present = np.zeros((len(series), most), dtype=bool)
    for row, one in enumerate(series):
        days[row, : len(one)] = one.days
        values[row, : len(one)] = one.values
        present[row, : len(one)] = True
    return Sample(days, values, present)


def fit(sample: Sample, *more: Floats) -> Fit:
    """Least squares of the values on a level and `more` columns, under each correlation.

    Args:
        more: other regressors, each people by days. The level is regressor 0, they follow.

    Raises:
        ValueError: somebody has no more days than there are regressors.
    """
    columns = (np.ones_like(sample.values), *more)
    freedom = sample.counts - len(columns)
    if (freedom < 1).any():
        raise ValueError("a fit needs more days than regressors. Leave out such people.")
    gaps = np.clip(np.diff(sample.days, axis=1), 1, _FAR)
    alike = np.where(sample.present[:, 1:], _POWERS[:, gaps], 0.0)
    fresh = np.sqrt(1 - alike**2)

    def independent(rows: Floats) -> Floats:
        made = np.broadcast_to(rows, (len(_PHI), *rows.shape)).copy()
        made[..., 1:] = (rows[:, 1:] - alike * rows[:, :-1]) / fresh
        made *= sample.present
        return made

    middle = sample.values.sum(axis=1, where=sample.present) / sample.counts
    y = independent(sample.values - middle[:, None])
    x = np.stack([independent(column) for column in columns], axis=-2)
    information = x @ np.swapaxes(x, -1, -2)
    towards = (x @ y[..., None])[..., 0]
    inverse = np.linalg.inv(information)
    estimates = (inverse @ towards[..., None])[..., 0]
    squares = (y**2).sum(axis=-1) - (towards * estimates).sum(axis=-1)
    squares = np.maximum(squares, freedom * _hidden(alike, sample))
    weights = _weights(
        -np.log(fresh).sum(axis=-1)
        - np.linalg.slogdet(information)[1] / 2
        - freedom * np.log(squares) / 2
    )
    scales = np.sqrt(np.diagonal(inverse, axis1=-2, axis2=-1) * (squares / freedom)[..., None])
    estimates[..., 0] += middle  # it was taken off for accuracy only
    return Fit(weights, estimates, scales, squares, freedom)


def _hidden(alike: Floats, sample: Sample) -> Floats:
    """Mean square that rounding leaves in the days made independent, by correlation, person.

    Rounding itself is independent from day to day, so making it so adds to it, and equal
    values do not pass for days that are much alike.
    """
    grown = ((1 + alike**2) / (1 - alike**2)).sum(axis=-1, where=sample.present[:, 1:])
    found: Floats = ROUNDING_VARIANCE * (1 + grown) / sample.counts
    return found


def _weights(log_likelihood: Floats) -> Floats:
    known = log_likelihood + np.log(CORRELATIONS.weights)[:, None]
    found: Floats = np.exp(known - known.max(axis=0))
    shares: Floats = found / found.sum(axis=0)
    return shares


def pairs_apart(sample: Sample) -> Floats:
    """How many pairs of present days lie k days apart, by person and k from 0 to 39."""
    first = np.where(sample.present, sample.days, np.iinfo(np.int64).max).min(axis=1)
    place = np.where(sample.present, sample.days - first[:, None], 0)
    here = np.zeros((len(place), int(place.max(initial=0)) + _FAR + 1))
    rows = np.broadcast_to(np.arange(len(place))[:, None], place.shape)
    here[rows[sample.present], place[sample.present]] = 1
    width = here.shape[1] - _FAR
    return np.stack(
        [np.einsum("pd,pd->p", here[:, :width], here[:, k : k + width]) for k in range(_FAR)],
        axis=-1,
    )


def inflation(pairs: Floats, alike: Floats) -> Floats:
    """By how much the variance of a mean is more than that of independent days, at least 1.

    Args:
        pairs: of `pairs_apart`.
        alike: correlation of values k days apart, by correlation, person (or 1) and k.
    """
    found: Floats = 1 + 2 * (alike[..., 1:] * pairs[:, 1:]).sum(axis=-1) / pairs[:, 0]
    return found


def day_correlations() -> Floats:
    """Correlation of days k apart, by correlation, one row for everybody, and k from 0 to 39."""
    return _POWERS[:, None, :_FAR]


def t_below(
    weights: Floats, centres: Floats, scales: Floats, freedom: Floats | Ints, x: Floats | float
) -> Floats:
    """Chance below `x` of a mixture of Student's t, by person (axes: correlation, person)."""
    shares: Floats = special.stdtr(freedom, (x - centres) / scales)
    chance: Floats = (weights * shares).sum(axis=-2)
    return chance


def t_bounds(
    weights: Floats, centres: Floats, scales: Floats, freedom: Floats | Ints, confidence: float
) -> tuple[Floats, Floats]:
    """Both quantiles of a mixture of Student's t, by person (axes: correlation, person)."""
    shares = _tails(confidence)
    each = centres + scales * special.stdtrit(freedom, shares)
    return _solve(lambda x: t_below(weights, centres, scales, freedom, x), shares, each)


def spread_bounds(found: Fit, confidence: float = CONFIDENCE) -> tuple[Floats, Floats]:
    """Both ends of the interval of the SD of one day's value, mmHg, by person (chi-square)."""

    def below(x: Floats) -> Floats:
        shares: Floats = special.chdtrc(found.freedom, found.squares / x**2)
        chance: Floats = (found.weights * shares).sum(axis=-2)
        return chance

    shares = _tails(confidence)
    each = np.sqrt(found.squares / special.chdtri(found.freedom, shares))
    return _solve(below, shares, each)


def _tails(confidence: float) -> Floats:
    """Chances below either end (axes: end, correlation, person)."""
    tail = (1 - confidence) / 2
    return np.array([tail, 1 - tail])[:, None, None]


def _solve(
    below: Callable[[Floats], Floats], shares: Floats, each: Floats
) -> tuple[Floats, Floats]:
    """Where the mixture's chances reach `shares`, both ends at once, by halving.

    `each` has the ends under every correlation alone; the mixture's lie between them.
    """
    low, high = each.min(axis=1), each.max(axis=1)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        short = below(middle[:, None]) < shares[:, 0]
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    ends = (low + high) / 2
    return ends[0], ends[1]
