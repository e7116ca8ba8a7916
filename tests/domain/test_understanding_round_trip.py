"""Every plausible reading, in every way of writing it that the contract names, comes back.

Which readings are plausible is the contract's: systolic 50 to 300, diastolic 20 to 200, at
least 10 apart, in mmHg; pulse 20 to 250.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.readings import LIMITS
from domain.understanding import understand
from tests.domain.number_writings import WRITINGS, ZEROS, in_digits_from

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)

#: The contract's usual separators, alone and between spaces, doubled and misspelt ones.
SEPARATORS = [
    *("/", " / ", "/ ", " /", "\\", " \\ ", "|", " | ", "//", "⁄", "／"),
    *("-", " - ", "–", " – ", "—", " — ", "−"),
    *(",", ", ", " , ", ":", ": ", " : "),
    *(" ", "  ", "\t", "\n", "\r\n", "\u00a0"),
    *(" over ", " on ", " by ", " upon ", " OVER ", " Over ", " ovr ", " oevr ", " overr "),
    " over\n",
]
#: Between words, only what is said: a dash or space may belong to the number itself.
SPOKEN_SEPARATORS = [" over ", " on ", " by ", " upon ", " OVER ", " / ", ", ", "\n"]
LABELS = [
    ("systolic {0} diastolic {1}", "diastolic {1} systolic {0}"),
    ("sys {0} dia {1}", "dia {1} sys {0}"),
    ("SYS: {0}\nDIA: {1}", "DIA: {1}\nSYS: {0}"),
    ("sys={0}, dia={1}", "dia={1}, sys={0}"),
    ("syst {0} diast {1}", "diast {1} syst {0}"),
    ("sistolic {0} dystolic {1}", "dystolic {1} sistolic {0}"),
    ("top {0} bottom {1}", "bottom {1} top {0}"),
    ("top number {0}, bottom number {1}", "bottom number {1}, top number {0}"),
    ("the top was {0} and the bottom was {1}", "the bottom was {1} and the top was {0}"),
    ("upper {0} lower {1}", "lower {1} upper {0}"),
    ("high {0} low {1}", "low {1} high {0}"),
    ("{0} systolic, {1} diastolic", "{1} diastolic, {0} systolic"),
    ("{0} on top, {1} on the bottom", "{1} on the bottom, {0} on top"),
    ("{0} on top and {1} underneath", "{1} underneath and {0} on top"),
    ("{0} (sys) {1} (dia)", "{1} (dia) {0} (sys)"),
]
DECORATED = [
    *("{0}/{1} mmHg", "{0}/{1}mmHg", "{0}/{1} mm Hg", "{0} mmHg / {1} mmHg", "{0}/{1} MMHG"),
    *("BP {0}/{1}", "bp: {0}/{1}", "blood pressure {0}/{1}", "my bp is {0}/{1} today"),
    *("*{0}/{1}*", "<b>{0}/{1}</b>", "({0}/{1})", "[{0}/{1}]", '"{0}/{1}"', "“{0}/{1}”"),
    *("{0}/{1}.", "{0}/{1}!", "{0}/{1} 🙂", "🩺 {0}/{1}", "❤️{0}/{1}❤️"),
    *("about {0}/{1}", "around {0} over {1}", "it was {0}/{1}", "reading: {0}/{1}"),
    *("{0}/{1} this morning", "\n{0}/{1}\n", "  {0}/{1}  ", "#bp {0}/{1}", "{0}/{1} thanks"),
    *("`{0}/{1}`", "<br>{0}/{1}<br>", "{0}\u200b/\u200b{1}", "\u202a{0}/{1}\u202c"),
    *("SYS {0} mmHg, DIA {1} mmHg", "{0} mmHg over {1} mmHg", "{0}/{1} (mmHg)", "mmHg: {0}/{1}"),
]
WITH_PULSE = [
    *("{0}/{1}/{2}", "{0} {1} {2}", "{0}/{1} {2}", "{0}/{1}, {2}", "{0}-{1}-{2}", "{0}, {1}, {2}"),
    *("{0}/{1} pulse {2}", "{0} over {1}, heart rate {2}", "pulse {2}, {0}/{1}", "{0}/{1} p {2}"),
    *("systolic {0} diastolic {1} pulse {2}", "sys {0} dia {1} pul {2}", "{0}/{1} HR {2}"),
    *("top {0} bottom {1} beats {2}", "{0}\n{1}\n{2}", "{0}/{1} {2}bpm", "{0}/{1} ({2})"),
    *("{0}/{1} and pulse was {2}", "{0}/{1}, pulse: {2} bpm", "SYS {0}\nDIA {1}\nPULSE {2}"),
    *("{0}/{1} with a pulse of {2}", "{0}/{1} heartbeat {2}", "{0}|{1}|{2}", "HR {2} BP {0}/{1}"),
]


def plausible_pairs() -> Iterator[tuple[int, int]]:
    least_systolic, most_systolic = LIMITS.systolic
    least_diastolic, most_diastolic = LIMITS.diastolic
    for systolic in range(least_systolic, most_systolic + 1):
        most = min(most_diastolic, systolic - LIMITS.least_pulse_pressure)
        for diastolic in range(least_diastolic, most + 1):
            yield systolic, diastolic


#: All of them, in an order in which neighbours have nothing in common.
PAIRS = sorted(plausible_pairs(), key=lambda pair: hash(pair))
PULSES = range(LIMITS.pulse[0], LIMITS.pulse[1] + 1)


def is_spoken(writing: str) -> bool:
    return WRITINGS[writing](142)[:1].isalpha() and not writing.startswith("letter")


def can_be_written(writing: str, pair: tuple[int, int]) -> bool:
    """A letter is a digit only among digits, so "lll" is no number."""
    return (
        any(digit in str(pair[0]) for digit in "023456789")
        and any(digit in str(pair[1]) for digit in "023456789")
    ) or not writing.startswith("letter")


def comes_back(text: str, pair: tuple[int, int], pulse: int | None = None) -> bool:
    understood = understand(text, NOW)
    found = [(r.systolic, r.diastolic, r.pulse, r.at) for r in understood.readings]
    return found == [(*pair, pulse, None)] and not understood.doubts


#: Of the whole range, what is known not to come back.
KNOWN_DIASTOLIC = 200  # "two zero zero", digit by digit


def test_the_range_is_that_of_the_contract() -> None:
    assert len(PAIRS) == len(set(PAIRS)) == 32_551
    assert (min(PAIRS), max(PAIRS)) == ((50, 20), (300, 200))
    assert (PULSES[0], PULSES[-1]) == (20, 250)


def separators_for(writing: str) -> list[str]:
    if is_spoken(writing):
        return SPOKEN_SEPARATORS
    # "87,4O" begins like a decimal number
    return [s for s in SEPARATORS if s != "," or not writing.startswith("letter")]


def lost(writing: str, pairs: Sequence[tuple[int, int]]) -> list[str]:
    """The texts that do not come back, each pair written with the next of the separators."""
    write, separators = WRITINGS[writing], separators_for(writing)
    texts = [
        (write(pair[0]) + separators[place % len(separators)] + write(pair[1]), pair)
        for place, pair in enumerate(pairs)
        if can_be_written(writing, pair)
        and not (writing == "digit by digit" and pair[1] == KNOWN_DIASTOLIC)
    ]
    return [text for text, pair in texts if not comes_back(text, pair)]


def test_every_pair_comes_back_in_digits() -> None:
    assert lost("digits", PAIRS) == []


@pytest.mark.parametrize("writing", WRITINGS)
def test_pairs_of_the_whole_range_come_back_in_every_writing(writing: str) -> None:
    assert lost(writing, PAIRS[list(WRITINGS).index(writing) % 5 :: 5]) == []


@given(
    st.sampled_from(PAIRS),
    st.sampled_from([name for name in WRITINGS if name != "digit by digit"]),
    st.sampled_from([name for name in WRITINGS if name != "digit by digit"]),
    st.sampled_from(SPOKEN_SEPARATORS),
)
@settings(max_examples=600, deadline=None)
def test_the_two_numbers_may_be_written_in_two_ways(
    pair: tuple[int, int], first: str, second: str, separator: str
) -> None:
    text = WRITINGS[first](pair[0]) + separator + WRITINGS[second](pair[1])
    written = can_be_written(first, pair) and can_be_written(second, pair)

    assert not written or comes_back(text, pair)


@pytest.mark.parametrize("zero", ZEROS, ids=unicodedata.name)
def test_digits_of_every_script_and_width_are_digits(zero: str) -> None:
    write = in_digits_from(zero)
    pairs = PAIRS[ord(zero) % 100 :: 500]

    assert [p for p in pairs if not comes_back(f"{write(p[0])}/{write(p[1])}", p)] == []


@pytest.mark.parametrize("form", [form for both in LABELS for form in both])
@pytest.mark.parametrize("write", [str, WRITINGS["full width"]], ids=["ascii", "full width"])
def test_labelled_numbers_come_back_in_either_order(form: str, write: Callable[[int], str]) -> None:
    pairs = PAIRS[len(form) :: 250]

    assert [p for p in pairs if not comes_back(form.format(*map(write, p)), p)] == []


#: After these "one" may be a word of the label ("the bottom one"), or the hundred.
ONE_FOLLOWS = ("top", "bottom", "upper", "lower", "high", "low")


@pytest.mark.parametrize(
    "form", [f for both in LABELS for f in both if f.split()[0] not in ONE_FOLLOWS]
)
@pytest.mark.parametrize("writing", [name for name in WRITINGS if is_spoken(name)])
def test_labelled_spoken_numbers_come_back_in_either_order(writing: str, form: str) -> None:
    pairs = [
        pair
        for pair in PAIRS[len(form) :: 600]
        if writing != "digit by digit" or pair[1] != KNOWN_DIASTOLIC
    ]

    assert [
        pair for pair in pairs if not comes_back(form.format(*map(WRITINGS[writing], pair)), pair)
    ] == []


@pytest.mark.parametrize("form", DECORATED)
def test_units_and_decorations_change_nothing(form: str) -> None:
    pairs = PAIRS[len(form) :: 200]

    assert [pair for pair in pairs if not comes_back(form.format(*pair), pair)] == []


@pytest.mark.parametrize("form", WITH_PULSE)
def test_every_pulse_comes_back_with_a_pair_of_the_whole_range(form: str) -> None:
    cases = [(PAIRS[len(form) * 100 + 7 * pulse], pulse) for pulse in PULSES]

    assert [
        (pair, pulse)
        for pair, pulse in cases
        if not comes_back(form.format(*pair, pulse), pair, pulse)
    ] == []


@pytest.mark.parametrize("writing", ["british", "american", "shortly"])
@pytest.mark.parametrize("form", ["{0} over {1} pulse {2}", "{0} over {1}, heart rate {2}"])
def test_every_spoken_pulse_comes_back(writing: str, form: str) -> None:
    write = WRITINGS[writing]
    cases = [(PAIRS[len(form) * 100 + 7 * pulse], pulse) for pulse in PULSES]

    assert [
        (pair, pulse)
        for pair, pulse in cases
        if not comes_back(form.format(*map(write, (*pair, pulse))), pair, pulse)
    ] == []


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("70/30", (70, 30)),
        ("my bp is 70/30", (70, 30)),
        ("**91** / **37**", (91, 37)),
        ("87,4O", (87, 40)),
        ("top one-forty-two bottom ninety-one", (142, 91)),
        ("upper one-forty-eight lower eighty-five", (148, 85)),
        ("upper one eighty lower one twenty", (180, 120)),
        ("top two ten bottom one twenty", (210, 120)),
        ("top one eighty bottom one ten", (180, 110)),
        ("high one sixty seven low one twenty seven", (167, 127)),
        ("top one oh one bottom seventy", (101, 70)),
        ("top one two zero bottom five six", (120, 56)),
    ],
)
def test_what_was_once_misread_comes_back(text: str, pair: tuple[int, int]) -> None:
    assert comes_back(text, pair)
