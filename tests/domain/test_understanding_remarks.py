"""Remarks on an alarm, cries for help, and how long ago a red flag of an earlier day was."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from domain.understanding import Earlier, Remark, languages, understand, understand_any
from domain.understanding.lexicon_files import Example, lexicon
from tests.domain.message_tables import REMARK_TABLES, URGENT_TABLES, remark_rows, urgent_rows

#: A Tuesday.
NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
EXAMPLES = [
    (language, example)
    for language in languages()
    for example in lexicon(language).examples
    if example.kind == "remark"
]


@pytest.mark.parametrize(
    ("language", "must", "may", "text"),
    [(language, *row) for language in REMARK_TABLES for row in remark_rows(language)],
)
def test_a_message_gives_the_remarks_beside_it(
    language: str, must: frozenset[str], may: frozenset[str], text: str
) -> None:
    assert must <= set(understand(text, NOW, language).remarks) <= may


@pytest.mark.parametrize(
    ("language", "item"),
    EXAMPLES,
    ids=[f"{lang} {e.code} {'yes' if e.expected else 'no'}: {e.text}" for lang, e in EXAMPLES],
)
def test_the_examples_in_the_lexicon_hold(language: str, item: Example) -> None:
    assert (item.code in understand(item.text, NOW, language).remarks) is item.expected


@pytest.mark.parametrize("language", languages())
def test_every_remark_has_an_example_for_and_one_against(language: str) -> None:
    both = {(e.code, e.expected) for lang, e in EXAMPLES if lang == language}

    assert both == {(remark.value, expected) for remark in Remark for expected in (True, False)}


# --- whole messages


@pytest.mark.parametrize(
    ("language", "wanted", "text"),
    [(language, *row) for language in URGENT_TABLES for row in urgent_rows(language)],
)
def test_a_message_around_an_alarm_gives_what_stands_beside_it(
    language: str, wanted: frozenset[str], text: str
) -> None:
    understood = understand(text, NOW, language)
    found = {
        *understood.symptoms,
        *(f"o:{sign.code}" for sign in understood.others),
        *(f"r:{remark}" for remark in understood.remarks),
        *(f"e:{one.code}@{round(one.ago / DAY) * 24}" for one in understood.earlier if one.ago),
    }

    assert wanted <= found
    if not wanted:
        assert not [code for code in found if not code.startswith("r:")]
    for one in understood.earlier:
        assert one.code not in understood.symptoms


# --- how long ago


def earlier(text: str, language: str = "en") -> tuple[tuple[str, timedelta | None, bool], ...]:
    found: tuple[Earlier, ...] = understand(text, NOW, language).earlier
    return tuple((one.code, one.ago, one.theirs) for one in found)


@pytest.mark.parametrize(
    ("language", "text", "code", "ago"),
    [
        ("en", "had chest pain last Tuesday", "chest_pain", 7 * DAY),
        ("en", "fainted two days ago", "fainting", 2 * DAY),
        ("en", "my face drooped on Sunday but it is gone", "face_droop", 2 * DAY),
        ("en", "I fainted yesterday", "fainting", DAY),
        ("en", "yesterday at noon my speech was slurred", "speech_trouble", DAY - 1.3 * HOUR),
        ("en", "on 5 March I lost my speech for a while", "speech_trouble", 5 * DAY),
        ("en", "the other day my arm went dead", "one_sided_weakness", 2 * DAY),
        ("en", "a few days ago I had chest pain", "chest_pain", 3 * DAY),
        ("en", "had chest pain last week", "chest_pain", 3 * DAY),
        ("en", "passed out three weeks ago", "fainting", 21 * DAY),
        ("en", "I used to get chest pain", "chest_pain", 365 * DAY),
        ("en", "I fainted 20 years ago", "fainting", 365 * DAY),
        ("en", "my mouth went crooked on Tuesday", "face_droop", timedelta(0)),
        ("en", "128/80. On Sunday my face drooped. Took my tablets today.", "face_droop", 2 * DAY),
        ("en", "on 10 March my mouth went crooked", "face_droop", timedelta(0)),
        ("es", "el 5 de marzo perdí el habla", "speech_trouble", 5 * DAY),
        ("es", "tuve dolor de pecho el sábado", "chest_pain", 3 * DAY),
        ("es", "me desmayé hace dos días", "fainting", 2 * DAY),
        ("es", "se me torció la cara el domingo pero ya pasó", "face_droop", 2 * DAY),
        ("es", "ayer me desmayé", "fainting", DAY),
        ("es", "la semana pasada me dolió el pecho", "chest_pain", 3 * DAY),
        ("es", "hace unos días perdí el habla", "speech_trouble", 3 * DAY),
        ("es", "de joven me desmayaba", "fainting", 365 * DAY),
    ],
)
def test_a_red_flag_of_an_earlier_day_says_how_long_ago_it_was(
    language: str, text: str, code: str, ago: timedelta
) -> None:
    understood = understand(text, NOW, language)
    found = [one for one in understood.earlier if one.code == code]

    assert code not in understood.symptoms
    assert len(found) == 1
    assert found[0].ago is not None
    assert abs(found[0].ago - ago) <= timedelta(minutes=30)


@pytest.mark.parametrize(
    "text",
    [
        "I fainted this morning",
        "last night my arm went dead and came back",
        "chest pain since Sunday",
        "no chest pain since Tuesday",
        "if my face had drooped on Sunday I would have said",
        "a headache yesterday",
        "142/91",
    ],
)
def test_what_is_of_today_denied_supposed_or_no_red_flag_is_not_of_an_earlier_day(
    text: str,
) -> None:
    assert earlier(text) == ()


def test_a_red_flag_of_somebody_else_is_marked_as_theirs() -> None:
    assert earlier("my wife fainted yesterday") == (("fainting", DAY, True),)


def test_each_red_flag_has_the_day_that_stands_nearest() -> None:
    text = "on Sunday my face drooped and three weeks ago I fainted"

    assert earlier(text) == (("face_droop", 2 * DAY, False), ("fainting", 21 * DAY, False))


# --- in the other language too


@pytest.mark.parametrize(
    ("text", "language", "remark"),
    [
        ("voy de camino", "en", Remark.ON_THE_WAY),
        ("no quiero ayuda", "en", Remark.REFUSES_HELP),
        ("I'm on my way", "es", Remark.ON_THE_WAY),
    ],
)
def test_a_remark_is_heard_in_the_other_language(text: str, language: str, remark: Remark) -> None:
    assert remark in understand_any(text, NOW, language).remarks


def test_a_red_flag_of_an_earlier_day_is_heard_in_the_other_language() -> None:
    found = understand_any("me desmayé ayer", NOW, "en").earlier

    assert [(one.code, one.ago) for one in found] == [("fainting", DAY)]


# --- cries for help, and what else may be wrong


@pytest.mark.parametrize(
    ("language", "text"),
    [
        *(
            ("en", text)
            for text in (
                "help",
                "HELP!!!",
                "help me",
                "I need help",
                "please help me",
                "somebody help",
                "I'm dying",
                "I think I am dying",
                "call an ambulance",
                "I need an ambulance",
                "please send an ambulance quickly",
                "should I call an ambulance?",
                "I have fallen and can't get up",
            )
        ),
        *(
            ("es", text)
            for text in (
                "ayuda",
                "auxilio",
                "¡socorro!",
                "ayúdame",
                "ayúdenme por favor",
                "necesito ayuda",
                "me muero",
                "llamen una ambulancia",
                "necesito una ambulancia",
                "me caí y no puedo levantarme",
            )
        ),
    ],
)
def test_a_cry_for_help_is_a_red_flag_and_names_no_symptom(language: str, text: str) -> None:
    understood = understand(text, NOW, language)

    assert "x_help" in understood.symptoms
    assert understood.intent != "symptom"


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "help with the app"),
        ("en", "how does this work, help"),
        ("en", "can you help me with the cuff"),
        ("en", "I need help with the monitor"),
        ("en", "which button, please help me find the settings"),
        ("es", "ayuda con la aplicación"),
        ("es", "cómo funciona esto, ayuda"),
        ("es", "necesito ayuda con el tensiómetro"),
    ],
)
def test_help_with_the_program_is_a_question(language: str, text: str) -> None:
    understood = understand(text, NOW, language)

    assert understood.symptoms == ()
    assert understood.intent == "question"


@pytest.mark.parametrize(
    ("language", "text", "code"),
    [
        ("en", "pain in my left arm and in a cold sweat", "x_jaw_pain"),
        ("en", "clammy and my jaw aches", "x_jaw_pain"),
        ("en", "my shoulder hurts and I'm sweating buckets", "x_jaw_pain"),
        ("en", "my poo is black", "x_black_stools"),
        ("en", "stools like tar", "x_black_stools"),
        ("en", "my nose has been bleeding for over an hour", "x_heavy_bleeding"),
        ("en", "nosebleed won't stop", "x_heavy_bleeding"),
        ("en", "bleeding from my bottom", "x_heavy_bleeding"),
        ("en", "my stomach is agony", "x_severe_belly_pain"),
        ("en", "suddenly so sleepy I cannot stay awake", "x_drowsiness"),
        ("en", "double vision came on suddenly", "x_double_vision_sudden"),
        ("en", "my hands have swollen up", "x_face_hand_swelling"),
        ("en", "took my tablets twice by mistake", "x_overdose"),
        ("en", "I took two tablets instead of one", "x_overdose"),
        ("en", "I don't want to live any more", "x_self_harm"),
        ("es", "me duele el brazo y tengo sudor frío", "x_jaw_pain"),
        ("es", "hago caca negra", "x_black_stools"),
        ("es", "deposiciones como alquitrán", "x_black_stools"),
        ("es", "la nariz lleva media hora sangrando", "x_heavy_bleeding"),
        ("es", "la nariz no me para de sangrar", "x_heavy_bleeding"),
        ("es", "me duele muchísimo la barriga", "x_severe_belly_pain"),
        ("es", "de repente veo doble", "x_double_vision_sudden"),
        ("es", "se me han hinchado las manos", "x_face_hand_swelling"),
        ("es", "repetí la pastilla sin querer", "x_overdose"),
        ("es", "ya no quiero vivir", "x_self_harm"),
        ("es", "me cuesta mantenerme despierto", "x_drowsiness"),
    ],
)
def test_more_signs_that_cannot_wait_are_heard(language: str, text: str, code: str) -> None:
    signs = {s.code: s for s in understand(text, NOW, language).signs}

    assert code in signs
    assert not signs[code].passed


@pytest.mark.parametrize(
    ("language", "text", "sign"),
    [
        ("en", "I can't talk now", True),
        ("en", "can't talk right now", True),
        ("en", "can't talk now, I'm driving", False),
        ("en", "I'm at church, can't talk now", False),
        ("en", "in a meeting, cannot talk at the moment", False),
        ("es", "no puedo hablar ahora", True),
        ("es", "ahora no puedo hablar", True),
        ("es", "no puedo hablar ahora, estoy en misa", False),
        ("es", "estoy manejando, no puedo hablar ahora", False),
    ],
)
def test_who_cannot_talk_has_trouble_speaking_unless_a_reason_is_given(
    language: str, text: str, sign: bool
) -> None:
    assert ("speech_trouble" in understand(text, NOW, language).symptoms) is sign


@pytest.mark.parametrize(
    ("language", "text", "code"),
    [
        ("en", "my wife is not responding", "fainting"),
        ("en", "my husband won't wake up", "fainting"),
        ("en", "he isn't breathing", "breathlessness"),
        ("en", "dad fell and is bleeding", "x_heavy_bleeding"),
        ("en", "she needs an ambulance", "x_help"),
        ("es", "mi mujer no responde", "fainting"),
        ("es", "mi padre no respira", "breathlessness"),
        ("es", "mi madre necesita una ambulancia", "x_help"),
    ],
)
def test_what_a_carer_tells_of_is_somebody_elses_red_flag(
    language: str, text: str, code: str
) -> None:
    understood = understand(text, NOW, language)

    assert code in {sign.code for sign in understood.others}
    assert code not in understood.symptoms
