"""What a patient who writes Spanish may answer to an alarm and to a doubt, in their own words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain.people import AlarmStage
from tests.domain.conftest import Stage


@pytest.fixture
def spanish(stage: Stage) -> Stage:
    stage.patient = replace(stage.patient, language="es")
    return stage


@pytest.mark.parametrize("answer", ["la cabeza", "sí, un poco", "no sé", "me siento mal"])
def test_a_sign_in_few_words_after_a_severe_reading_calls_for_help(
    spanish: Stage, answer: str
) -> None:
    spanish.says("192/114")
    spanish.says(answer)

    assert spanish.alarm is AlarmStage.EMERGENCY


@pytest.mark.parametrize("answer", ["ninguna, gracias doctora", "no tengo ningún síntoma"])
def test_a_polite_no_after_a_severe_reading_is_a_no(spanish: Stage, answer: str) -> None:
    spanish.says("192/114")
    spanish.says(answer)

    assert spanish.alarm is AlarmStage.REPEATING


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ("está aquí mi vecina", "helper"),
        ("mi hija ya llamó a la ambulancia", "ambulance"),
        ("mande una ambulancia por favor", "cannot_phone"),
    ],
)
def test_what_is_typed_in_an_emergency_reaches_the_contacts(
    spanish: Stage, answer: str, said: str
) -> None:
    spanish.says("me duele el pecho")
    spanish.says(answer)

    assert spanish.patient.state.alarm is not None
    assert spanish.patient.state.alarm.patient_said == said


def test_decimals_may_be_centimetres_and_a_bare_yes_keeps_neither(spanish: Stage) -> None:
    spanish.says("14,2 con 9,1, pulso 70")
    spanish.says("sí")

    assert spanish.pairs() == []
    waiting = spanish.patient.state.in_doubt
    assert waiting is not None
    assert [(o.systolic, o.diastolic, o.pulse) for o in waiting.options] == [
        (142, 91, 70),
        (107, 68, 70),
    ]
    spanish.taps("button.meant")
    assert len(spanish.pairs()) == 1


def test_a_pair_of_the_husband_is_kept_for_nobody(spanish: Stage) -> None:
    spanish.says("mi esposo tiene 150/90")

    assert spanish.pairs() == []
