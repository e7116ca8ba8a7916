"""`cuffbell understand`: messages on standard input, what they say on standard output.

One JSON object a line in, one a line out, in the same order, none skipped; status 0. A line
that is no message is answered too, with nothing found and the key `error`. `--explain TEXT`
draws what a single message was understood to say under the words that gave it.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Any, BinaryIO

from bot.commands.explaining import explained
from domain.danger import message_level
from domain.understanding import Understood, understand
from domain.understanding.lexicon_data import ENGLISH, languages

if TYPE_CHECKING:
    from argparse import _SubParsersAction

_EPILOG = """\
Input, one object a line:
  {"id": "a1", "text": "127/74, bit dizzy", "now": "2026-03-10T07:42:00+00:00"}
`now` is the moment of the message with the offset of the writer's own local time.

Example: cuffbell understand < messages.jsonl
         cuffbell understand --language es < mensajes.jsonl
         cuffbell understand --explain "127/74, bit dizzy"
"""


class _NoMessageError(ValueError):
    """A line that is no message. The text says what is wrong with it."""


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `understand` to the command line."""
    parser = subparsers.add_parser(
        "understand",
        help="say what messages mean, as JSON lines",
        description="Read messages as JSON lines and write what each says, as JSON lines.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--explain", metavar="TEXT", help="draw what one message says instead")
    parser.add_argument(
        "--now",
        metavar="MOMENT",
        help="for --explain: when it was sent, ISO 8601 with offset (default: the present)",
    )
    parser.add_argument(
        "--language",
        metavar="CODE",
        default=ENGLISH,
        help=f"in which the messages are written: {', '.join(languages())} (default: %(default)s)",
    )
    parser.set_defaults(run=_run_command)


def _run_command(arguments: argparse.Namespace) -> int:
    if arguments.language not in languages():
        known = ", ".join(languages())
        sys.stderr.write(f"cuffbell understand: --language: must be one of {known}\n")
        return 2
    if arguments.explain is None:
        return run(sys.stdin.buffer, sys.stdout.buffer, arguments.language)
    try:
        now = _moment(arguments.now) if arguments.now else datetime.now().astimezone()
    except _NoMessageError as error:
        sys.stderr.write(f"cuffbell understand: --now: {error}\n")
        return 2
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A terminal without Unicode shows the number of what it cannot draw.
        sys.stdout.reconfigure(errors="backslashreplace")
    for line in explain(arguments.explain, now, arguments.language):
        sys.stdout.write(f"{line}\n")
    return 0


def run(stdin: BinaryIO, stdout: BinaryIO, language: str = ENGLISH) -> int:
    """Answer every line of `stdin` (UTF-8) with one of `stdout`, each sent on at once. Status 0."""
    for line in stdin:
        # ASCII escapes, because an id or a text may hold half a surrogate pair.
        stdout.write(json.dumps(answer(line, language)).encode("ascii") + b"\n")
        stdout.flush()
    return 0


def answer(line: bytes, language: str = ENGLISH) -> dict[str, Any]:
    """What one line of input, written in the language, is answered with, ready for JSON."""
    message: dict[str, Any] = {}
    try:
        message = _message(line)
        if not isinstance(message.get("text"), str):
            raise _NoMessageError("the object has no `text`, or it is no string")
        understood = understand(message["text"], _moment(message.get("now")), language)
    except _NoMessageError as error:
        return {"id": message.get("id"), **as_json(Understood()), "error": str(error)}
    except OverflowError:
        error_text = "`now` lies too near the end of the calendar"
        return {"id": message.get("id"), **as_json(Understood()), "error": error_text}
    missing = {} if "id" in message else {"error": "the object has no `id`"}
    return {"id": message.get("id"), **as_json(understood), **missing}


def _message(line: bytes) -> dict[str, Any]:
    try:
        message = json.loads(line.decode("utf-8-sig", errors="replace"))
    except (ValueError, RecursionError):
        raise _NoMessageError("the line is no JSON object") from None
    if not isinstance(message, dict):
        raise _NoMessageError("the line is no JSON object")
    return message


def _moment(written: object) -> datetime:
    try:
        moment = datetime.fromisoformat(written) if isinstance(written, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.utcoffset() is None:
        raise _NoMessageError("`now` must be ISO 8601 with an offset: 2026-03-10T07:42:00+00:00")
    return moment


def as_json(understood: Understood) -> dict[str, Any]:
    """All fields of the contract but `id`."""
    pairs = [(found.systolic, found.diastolic) for found in understood.readings]
    return {
        "readings": [
            {
                "systolic": found.systolic,
                "diastolic": found.diastolic,
                "pulse": found.pulse,
                "at": None if found.at is None else found.at.isoformat(),
            }
            for found in understood.readings
        ],
        "symptoms": list(understood.symptoms),
        "doubts": sorted(understood.doubts),
        "intent": understood.intent.value,
        "alarm": message_level(pairs, understood.symptoms).code,
    }


def explain(text: str, now: datetime, language: str = ENGLISH) -> Iterator[str]:
    """Lines that say what the message was understood to say, under the words that gave it."""
    return explained(text, understand(text, now, language))
