"""The trigger phrases of NegEx in Spanish, tried on symptoms.

Sources: the triggers of NegEx (Chapman and others, J Biomed Inform 2001;34:301) as they were
translated by Cotik and others, "Negation detection in clinical reports written in Spanish"
(2016), and in NegEx-MES (Santamaría). All phrases are given here from memory. Those that only a
clinician writes ("se descarta") are tried too, since people copy out letters; everyday ones
stand beside them.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.danger import RED_FLAGS
from domain.understanding import understand

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)

PRE_NEGATION = (
    "no", "sin", "niega", "niego", "negó", "niega haber tenido", "negativo para", "ausencia de",
    "exento de", "libre de", "carece de", "se descarta", "descartado", "se descartó",
    "descartan", "no hay", "no hay signos de", "no hay evidencia de", "no hay datos de",
    "no hubo", "no presenta", "no presento", "no refiere", "no refiere haber tenido",
    "no se observa", "no tiene", "no tengo", "no tuve", "no ha tenido", "no he tenido",
    "no siento", "no noto", "no he notado", "no sufro de", "no padezco", "no me ha dado",
    "no me dio", "no aparece", "nunca", "nunca tengo", "nunca he tenido", "jamás he tenido",
    "tampoco", "tampoco tengo", "ningún", "ningún signo de", "ninguna señal de",
    "sin signos de", "sin evidencia de", "sin síntomas de", "sin señales de", "sin indicios de",
    "sin rastro de", "nada de", "ni", "ni siquiera", "no tengo ni", "en ningún momento",
    "no he vuelto a tener", "no he sentido ningún", "rechaza", "no me quejo de",
)  # fmt: skip

POST_NEGATION = (
    "no",
    "no tengo",
    "no hay",
    "no he tenido",
    "tampoco",
    "ninguno",
    "negativo",
    "ausente",
    "descartado",
    "fue descartado",
    "queda descartado",
    "se descarta",
    "es improbable",
    "para nada",
    "en absoluto",
)

PSEUDO_NEGATION = (
    "no solo", "no solamente", "no únicamente", "no necesariamente", "no sé si es", "sin duda",
    "sin duda tengo", "no se me quita el", "no se me pasa el", "no me deja el", "no mejora el",
    "no cede el", "no para el", "no aguanto el", "no soporto el", "no puedo con el",
    "no desaparece el", "sin cambios en el", "sin mejoría del", "no hay quien aguante el",
    "nada me quita el", "no me encuentro bien,", "no estoy bien,", "no dormí por el",
    "nunca había tenido tanto", "no es normal este", "no gracias,", "no más", "no disminuye el",
)  # fmt: skip

TERMINATION = (
    "pero", "aunque", "sin embargo", "no obstante", "excepto", "salvo", "sino", "aparte de",
    "a pesar de", "debido a", "todavía", "aún", "solo", "menos", "lo que sí tengo es",
    "pero sí", "en cambio",
)  # fmt: skip

#: Denied words inside the wording of a red flag: they are the sign, and deny nothing.
FLAGS_WITH_A_NO = (
    ("no puedo respirar", "breathlessness"),
    ("no me entra aire", "breathlessness"),
    ("sin aire", "breathlessness"),
    ("no siento el brazo", "one_sided_weakness"),
    ("no puedo mover la pierna izquierda", "one_sided_weakness"),
    ("sin fuerza en la mano derecha", "one_sided_weakness"),
    ("no me salen las palabras", "speech_trouble"),
    ("no puedo hablar", "speech_trouble"),
    ("no veo por un ojo", "sudden_vision_loss"),
    ("no me tengo en pie", "loss_of_balance"),
    ("no sé dónde estoy", "confusion"),
    ("no puedo sonreír", "face_droop"),
    ("nunca me había dolido así la cabeza", "worst_headache"),
    ("sin conocimiento en el suelo", "fainting"),
)


@pytest.mark.parametrize("trigger", PRE_NEGATION)
def test_a_phrase_before_the_symptom_denies_it(trigger: str) -> None:
    assert understand(f"{trigger} mareo", NOW, "es").symptoms == ()


@pytest.mark.parametrize("trigger", POST_NEGATION)
def test_a_phrase_after_the_symptom_denies_it(trigger: str) -> None:
    assert understand(f"mareo {trigger}", NOW, "es").symptoms == ()


@pytest.mark.parametrize("trigger", PSEUDO_NEGATION)
def test_a_phrase_that_only_looks_like_denial_denies_nothing(trigger: str) -> None:
    assert understand(f"{trigger} dolor de cabeza", NOW, "es").symptoms == ("headache",)


@pytest.mark.parametrize("word", TERMINATION)
def test_a_conjunction_ends_the_reach_of_a_denial(word: str) -> None:
    assert "dizziness" in understand(f"no tengo dolor de pecho {word} mareo", NOW, "es").symptoms


@pytest.mark.parametrize("word", TERMINATION)
def test_what_stands_before_the_conjunction_is_still_denied(word: str) -> None:
    found = understand(f"no tengo dolor de pecho {word} mareo", NOW, "es").symptoms

    assert "chest_pain" not in found


@pytest.mark.parametrize(("text", "code"), FLAGS_WITH_A_NO)
def test_a_no_that_belongs_to_the_sign_denies_nothing(text: str, code: str) -> None:
    assert set(understand(text, NOW, "es").symptoms) & RED_FLAGS == {code}
