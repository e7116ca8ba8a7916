"""Spanish readings, doubts and times: tables of invented messages, and every way of writing.

The tables are in understanding_numbers_es/; their notation is explained in message_tables.py.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from domain.readings import LIMITS
from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.result import Doubt
from domain.understanding.tokens import tokens
from tests.domain.message_tables import all_number_rows, shown
from tests.domain.number_writings_es import WRITINGS

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
SEPARATORS = [" sobre ", " con ", " por ", " entre ", " barra ", " / ", ", ", "\n"]
LABELS = [
    ("máxima {0} mínima {1}", "mínima {1} máxima {0}"),
    ("la alta {0} y la baja {1}", "la baja {1} y la alta {0}"),
    ("sistólica {0} diastólica {1}", "diastólica {1} sistólica {0}"),
    ("la de arriba es {0} y la de abajo {1}", "la de abajo es {1} y la de arriba {0}"),
    ("{0} de máxima y {1} de mínima", "{1} de mínima y {0} de máxima"),
    ("la superior {0}, la inferior {1}", "la inferior {1}, la superior {0}"),
]
WITH_PULSE = [
    *("{0} sobre {1} pulso {2}", "{0} con {1}, {2} pulsaciones", "pulso {2}, {0} sobre {1}"),
    *("{0} sobre {1}, {2} latidos por minuto", "la máxima {0}, la mínima {1}, el pulso {2}"),
]

systolic = st.integers(50, 300)
diastolic = st.integers(20, 200)
pulse = st.integers(20, 250)
writing = st.sampled_from(sorted(WRITINGS))


def read(text: str, now: datetime = NOW) -> NumbersRead:
    return read_numbers(text, tokens(text), now, "es")


def test_the_tables_are_many_and_hold_no_message_twice() -> None:
    asked = [(now, text) for now, _, text in all_number_rows("es")]

    assert len(asked) >= 400
    assert len(asked) == len(set(asked))


def test_every_doubt_has_rows() -> None:
    expected = {part for _, wanted, _ in all_number_rows("es") for part in wanted.split()}

    assert {f"!{doubt}" for doubt in Doubt} <= expected


@pytest.mark.parametrize(("now", "expected", "text"), all_number_rows("es"))
def test_the_message_is_read_as_a_careful_nurse_would(
    now: datetime, expected: str, text: str
) -> None:
    found = read(text, now)

    assert shown(found, now) == expected
    kept_out = found.doubts & {Doubt.IMPLAUSIBLE, Doubt.AMBIGUOUS, Doubt.INCOMPLETE}
    assert bool(found.possible) or not kept_out


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("14/9", (140, 90)),
        ("14 con 9", (140, 90)),
        ("catorce nueve", (140, 90)),
        ("18 y 12", (180, 120)),
        ("13.5/8", (135, 80)),
        ("la baja 11 y la alta 19", (190, 110)),
        ("18,5/11,5", (185, 115)),
    ],
)
def test_centimetres_keep_what_they_mean_in_millimetres(text: str, meant: tuple[int, int]) -> None:
    found = read(text)

    assert found.doubts
    assert meant in [(p.systolic, p.diastolic) for p in found.possible]


@pytest.mark.parametrize(
    ("text", "meant"), [("la alta 18", (180, None)), ("mínima 11", (None, 110))]
)
def test_half_a_pair_may_be_in_centimetres_too(
    text: str, meant: tuple[int | None, int | None]
) -> None:
    found = read(text)

    assert found.doubts == {Doubt.INCOMPLETE}
    assert meant in [(p.systolic, p.diastolic) for p in found.possible]


@pytest.mark.parametrize(
    ("text", "systolic", "diastolic", "wrong"),
    [
        ("perdón, 132 no 142", None, None, 142),
        ("la baja era 81", None, 81, None),
        ("quise poner la alta 132", 132, None, None),
        ("no era 162, era 126 la alta", 126, None, 162),
    ],
)
def test_a_single_number_is_a_change_of_the_last_reading(
    text: str, systolic: int | None, diastolic: int | None, wrong: int | None
) -> None:
    change = read(text).change

    assert change is not None
    assert (change.systolic, change.diastolic, change.wrong) == (systolic, diastolic, wrong)


@settings(max_examples=400, deadline=None)
@given(systolic, diastolic, writing, writing, st.sampled_from(SEPARATORS))
def test_every_plausible_pair_comes_back_from_every_writing(
    high: int, low: int, first: str, second: str, separator: str
) -> None:
    per_cent = separator == " por " and low == 100  # "por cien"
    if per_cent or LIMITS.pressure_problem(high, low) is not None:
        return
    text = WRITINGS[first](high) + separator + WRITINGS[second](low)

    found = read(text)

    assert [(r.systolic, r.diastolic) for r in found.readings] == [(high, low)], text
    assert not found.doubts, text


@settings(max_examples=300, deadline=None)
@given(systolic, diastolic, writing, st.sampled_from(LABELS), st.booleans())
def test_every_plausible_pair_comes_back_from_labels_in_either_order(
    high: int, low: int, way: str, pair: tuple[str, str], turned: bool
) -> None:
    if LIMITS.pressure_problem(high, low) is not None:
        return
    text = pair[turned].format(WRITINGS[way](high), WRITINGS[way](low))

    found = read(text)

    assert [(r.systolic, r.diastolic) for r in found.readings] == [(high, low)], text
    assert not found.doubts, text


@settings(max_examples=300, deadline=None)
@given(systolic, diastolic, pulse, writing, st.sampled_from(WITH_PULSE))
def test_a_pulse_comes_back_beside_its_pair(
    high: int, low: int, beats: int, way: str, form: str
) -> None:
    if LIMITS.pressure_problem(high, low) is not None:
        return
    text = form.format(*(WRITINGS[way](number) for number in (high, low, beats)))

    found = read(text)

    assert [(r.systolic, r.diastolic, r.pulse) for r in found.readings] == [(high, low, beats)], (
        text
    )
