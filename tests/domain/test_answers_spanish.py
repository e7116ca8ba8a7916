"""Short answers of somebody who is spoken to in Spanish, and answers in the other language."""

from __future__ import annotations

from datetime import time

import pytest

from domain.talk import answers
from domain.understanding import languages
from domain.understanding.lexicon_data import ENGLISH, lexicon_data

SPANISH = "es"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("sí", True),
        ("si", True),
        ("SÍ!!", True),
        ("¡Claro que sí!", True),
        ("vale", True),
        ("dale", True),
        ("  está bien. ", True),
        ("así es", True),
        ("de acuerdo", True),
        ("no", False),
        ("No, gracias", False),
        ("ninguna de estas", False),
        ("Ninguna de estas señales", False),
        ("para nada", False),
        ("nada de eso", False),
        ("no estoy de acuerdo", False),
        ("sí pero no", None),
        ("no estoy bien", None),
        ("mal", None),
        ("no me encuentro bien", None),
        ("siesta", None),
        ("", None),
        ("142/91", None),
    ],
)
def test_yes_and_no_are_whole_answers(text: str, meant: bool | None) -> None:
    assert answers.yes_or_no(text, language=SPANISH) is meant


@pytest.mark.parametrize(
    ("text", "present"),
    [
        ("sí", True),
        ("sí tengo", True),
        ("Sí, una o más", True),
        ("un poco", True),
        ("creo que sí", True),
        ("no sé", True),
        ("no estoy segura", True),
        ("a lo mejor", True),
        ("bien", False),
        ("ok", False),
        ("estoy bien", False),
        ("no", False),
        ("ninguna", False),
    ],
)
def test_bien_and_ok_do_not_say_that_a_sign_is_there(text: str, present: bool) -> None:
    assert answers.says(text, "present", language=SPANISH) is present


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("ya estoy lista", "ready"),
        ("Listo", "ready"),
        ("ya descansé", "rested"),
        ("ya he descansado", "rested"),
        ("La ambulancia está avisada", "ambulance"),
        ("ya llamé al 911", "ambulance"),
        ("he llamado al 112", "ambulance"),
        ("viene la ambulancia", "ambulance"),
        ("Hay alguien aquí ayudando", "helper"),
        ("ya llegó la ambulancia", "helper"),
        ("mi hija está conmigo", "helper"),
        ("No puedo llamar", "cannot_phone"),
        ("no tengo saldo", "cannot_phone"),
    ],
)
def test_the_buttons_are_understood_when_they_are_typed(text: str, what: str) -> None:
    assert answers.says(text, what, language=SPANISH)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("no llamé a la ambulancia", "ambulance"),
        ("llamé a mi hermana", "ambulance"),
        ("no hay nadie", "helper"),
        ("mi hija no está aquí", "helper"),
        ("puedo llamar", "cannot_phone"),
        ("no puedo hablar", "cannot_phone"),  # a sign, not the lack of a telephone
        ("todavía no", "ready"),
    ],
)
def test_what_only_sounds_like_a_button_is_none(text: str, what: str) -> None:
    assert not answers.says(text, what, language=SPANISH)


@pytest.mark.parametrize(
    ("question", "text", "value"),
    [
        ("adult", "ninguna de estas", "none"),
        ("adult", "No", "none"),
        ("adult", "estoy embarazada", "pregnant"),
        ("adult", "no estoy embarazada", None),
        ("adult", "nunca he estado embarazada", None),
        ("adult", "tengo una fístula en un brazo", "one_arm"),
        ("adult", "tengo 17", "under_18"),
        ("adult", "plátano", None),
        ("arm", "el izquierdo", "left"),
        ("arm", "en el brazo derecho", "right"),
        ("arm", "no el izquierdo", None),
        ("arm", "voy a mirar cuál de mis dos brazos es el izquierdo", None),
        ("barred_arm", "la izquierda", "left"),
        ("monitor", "va en la muñeca", "wrist"),
        ("monitor", "en el brazo", "upper_arm"),
        ("monitor", "no sé", "unknown"),
        ("cuff", "no tengo cinta métrica", "0"),
        ("medicine", "no tomo nada", "none"),
        ("medicine", "ninguna", "none"),
    ],
)
def test_a_choice_is_named_by_a_short_text(question: str, text: str, value: str | None) -> None:
    assert answers.choice(question, text, language=SPANISH) == value


@pytest.mark.parametrize(
    ("text", "number"),
    [("el número es el 911", 911), ("el 112.", 112), ("112 o 061", None), ("no lo sé", None)],
)
def test_a_number_is_the_whole_answer(text: str, number: int | None) -> None:
    assert answers.whole_number(text) == number


