"""What can be put together from ready libraries in an afternoon, to be measured beside ours.

spaCy (blank English, sentences, a ruler of ordinary phrases), negspacy for negation, text2num
for number words, a regular expression for pairs and one for labelled pairs, dateparser for
times. It is given every help that costs it nothing: readings are taken out before dates are
looked for, and dates only where a reading and a word of time stand. Pressures in mmHg.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import spacy
from dateparser.search import search_dates
from negspacy.negation import Negex  # noqa: F401  # registers "negex" with spaCy
from negspacy.termsets import termset
from spacy.pipeline import EntityRuler
from text_to_num import alpha2digit

from domain.readings import LIMITS
from tests.benchmarks.messages import TIME_WORD, Numbers

PHRASES = Path(__file__).with_name("library_phrases.toml")
OPTIONAL = ("my", "the", "a", "his", "her")
VERBS = ("is", "'s", "feels", "are", "was", "went", "got")
REPLACES = {
    "worst_headache": {"headache"},
    "one_sided_weakness": {"weakness", "numbness"},
    "loss_of_balance": {"dizziness"},
    "sudden_vision_loss": {"blurred_vision"},
}
ADVERBS = ("very", "so", "really", "still", "quite", "all", "a", "bit", "little", "rather")
NUMBER = r"(?<!\d)(?<!\d[.:])(\d{2,3})(?![.:]?\d)"
PULSE = rf"(?:[ \t]*[/,(;][ \t]*{NUMBER}|[ ]{NUMBER})?"
PAIR = re.compile(
    rf"{NUMBER}\s*(?:[/\\|,:–—-]|over|on|by|upon|\s)\s*{NUMBER}{PULSE}", re.IGNORECASE
)
SYSTOLIC = re.compile(rf"(?:sys\w*|top|upper|high\w*)\D{{0,20}}{NUMBER}", re.IGNORECASE)
DIASTOLIC = re.compile(rf"(?:dia\w*|bottom|lower|low)\D{{0,20}}{NUMBER}", re.IGNORECASE)
NAMED_PULSE = re.compile(
    rf"(?:pulse|heart|beats|bpm|hr)\D{{0,20}}{NUMBER}|{NUMBER}\s*(?:bpm|beats)", re.IGNORECASE
)
#: "one forty two" comes out of text2num as "1 42", "one oh eight" as "1 oh 8".
HUNDRED = re.compile(r"\b1 (\d\d)\b")
HUNDRED_OH = re.compile(r"\b1 oh? (\d)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Answer:
    numbers: tuple[Numbers, ...]
    moments: tuple[datetime | None, ...]  #: one a reading; None is now
    symptoms: frozenset[str]


class LibraryPipeline:
    """Reads a message as `understand` does, by ready libraries."""

    def __init__(self) -> None:
        self._nlp = spacy.blank("en")
        self._nlp.add_pipe("sentencizer")
        ruler = self._nlp.add_pipe("entity_ruler")
        assert isinstance(ruler, EntityRuler)
        phrases = tomllib.loads(PHRASES.read_text("utf-8"))["phrases"]
        ruler.add_patterns(
            [
                {"label": code, "pattern": _pattern(word.text for word in self._nlp.make_doc(text))}
                for code, texts in phrases.items()
                for text in texts
            ]
        )
        negations = termset("en").get_patterns()
        self._nlp.add_pipe("negex", config={"neg_termset": negations, "ent_types": [*phrases]})

    def read(self, text: str, now: datetime) -> Answer:
        found = {entity.label_ for entity in self._nlp(text).ents if not entity._.negex}
        for code in found & REPLACES.keys():
            found = found - REPLACES[code]
        digits = alpha2digit(unicodedata.normalize("NFKC", text), "en", threshold=0)
        digits = HUNDRED_OH.sub(r"10\1", HUNDRED.sub(r"1\1", digits))
        numbers = tuple(_readings(digits))
        moment = None
        if numbers and TIME_WORD.search(rest := PAIR.sub(" ", digits)):
            moment = _moment(rest, now)
        return Answer(numbers, (moment,) * len(numbers), frozenset(found))


def _pattern(words: Iterable[str]) -> list[dict[str, object]]:
    pattern: list[dict[str, object]] = []
    for word in words:
        if word in OPTIONAL:
            pattern.append({"LOWER": {"IN": [*OPTIONAL]}, "OP": "?"})
        elif word in VERBS:
            pattern.append({"LOWER": {"IN": [*VERBS]}})
            pattern.append({"LOWER": {"IN": [*ADVERBS]}, "OP": "*"})
        else:
            pattern.append({"LOWER": word})
    return pattern


def _readings(text: str) -> Iterator[Numbers]:
    """All pairs; else one by its labels. A pulse named in words is that of a lone pair."""
    named = NAMED_PULSE.search(PAIR.sub(" ", text))
    pulse = int(named[1] or named[2]) if named else None
    top, bottom = SYSTOLIC.search(text), DIASTOLIC.search(text)
    if top and bottom:
        found: list[Numbers] = [(int(top[1]), int(bottom[1]), None)]
    else:
        matches = PAIR.finditer(text)
        found = [(int(m[1]), int(m[2]), int(m[3] or m[4] or 0) or None) for m in matches]
    for first, second, third in found:
        low, high = sorted((first, second))
        if (
            LIMITS.systolic[0] <= high <= LIMITS.systolic[1]
            and LIMITS.diastolic[0] <= low <= LIMITS.diastolic[1]
            and high - low >= LIMITS.least_pulse_pressure
        ):
            yield high, low, third or (pulse if len(found) == 1 else None)


def _moment(text: str, now: datetime) -> datetime | None:
    local = now.replace(tzinfo=None)
    settings = {"RELATIVE_BASE": local, "PREFER_DATES_FROM": "past"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        dates = search_dates(text, languages=["en"], settings=settings)
    if not dates:
        return None
    moment = dates[0][1].replace(tzinfo=now.tzinfo)
    return None if abs((now - moment).total_seconds()) < 60 else moment
