"""What a message is for. The order in which intents win is the contract's.

The wordings are data in `lexicon/<language>_intents.toml`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from domain.understanding.clauses import COMMA, NO_BREAK, NUMBER, Words
from domain.understanding.lexicon_files import ByKind, Lexicon
from domain.understanding.matching import Hits, Match
from domain.understanding.result import Intent, Span
from domain.understanding.scene import REACH

#: A code that ends so counts only where the message holds a number that may be a pressure.
_WITH_NUMBER: Final = "correction_of_number"
#: A code that ends so is the same where no number stands before it: "129/84, sorry" is new.
_BEFORE_NUMBER: Final = "correction_before_number"
#: A code that ends so counts only where the message holds nothing else but a single number.
_WITH_SINGLE: Final = "correction_of_single"

#: A question that holds these words asks about them; it does not do them.
_ONLY_TOLD: Final = frozenset(
    {Intent.MEDICINE, Intent.POSTPONE, Intent.SKIP, "postpone_after", "postpone_while"}
)
#: What is wanted of the program: never in the words that tell a symptom ("won't stop").
_OF_THE_BOT: Final = frozenset({Intent.CORRECTION, Intent.UNDO, Intent.STOP})
_ASKED_FOR: Final = "postpone_asked"
_UNTIL: Final = "postpone_after"
#: "I am out walking": a pause, but only an excuse beside "not today".
_WHILE: Final = "postpone_while"
#: Words in another sense ("speak to you soon", "unless I misread it"): nothing in them counts.
_NOT_MEANT: Final = "not_meant"
_UNMEANT: Final = frozenset(
    {
        Intent.POSTPONE,
        Intent.SKIP,
        Intent.STOP,
        Intent.UNDO,
        _UNTIL,
        _WHILE,
        _ASKED_FOR,
        Intent.CORRECTION,
        _WITH_NUMBER,
    }
)
_THEIR_VERBS: Final = 3  #: words between somebody else and what they did
_CLAUSE: Final = 8  #: words before a wording in which a verb of the past is looked for

_AFTER_SYMPTOM: Final = (Intent.MEDICINE, Intent.POSTPONE, Intent.SKIP, Intent.QUESTION)


def intent_cues(
    words: Words,
    hits: Hits,
    by_kind: ByKind,
    lexicon: Lexicon,
    *,
    symptom_named: bool,
    signs: Sequence[Span],
) -> set[str]:
    """Codes of the intents whose wordings stand, not only asked about ("should I skip it?").

    `signs` are where symptoms stand: "words come out wrong" corrects nothing.
    "after lunch" is a pause, but not in "my headache cleared up after lunch".
    """
    found, rules = by_kind.get("intent", ()), lexicon.rules
    if not found:
        return set()
    people = {match.start for match in by_kind.get("person", ())}
    others = {i for match in by_kind.get("person", ()) for i in match.core}
    asking = {match.start for match in found if rules[match.rule].code == Intent.QUESTION}
    not_meant = {i for m in found if rules[m.rule].code == _NOT_MEANT for i in m.core}
    codes = set()
    for match in found:
        code = rules[match.rule].code
        if code == _NOT_MEANT or (code in _UNMEANT and not not_meant.isdisjoint(match.core)):
            continue
        if code in _ONLY_TOLD and _is_asked(words, lexicon, asking, match):
            continue
        if code in _OF_THE_BOT and _overlaps(words, match, signs):
            continue
        if code in _ONLY_TOLD and _is_theirs(words, hits, lexicon, match.start - 1, others):
            continue
        told = symptom_named or _is_told(words, hits, lexicon, match, people)
        if code in {_UNTIL, _WHILE} and told:
            continue
        if code == _BEFORE_NUMBER and _opens_numbers(words, lexicon, match):
            code = _WITH_NUMBER
        codes.add(Intent.POSTPONE.value if code in {_UNTIL, _ASKED_FOR} else code)
    if _WHILE in codes and Intent.SKIP not in codes:
        codes.add(Intent.POSTPONE.value)
    return codes


def _opens_numbers(words: Words, lexicon: Lexicon, match: Match) -> bool:
    """Whether a wording stands before the first number and no other words but "pulse" behind."""
    rest = {word for word in words.norms[match.end :] if not word[0].isdigit()}
    return words.breaks[0] < NUMBER and rest <= lexicon.words["beside_pulse"]


def _overlaps(words: Words, match: Match, signs: Sequence[Span]) -> bool:
    return any(a <= words.spans[i][0] < b for i in match.core for a, b in signs)


def _is_theirs(words: Words, hits: Hits, lexicon: Lexicon, i: int, others: Collection[int]) -> bool:
    """Whether somebody else stands before it: "my wife took hers", "he will later".

    Only verbs of theirs may stand between: "my husband is in hospital".
    """
    verbs = lexicon.words.get("their_verbs", frozenset())
    for at in range(i, max(i - _THEIR_VERBS, 0) - 1, -1):
        if words.breaks[at + 1] > NO_BREAK:
            return False
        if at in others or lexicon.groups["them"] in hits[at]:
            return True
        if words.norms[at] not in verbs:
            return False
    return False


def _is_told(
    words: Words, hits: Hits, lexicon: Lexicon, match: Match, people: Collection[int]
) -> bool:
    """Whether the clause before "after lunch" tells of the past, or of somebody else."""
    past = lexicon.groups["past_verb"]
    for i in range(min(match.end, len(words) - 1), max(match.start - _CLAUSE, 0) - 1, -1):
        if past in hits[i] or (i in people and i < match.start):
            return True
        if words.breaks[i] >= COMMA and i <= match.start:
            return False
    return False


def _is_asked(words: Words, lexicon: Lexicon, asking: Collection[int], match: Match) -> bool:
    """Whether a question at one of `asking` opens or ends the clause of the wording."""
    turns = lexicon.words["question_turns"]
    for i in range(match.start, max(match.start - REACH, -1), -1):
        if i in asking:
            return True
        if words.breaks[i] >= COMMA or words.norms[i] in turns:
            break
    # "if it aches tonight what do I do?": the question comes behind, in the same breath.
    for i in range(match.start + 1, min(match.start + REACH, len(words))):
        if words.breaks[i] >= COMMA or words.norms[i] in turns:
            return False
        if i in asking and i >= match.end:
            return bool(words.asked)
    return False


def choose_intent(
    cues: Collection[str],
    *,
    replaces: bool,
    reading: bool,
    number: bool,
    single: bool,
    symptom: bool,
    mentioned: bool,
    asked: bool,
) -> Intent:
    """The intent that wins.

    Args:
        cues: codes of the intents whose wordings were found.
        replaces: the numbers themselves say that one stands instead of another.
        reading: the message gives a reading, in doubt or not.
        number: the message holds a number that may be a pressure or a pulse.
        single: it holds one number that may be either of a pair, and no pair.
        symptom: a symptom counts as present.
        mentioned: a symptom is denied or told of the past, or all is said to be well.
        asked: there is a question mark.
    """
    # "False reading, please remove": nothing is given in its place.
    removes = Intent.UNDO in cues and not (number or replaces)
    of_number = (number and _WITH_NUMBER in cues) or (single and _WITH_SINGLE in cues)
    if (replaces or "correction" in cues or of_number) and not removes:
        return Intent.CORRECTION
    if reading:
        return Intent.READING
    for intent in (Intent.UNDO, Intent.STOP):
        if intent in cues:
            return intent
    if symptom:
        return Intent.SYMPTOM
    for intent in _AFTER_SYMPTOM:
        if intent in cues or (intent is Intent.QUESTION and asked):
            return intent
    return Intent.SYMPTOM if mentioned else Intent.OTHER
