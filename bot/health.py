"""When the figures of `storage.health` are well and when they are not, and how they are shown.

Used by `cuffbell check`, the health server and the life sign. Names and numbers only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Final

from storage.health import Health
from storage.runs import Run

#: Many times what sending an alarm takes when nothing is wrong.
LONGEST_ALARM: Final = timedelta(minutes=1)
#: Also when everybody's prompt falls due in the same minute.
LONGEST_TIMER: Final = timedelta(minutes=2)
#: The platform keeps a question for updates for 25 s, and a large batch takes its time.
LONGEST_POLL: Final = timedelta(minutes=2)


def troubles(health: Health) -> tuple[str, ...]:
    """What waits too long, as the names of `shown`; empty when all is well."""
    late = {
        "oldest unsent alarm": _over(health.oldest_alarm, LONGEST_ALARM),
        "oldest due timer": _over(health.oldest_timer, LONGEST_TIMER),
        "last poll of updates": _over(health.last_poll, LONGEST_POLL),
    }
    return tuple(name for name, is_late in late.items() if is_late)


def wrong(health: Health) -> tuple[str, ...]:
    """What somebody should look at: what waits too long, and what could not be handled
    lately, because its sender may have needed an answer."""
    unhandled = ("unhandled events",) if health.unhandled_lately else ()
    return (*troubles(health), *unhandled)


def is_alive(health: Health, run: Run, machine_now: datetime) -> bool:
    """Whether this process works as it should: nothing waits too long, polls succeed, and
    its own alarm clock rings."""
    rang = run.rang_at
    rings = rang is not None and machine_now - rang <= LONGEST_TIMER
    return rings and health.last_poll is not None and not troubles(health)


def shown(health: Health) -> dict[str, str]:
    """Every figure by its name, in words for one line each."""
    return {
        "oldest unsent alarm": _seconds(health.oldest_alarm),
        "oldest due timer": _seconds(health.oldest_timer),
        "last poll of updates": _seconds(health.last_poll, " ago"),
        "timers that fail": str(health.failing_timers),
        "alarms undeliverable in the last day": str(health.failed_alarms),
        "unhandled events": f"{health.unhandled}, {health.unhandled_lately} in the last day",
        "patients who cannot be reached": str(health.unreachable),
    }


#: The same figures for machines: seconds (None: there is none) and counts.
FIGURES: Final[Mapping[str, Callable[[Health], float | None]]] = {
    "oldest_unsent_alarm_seconds": lambda health: _number(health.oldest_alarm),
    "oldest_due_timer_seconds": lambda health: _number(health.oldest_timer),
    "last_poll_seconds": lambda health: _number(health.last_poll),
    "failing_timers": lambda health: health.failing_timers,
    "undeliverable_alarms_in_the_last_day": lambda health: health.failed_alarms,
    "unhandled_events": lambda health: health.unhandled,
    "unhandled_events_in_the_last_day": lambda health: health.unhandled_lately,
    "unreachable_patients": lambda health: health.unreachable,
}


def _over(span: timedelta | None, longest: timedelta) -> bool:
    return span is not None and span > longest


def _seconds(span: timedelta | None, behind: str = "") -> str:
    return "none" if span is None else f"{span.total_seconds():.0f} s{behind}"


def _number(span: timedelta | None) -> float | None:
    return None if span is None else round(span.total_seconds(), 3)
