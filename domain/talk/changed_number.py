"""A correction by a single number ("no, 142"): which number of the last reading it is for.

Pressures in mmHg, pulse in beats per minute. Which reading is corrected is `keeping.py`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from domain.readings import LIMITS, Bpm, Mmhg, Reading
from domain.understanding.result import Change

#: A single number above is taken for a systolic, one below the other for a diastolic (mmHg);
#: the project's own choice, used only where nothing else tells which of the two is corrected.
_HIGHEST_USUAL_DIASTOLIC: Final = 129
_LOWEST_USUAL_SYSTOLIC: Final = 80


def with_change(reading: Reading, change: Change) -> Reading | None:
    """The reading with single numbers replaced, or None when that cannot be a reading.

    A loose number stands for the wrong one when that was named, else for the one that it
    may be: see `_is_for_diastolic`.
    """
    systolic = change.systolic if change.systolic is not None else reading.systolic
    diastolic = change.diastolic if change.diastolic is not None else reading.diastolic
    pulse = change.pulse if change.pulse is not None else reading.pulse
    if change.loose is not None:
        if _is_for_diastolic(reading, change.loose, change.wrong):
            diastolic = change.loose
        else:
            systolic = change.loose
    if LIMITS.pressure_problem(systolic, diastolic) is not None:
        return None
    if pulse is not None and LIMITS.pulse_problem(pulse) is not None:
        return None
    return replace(
        reading,
        systolic=Mmhg(systolic),
        diastolic=Mmhg(diastolic),
        pulse=None if pulse is None else Bpm(pulse),
    )


def _is_for_diastolic(reading: Reading, loose: int, wrong: int | None) -> bool:
    """Whether a number that stands for either is for the diastolic, else for the systolic.

    In this order: the number named as wrong; the only place where the pair can be one; the
    only number from which it is one slip of the thumb away (192, 142); what a systolic or a
    diastolic may hardly be; the nearer of the two.
    """
    if wrong in {reading.systolic, reading.diastolic}:
        return wrong == reading.diastolic
    as_systolic = LIMITS.pressure_problem(loose, reading.diastolic) is None
    as_diastolic = LIMITS.pressure_problem(reading.systolic, loose) is None
    if as_systolic != as_diastolic:
        return as_diastolic
    slip_of_systolic, slip_of_diastolic = (
        _is_one_slip(str(loose), str(n)) for n in (reading.systolic, reading.diastolic)
    )
    if slip_of_systolic != slip_of_diastolic:
        return slip_of_diastolic
    if loose > _HIGHEST_USUAL_DIASTOLIC or loose < _LOWEST_USUAL_SYSTOLIC:
        return loose < _LOWEST_USUAL_SYSTOLIC
    return abs(loose - reading.diastolic) < abs(loose - reading.systolic)


def _is_one_slip(left: str, right: str) -> bool:
    """Whether two numbers of as many digits differ in one digit, or in two side by side swapped."""
    if len(left) != len(right):
        return False
    differ = [i for i, (a, b) in enumerate(zip(left, right, strict=True)) if a != b]
    if len(differ) == 2 and differ[1] == differ[0] + 1:
        return left[differ[0]] == right[differ[1]] and left[differ[1]] == right[differ[0]]
    return len(differ) == 1
