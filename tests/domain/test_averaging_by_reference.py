"""Averages of random series against a second implementation, and what never changes them.

The reference below follows the agreed rules sentence by sentence with plain loops and decimal
numbers, in local time by the offset of each moment. It shares nothing with the code under test
but the reading itself: rules, bands, halves and occasions are written down again.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from domain.averaging import Average, Mean, average, printed
from domain.averaging_rules import RULES
from domain.readings import Bpm, Mmhg, Reading

# name: days, consecutive, week, day 1 left out, kept, by halves, bands
_RULES: dict[str, tuple[int, bool, int, bool, int, bool, str]] = {
    "nice": (4, False, 7, True, 12, False, "nice"),
    "esh": (3, False, 7, True, 12, False, "esh"),
    "stergiou-2018": (4, False, 7, True, 12, False, "esh"),
    "esc": (3, False, 7, False, 12, False, "esc"),
    "aha-ama": (3, True, 7, False, 12, False, "us"),
    "acc-aha-2017": (1, False, 7, False, 2, False, "us"),
    "aha-acc-2025": (3, True, 7, False, 12, False, "us"),
    "jsh": (0, False, 7, False, 5, True, "jsh"),
    "ish": (3, False, 7, True, 12, False, "ish"),
    "722": (4, True, 7, True, 12, True, "ish"),
    "all": (1, False, 1_000_000, False, 1, False, "ish"),
}
_NEVER = 1000
_BANDS = {
    "nice": (("not_confirmed", 0, 0), ("stage_1", 135, 85), ("stage_2", 150, 95)),
    "esh": (("normal", 0, 0), ("borderline", 130, 80), ("hypertension", 135, 85)),
    "esc": (("non_elevated", 0, 0), ("elevated", 120, 70), ("hypertension", 135, 85)),
    "us": (
        ("normal", 0, 0),
        ("elevated", 120, _NEVER),
        ("stage_1", 130, 80),
        ("stage_2", 135, 85),
    ),
    "jsh": (
        ("normal", 0, 0),
        ("high_normal", 115, _NEVER),
        ("elevated", 125, 75),
        ("grade_1", 135, 85),
        ("grade_2", 145, 90),
        ("grade_3", 160, 100),
    ),
    "ish": (("not_hypertension", 0, 0), ("hypertension", 135, 85)),
}


@dataclass
class _Row:
    """A reading on its way through the rules; `day` is an ordinal, of the whole occasion."""

    place: int
    moment: datetime
    local: datetime
    reading: Reading
    occasion: int = -1
    day: int = -1
    half: str = ""
    why: str | None = None


def _reference(readings: list[Reading], name: str, zone: ZoneInfo | None) -> dict[str, object]:
    least_days, consecutive, week, first_out, kept, halves, bands = _RULES[name]
    rows = _marked(readings, zone)
    grouped = [row for row in rows if row.why is None]
    last = max((row.day for row in grouped), default=0)
    for row in grouped:
        if row.day < last - (week - 1):
            row.why = "before_week"
    days_within = [row.day for row in grouped if row.why is None]
    first = min(days_within) if days_within and first_out else None
    for row in grouped:
        if row.why is None and row.day == first:
            row.why = "first_day"
        if row.why is None and halves and row.half == "":
            row.why = "afternoon"
    used = [row for row in rows if row.why is None]
    morning = _summary([row for row in used if row.half == "morning"], name)
    evening = _summary([row for row in used if row.half == "evening"], name)
    overall = _summary(used, name)
    if halves:
        order = [band for band, _, _ in _BANDS[bands]]
        both = [half["band"] for half in (morning, evening) if half["band"] is not None]
        overall["band"] = max(both, key=lambda band: order.index(str(band)), default=None)
    dates = {row.day for row in used} | ({first} if first is not None else set())
    runs = [all(start + step in dates for step in range(least_days)) for start in dates]
    days_met = any(runs) if consecutive else len(dates) >= least_days
    return {
        "days": len({row.day for row in used}),
        "left_out": [(row.place, row.why) for row in rows if row.why is not None],
        "overall": overall,
        "morning": morning,
        "evening": evening,
        "enough": days_met and _kept(used, name) >= kept,
    }


def _marked(readings: list[Reading], zone: ZoneInfo | None) -> list[_Row]:
    """Sorted, duplicates marked, the others with their occasion's number, day and half."""
    rows = []
    for place, reading in enumerate(readings):
        moment = reading.at.astimezone(UTC)
        local = (moment.astimezone(zone) if zone else reading.at).replace(tzinfo=None)
        rows.append(_Row(place, moment, local, reading))
    rows.sort(key=lambda row: (row.moment, row.place))
    before: _Row | None = None
    for index, row in enumerate(rows):
        for earlier in rows[:index]:
            numbers = [
                (r.moment, r.reading.systolic, r.reading.diastolic, r.reading.pulse)
                for r in (earlier, row)
            ]
            if numbers[0] == numbers[1]:
                row.why = "duplicate"
        if row.why is not None:
            continue
        if before is not None and row.moment - before.moment <= timedelta(seconds=600):
            row.occasion, row.day, row.half = before.occasion, before.day, before.half
        else:
            row.occasion = index
            row.day = row.local.toordinal()
            hour = row.local.hour
            row.half = "morning" if 4 <= hour < 12 else "evening" if hour >= 17 or hour < 4 else ""
        before = row
    return rows


