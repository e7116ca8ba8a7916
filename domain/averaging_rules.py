"""Published rules for averaging home readings, as data with their sources.

What a rule leaves out, what it takes the mean of, and the least it asks for. Applying one
is in `averaging.py`. A day is a local date; numbers are counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from domain.bands import Guideline
from domain.sources import Status


class Counted(StrEnum):
    """What a rule counts to say whether enough was kept."""

    READINGS = "readings"
    REPEATED_OCCASIONS = "repeated_occasions"  #: occasions with at least two readings
    MORNINGS_OR_EVENINGS = "mornings_or_evenings"  #: dates with one, whichever half has more


class MeanOf(StrEnum):
    """What weighs the same in a mean."""

    READINGS = "readings"
    OCCASIONS = "occasions"  #: the mean of each occasion, then the mean of these


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row. Two rules with the same numbers but other sources are two rules."""

    name: str  #: as typed on the command line
    source: str
    status: Status  #: of its weakest part
    remark: str = ""  #: which part is unconfirmed or our own choice, and why
    guideline: Guideline  #: whose bands the result is judged by
    least_days: int
    consecutive: bool = False  #: the least days must follow one another
    week_days: int | None = 7  #: how many dates count, ending with the last one; None: all
    leave_out_first_day: bool
    least_kept: int
    counted: Counted = Counted.READINGS
    mean_of: MeanOf = MeanOf.READINGS
    by_halves: bool = False  #: morning and evening are judged apart, the afternoon is left out


_ROWS: Final = (
    Rule(
        name="nice",
        source="NICE NG136 1.2.7",
        status=Status.CONFIRMED,
        remark="12 readings are what four full days leave; the guideline gives no number",
        guideline=Guideline.NICE_NG136,
        least_days=4,
        leave_out_first_day=True,
        least_kept=12,
    ),
    Rule(
        name="esh",
        source="ESH 2021, 2023",
        status=Status.FROM_MEMORY,
        remark="the least of 12 readings is common practice",
        guideline=Guideline.ESH_2021,
        least_days=3,
        leave_out_first_day=True,
        least_kept=12,
    ),
    Rule(
        name="stergiou-2018",
        source="Stergiou 2018",
        status=Status.CONFIRMED,
        guideline=Guideline.ESH_2021,
        least_days=4,
        leave_out_first_day=True,
        least_kept=12,
    ),
    Rule(
        name="esc",
        source="ESC 2024",
        status=Status.SECONDARY,
        remark="12 readings are what three full days give; keeping day 1 is our own choice",
        guideline=Guideline.ESC_2024,
        least_days=3,
        leave_out_first_day=False,
        least_kept=12,
    ),
    Rule(
        name="aha-ama",
        source="AHA/AMA 2020",
        status=Status.FROM_MEMORY,
        remark="days, pairs and mean are confirmed, the least of 12 readings is from memory; "
        "taking the bands of ACC/AHA 2017 is our own choice",
        guideline=Guideline.ACC_AHA_2017,
        least_days=3,
        consecutive=True,
        leave_out_first_day=False,
        least_kept=12,
    ),
    Rule(
        name="acc-aha-2017",
        source="ACC/AHA 2017 section 4.2",
        status=Status.FROM_MEMORY,
        remark="keeping day 1 and one day being enough are our own choice",
        guideline=Guideline.ACC_AHA_2017,
        least_days=1,
        leave_out_first_day=False,
        least_kept=2,
        counted=Counted.REPEATED_OCCASIONS,
    ),
    Rule(
        name="aha-acc-2025",
        source="AHA/ACC 2025",
        status=Status.FROM_MEMORY,
        remark="keeping day 1 is our own choice",
        guideline=Guideline.AHA_ACC_2025,
        least_days=3,
        consecutive=True,
        leave_out_first_day=False,
        least_kept=12,
    ),
    Rule(
        name="jsh",
        source="JSH 2019",
        status=Status.FROM_MEMORY,
        remark="the higher band of the two halves stands for the whole: our own choice",
        guideline=Guideline.JSH_2019,
        least_days=5,  # no less than five mornings or five evenings can have
        leave_out_first_day=False,
        least_kept=5,
        counted=Counted.MORNINGS_OR_EVENINGS,
        mean_of=MeanOf.OCCASIONS,
        by_halves=True,
    ),
    Rule(
        name="ish",
        source="ISH 2020",
        status=Status.FROM_MEMORY,
        remark="the least of 12 readings is common practice",
        guideline=Guideline.ISH_2020,
        least_days=3,
        leave_out_first_day=True,
        least_kept=12,
    ),
    Rule(
        name="722",
        source="TSOC/THS 2020",
        status=Status.CONFIRMED,
        remark="12 readings are what four full days leave; the bands of ISH 2020 and the "
        "higher band of the two halves for the whole are our own choice",
        guideline=Guideline.ISH_2020,
        least_days=4,
        consecutive=True,
        leave_out_first_day=True,
        least_kept=12,
        by_halves=True,
    ),
    Rule(
        name="all",
        source="every reading, by no guideline",
        status=Status.OWN,
        remark="high at or above 135/85, as ISH 2020 has it, is our own choice",
        guideline=Guideline.ISH_2020,
        least_days=1,
        week_days=None,
        leave_out_first_day=False,
        least_kept=1,
    ),
)

#: By name, in the order in which they are listed to people.
RULES: Final[Mapping[str, Rule]] = MappingProxyType({rule.name: rule for rule in _ROWS})

#: By which an average is made until a practitioner chooses another.
DEFAULT_RULE: Final = "esh"


def rule_named(name: str) -> Rule:
    """The rule of this name; the default one for a name that no longer is one."""
    return RULES.get(name, RULES[DEFAULT_RULE])
