"""Bytes from outside -> rows: tells FHIR from CSV."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from bot.interchange.csv_readings import read_csv
from bot.interchange.fhir import read_bundle
from bot.interchange.rows import Rows, UnreadableInputError


def read_rows(data: bytes, zone: ZoneInfo | None) -> Rows:
    """The readings in `data`: a FHIR Bundle where it begins with `{`, otherwise CSV.

    UTF-8, with or without a byte order mark. In CSV, bytes that are not UTF-8 make only
    their own row bad, since no good row has anything but ASCII; a Bundle with such bytes
    is broken JSON.

    Args:
        data: all of the input.
        zone: what a moment without offset is local in; None: such a row is bad.

    Raises:
        UnreadableInputError: wrong header, no input, broken JSON, no Bundle.
    """
    text = data.decode("utf-8-sig", errors="replace")
    if not text.lstrip().startswith("{"):
        return read_csv(text, zone)
    try:
        return read_bundle(data.decode("utf-8-sig"), zone)
    except UnicodeDecodeError:
        raise UnreadableInputError("broken JSON: it is not UTF-8") from None
