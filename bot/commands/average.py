"""`cuffbell average`: readings on standard input, their average on standard output.

Status 0 when every row was good, 1 when some were bad or there was none, 2 when nothing
could be read or the rule or zone is unknown. The rules: `domain/averaging_rules.py`; what
may stand in the input: `bot/interchange/`.
"""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bot.commands.average_shown import as_json, as_text
from bot.interchange.incoming import read_rows
from bot.interchange.rows import UnreadableInputError
from domain.averaging import average
from domain.averaging_rules import RULES, Rule

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_ALL_WELL, _BAD_ROWS, _UNUSABLE = 0, 1, 2

_EPILOG = """\
Input: CSV in UTF-8 with the header at,systolic,diastolic,pulse, or a FHIR R4 Bundle.
Moments look like 2026-05-04T07:30:00+01:00; without an offset they need --zone.
"""


class _UsageError(Exception):
    """The text says what to write instead."""


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `average` to the command line."""
    rules = "\n".join(f"  {rule.name:<14} {rule.source}" for rule in RULES.values())
    parser = subparsers.add_parser(
        "average",
        help="average readings by a published rule",
        description="Average the readings on standard input by a published rule.",
        epilog=f"Rules:\n{rules}\n\n{_EPILOG}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    # Rule and zone are checked below, not here: the error is then one line, without usage.
    parser.add_argument("--rule", metavar="NAME", help="one of the rules below; required")
    parser.add_argument(
        "--zone", metavar="ZONE", help="where the days begin, e.g. Europe/Lisbon (IANA name)"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the average of standard input and return the exit status."""
    try:
        rule = _rule(arguments.rule)
        zone = None if arguments.zone is None else _zone(arguments.zone)
        rows = read_rows(_standard_input(), zone)
    except (_UsageError, UnreadableInputError) as error:
        sys.stderr.write(f"cuffbell average: {error}\n")
        return _UNUSABLE
    for bad in rows.bad:
        sys.stderr.write(f"{bad.where}: {bad.reason}\n")
    result = average([row.reading for row in rows.good], rule, zone)
    written = [row.at for row in rows.good]
    text = json.dumps(as_json(result, written)) if arguments.json else as_text(result, written)
    sys.stdout.write(text + "\n")
    return _ALL_WELL if rows.good and not rows.bad else _BAD_ROWS


def _rule(name: str | None) -> Rule:
    names = ", ".join(RULES)
    if name is None:
        raise _UsageError(f"name a rule with --rule; there are {names}")
    if name not in RULES:
        raise _UsageError(f"there is no such rule; there are {names}")
    return RULES[name]


def _zone(name: str) -> ZoneInfo:
    unknown = _UsageError("there is no such zone; --zone takes an IANA name like Europe/Lisbon")
    # Beside the zones some systems keep folders with other clocks and the host's own zone.
    if name.startswith(("posix/", "right/")) or name in {"localtime", "posixrules"}:
        raise unknown
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise unknown from None


def _standard_input() -> bytes:
    """All of it; nothing where it is closed."""
    return b"" if sys.stdin is None else sys.stdin.buffer.read()
