"""The lexicon read from its files and made ready for use, once, at the first message.

The files under `lexicon/` are data that a clinician can review and extend; `Rule` is one
entry of them. What the kinds of cue mean is in `denials.py`, `context.py` and
`owners.py`, the notation in `patterns.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from domain.danger import RED_FLAGS
from domain.understanding.lexicon_data import ENGLISH, lexicon_data, ordinary_words
from domain.understanding.matching import Match, Matcher
from domain.understanding.patterns import Pattern, Slots, read_pattern
from domain.understanding.spelling import SpellingHabits
from domain.understanding.third_persons import ThirdPerson

_PARTS: Final = ("symptoms", "context", "intents", "remarks", "setting", "changes")


@dataclass(frozen=True, slots=True)
class Rule:
    """One pattern's owner: a sign, what takes a wording out of it, a cue, or an intent."""

    kind: str  #: "sign", "unless", "intent", "remark", "ago", or the kind of a cue ("deny", …)
    code: str  #: of the sign, intent or remark; hours of "ago"; of a cue its kind again
    theirs: bool = False  #: the wording itself says that it is of another than the writer
    derived: bool = False  #: it is the writer's own wording, turned into the third person


@dataclass(frozen=True, slots=True)
class Example:
    """A sentence of the lexicon that must, or must not, give the code.

    Of the kind "theirs" it must give the sign as another's.
    """

    kind: str
    code: str
    text: str
    expected: bool


@dataclass(frozen=True, slots=True)
class Lexicon:
    """All patterns in one matcher, the rules they belong to, and the examples."""

    matcher: Matcher
    rules: tuple[Rule, ...]
    groups: Mapping[str, int]  #: slots of the groups that the program asks for by name
    words: Mapping[str, frozenset[str]]  #: small words that the program asks for to the letter
    strangers: int  #: unknown words over which a denial still reaches
    accented: frozenset[str]  #: words that their accent tells from others, with "'" for it
    possessive: tuple[str, ...]  #: endings of two signs that make an owner of a word
    replaces: Mapping[str, frozenset[str]]
    titles: Mapping[str, str]
    examples: tuple[Example, ...]


#: Matches of a message by the kind of their rules, each kind by where they begin.
ByKind = Mapping[str, Sequence[Match]]


def by_kind(matches: Iterable[Match], rules: Sequence[Rule]) -> ByKind:
    """What was found in a message, sorted for those who ask for one kind of it."""
    found: dict[str, list[Match]] = {}
    for match in matches:
        found.setdefault(rules[match.rule].kind, []).append(match)
    return found


#: Groups of the context file that say how far a cue reaches.
NAMED_GROUPS: Final = (
    "everywhere", "wall", "stop", "glue", "subject", "writer", "them", "past_verb", "third_verb",
    "to_person", "neutral", "first_name", "list_end", "feel", "not_owner", "unlike_owner",
)  # fmt: skip


@cache
def lexicon(language: str = ENGLISH) -> Lexicon:
    """The lexicon of a language. Read and compiled at the first call.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
        PatternError: a pattern in a file cannot be read; the text shows it.
    """
    parts = {part: lexicon_data(language, part) for part in _PARTS}
    groups: dict[str, str] = {}
    for part in parts.values():
        groups |= part.get("groups", {})
    spelling = parts["symptoms"]["spelling"]
    slots = Slots(groups, frozenset(spelling["never_bare"]))
    rules: list[Rule] = []
    patterns: list[Pattern] = []
    for rule, sources in _sources(parts):
        rules.append(rule)
        for source in sources:
            patterns += read_pattern(source, len(rules) - 1, slots)
    named = {name: slots.number_of(f"<{name}>") for name in NAMED_GROUPS}
    signs = parts["symptoms"]["sign"]
    heavy = {"sign", "excused", "intent"}
    light = frozenset(i for i, rule in enumerate(rules) if rule.kind not in heavy)
    return Lexicon(
        matcher=Matcher(
            slots,
            patterns,
            ordinary=ordinary_words(language),
            misspelt=parts["symptoms"]["misspelt"] | parts["intents"].get("misspelt", {}),
            spelling=SpellingHabits.from_data(spelling),
            possessive=tuple(spelling["possessive"]),
            walls=named["wall"],
            everywhere=named["everywhere"],
            light=light,
        ),
        rules=tuple(rules),
        groups=named,
        words={name: frozenset(w.split()) for name, w in parts["context"]["words"].items()},
        strangers=parts["context"]["reach"]["strangers"],
        accented=frozenset(spelling["accented"]),
        possessive=tuple(spelling["possessive"]),
        replaces={s["code"]: frozenset(s.get("replaces", ())) for s in signs},
        titles={s["code"]: s["title"] for s in signs},
        examples=tuple(_examples(parts)),
    )


def _sources(parts: Mapping[str, Mapping[str, Any]]) -> list[tuple[Rule, Sequence[str]]]:
    """Every rule with its patterns as they are written."""
    found: list[tuple[Rule, Sequence[str]]] = []
    third_person = ThirdPerson.from_data(parts["symptoms"].get("third_person", {}))
    for sign in parts["symptoms"]["sign"]:
        code = sign["code"]
        found.append((Rule("sign", code), sign["patterns"]))
        if "theirs" in sign:
            found.append((Rule("sign", code, theirs=True), sign["theirs"]))
        if code in RED_FLAGS and (told := third_person.told(sign["patterns"])):
            found.append((Rule("sign", code, theirs=True, derived=True), told))
        found += [(Rule(key, code), sign[key]) for key in ("unless", "excused") if key in sign]
    found += [(Rule(cue["kind"], cue["kind"]), cue["patterns"]) for cue in parts["context"]["cue"]]
    found += [(Rule("intent", i["code"]), i["patterns"]) for i in parts["intents"]["intent"]]
    for part, kind in (("remarks", "remark"), ("setting", "setting"), ("changes", "change")):
        for entry in parts[part][kind]:
            found.append((Rule(kind, entry["code"]), entry["patterns"]))
            if "unless" in entry:
                found.append((Rule(f"unless_{kind}", entry["code"]), entry["unless"]))
    found += [(Rule("ago", str(ago["hours"])), ago["patterns"]) for ago in parts["remarks"]["ago"]]
    return found


def _examples(parts: Mapping[str, Mapping[str, Any]]) -> list[Example]:
    entries = [("sign", sign) for sign in parts["symptoms"]["sign"]]
    entries += [("intent", intent) for intent in parts["intents"]["intent"]]
    entries += [("remark", remark) for remark in parts["remarks"]["remark"]]
    entries += [("setting", setting) for setting in parts["setting"]["setting"]]
    entries += [("change", change) for change in parts["changes"]["change"]]
    return [
        Example(kind, entry["code"], text, expected)
        for kind, entry in entries
        for key, expected in (("yes", True), ("no", False))
        for text in entry.get(key, ())
    ] + [
        Example("theirs", sign["code"], text, expected=True)
        for sign in parts["symptoms"]["sign"]
        for text in sign.get("yes_theirs", ())
    ]
