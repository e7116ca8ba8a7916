"""The command line: `cuffbell …`.

Only parsing happens here, and every command imports what it needs when it runs, so that
`understand` and `average` start in under half a second. Results go to standard output,
remarks to standard error; status 0 is success and 2 a wrong call or setting.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Final, NoReturn

from bot.errors import CuffbellError

#: Modules of `bot.commands`, in the order of `cuffbell --help`. Each has `register`.
COMMANDS: Final = (
    "try_",
    "run",
    "invite",
    "patients",
    "export",
    "understand",
    "average",
    "check",
    "migrate",
    "backup",
    "restore",
)

WRONG: Final = 2
_INTERRUPTED: Final = 130

DESCRIPTION: Final = (
    "A chat bot through which people measure their blood pressure at home properly. "
    "Begin with `cuffbell try`: it needs no account and no network."
)


class OneLineParser(argparse.ArgumentParser):
    """Refuses a wrong call in one line, and says where to read on."""

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG, f"{self.prog}: {message}. See `{self.prog} --help`.\n")


class _Version(argparse.Action):
    """Looked up only when asked for: reading the package's metadata takes time."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        sys.stdout.write(f"cuffbell {version('cuffbell')}\n")
        parser.exit()


def parser(commands: Sequence[str] = COMMANDS) -> argparse.ArgumentParser:
    """The parser with these modules of `bot.commands`."""
    whole = OneLineParser(prog="cuffbell", description=DESCRIPTION)
    whole.add_argument("--version", nargs=0, action=_Version, help="print the version and end")
    parts = whole.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name in commands:
        importlib.import_module(f"bot.commands.{name}").register(parts)
    return whole


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its status. Wrong calls end the program with status 2."""
    words = sys.argv[1:] if arguments is None else list(arguments)
    try:
        # A command that was named needs none of the others' modules.
        wanted = [name for name in COMMANDS if words and name.rstrip("_") == words[0]]
        chosen = parser(wanted or COMMANDS).parse_args(words)
        return int(chosen.run(chosen))
    except CuffbellError as error:
        sys.stderr.write(f"cuffbell: {error}\n")
        return WRONG
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has enough; without this Python complains while it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


if __name__ == "__main__":
    sys.exit(main())
