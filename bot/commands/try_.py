"""`cuffbell try`: the bot with a chat of invented people on this machine."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from argparse import _SubParsersAction

USUAL_PORT: Final = 8765
_PORTS_TO_TRY: Final = 20


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `try` to the command line."""
    parser = subparsers.add_parser(
        "try",
        help="try the bot in the browser, with invented people; needs no account",
        description=(
            "Start the bot with a chat page on this machine: a patient, a carer and a doctor "
            "side by side, all invented, and a clock that can be moved. Nothing leaves the "
            "machine. Ctrl-C ends it; the next start goes on where it was."
        ),
    )
    add = parser.add_argument
    add("--folder", type=Path, help="where it is kept (default: in your user's data folder)")
    add("--fresh", action="store_true", help="begin anew: forget what was said there before")
    port_help = f"port of the page (default: {USUAL_PORT}, or the next free one)"
    add("--port", type=_port, help=port_help)
    language_help = "in which the people's chat programs are set (default: as before, at first en)"
    add("--language", metavar="CODE", help=language_help)
    add("--no-browser", action="store_true", help="only print the address of the page")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Run until Ctrl-C; the status."""
    from bot.commands.opened import load_settings

    settings = load_settings()
    if arguments.language is not None:
        _check_language(arguments.language)
    from bot.trial import try_locally

    return try_locally(
        arguments.folder or settings.data / "try",
        ports=_ports(arguments.port),
        fresh=arguments.fresh,
        open_browser=not arguments.no_browser,
        language=arguments.language,
    )


def _check_language(wanted: str) -> None:
    """Refuse a language without wording: the bot would answer in English as if nothing was."""
    from bot.errors import CuffbellError
    from bot.wording.catalogue import languages

    if wanted not in languages():
        known = ", ".join(languages())
        raise CuffbellError(f"--language {wanted}: must be one of {known}.")


def _ports(wanted: int | None) -> range | tuple[int]:
    return range(USUAL_PORT, USUAL_PORT + _PORTS_TO_TRY) if wanted is None else (wanted,)


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 <= int(text) <= 65535):
        raise argparse.ArgumentTypeError("should be a number from 0 to 65535")
    return int(text)