def _summary(used: list[_Row], name: str) -> dict[str, object]:
    numbers: dict[str, float | None] = {}
    for field in ("systolic", "diastolic", "pulse"):
        groups: dict[int, list[int]] = {}
        for row in used:
            value = getattr(row.reading, field)
            if value is not None:
                groups.setdefault(row.occasion if name == "jsh" else row.place, []).append(value)
        means = [Fraction(sum(group), len(group)) for group in groups.values()]
        numbers[field] = _one_decimal(sum(means, Fraction()) / len(means)) if means else None
    systolic, diastolic = numbers["systolic"], numbers["diastolic"]
    band = None
    if systolic is not None and diastolic is not None:
        for candidate, least_systolic, least_diastolic in _BANDS[_RULES[name][6]]:
            if _whole(systolic) >= least_systolic or _whole(diastolic) >= least_diastolic:
                band = candidate
    occasions = len({row.occasion for row in used})
    return {"occasions": occasions, "readings": len(used), **numbers, "band": band}


def _one_decimal(exact: Fraction) -> float:
    """Enough digits for halves to be told from what is near them: denominators are small."""
    with localcontext() as context:
        context.prec = 60
        decimal = Decimal(exact.numerator) / Decimal(exact.denominator)
        return float(decimal.quantize(Decimal("0.1"), ROUND_HALF_EVEN))


def _whole(shown: float) -> int:
    return int(Decimal(str(shown)).quantize(Decimal(1), ROUND_HALF_UP))


def _kept(used: list[_Row], name: str) -> int:
    if name == "acc-aha-2017":
        sizes = [sum(r.occasion == o for r in used) for o in {row.occasion for row in used}]
        return len([size for size in sizes if size >= 2])
    if name == "jsh":
        mornings = {row.day for row in used if row.half == "morning"}
        evenings = {row.day for row in used if row.half == "evening"}
        return max(len(mornings), len(evenings))
    return len(used)


def _as_compared(result: Average) -> dict[str, object]:
    return {
        "days": len(result.days),
        "left_out": [(out.place, out.why.value) for out in result.left_out],
        "overall": _mean(result.overall),
        "morning": _mean(result.morning),
        "evening": _mean(result.evening),
        "enough": result.enough,
    }


def _mean(mean: Mean) -> dict[str, object]:
    shown = {
        field: None if exact is None else float(printed(exact))
        for field, exact in (
            ("systolic", mean.systolic),
            ("diastolic", mean.diastolic),
            ("pulse", mean.pulse),
        )
    }
    band = None if mean.band is None else mean.band.name
    return {"occasions": mean.occasions, "readings": mean.readings, **shown, "band": band}


# Weeks in which the clocks of these zones change, forward and back, and one without.
_ZONES: list[tuple[str, str]] = [
    ("Europe/Lisbon", "2026-03-25"),
    ("Europe/Lisbon", "2026-10-21"),
    ("America/Halifax", "2026-03-05"),
    ("America/Halifax", "2026-10-28"),
    ("Australia/Lord_Howe", "2026-04-01"),
    ("Africa/Cairo", "2026-04-21"),
    ("Pacific/Apia", "2011-12-26"),
    ("Asia/Kolkata", "2026-05-04"),
]
_CLOCKS = (0, 30, 150, 239, 240, 450, 460, 465, 715, 719, 720, 840, 1015, 1019, 1020, 1205, 1434)


