"""Remarks: what a message says of an alarm or of those who help, found by wording alone.

The wordings are data in `lexicon/<language>_remarks.toml`. Whether a remark answers anything,
and whose it is, depends on what was asked before and on who writes: that is the talk's part.
"""

from __future__ import annotations

from collections.abc import Sequence

from domain.understanding.clauses import Words
from domain.understanding.lexicon_files import Lexicon
from domain.understanding.matching import Match
from domain.understanding.result import Remark


def read_remarks(words: Words, matches: Sequence[Match], lexicon: Lexicon) -> tuple[Remark, ...]:
    """The remarks among `matches`, each once, without those that an `unless` takes away.

    What is asked ("is it over?") remarks nothing; who asks what an error means has one.
    """
    rules = lexicon.rules
    asked = {words.sentence[i] for i in words.asked}
    found = [
        m
        for m in matches
        if rules[m.rule].kind == "remark"
        and (words.sentence[m.start] not in asked or rules[m.rule].code == Remark.MONITOR_ERROR)
    ]
    if not found:
        return ()
    spared = {
        (rules[m.rule].code, i)
        for m in matches
        if rules[m.rule].kind == "unless_remark"
        for i in m.core
    }
    codes = [
        rules[m.rule].code
        for m in found
        if not any((rules[m.rule].code, i) in spared for i in m.core)
    ]
    return tuple(Remark(code) for code in dict.fromkeys(codes))
