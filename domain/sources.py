"""How well the source of a clinical number was checked.

A number in a table of the domain stands beside its source and one of these.
"""

from __future__ import annotations

from enum import StrEnum


class Status(StrEnum):
    """Best first. A row with several parts carries the status of its weakest part."""

    CONFIRMED = "confirmed"  #: read in the source's own text
    DERIVED = "derived"  #: follows from a confirmed table
    SECONDARY = "secondary"  #: read in somebody else's summary of the source
    FROM_MEMORY = "from memory"  #: not yet read anywhere; to be verified
    OWN = "own choice"  #: the project's, because no source that was read says anything
