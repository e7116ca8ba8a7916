"""Looks for texts that `understand` stumbles over: any number of them, from a seed.

    uv run python tests/benchmarks/understanding_fuzz.py [CASES] [--processes N] [--seed N]

A third are mixtures of pieces that the rules give a meaning to, a third messages of the
contract's sample with small changes, a third Unicode at random; one in five hundred is a few
pieces over and over, up to a thousand times. What must hold for every one
is `problem`. Prints how many were tried and how fast; the first text found is shrunk by
leaving out what the problem does not need. Status 1 when there is one.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from time import perf_counter

from domain.danger import Level, message_level
from domain.readings import LIMITS
from domain.understanding import Understood, understand
from domain.understanding.lexicon_data import ENGLISH, languages

SAMPLE = Path(__file__).parents[1] / "outside" / "data" / "messages_sample.jsonl"
Case = tuple[str, datetime, str]  #: text, moment of its sending, language
CASES = 1_000_000
BATCH = 2_000
LONGEST = 60  #: pieces or characters of one text; most are shorter
ONE_IN = 500  #: texts, one is of a few pieces over and over
MOST_REPEATED = 1_000  #: times
MOMENTS = (
    datetime(2026, 3, 10, 7, 42, tzinfo=UTC),
    datetime(2026, 1, 1, 0, 5, tzinfo=timezone(timedelta(hours=-8))),
    datetime(2026, 12, 31, 23, 58, tzinfo=timezone(timedelta(hours=5, minutes=45))),
    datetime(2028, 2, 29, 12, 0, tzinfo=timezone(timedelta(hours=1))),
)

#: What the rules give a meaning to, and what may stand in their way.
PIECES = (
    *("142/91", "142", "91", "72", "7", "1", "0", "300", "20", "17.1/10.4", "1?2/91", "142/9?"),
    *("/", "\\", "|", "-", "–", ",", ".", ":", ";", "?", "!", "(", ")", '"', "'", "<b>", "*", "#"),
    *(" ", " ", " ", " ", "\n", "\t", "\r\n", "\u00a0", "\u200b", "\u2028", "\x00", "\ud800"),
    *(" over ", " on ", " by ", " upon ", " or ", " to ", " and ", " not ", " no ", " but "),
    *("one ", "oh ", "forty ", "two ", "a hundred ", "ninety ", "point ", "half ", "eighteen "),
    *("systolic ", "dia ", "top ", "bottom ", "high ", "low ", "pulse ", "bpm", " mmHg", " kPa"),
    *(" at 7", " 7:15 am", " yesterday", " last night", " this morning", " Tuesday", " ago"),
    *(" 20 minutes ago", " half past ", " quarter to ", " 12/05/2026", " 5 March", " noon"),
    *("'s", "s'", "my wife's ", "she has ", "he says ", "John's ", "the dog ", "my ", "I am "),
    *("target ", "should be ", "under ", "if ", "what does ", "mean", "between ", "maybe "),
    *("chest pain", "headache", "dizzy", "slurred speech", "numb down one side", "passed out"),
    *("my face is drooping", "can't breathe", "worst headache ever", "feel sick", "gone now"),
    *("no symptoms", "feel fine", "without ", "apart from ", "since ", "used to ", "a bit "),
    *("sorry ", "I meant ", "delete that", "stop", "skip it", "later", "in 20 minutes", "5 mg "),
    *("took my tablets", "weight 81 kg", "sugar 6.3", "room 14", "01632 960 555", "£35", "97%"),
    *("ciento cuarenta y dos ", "sobre ", "la alta ", "la baja ", "ayer ", "esta mañana ", "sin "),
    *("dolor de pecho", "mareo", "mi mujer ", "me cuesta hablar", "hace 20 minutos ", "pulso "),
    *("½", "①", "٣", "７", "𝟏", "🙂", "👩\u200d👧", "❤\ufe0f", "e\u0301", "\u0301", "ﷺ", "血圧"),
)  # fmt: skip
#: Where random characters come from: (first, last) with the dense and the odd corners of Unicode.
RANGES = (
    *((0x20, 0x7E), (0x20, 0x7E), (0x00, 0xFF), (0x2000, 0x206F), (0x0300, 0x036F)),
    *((0x0600, 0x06FF), (0x0900, 0x097F), (0x2150, 0x218F), (0x2460, 0x24FF), (0x3000, 0x30FF)),
    *((0xFB00, 0xFFFF), (0x1F300, 0x1FAFF), (0x1D7CE, 0x1D7FF), (0x00, 0x10FFFF)),
)


def problem(text: str, now: datetime, language: str = ENGLISH) -> str | None:
    """What is wrong with how a text is understood, None when all holds that must."""
    try:
        understood = understand(text, now, language)
        level = _level(understood)
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    if not isinstance(level, Level):
        return "no alarm level"
    return _problem_of_readings(understood, now) or _problem_of_places(understood, text)


def _level(understood: Understood) -> Level:
    pairs = [(found.systolic, found.diastolic) for found in understood.readings]
    return message_level(pairs, understood.symptoms)


def _problem_of_readings(understood: Understood, now: datetime) -> str | None:
    for found in understood.readings:
        if LIMITS.pressure_problem(found.systolic, found.diastolic) is not None:
            return f"implausible pressure {found.systolic}/{found.diastolic}"
        if found.pulse is not None and LIMITS.pulse_problem(found.pulse) is not None:
            return f"implausible pulse {found.pulse}"
        if found.at is not None and found.at > now:
            return f"measured in the future, {found.at}"
        if found.at is not None and found.at.utcoffset() != now.utcoffset():
            return f"another offset, {found.at}"
    return None


def _problem_of_places(understood: Understood, text: str) -> str | None:
    spans = [found.span for found in understood.readings]
    spans += [possible.span for possible in understood.possible]
    spans += [sign.span for sign in (*understood.signs, *understood.others)]
    for start, end in spans:
        if not 0 <= start < end <= len(text):
            return f"span outside the text, {start} to {end}"
    if list(understood.symptoms) != sorted(set(understood.symptoms)):
        return f"symptoms not sorted or twice, {understood.symptoms}"
    if set(understood.denied) & set(understood.symptoms):
        return f"denied and present, {understood.denied}"
    if understood.postponed is not None and understood.postponed <= timedelta(0):
        return f"a pause of {understood.postponed}"
    return None


def sample_texts() -> list[str]:
    return [json.loads(line)["text"] for line in SAMPLE.read_text("utf-8").splitlines()]


def texts(dice: random.Random, samples: list[str]) -> Iterator[Case]:
    """Texts, the moments of their sending and the language they are read in, without end."""
    known = languages()
    kinds = (_mixture, lambda d: _changed(d, samples), _random_text)
    while True:
        kind = dice.choice(kinds) if dice.randrange(ONE_IN) else _over_and_over
        yield kind(dice), dice.choice(MOMENTS), dice.choice(known)


def _length(dice: random.Random) -> int:
    """Mostly short, as messages are."""
    return min(int(dice.expovariate(0.12)) + 1, LONGEST)


def _mixture(dice: random.Random) -> str:
    joint = dice.choice(("", "", " "))
    return joint.join(dice.choices(PIECES, k=_length(dice)))


def _over_and_over(dice: random.Random) -> str:
    few = dice.choices(PIECES, k=dice.choice((1, 1, 2, 3)))
    return "".join(few * (dice.randint(1, MOST_REPEATED) // len(few) + 1))


def _random_text(dice: random.Random) -> str:
    signs = []
    for _ in range(_length(dice)):
        first, last = dice.choice(RANGES)
        signs.append(chr(dice.randint(first, last)))
    return "".join(signs)


def _changed(dice: random.Random, samples: list[str]) -> str:
    text = dice.choice(samples)
    for _ in range(dice.randint(1, 4)):
        at = dice.randint(0, len(text))
        to = min(len(text), at + dice.randint(0, 6))
        change = dice.randrange(5)
        if change == 0:
            text = text[:at] + text[to:]
        elif change == 1:
            text = text[:at] + dice.choice(PIECES) + text[at:]
        elif change == 2:
            text = text[:at] + text[at:to] * 2 + text[to:]
        elif change == 3:
            text = text[:at] + text[at:to].swapcase()[::-1] + text[to:]
        else:
            text = text[:at] + dice.choice(samples)[: dice.randint(0, 40)] + text[at:]
    return text


def shrunk(text: str, still: Callable[[str], bool]) -> str:
    """The text without any run of characters that the problem does not need."""
    size = max(len(text) // 2, 1)
    while size:
        at = 0
        while at < len(text):
            shorter = text[:at] + text[at + size :]
            if still(shorter):
                text = shorter
            else:
                at += size
        size //= 2
    return text


def batch(seed: int, number: int, cases: int) -> tuple[Case, str] | None:
    """The first failing case of a batch with its problem, None without."""
    source = texts(random.Random(f"{seed} {number}"), sample_texts())
    for _ in range(cases):
        case = next(source)
        wrong = problem(*case)
        if wrong is not None:
            return case, wrong
    return None


def _batch(job: tuple[int, int, int]) -> tuple[Case, str] | None:
    return batch(*job)


def main() -> int:
    parser = argparse.ArgumentParser(description="Try `understand` on texts at random.")
    parser.add_argument("cases", nargs="?", type=int, default=CASES)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    sizes = [BATCH] * (wanted.cases // BATCH) + [wanted.cases % BATCH] * (wanted.cases % BATCH > 0)
    jobs = [(wanted.seed, number, size) for number, size in enumerate(sizes)]
    begun = perf_counter()
    failures = []
    with ProcessPoolExecutor(wanted.processes) as pool:
        for found in pool.map(_batch, jobs, chunksize=4):
            failures += [found] if found is not None else []
    seconds = perf_counter() - begun
    print(
        f"{wanted.cases:,} cases in {seconds:.0f} s with {wanted.processes} processes, "
        f"{wanted.cases / seconds:,.0f} a second, seed {wanted.seed}"
    )
    print(f"batches with a failing text: {len(failures)} of {len(jobs)}")
    if failures:
        _show(*failures[0])
    return 1 if failures else 0


def _show(case: Case, wrong: str) -> None:
    text, now, language = case
    kind = wrong.partition(",")[0].partition(":")[0]

    def still(shorter: str) -> bool:
        return (problem(shorter, now, language) or "").startswith(kind)

    short = shrunk(text, still)
    print(f"first: {short!a} at {now.isoformat()} in {language}")
    print(f"       {problem(short, now, language)}")


if __name__ == "__main__":
    sys.exit(main())