@pytest.mark.parametrize(
    ("text", "cm"),
    [("33", 33.0), ("33,5 cm", 33.5), ("13 pulgadas", 33.0), ('13"', 33.0), ("9", None)],
)
def test_the_length_round_an_arm_is_between_10_and_80_cm(text: str, cm: float | None) -> None:
    assert answers.arm_length_cm(text, language=SPANISH) == cm


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("8 y 20:00", [time(8), time(20)]),
        ("8 de la mañana y 8 de la noche", [time(8), time(20)]),
        ("a las 7 de la tarde", [time(19)]),
        ("7.30", [time(7, 30)]),
        ("7 y media de la mañana", [time(7, 30)]),
        ("las ocho y las nueve y media de la noche", [time(8), time(21, 30)]),
        ("a las nueve menos cuarto", [time(8, 45)]),
        ("doce menos cuarto de la noche", [time(23, 45)]),
        ("doce menos cuarto de la mañana", [time(11, 45)]),
        ("a la una de la tarde", [time(13)]),
        ("5 de la madrugada", [time(5)]),
        ("8 a. m. y 9 p. m.", [time(8), time(21)]),
        ("12 de la noche", [time(0)]),
        ("a mediodía", [time(12)]),
        ("a medianoche", [time(0)]),
        ("una pastilla a las ocho", [time(8)]),
        ("un cuarto para las ocho", [time(7, 45)]),
        ("faltando diez para las ocho de la noche", [time(19, 50)]),
        ("veinte para las dos y a las 20:00", [time(1, 40), time(20)]),
        ("cinco para las doce de la noche", [time(23, 55)]),
        ("142/91", []),
        ("cuando sea", []),
    ],
)
def test_clock_times_are_found_earliest_first(text: str, times: list[time]) -> None:
    assert list(answers.clock_times(text, language=SPANISH)) == times


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("yes I do", "present"),
        ("not sure", "present"),
        ("I called an ambulance", "ambulance"),
        ("my neighbour is here", "helper"),
        ("I can't phone", "cannot_phone"),
    ],
)
def test_english_is_understood_from_who_is_spoken_to_in_spanish(text: str, what: str) -> None:
    assert answers.says(text, what, language=SPANISH)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("creo que sí", "present"),
        ("ya llamé a la ambulancia", "ambulance"),
        ("mi hijo está aquí", "helper"),
        ("no puedo llamar", "cannot_phone"),
    ],
)
def test_spanish_is_understood_from_who_is_spoken_to_in_english(text: str, what: str) -> None:
    assert answers.says(text, what, language=ENGLISH)


def test_a_yes_and_a_no_are_understood_in_any_language() -> None:
    assert answers.yes_or_no("sí", language=ENGLISH) is True
    assert answers.yes_or_no("ninguna", language=ENGLISH) is False
    assert answers.yes_or_no("yes please", language=SPANISH) is True
    assert answers.yes_or_no("none of these", language=SPANISH) is False
    assert answers.choice("arm", "left", language=SPANISH) == "left"


@pytest.mark.parametrize("language", languages())
def test_every_language_answers_every_question(language: str) -> None:
    ours, english = lexicon_data(language, "answers"), lexicon_data(ENGLISH, "answers")

    assert ours.keys() == english.keys()
    for question, choices in english["choices"].items():
        assert ours["choices"][question].keys() == choices.keys()


@pytest.mark.parametrize("language", languages())
def test_no_word_is_both_a_yes_and_a_no(language: str) -> None:
    def written(what: str) -> set[str]:
        rows = lexicon_data(language, "answers")[what]
        return {one for row in rows for one in answers.alternatives(row)}

    assert not written("no") & (written("yes") | written("present"))
    assert not written("present") & written("courtesy")


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("ambulance", "ya le marqué a la ambulancia"),
        ("ambulance", "mi hija ya llamó al 911"),
        ("ambulance", "Sí, ya vienen en camino"),
        ("ambulance", "he llamado al 061, doctora"),
        ("helper", "está aquí mi vecina"),
        ("helper", "mi nuera ya llegó"),
        ("helper", "sí, mi hermana está aquí conmigo"),
        ("helper", "ya están aquí los paramédicos"),
        ("helper", "estoy en urgencias"),
        ("cannot_phone", "mi celular no tiene saldo"),
        ("cannot_phone", "mande una ambulancia por favor"),
        ("cannot_phone", "auxilio"),
        ("cannot_phone", "no me contesta nadie"),
        ("present", "la cabeza"),
        ("present", "sí, un poco la cabeza"),
        ("present", "me siento mal"),
        ("present", "pues sí, doctora"),
        ("present", "tantito"),
        ("ready", "sí, ya estoy sentada"),
        ("rested", "ya pasaron los 5 minutos"),
    ],
)
def test_answers_are_read_in_many_wordings(what: str, text: str) -> None:
    assert answers.says(text, what, language=SPANISH)


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("ambulance", "voy a llamar a la ambulancia"),
        ("ambulance", "no he llamado a la ambulancia"),
        ("ambulance", "no viene la ambulancia"),
        ("helper", "mi hija no está aquí"),
        ("helper", "mi hija no ha llegado"),
        ("helper", "mi hija está en Toledo"),
        ("present", "no me siento mal"),
        ("present", "la cabeza no"),
        ("present", "todo bien"),
        ("present", "gracias"),
    ],
)
def test_a_denial_or_a_plan_is_no_such_answer(what: str, text: str) -> None:
    assert not answers.says(text, what, language=SPANISH)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("pues sí", True),
        ("sí, señorita", True),
        ("sí, eso quise decir", True),
        ("sí, que lo vea", True),
        ("ninguna, gracias doctora", False),
        ("no tengo ninguno de esos síntomas, señorita", None),
        ("no tengo ningún síntoma", False),
        ("todavía no", False),
        ("gracias doctora", None),
        ("doctora", None),
    ],
)
def test_polite_words_at_the_ends_change_no_answer(text: str, meant: bool | None) -> None:
    assert answers.yes_or_no(text, language=SPANISH) is meant
    assert answers.yes_or_no(f"{text}, por favor", language=SPANISH) is meant
