"""Draws the weekly picture of the invented week: `python -m bot.pictures.example OUT.png`.

The picture in the README is made by this, so that it always shows what the program does.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path

from bot.pictures.weekly import weekly_png
from bot.wording.catalogue import wording
from domain import invented
from domain.week import WeekView, week_view


def invented_week() -> WeekView:
    """The second of the two invented weeks."""
    return week_view(
        invented.invented_readings(),
        zone=invented.ZONE,
        first_day=invented.FIRST_DAY + timedelta(days=7),
        target=invented.TARGET,
        asked=14,
        notes=invented.invented_notes(),
        invented=True,
    )


def main(arguments: list[str]) -> int:
    if len(arguments) != 1:
        sys.stderr.write("Name one file to write, for example week.png\n")
        return 2
    Path(arguments[0]).write_bytes(weekly_png(invented_week(), wording("en"), invented.NAME))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
