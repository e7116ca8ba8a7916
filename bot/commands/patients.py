"""`cuffbell patients`: everybody, grouped by what to do, with the reason and the numbers.

Pressures in mmHg; days are each patient's own. What the groups and reasons mean stands in
`domain/practice_list.py`; the sentences are those of the chat, in English.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Final

from bot.errors import CuffbellError
from domain.averaging_rules import RULES

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from domain.people import PersonId
    from domain.practice_list import Entry, ListedAverage
    from storage.work import Work

_HEAD: Final = ("average", "readings", "last", "who and why")

_EPILOG: Final = """\
examples:
  cuffbell patients
  cuffbell patients --practitioner "Dr. Okafor-Lindqvist" --rule nice --json
"""


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `patients` to the command line."""
    parser = subparsers.add_parser(
        "patients",
        help="list whom to phone, decide on, chase or leave alone",
        description=(
            "List all patients, or those who agreed to a practitioner, by what to do about "
            "them: phone, decide, ask for readings, nothing now. Looks at the last 90 days."
        ),
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add = parser.add_argument
    name_help = (
        "only patients who agreed to the practitioner of this name, and of those who agreed to "
        "alarms only nothing but alarms (default: all)"
    )
    add("--practitioner", metavar="NAME", help=name_help)
    rule_help = (
        "what is enough, and the mean of what; see `cuffbell average` "
        "(default: as chosen for each patient)"
    )
    add("--rule", metavar="NAME", help=rule_help)
    add("--json", action="store_true", help="print one JSON object for each patient and line")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the list."""
    from bot.commands.opened import opened_database

    if arguments.rule is not None and arguments.rule not in RULES:
        raise CuffbellError(f"--rule should be one of {', '.join(RULES)}.")
    with opened_database() as database, database.looking() as work:
        practitioners = _practitioners(work, arguments.practitioner)
        rule = None if arguments.rule is None else RULES[arguments.rule]
        entries = work.practitioner_list(practitioners, rule)
    lines = _json_lines(entries) if arguments.json else _table(entries)
    sys.stdout.writelines(f"{text}\n" for text in lines)
    return 0


def _practitioners(work: Work, name: str | None) -> Sequence[PersonId] | None:
    from storage.patients import practitioners_named

    if name is None:
        return None
    found = practitioners_named(work.connection, name)
    if not found:
        raise CuffbellError("No practitioner has the name in --practitioner.")
    return found


def _table(entries: Sequence[Entry]) -> Iterator[str]:
    from bot.wording.catalogue import DEFAULT_LANGUAGE, wording
    from domain.talk.practice_talk import group_line, reason_line, sentence_to_say

    words = wording(DEFAULT_LANGUAGE)
    if not entries:
        yield "No patients."
        return
    yield _row(_HEAD)
    for action, grouped in groupby(entries, lambda entry: entry.action):
        group = list(grouped)
        yield ""
        yield words.plain(group_line(action, len(group)))
        for entry in group:
            yield _row((*_numbers(entry), words.plain(reason_line(entry))))
            sentence = sentence_to_say(entry)
            if sentence is not None:
                yield _row(("", "", "", words.plain(sentence)))


def _row(cells: Iterable[str]) -> str:
    average, readings, last, text = cells
    return f"{average:<8} {readings:>8}  {last:<10}  {text}"


def _numbers(entry: Entry) -> tuple[str, str, str]:
    average = entry.average
    return (
        "-" if average is None else str(average.shown),
        "-" if average is None else str(average.readings),
        "-" if entry.last_day is None else entry.last_day.isoformat(),
    )


def _json_lines(entries: Sequence[Entry]) -> Iterator[str]:
    from bot.wording.catalogue import DEFAULT_LANGUAGE, wording
    from domain.talk.practice_talk import sentence_to_say

    words = wording(DEFAULT_LANGUAGE)
    for entry in entries:
        sentence = sentence_to_say(entry)
        shown = {
            "patient": entry.patient,
            "name": entry.name,
            "action": entry.action.value,
            "reason": entry.reason.value,
            "target": [entry.target.systolic, entry.target.diastolic],
            "seen_until": None if entry.until is None else entry.until.isoformat(),
            "average": None if entry.average is None else _average(entry.average),
            "enough": not entry.lacks,
            "lacks": [
                {"least": lack.least.value, "needed": lack.needed, "found": lack.found}
                for lack in entry.lacks
            ],
            "last_day": None if entry.last_day is None else entry.last_day.isoformat(),
            "days_since": entry.silent,
            "asked": entry.asked,
            "done": entry.done,
            "next_day": None if entry.next_day is None else entry.next_day.isoformat(),
            "worst": None if entry.worst is None else str(entry.worst),
            "causes": [cause.value for cause in entry.causes],
            "pause_seconds": entry.pause,
            "say": None if sentence is None else words.plain(sentence),
        }
        yield json.dumps(shown, ensure_ascii=False)


def _average(average: ListedAverage) -> dict[str, object]:
    return {
        "systolic": float(average.systolic),
        "diastolic": float(average.diastolic),
        "readings": average.readings,
        "days": average.days,
        "last_day": average.last_day.isoformat(),
        "rule": average.rule,
    }
