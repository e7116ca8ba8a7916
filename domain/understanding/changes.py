"""Whether a message tells that the writer's medicine was changed.

The wordings are data in `lexicon/<language>_changes.toml`.
"""

from __future__ import annotations

from collections.abc import Sequence

from domain.understanding.lexicon_files import Lexicon
from domain.understanding.matching import Match


def tells_of_change(matches: Sequence[Match], lexicon: Lexicon) -> bool:
    """Whether a wording of a change stands in the message, in no other sense."""
    rules = lexicon.rules
    spoilt = {i for m in matches if rules[m.rule].kind == "unless_change" for i in m.core}
    return any(
        rules[match.rule].kind == "change" and spoilt.isdisjoint(match.core) for match in matches
    )
