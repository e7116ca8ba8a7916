"""`cuffbell run`: the bot on Telegram, or on any server of the Bot API."""

from __future__ import annotations

import argparse
import signal
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import _SubParsersAction


def register(subparsers: _SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `run` to the command line."""
    parser = subparsers.add_parser(
        "run",
        help="run the bot on Telegram",
        description=(
            "Run the bot whose token is in CUFFBELL_TELEGRAM_TOKEN until Ctrl-C or SIGTERM. "
            "Stopping it at any moment loses nothing: the next start goes on."
        ),
    )
    parser.set_defaults(run=run)


def run(_: argparse.Namespace) -> int:
    """Run until a signal; the status."""
    # Until the bot has its own handlers there is nothing to finish.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    from bot.commands.opened import load_settings

    settings = load_settings()
    assert settings.token  # refused here, before the slow imports
    from bot.app import run_bot

    return run_bot(settings)
