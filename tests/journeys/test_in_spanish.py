"""The same bot with somebody whose chat program speaks Spanish, and who types it.

The carer's program speaks English: each is spoken to in their own language about the same
thing.
"""

from __future__ import annotations

from typing import Any

import pytest

from bot.trial import PEOPLE

HOLLIS = PEOPLE[0]

#: What is typed, and what of the next question shows that it was understood.
JOINING = (
    ("en ninguno", "¿verdad?"),
    ("sí", "a las 07:30"),
    ("sí, está bien", "tensiómetro"),
    ("en el brazo", "alrededor"),
    ("mide 30 cm", "¿En qué brazo"),
    ("el izquierdo", "Su hora es la de Lisboa"),
)


@pytest.fixture
async def spanish(journey: Any) -> Any:
    """Everybody has joined; the patient by typing Spanish."""
    patient = journey.patient
    journey.trial.chat.add_person(HOLLIS.name, HOLLIS.role, HOLLIS.zone, None, "es")
    await patient.joins()
    await patient.reads("¿está usted en alguno de estos casos?")
    for typed, understood in JOINING:
        await patient.says(typed)
        await patient.reads(understood)
    for label in ("Sí, con Wren", "Sí, con Dr. Okafor-Lindqvist"):
        await patient.presses(label)
    await patient.reads("Se avisará a Dr. Okafor-Lindqvist")
    await journey.carer.joins()
    await journey.carer.reads("Welcome")
    return journey


async def first_answer(person: Any, text: str) -> str:
    """What the bot says first to a message, without the clock being moved."""
    said = await person.says(text)
    answer = await person.visitor.wait_for(lambda _: True, after=said)
    return str(answer["text"])


async def test_an_occasion_in_typed_spanish(spanish: Any) -> None:
    patient = spanish.patient

    await spanish.until("Es hora de medirse la presión")
    await patient.says("ya estoy lista")
    await patient.reads("quédese en calma")
    await spanish.until("pulse el botón de inicio")
    await patient.says("142 sobre 91, pulso 72")
    await patient.reads("142/91 queda guardada")
    await spanish.until("Ahora mídase otra vez")
    await patient.says("138 sobre 88")
    average = await patient.reads("Promedio de sus 2 mediciones: 140/90, pulso 72")
    await patient.says("me duele un poco la cabeza")
    told = await patient.reads("dolor de cabeza")

    assert "por encima de su objetivo" in average["text"]
    assert "llame al 112" in told["text"]


async def test_an_emergency_in_spanish_is_told_to_each_in_their_own_language(
    spanish: Any,
) -> None:
    alarm = await first_answer(spanish.patient, "me aprieta mucho el pecho y me falta el aire")

    assert alarm.startswith("Llame ahora al 112")
    assert "dolor de pecho" in alarm
    assert "falta de aire" in alarm
    told = await spanish.carer.reads("Hollis may need an ambulance now")
    assert "chest pain" in told["text"]
    assert "short of breath" in told["text"]
    await spanish.carer.presses("I will see to it")
    await spanish.patient.reads("Wren ha contestado")


async def test_a_chosen_language_holds_from_the_next_word(spanish: Any) -> None:
    patient = spanish.patient

    await patient.says("/language")
    await patient.presses("English")
    await patient.reads("I write in English from now on")

    assert "142/91 is kept" in await first_answer(patient, "142 over 91")
    # An emergency is heard in either language, and answered in the chosen one.
    alarm = await first_answer(patient, "me aprieta mucho el pecho y me falta el aire")
    assert alarm.startswith("Call 112 now")
    assert "chest pain" in alarm


async def test_a_country_typed_in_spanish_is_known_and_offered_in_spanish(spanish: Any) -> None:
    patient = spanish.patient

    await patient.says("/settings")
    await patient.presses("Dónde estoy")
    await patient.reads("¿Dónde está ahora?")
    await patient.says("estoy en España")
    await patient.presses("Madrid, España")
    await patient.reads("Su hora es la de Madrid")
    await patient.presses("Dónde estoy")
    await patient.reads("¿Dónde está ahora?")
    await patient.says("Alemania")
    await patient.reads("Su hora es la de Berlín")
