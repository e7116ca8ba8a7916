"""Whether a message tells that the writer's medicine was changed.

The wordings are data in `lexicon/<language>_changes.toml`.
"""

from __future__ import annotations

from domain.understanding.lexicon_files import ByKind


def tells_of_change(by_kind: ByKind) -> bool:
    """Whether a wording of a change stands in the message, in no other sense."""
    spoilt = {i for match in by_kind.get("unless_change", ()) for i in match.core}
    return any(spoilt.isdisjoint(match.core) for match in by_kind.get("change", ()))
