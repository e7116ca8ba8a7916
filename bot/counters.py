"""Counters for a monitor: alarms raised, answered, delivered, and how long each took.

Of this process alone and since it started: of several replicas each shows its own, and a
monitor adds them up. Shown in the Prometheus text format. No label names anybody; labels are
fixed words.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4, generate_latest

from bot.alarm_changes import AlarmChange, Happened
from bot.health import FIGURES
from domain.events import DeliveryProblem
from domain.outcome import Rank
from storage.health import Health

CONTENT_TYPE: Final = CONTENT_TYPE_PLAIN_0_0_4
#: Seconds from queued to taken by the platform: at once, and as long as retries may last.
_DELIVERY_SECONDS: Final = (0.25, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 900)
#: Seconds until people answer: contacts are called every three minutes.
_ANSWER_SECONDS: Final = (30, 60, 120, 180, 300, 480, 900, 1800, 3600, 7200, 21600)
_RANKS: Final = {rank: rank.name.lower() for rank in Rank}


class Counters:
    """The counters of one process. Safe to use from several threads."""

    def __init__(self) -> None:
        self._registry = registry = CollectorRegistry()
        self._steps = Counter(
            "cuffbell_alarm_steps",
            "Alarms by what happened: raised, emergency, told, ended.",
            ["happened"],
            registry=registry,
        )
        self._answers = Histogram(
            "cuffbell_alarm_answer_seconds",
            "From when an alarm opened until the patient or a contact first answered it.",
            ["by"],
            buckets=_ANSWER_SECONDS,
            registry=registry,
        )
        self._delivered = Histogram(
            "cuffbell_delivery_seconds",
            "From when a message was queued until the platform took it.",
            ["rank"],
            buckets=_DELIVERY_SECONDS,
            registry=registry,
        )
        self._failed = Counter(
            "cuffbell_undeliverable",
            "Messages that the platform refused for good.",
            ["rank", "problem"],
            registry=registry,
        )
        self._again = Counter(
            "cuffbell_retries",
            "Attempts that the platform did not take, tried again later.",
            ["rank"],
            registry=registry,
        )
        self._figures = {
            name: Gauge(
                f"cuffbell_{name}", _ABOUT.format(name.replace("_", " ")), registry=registry
            )
            for name in FIGURES
        }

    def alarm(self, step: AlarmChange) -> None:
        """Something happened to an alarm."""
        if step.happened in {Happened.ANSWERED_BY_CONTACT, Happened.ANSWERED_BY_PATIENT}:
            self._answers.labels(step.happened).observe(step.after.total_seconds())
        else:
            self._steps.labels(step.happened).inc()

    def delivered(self, rank: Rank, took: timedelta) -> None:
        """The platform took a message, so long after it was queued."""
        self._delivered.labels(_RANKS[rank]).observe(max(0.0, took.total_seconds()))

    def failed(self, rank: Rank, problem: DeliveryProblem) -> None:
        """The platform refused a message for good."""
        self._failed.labels(_RANKS[rank], problem.value).inc()

    def tried_again(self, rank: Rank) -> None:
        """The platform did not take a message now."""
        self._again.labels(_RANKS[rank]).inc()

    def shown(self, health: Health) -> bytes:
        """Everything, with the database's figures, in the text format."""
        for name, figure in FIGURES.items():
            value = figure(health)
            self._figures[name].set(float("nan") if value is None else value)
        return generate_latest(self._registry)


_ABOUT: Final = "Of the database, the same in every process: {}; NaN for none."
