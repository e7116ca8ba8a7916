"""What a patient who writes Spanish may answer to an alarm and to a doubt, in their own words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from domain.people import AlarmStage, ChatId, JoinStep
from tests.domain.conftest import CARER_CHAT, PATIENT_CHAT, Stage


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


def keys(stage: Stage, chat: ChatId = PATIENT_CHAT) -> list[tuple[str, str]]:
    """Language and first key of each message to a chat since `take_sent`."""
    return [(o.language, o.lines[0].key) for o in stage.sent if o.chat == chat]


def test_an_emergency_is_said_again_in_the_language_that_is_asked_for(stage: Stage) -> None:
    stage.says("me duele el pecho")
    stage.take_sent()
    timers = dict(stage.timers)
    stage.says("español")

    assert keys(stage) == [("es", "language.chosen"), ("es", "emergency.call")]
    assert keys(stage, CARER_CHAT) == []
    assert stage.timers == timers


def test_the_question_about_signs_is_put_again_in_the_new_language(stage: Stage) -> None:
    stage.says("192/114")
    stage.take_sent()
    stage.says("en español por favor")

    assert keys(stage) == [("es", "language.chosen"), ("es", "severe.ask.again")]


def test_a_contact_is_told_again_of_the_emergency_and_nobody_else(stage: Stage) -> None:
    stage.says("my chest hurts")
    stage.take_sent()
    stage.says("español", chat=CARER_CHAT)

    assert keys(stage, CARER_CHAT) == [("es", "language.chosen"), ("es", "contact.emergency")]
    assert keys(stage) == []


def test_who_changes_the_language_at_the_first_question_reads_the_cautions_in_it(
    newcomer: Stage,
) -> None:
    newcomer.patient = replace(
        newcomer.patient,
        chat=PATIENT_CHAT,
        state=replace(newcomer.patient.state, joining=JoinStep.ADULT),
    )
    newcomer.says("español")

    assert keys(newcomer) == [
        ("es", "language.chosen"),
        ("es", "join.welcome"),
        ("es", "join.adult"),
    ]


def test_with_nothing_open_only_the_new_language_is_said(stage: Stage) -> None:
    stage.says("español")

    assert keys(stage) == [("es", "language.chosen")]
