"""No reply calls numbers as they should be beside a symptom, a doubt or a high number.

Whatever the numbers, symptoms and doubts of one occasion, in whatever order they come.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.wording.catalogue import wording
from domain.danger import STILL_HIGH
from tests.domain.conftest import Stage
from tests.domain.watched_stage import fresh_stage

_PRAISE = re.compile(r"where it should be|on target|well done|great|excellent|perfect|good news")
_ENGLISH = wording("en")
PRAISING = {key for key in _ENGLISH.keys if _PRAISE.search(_ENGLISH.translations.ugettext(key))}

_SYMPTOMS = (
    "a bit dizzy",
    "I have a cough",
    "my ankles are swollen",
    "feeling tired",
    "headache",
    "my heart is racing",
    "I fell this morning",
    "the irregular pulse symbol came up",
)
_DOUBTS = ("131/85 or 181/85", "132 over ?", "18 over 11", "91/142")

_PAIRS = st.tuples(
    st.integers(80, 200), st.integers(45, 115), st.none() | st.integers(35, 140)
).filter(lambda pair: pair[0] - pair[1] >= 10)
_MESSAGES = st.lists(
    st.one_of(
        _PAIRS.map(lambda p: f"{p[0]}/{p[1]}" + (f" pulse {p[2]}" if p[2] else "")),
        st.sampled_from(_SYMPTOMS),
        st.sampled_from(_DOUBTS),
        st.tuples(_PAIRS, st.sampled_from(_SYMPTOMS)).map(lambda m: f"{m[0][0]}/{m[0][1]}, {m[1]}"),
    ),
    min_size=1,
    max_size=4,
)


def _is_banned(stage: Stage, said: list[str]) -> bool:
    high = any(STILL_HIGH.reached_by(*pair) for pair in stage.pairs())
    told = any(symptom in text for symptom in _SYMPTOMS for text in said)
    return high or told or stage.patient.state.in_doubt is not None


@settings(max_examples=150, deadline=None)
@given(_MESSAGES)
def test_nothing_is_praised_where_anything_is_wrong(messages: list[str]) -> None:
    stage = fresh_stage()
    said: list[str] = []
    for text in messages:
        stage.take_sent()
        said.append(text)
        stage.says(text)
        stage.passes(minutes=1)
        if _is_banned(stage, said):
            assert not PRAISING & set(stage.heard())
    stage.take_sent()
    stage.passes(minutes=15)  # an occasion that ends by itself is answered too
    if _is_banned(stage, said):
        assert not PRAISING & set(stage.heard())


@pytest.mark.parametrize(
    ("messages", "praised"),
    [
        (("128/78 126/77",), True),
        (("I have a cough", "128/78 126/77"), False),
        (("128/78, I have a cough", "126/77"), False),
        (("160/78", "104/66", "103/65"), False),
        (("159/78", "104/66", "103/65"), True),
        (("112/99", "108/66", "107/65"), True),
        (("110/100", "100/64", "100/62"), False),
        (("91/142 no wait", "128/78 126/77"), True),  # settled by the readings after it
        (("126/77 and 131/85 or 181/85",), False),
    ],
)
def test_a_calm_average_is_praised_only_when_all_of_it_is_calm(
    stage: Stage, messages: tuple[str, ...], praised: bool
) -> None:
    for text in messages:
        stage.says(text)
        stage.passes(minutes=1)
    assert bool(PRAISING & set(stage.heard())) is praised


def test_a_symptom_of_yesterday_bans_nothing(stage: Stage) -> None:
    stage.says("I have a cough")
    stage.passes(hours=24)
    stage.says("128/78 126/77")
    assert PRAISING & set(stage.heard())


def test_there_is_something_to_ban() -> None:
    assert "target.below" in PRAISING
