"""What is particular to Spanish: yes and if, endings instead of pronouns, who says it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.understanding import understand

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("sí, me duele el pecho", ("chest_pain",)),
        ("Sí me duele el pecho", ("chest_pain",)),
        ("si, me duele el pecho", ("chest_pain",)),
        ("si me duele el pecho", ("chest_pain",)),
        ("si me duele el pecho, qué hago", ()),
        ("si me duele el pecho llamo al médico", ()),
        ("llamo al médico si me duele el pecho", ()),
        ("¿y si me duele el pecho?", ()),
        ("es como si me apretaran el pecho", ("chest_pain",)),
    ],
)
def test_a_yes_is_told_from_an_if(text: str, found: tuple[str, ...]) -> None:
    assert understand(text, NOW, "es").symptoms == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("me duele el pecho, ¿no?", ("chest_pain",)),
        ("me duele el pecho, no?", ("chest_pain",)),
        ("¿dolor de pecho? no", ()),
        ("dolor de pecho no, mareo sí", ("dizziness",)),
        ("mareo no tengo, pero sí tos", ("cough",)),
        ("no tengo mareo me duele la cabeza", ("headache",)),
        ("me falta el aire con nada", ("breathlessness",)),
        ("no puedo respirar para nada", ("breathlessness",)),
        ("no sé ni dónde estoy", ("confusion",)),
    ],
)
def test_a_no_denies_what_it_belongs_to(text: str, found: tuple[str, ...]) -> None:
    assert understand(text, NOW, "es").symptoms == found


@pytest.mark.parametrize(
    ("text", "passed"),
    [
        ("ya no me duele el pecho", True),
        ("esta mañana se me durmió el brazo, ya se me pasó", True),
        ("anoche perdí la vista un rato y luego se me quitó", True),
        ("me duele el pecho y no se me pasa", False),
        ("ya no puedo respirar", False),
    ],
)
def test_a_red_flag_that_went_is_marked_as_passed(text: str, passed: bool) -> None:
    assert [sign.passed for sign in understand(text, NOW, "es").signs] == [passed]


@pytest.mark.parametrize(
    ("text", "own", "others"),
    [
        ("le duele el pecho", (), ("chest_pain",)),
        ("le duele el pecho a mi marido", (), ("chest_pain",)),
        ("a mi madre se le torció la boca", (), ("face_droop",)),
        ("mi vecina se desmayó", (), ("fainting",)),
        ("Mi tía está mala. Tiene dolor de pecho", (), ("chest_pain",)),
        ("Tiene dolor de pecho mi abuela", (), ("chest_pain",)),
        ("Tiene dolor de pecho", ("chest_pain",), ()),
        ("me duele el pecho al cuidar a mi nieta", ("chest_pain",), ()),
        ("mi hija dice que tengo la boca torcida", ("face_droop",), ()),
        ("dice mi hija que la boca está torcida", ("face_droop",), ()),
        ("a mi marido y a mí nos falta el aire", ("breathlessness",), ()),
        ("le escribo porque me duele el pecho", ("chest_pain",), ()),
        ("soy su hija, le duele el pecho", ("chest_pain",), ()),
        ("el perro tiene tos", (), ()),
        ("a mi abuelo se le cae la mano", (), ("one_sided_weakness",)),
        ("mi tía no habla bien y se le tuerce la boca", (), ("speech_trouble", "face_droop")),
        ("no hablo bien y se me cae la mano", ("one_sided_weakness", "speech_trouble"), ()),
        ("mi brazo derecho no se puede levantar", ("one_sided_weakness",), ()),
        ("no me reconoce mi abuela", (), ("confusion",)),
    ],
)
def test_endings_and_clitics_tell_who_has_it(
    text: str, own: tuple[str, ...], others: tuple[str, ...]
) -> None:
    understood = understand(text, NOW, "es")

    assert understood.symptoms == own
    assert tuple(sign.code for sign in understood.others) == others


@pytest.mark.parametrize(
    ("text", "unsure"),
    [
        ("me duele el pecho", False),
        ("Tiene dolor de pecho", True),
        ("dice mi hija que la boca está torcida", True),
    ],
)
def test_what_the_endings_leave_open_is_marked_as_unsure(text: str, unsure: bool) -> None:
    assert [sign.unsure for sign in understand(text, NOW, "es").signs] == [unsure]


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("no tengo dolor de pecho ni mareo", ("chest_pain", "dizziness")),
        ("sin dolor de cabeza, náuseas ni vómitos", ("headache", "nausea", "vomiting")),
        ("todo tranquilo", ()),
    ],
)
def test_what_is_denied_is_named(text: str, denied: tuple[str, ...]) -> None:
    assert understand(text, NOW, "es").denied == denied


@pytest.mark.parametrize(
    ("text", "denies_all"),
    [
        ("estoy bien", True),
        ("sin síntomas", True),
        ("nada de eso", True),
        ("ninguno", True),
        ("no tengo nada", True),
        ("no me siento bien", False),
        ("no", False),
        ("mi mujer está bien", False),
        ("128/76", False),
    ],
)
def test_denying_everything_is_more_than_a_no(text: str, denies_all: bool) -> None:
    assert understand(text, NOW, "es").denies_all is denies_all


@pytest.mark.parametrize(
    "text",
    [
        "me duele el pesho",
        "m duele el peccho",
        "dolor en el pehco",
        "opresion en el pecho",
        "OPRESIÓN EN EL PECHO",
        "hopresión en el pecho",
    ],
)
def test_words_are_read_as_they_sound_and_as_thumbs_slip(text: str) -> None:
    assert understand(text, NOW, "es").symptoms == ("chest_pain",)


@pytest.mark.parametrize("text", ["el techo del cuarto", "ya lo he hecho", "fui al lecho del río"])
def test_an_ordinary_word_is_no_slip_for_a_symptom(text: str) -> None:
    assert understand(text, NOW, "es").symptoms == ()