def _series(seed: int, begin: datetime, spread_over: timedelta) -> list[Reading]:
    """A plan as people keep it: near round hours, in pairs, with gaps and slips of many kinds."""
    chance = random.Random(seed)
    level = chance.choice((115, 125, 135, 145))
    readings: list[Reading] = []
    for day in range(chance.randint(1, spread_over.days)):
        for clock in chance.sample(_CLOCKS, chance.choice((0, 1, 2, 2, 2, 3))):
            at = begin + timedelta(days=day, minutes=clock)
            for _ in range(chance.choice((1, 2, 2, 2, 3, 5))):
                readings.append(_reading(chance, at, level))
                at += timedelta(seconds=chance.choice((0, 1, 60, 599, 600, 601, 3600)))
    repeated = [one for one in readings if chance.random() < 0.1]
    readings += [
        replace(one, at=one.at.astimezone(timezone(timedelta(hours=chance.randint(-12, 14)))))
        for one in repeated
    ]
    chance.shuffle(readings)
    return readings


def _reading(chance: random.Random, at: datetime, level: int) -> Reading:
    systolic = level + chance.randint(-8, 8)
    return Reading(
        systolic=Mmhg(systolic),
        diastolic=Mmhg(systolic - 50 + chance.randint(-6, 6)),
        pulse=Bpm(chance.randint(55, 90)) if chance.random() < 0.5 else None,
        at=at,
    )


_SEEDS = st.integers(min_value=0, max_value=2**32)


@settings(max_examples=300, deadline=None)
@given(
    seed=_SEEDS,
    name=st.sampled_from(sorted(_RULES)),
    place=st.sampled_from(_ZONES),
    zoned=st.booleans(),
    days=st.integers(min_value=1, max_value=12),
)
def test_random_series_average_as_the_reference_says(
    seed: int, name: str, place: tuple[str, str], zoned: bool, days: int
) -> None:
    zone = ZoneInfo(place[0])
    begin = datetime.fromisoformat(f"{place[1]}T00:00:00").replace(tzinfo=zone)
    # In steps of real time, so that moments in the gap and in the hour that comes twice occur.
    readings = _series(seed, begin.astimezone(UTC), timedelta(days=days))
    if not zoned:
        offset = begin.utcoffset()
        assert offset is not None
        readings = [replace(r, at=r.at.astimezone(timezone(offset))) for r in readings]
    result = average(readings, RULES[name], zone if zoned else None)
    assert _as_compared(result) == _reference(readings, name, zone if zoned else None)


@settings(max_examples=100, deadline=None)
@given(seed=_SEEDS, name=st.sampled_from(sorted(_RULES)), shuffle=st.randoms())
def test_the_order_of_rows_never_changes_the_average(
    seed: int, name: str, shuffle: random.Random
) -> None:
    begin = datetime(2026, 5, 4, tzinfo=UTC)
    readings = _different(_series(seed, begin, timedelta(days=9)))
    shuffled = readings[:]
    shuffle.shuffle(shuffled)
    one, other = (average(rows, RULES[name]) for rows in (readings, shuffled))
    assert (one.overall, one.morning, one.evening) == (other.overall, other.morning, other.evening)
    assert (one.lacks, one.days) == (other.lacks, other.days)
    assert {(out.reading, out.why) for out in one.left_out} == {
        (out.reading, out.why) for out in other.left_out
    }


@settings(max_examples=100, deadline=None)
@given(seed=_SEEDS, name=st.sampled_from(sorted(_RULES)), data=st.data())
def test_duplicates_never_change_the_average(seed: int, name: str, data: st.DataObject) -> None:
    begin = datetime(2026, 5, 4, tzinfo=UTC)
    readings = _different(_series(seed, begin, timedelta(days=9)))
    again = data.draw(st.lists(st.sampled_from(readings), max_size=9)) if readings else []
    elsewhere = [replace(r, at=r.at.astimezone(ZoneInfo("Asia/Kolkata"))) for r in again]
    plain, repeated = (average(rows, RULES[name]) for rows in (readings, readings + elsewhere))
    assert repeated.overall == plain.overall
    assert (repeated.morning, repeated.evening) == (plain.morning, plain.evening)
    assert (repeated.lacks, repeated.used) == (plain.lacks, plain.used)
    assert len(repeated.left_out) == len(plain.left_out) + len(again)


def _different(readings: list[Reading]) -> list[Reading]:
    """In UTC and without repeats, so that a local date does not hang on which one stays."""
    return sorted(
        {replace(one, at=one.at.astimezone(UTC)) for one in readings},
        key=lambda one: (one.at, one.systolic, one.diastolic, one.pulse or 0),
    )
