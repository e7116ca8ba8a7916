"""`cuffbell export`: readings on standard output, oldest first, for other programs.

Pressures in mmHg, pulse in beats per minute; `at` in the offset of the person's zone. JSON
lines hold every version with what became of it; CSV and FHIR only what counts. A reading
taken at the clinic is marked in each format but the four columns, which have no room for it:
there a line on standard error says how many there are.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final

from bot.errors import CuffbellError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from sqlalchemy import Connection

    from bot.interchange.rows import OutgoingReading
    from storage.export import Version

FORMATS: Final = ("jsonl", "csv", "fhir")

#: Of `--format csv --columns all`, after the four that `cuffbell average` reads.
MORE_COLUMNS: Final = ("person", "reading", "arm", "came_as", "text", "setting")

_EPILOG: Final = """\
examples:
  cuffbell export > readings.jsonl
  cuffbell export --person ID --format csv | cuffbell average --rule esh --zone Europe/Lisbon
"""


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `export` to the command line."""
    parser = subparsers.add_parser(
        "export",
        help="write the readings for other programs",
        description="Write every reading of everybody, or of one person, oldest first.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add = parser.add_argument
    add("--person", metavar="ID", help="only this person; ids stand in the jsonl format")
    format_help = (
        "jsonl: every version, one JSON object a line (default); csv: at,systolic,diastolic,"
        "pulse of what counts; fhir: an R4 Bundle of what counts"
    )
    add("--format", choices=FORMATS, default="jsonl", help=format_help)
    columns_help = f"csv only: all adds {', '.join(MORE_COLUMNS)}"
    add("--columns", choices=("four", "all"), default="four", help=columns_help)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the readings."""
    from bot.commands.opened import opened_database
    from domain.people import PersonId
    from storage.export import listed_patients, versions

    if arguments.columns == "all" and arguments.format != "csv":
        raise CuffbellError("--columns all goes with --format csv only.")
    person = None if arguments.person is None else PersonId(arguments.person)
    with opened_database() as database, database.reading() as connection:
        if person is not None and person not in {p.person for p in listed_patients(connection)}:
            raise CuffbellError("No patient has the id in --person. `cuffbell export` shows ids.")
        if arguments.format == "csv" and person is None:
            _refuse_several(connection)
        if isinstance(sys.stdout, io.TextIOWrapper):
            # The formats are UTF-8 with plain line ends, whatever the terminal is set to.
            sys.stdout.reconfigure(encoding="utf-8", newline="\n")
        for part in _written(arguments, versions(connection, person)):
            sys.stdout.write(part)
    return 0


def _refuse_several(connection: Connection) -> None:
    from storage.export import versions
    from storage.records import VersionState

    kept = (v for v in versions(connection) if v.state is VersionState.KEPT)
    people: set[str] = set()
    for version in kept:
        people.add(version.person)
        if len(people) > 1:
            raise CuffbellError(
                "Several people have readings, and the rows of csv do not say whose they are. "
                "Name one with --person ID; `cuffbell export` shows the ids."
            )


def _written(arguments: argparse.Namespace, found: Iterable[Version]) -> Iterator[str]:
    from bot.interchange.fhir import write_bundle

    match arguments.format, arguments.columns:
        case "jsonl", _:
            return (_json_line(version) for version in found)
        case "csv", "all":
            return _wide_csv(_kept(found))
        case "csv", _:
            return _four_columns(_kept(found))
        case _:
            return iter((write_bundle(_outgoing(v) for v in _kept(found)),))


def _kept(found: Iterable[Version]) -> Iterator[Version]:
    from storage.records import VersionState

    return (version for version in found if version.state is VersionState.KEPT)


def _json_line(version: Version) -> str:
    from domain.readings import Setting

    reading = version.kept.reading
    shown = {
        "person": version.person,
        "reading": version.kept.id,
        "at": version.local_at.isoformat(),
        "systolic": reading.systolic,
        "diastolic": reading.diastolic,
        "pulse": reading.pulse,
        "text": version.kept.text,
        "state": version.state.value,
    }
    if reading.setting is not Setting.HOME:
        shown["setting"] = reading.setting.value
    return json.dumps(shown, ensure_ascii=False) + "\n"


def _outgoing(version: Version) -> OutgoingReading:
    from bot.interchange.rows import OutgoingReading

    reading = version.kept.reading
    return OutgoingReading(
        person=version.person,
        reading=version.kept.id,
        at=version.local_at,
        systolic=reading.systolic,
        diastolic=reading.diastolic,
        pulse=reading.pulse,
        setting=reading.setting,
    )


def _four_columns(found: Iterable[Version]) -> Iterator[str]:
    from bot.interchange.csv_readings import write_csv
    from domain.readings import Setting

    every = [_outgoing(version) for version in found]
    yield write_csv(every)
    marked = sum(one.setting is Setting.CLINIC for one in every)
    if marked:
        sys.stderr.write(
            f"cuffbell export: taken at the clinic, which these columns do not say: {marked}. "
            "--columns all and --format fhir mark them.\n"
        )


def _wide_csv(found: Iterable[Version]) -> Iterator[str]:
    from bot.interchange.csv_readings import HEADER
    from bot.interchange.rows import written_moment

    yield _csv_line((*HEADER, *MORE_COLUMNS))
    for version in found:
        reading = version.kept.reading
        yield _csv_line(
            (
                written_moment(version.local_at),
                str(reading.systolic),
                str(reading.diastolic),
                "" if reading.pulse is None else str(reading.pulse),
                version.person,
                version.kept.id,
                "" if reading.arm is None else reading.arm.value,
                reading.came_as.value,
                version.kept.text,
                reading.setting.value,
            )
        )


def _csv_line(fields: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow(list(fields))
    return line.getvalue()
