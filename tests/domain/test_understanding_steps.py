"""Understanding takes steps in proportion to the length of the message, and no more.

Steps are the lines that Python runs in the package, counted and not timed, so the answer is
the same on a busy machine. What one line does inside Python's own library (a regular
expression, a slice) is not seen here.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

import domain.understanding
from domain.understanding import understand

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
PACKAGE = str(Path(domain.understanding.__file__).parent)
#: Characters. From the first on, what a message costs whatever its length no longer counts.
LENGTHS = (1_500, 3_000, 6_000)
#: Twice the length may take this many times the steps; quadratic growth takes four times.
MOST = 2.3
#: The same for one function alone, which may meet a bound that the first lengths did not reach.
MOST_OF_ONE = 3
#: Steps below which a function is too small a part to be looked at alone.
LEAST = 20_000


def steps(run: Callable[[], object]) -> Counter[CodeType]:
    """Lines run (and returns made) by files of the package, for each function."""
    tallies: dict[int, tuple[CodeType, list[int], Any]] = {}

    def enter(frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(PACKAGE):
            return None
        if id(code) not in tallies:
            tallies[id(code)] = _tally(code)
        return tallies[id(code)][2]

    before = sys.gettrace()
    sys.settrace(enter)
    try:
        run()
    finally:
        sys.settrace(before)
    return Counter({code: count[0] for code, count, _ in tallies.values()})


def _tally(code: CodeType) -> tuple[CodeType, list[int], Any]:
    """The function (kept, so that no other gets its id), its count, and what counts."""
    count = [0]

    def local(frame: FrameType, event: str, argument: Any) -> Any:
        count[0] += 1
        return local

    return code, count, local


def too_fast(text_of: Callable[[int], str]) -> list[str]:
    """What grows faster than the text, in words; none is as it should be."""
    understand(text_of(LENGTHS[-1]), NOW)  # words are looked up once and then remembered
    shorter: Counter[CodeType] | None = None
    problems: list[str] = []
    for length in LENGTHS:
        text = text_of(length)
        longer = steps(lambda text=text: understand(text, NOW))  # type: ignore[misc]
        if shorter is not None:
            problems += growth(shorter, longer)
        if problems:
            return problems
        shorter = longer
    return problems


def growth(shorter: Counter[CodeType], longer: Counter[CodeType]) -> list[str]:
    """What took too many times the steps with twice the text."""
    before, after = shorter.total(), longer.total()
    whole = [f"all: {before} steps, then {after}"] if after > MOST * before else []
    return whole + [
        f"{Path(code.co_filename).name}:{code.co_firstlineno} {code.co_qualname}: "
        f"{shorter[code]} steps, then {count}"
        for code, count in longer.items()
        if count > max(LEAST, MOST_OF_ONE * shorter[code])
    ]


def test_steps_are_counted_and_quadratic_growth_would_be_seen() -> None:
    code = compile(
        "for a in range(length):\n for b in range(length):\n  a + b", PACKAGE + "/x.py", "exec"
    )

    def taken(length: int) -> int:
        return steps(lambda: exec(code, {"length": length})).total()

    assert not steps(lambda: None)
    assert taken(200) > 3.5 * taken(100) > 10_000


REPEATED = {
    # What people write, over and over.
    "digit": "1",
    "number": "12 ",
    "pair": "142/91 ",
    "pair and pulse": "142/91/72, ",
    "space": " ",
    "over": "over ",
    "one": "one ",
    "spoken number": "forty two ",
    "spoken pair": "one forty two over ninety one ",
    "letter": "a",
    "question mark": "?",
    "three digits": "142 ",
    "number and comma": "142,",
    "not a number": "not 142 ",
    "not this but that": "132 not 142 ",
    "not": "not ",
    "no": "no ",
    "clock time": "at 7 ",
    "clock time with minutes": "7.15 ",
    "clock time with half of the day": "at 7:15 am ",
    "time of day": "yesterday evening ",
    "time of day before a pair": "this morning 142/91, ",
    "weekday": "on Tuesday ",
    "date": "12/05/26 ",
    "ago": "20 minutes ago ",
    "tag": "<a",
    "whole tag": "<b>",
    "line break": "\n",
    "pair on a line": "142/91\n",
    "emoji": "🌧️",
    "alternative": "142/91 or ",
    "between": "between 142 and ",
    "pulse": "pulse ",
    "pulse and number": "pulse 72 ",
    "label": "systolic ",
    "label and number": "top 142 ",
    "labelled pair": "top 142 bottom 91 ",
    "label behind": "142 top ",
    "single digits": "1 4 2 ",
    "hundred": "hundred and ",
    "if": "if ",
    "point": ".",
    "plus": "+1 ",
    "half": "half ",
    "kilopascal": "17.1/10.4 kPa ",
    "dose": "5 mg ",
    "phone": "01632 960 555 ",
    "somebody else": "my wife's 142/91 ",
    "target": "target 142/91 ",
    "denied": "no headache, ",
    "denied in one go": "no headache or dizziness or ",
    "red flag": "my chest hurts ",
    "condition": "if i get dizzy ",
    "nonsense": "zq ",
    "slip": "hedache ",
    "run together": "chestpain ",
    "gone": "dizzy but gone now ",
    "told by another": "she says i am confused ",
    "animal": "the dog had a fit ",
    "animal in sentences": "our cat fainted. ",
    "a number that is long enough": "nosebleed for 20 minutes ",
    "correction before a pair": "oh sorry 129/84. ",
    "sentence": "I feel dizzy. ",
    "question": "is 142/91 high? ",
    "several signs": "dizzy sick tired ",
    # What nobody writes but somebody may send.
    "slash": "/",
    "slash and space": "/ ",
    "backslash": "\\",
    "hyphen": "-",
    "comma": ",",
    "hidden digit": "1?2/",
    "open bracket": "(",
    "open tag": "<",
    "nested quotes": "\"'“‘",
    "apostrophe": "'",
    "apostrophes in a word": "a'",
    "possessive": "s' 's ",
    "letter with accent": "e\u0301",
    "accent": "\u0301",
    "accents on a letter": "e" + "\u0301" * 40,
    "full width digit": "７",
    "digit of another script": "٣ ",
    "scripts": "a１б٣漢\u0939 ",
    "fraction": "½",
    "ligature": "ﷺ",
    "joiner": "👩\u200d",
    "control": "\x00",
    "surrogate": "\ud800",
    "decimal chain": "1.2",
    "ordinal": "1st ",
    "digits with letters": "1l0O",
    "digit and letter": "1a",
    "mixed case": "nO ",
    "dictated mark": "comma ",
    "colon": ":",
    "hyphened numbers": "one-",
    "times sign": "x ",
    "and": "and ",
    "homophone": "to ",
    "pairs to": "142 to 91 ",
    "made up word": "abcdefghijklmnopqrstuvwxyz",
    "first name": "John ",
    "sorry": "sorry ",
    "pair and said pulse": "142/91 pulse 72 ",
    "score": "5/9 ",
    "person and sign": "my wife has a headache ",
    "question and what is asked": "should i skip it ",
    "name and pair": "Joan's 142/91 ",
    "time alone": "measured at 8. ",
    "meant": "I meant 142/91 not 132/91 ",
}


@pytest.mark.parametrize(
    "piece", [pytest.param(piece, id=name) for name, piece in REPEATED.items()]
)
def test_the_steps_for_one_thing_over_and_over_grow_with_the_length(piece: str) -> None:
    assert too_fast(lambda length: (piece * length)[:length]) == []


#: One thing over and over, then another: each of the first meets each of the second.
FIRST_AND_SECOND = {
    "times, then a pair": ("at 7 ", "142/91"),
    "a pair, then times": ("142/91 ", "at 7 "),
    "times, then pairs": ("at 7 ", "142/91 "),
    "pairs, then times of all": ("142/91 ", "both at 8. "),
    "pairs, then times without one": ("142/91. ", "measured at 8. "),
    "pairs, then pulses": ("142/91 ", "pulse 72 "),
    "labels, then numbers": ("top bottom ", "142 "),
    "small numbers, then larger ones": ("5 ", "142, "),
    "spoken ones, then larger ones": ("one ", "142, "),
    "decimals, then larger ones": ("17.1 ", "142, "),
    "hundreds, then larger ones": ("hundred ", "142, "),
    "people, then pairs": ("my wife ", "142/91 "),
    "people, then signs": ("my wife ", "headache "),
    "reports, then signs": ("she says ", "chest pain "),
    "denials, then signs": ("no ", "headache "),
    "signs, then denials": ("headache ", "none "),
    "conditions, then signs": ("if ", "headache "),
    "questions, then what is asked": ("shall i ", "skip it "),
    "questions, then what is not": ("shall i ", "but skip it "),
    "signs, then what is told of them": ("chest pain ", "gone now "),
    "signs, then wishes": ("dizzy ", "delete that "),
    "numbers, then what is wrong": ("142 ", "not 132 "),
    "open brackets, then closed": ("(", ")"),
    "open tags, then closed": ("<", ">"),
    "quotes in quotes": ("\"'", "'\""),
    "letters, then accents": ("e", "\u0301"),
    "scripts": ("１٣", "漢\u0939 "),
}


@pytest.mark.parametrize(
    ("first", "second"), [pytest.param(*both, id=name) for name, both in FIRST_AND_SECOND.items()]
)
def test_the_steps_for_one_thing_and_then_another_grow_with_the_length(
    first: str, second: str
) -> None:
    def text_of(length: int) -> str:
        # Whole pieces only: a half of "one" is "on", and means another thing.
        half = length // 2
        return first * (half // len(first)) + " " + second * (half // len(second))

    assert too_fast(text_of) == []
