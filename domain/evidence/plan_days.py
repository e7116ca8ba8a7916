"""What the plans of many patients asked for, and how much of it was measured.

The plan of each patient is asked one by one, but never twice for the same days. Days are
ordinals of local dates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np

from domain.evidence.columns import Bools, Ints, OccasionColumns
from domain.plans import KINDS, Plan, PlanKind, asked_for, halves_on
from domain.practice_list import Followed

#: A result is decided on for so many days. Shorter than a new-tablets plan lasts (21), so that
#: an average from before a change of medicine is never taken for the one after it. Own choice.
RESULT_DAYS: Final = KINDS[PlanKind.NEW_TABLETS_WEEK].from_day + 6

WEEK: Final = 7
#: The longest stretch without an occasion that any plan has, with room to spare.
_AHEAD: Final = 200


@dataclass(frozen=True, slots=True, eq=False)
class PlanDays:
    """One element a patient."""

    today: Ints
    last: Ints  #: with an occasion; 0 where there is none
    asked_since: Ints  #: occasions asked for since then, before today
    asked: Ints  #: in the seven days before today
    done: Ints  #: occasions of the plan's own days among these
    runs: Bools  #: a plan that ends has not ended yet
    ended: Bools  #: such a plan has, and no other has begun
    began: Ints  #: first day of the plan, 0 without one
    counted_from: Ints  #: first day that belongs to its result, 0 without one


def plan_days(patients: Sequence[Followed], occasions: OccasionColumns, now: datetime) -> PlanDays:
    """What the plans asked for up to `now` (aware), and what was measured."""
    today = np.array([now.astimezone(one.zone).date().toordinal() for one in patients])
    last = np.zeros_like(today)
    np.maximum.at(last, occasions.patient, occasions.day)
    plans = [one.plan if one.asked and one.joined else None for one in patients]
    began = np.array([0 if plan is None else plan.first_day.toordinal() for plan in plans])
    ago = today[occasions.patient] - occasions.day
    of_plan = (ago >= 1) & (ago <= WEEK) & (occasions.day >= began[occasions.patient])
    done = np.bincount(occasions.patient[of_plan], minlength=len(patients))
    since, asked, ends = [], [], []
    for plan, now_day, last_day in zip(plans, today.tolist(), last.tolist(), strict=True):
        since.append(_asked(plan, max(last_day + 1, now_day - RESULT_DAYS), now_day - 1))
        asked.append(_asked(plan, now_day - WEEK, now_day - 1))
        end = plan.last_day if plan is not None else None
        ends.append(0 if end is None else end.toordinal())
    end_days = np.array(ends)
    return PlanDays(
        today=today,
        last=last,
        asked_since=np.array(since),
        asked=np.array(asked),
        done=done,
        runs=end_days >= today,
        ended=(end_days > 0) & (end_days < today),
        began=began,
        counted_from=np.array([0 if p is None else p.counted_from.toordinal() for p in plans]),
    )


def _asked(plan: Plan | None, first: int, last: int) -> int:
    """Occasions that a plan asks for from one day to another (ordinals), both included."""
    if plan is None or last < first:
        return 0
    return _asked_once(plan, first, last)


@lru_cache(maxsize=65_536)
def _asked_once(plan: Plan, first: int, last: int) -> int:
    return asked_for(plan, date.fromordinal(first), date.fromordinal(last))


@lru_cache(maxsize=65_536)
def next_day(plan: Plan, today: int) -> date | None:
    """The next day, from today on, on which the plan asks."""
    start = max(date.fromordinal(today), plan.first_day)
    days = (start + timedelta(days=number) for number in range(_AHEAD))
    return next((day for day in days if halves_on(plan, day)), None)
