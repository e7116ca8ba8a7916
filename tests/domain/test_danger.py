"""The level of one message: every limit at, above and below; the worst cause decides."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.danger import (
    MORE_RED_FLAGS,
    RED_FLAGS,
    SEVERE_SYMPTOMS,
    STILL_HIGH,
    Level,
    is_severe,
    message_level,
)

_HARMLESS = ("tiredness", "cough", "anxiety", "palpitations", "ankle_swelling", "nosebleed")


@pytest.mark.parametrize(
    ("systolic", "diastolic", "severe"),
    [
        (179, 109, False),
        (180, 109, True),
        (179, 110, True),
        (181, 90, True),
        (150, 111, True),
        (180, None, True),
        (179, None, False),
        (None, 110, True),
        (None, 109, False),
        (None, None, False),
        (310, 150, True),
    ],
)
def test_either_number_at_or_above_its_limit_is_severe(
    systolic: int | None, diastolic: int | None, severe: bool
) -> None:
    assert is_severe(systolic, diastolic) is severe


@pytest.mark.parametrize(
    ("pair", "high"), [((159, 99), False), ((160, 99), True), ((159, 100), True)]
)
def test_from_160_or_100_on_nothing_is_praised(pair: tuple[int, int], high: bool) -> None:
    assert STILL_HIGH.reached_by(*pair) is high


@pytest.mark.parametrize("flag", sorted(RED_FLAGS))
def test_a_red_flag_is_an_emergency_whatever_the_reading(flag: str) -> None:
    for pairs in ([], [(120, 80)], [(85, 50)], [(192, 114)]):
        assert message_level(pairs, [flag]) is Level.EMERGENCY


@pytest.mark.parametrize("symptom", sorted(SEVERE_SYMPTOMS))
def test_a_listed_symptom_is_an_emergency_only_with_a_severe_reading(symptom: str) -> None:
    assert message_level([(180, 80)], [symptom]) is Level.EMERGENCY
    assert message_level([(150, 110)], [symptom]) is Level.EMERGENCY
    assert message_level([(179, 109)], [symptom]) is Level.NONE
    assert message_level([], [symptom]) is Level.NONE


@pytest.mark.parametrize("symptom", [*_HARMLESS, "dizziness"])
def test_other_symptoms_leave_a_severe_reading_urgent(symptom: str) -> None:
    assert message_level([(180, 109)], [symptom]) is Level.URGENT


@pytest.mark.parametrize(
    ("pairs", "symptoms", "level"),
    [
        ([(179, 109)], [], Level.NONE),
        ([(180, 109)], [], Level.URGENT),
        ([(179, 110)], [], Level.URGENT),
        ([(120, 80), (185, 90)], [], Level.URGENT),
        ([(90, 60)], [], Level.NONE),
        ([(89, 60)], [], Level.LOW),
        ([(99, 60)], ["dizziness"], Level.LOW),
        ([(100, 60)], ["dizziness"], Level.NONE),
        ([(99, 60)], ["nausea"], Level.NONE),
        ([], ["dizziness"], Level.NONE),
        ([], [], Level.NONE),
    ],
)
def test_levels_at_above_and_below_each_limit(
    pairs: list[tuple[int, int]], symptoms: list[str], level: Level
) -> None:
    assert message_level(pairs, symptoms) is level


@pytest.mark.parametrize(
    ("systolic", "symptoms", "low"),
    [(89, [], True), (90, [], False), (99, ["dizziness"], True), (100, ["dizziness"], False)],
)
def test_low_pressure_needs_advice(systolic: int, symptoms: list[str], low: bool) -> None:
    assert (message_level([(systolic, 60)], symptoms) is Level.LOW) is low


def test_a_severe_reading_hides_no_low_one_and_no_low_one_hides_it() -> None:
    assert message_level([(85, 50), (185, 90)], ["dizziness"]) is Level.URGENT


def test_further_signs_are_no_contract_codes() -> None:
    assert not RED_FLAGS & MORE_RED_FLAGS
    assert all(code.startswith("x_") for code in MORE_RED_FLAGS)
    assert not any(code.startswith("x_") for code in RED_FLAGS | SEVERE_SYMPTOMS)


_PAIRS = st.lists(st.tuples(st.integers(50, 300), st.integers(20, 200)), max_size=4)
_CODES = st.lists(st.sampled_from([*sorted(RED_FLAGS | SEVERE_SYMPTOMS), *_HARMLESS]), max_size=4)


@given(_PAIRS, _CODES, st.data())
def test_the_order_in_which_things_are_told_changes_nothing(
    pairs: list[tuple[int, int]], codes: list[str], data: st.DataObject
) -> None:
    level = message_level(pairs, codes)
    shuffled = message_level(data.draw(st.permutations(pairs)), data.draw(st.permutations(codes)))
    assert shuffled is level


@given(_PAIRS, _CODES, _PAIRS, _CODES)
def test_telling_more_never_lowers_the_level(
    pairs: list[tuple[int, int]],
    codes: list[str],
    more_pairs: list[tuple[int, int]],
    more_codes: list[str],
) -> None:
    before = message_level(pairs, codes)
    assert message_level([*pairs, *more_pairs], [*codes, *more_codes]) >= before
