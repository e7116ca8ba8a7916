"""Remarks: what a message says of an alarm or of those who help, found by wording alone.

The wordings are data in `lexicon/<language>_remarks.toml`. Whether a remark answers anything,
and whose it is, depends on what was asked before and on who writes: that is the talk's part.
"""

from __future__ import annotations

from domain.understanding.clauses import Words
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.result import Remark


def read_remarks(words: Words, by_kind: ByKind, lexicon: Lexicon) -> tuple[Remark, ...]:
    """The remarks of a message, each once, without those that an `unless` takes away.

    What is asked ("is it over?") remarks nothing; who asks what an error means has one.
    """
    if "remark" not in by_kind:
        return ()
    rules = lexicon.rules
    asked = {words.sentence[i] for i in words.asked}
    found = [
        m
        for m in by_kind["remark"]
        if words.sentence[m.start] not in asked or rules[m.rule].code == Remark.MONITOR_ERROR
    ]
    spared = {(rules[m.rule].code, i) for m in by_kind.get("unless_remark", ()) for i in m.core}
    codes = [
        rules[m.rule].code
        for m in found
        if not any((rules[m.rule].code, i) in spared for i in m.core)
    ]
    return tuple(Remark(code) for code in dict.fromkeys(codes))
