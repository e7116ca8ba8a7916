"""All figures of one patient with ten years of pairs, morning and evening.

    python tests/benchmarks/evidence_figures.py [zone of the readings, default UTC]

Two pairs each morning and evening, 29,200 readings, become daily values, and these every
figure of `domain/evidence` about one person's numbers, for both pressures. Target of the
design: at most 50 ms warm. The readings are invented.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, tzinfo
from time import perf_counter
from zoneinfo import ZoneInfo

from domain.evidence.change import before_and_after
from domain.evidence.days import Days, Part, Pressure, daily_values
from domain.evidence.levels import level
from domain.evidence.trend import trend
from domain.evidence.variability import (
    morning_minus_evening,
    pulse_pressure,
    time_at_target,
    variability,
    week_pattern,
)
from domain.readings import Mmhg, Reading

HOME = ZoneInfo("Europe/Madrid")
BEGAN = date(2016, 3, 1)
DAYS = 3650
ROUNDS = 15


def main(zone_name: str) -> None:
    zone: tzinfo = UTC if zone_name == "UTC" else ZoneInfo(zone_name)
    readings = _ten_years(zone)
    print(f"{len(readings):,} readings with moments in {zone_name}, days in {HOME.key}")
    _best("cold: everything, the first time", lambda: _figures(daily_values(readings, HOME)), 1)
    _best("readings to daily values", lambda: daily_values(readings, HOME))
    days = daily_values(readings, HOME)
    for name, make in _FIGURES.items():
        _best(name, lambda make=make: make(days))  # type: ignore[misc]
    _best("warm: everything", lambda: _figures(daily_values(readings, HOME)))


def _best(name: str, call: Callable[[], object], rounds: int = ROUNDS) -> None:
    taken = []
    for _ in range(rounds):
        begun = perf_counter()
        call()
        taken.append((perf_counter() - begun) * 1000)
    taken.sort()
    print(f"{name:38} median {taken[len(taken) // 2]:6.1f} ms, least {taken[0]:6.1f} ms")


_PRESSURES = (Pressure.SYSTOLIC, Pressure.DIASTOLIC)

_FIGURES: dict[str, Callable[[Days], object]] = {
    "level and variability, whole days": lambda days: [
        variability(days.series(pressure)) for pressure in _PRESSURES
    ],
    "level of mornings and of evenings": lambda days: [
        level(days.series(pressure, part))
        for pressure in _PRESSURES
        for part in (Part.MORNING, Part.EVENING)
    ],
    "trend": lambda days: [
        trend(days.series(pressure, days.comparable_part()), pressure) for pressure in _PRESSURES
    ],
    "before and after a change": lambda days: [
        before_and_after(days, BEGAN + timedelta(days=3000), p, chosen_for_being_high=True)
        for p in _PRESSURES
    ],
    "morning minus evening": lambda days: [morning_minus_evening(days, p) for p in _PRESSURES],
    "pulse pressure": pulse_pressure,
    "time at target": lambda days: time_at_target(days, (135, 85)),
    "weekdays": lambda days: [week_pattern(days.series(p)) for p in _PRESSURES],
}


def _figures(days: Days) -> None:
    for make in _FIGURES.values():
        make(days)


def _ten_years(zone: tzinfo) -> list[Reading]:
    chance = random.Random(29_000)
    readings = []
    for number in range(DAYS):
        day = datetime.combine(BEGAN + timedelta(days=number), datetime.min.time(), UTC)
        usual = chance.gauss(138, 8.6)
        for hour in (7, 19):
            at = day + timedelta(hours=hour, minutes=chance.randrange(50))
            for minute in range(4):
                top = round(chance.gauss(usual, 4))
                low = round(chance.gauss(82, 4))
                readings.append(
                    Reading(
                        systolic=Mmhg(max(top, low + 20)),
                        diastolic=Mmhg(low),
                        at=(at + timedelta(minutes=minute)).astimezone(zone),
                    )
                )
    return readings


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "UTC")
