"""What people put around a sign of danger, in the same breath, never takes it away.

Every red flag's examples in the lexicon, with what is said before and behind them: how
suddenly it came, when, to whom it is told, a call for help, a reading.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.danger import RED_FLAGS
from domain.understanding import languages, understand
from domain.understanding.lexicon_files import lexicon

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)
AROUND = {
    "en": (
        *("suddenly {0}", "all of a sudden {0}", "{0} suddenly", "{0} all of a sudden"),
        *("help {0}", "please help, {0}", "{0} please help", "{0} what do I do"),
        *("doctor, {0}", "Nurse, {0}", "hello doctor, {0}", "hi love, {0}", "I think {0}"),
        *("5 minutes ago {0}", "{0} 5 minutes ago", "{0} right now", "{0} since this morning"),
        *("{0} for an hour", "{0} today", "{0} and I'm scared", "142/91 {0}", "{0} 142/91"),
    ),
    "es": (
        *("de repente {0}", "{0} de repente", "{0} de golpe", "{0} de pronto"),
        *("ayuda {0}", "ayúdeme por favor, {0}", "{0} ayuda por favor", "{0} qué hago"),
        *("doctora, {0}", "hola doctor, {0}", "hola hija, {0}", "creo que {0}"),
        *("hace 5 minutos {0}", "{0} hace 5 minutos", "{0} ahora mismo", "{0} desde esta mañana"),
        *("{0} desde hace una hora", "{0} hoy", "{0} y tengo miedo", "142/91 {0}", "{0} 142/91"),
    ),
}


def red_flags(text: str, language: str) -> set[str]:
    return set(understand(text, NOW, language).symptoms) & RED_FLAGS


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("code", sorted(RED_FLAGS))
def test_what_stands_around_a_red_flag_takes_none_away(code: str, language: str) -> None:
    examples = [
        example.text.rstrip(".!? ")
        for example in lexicon(language).examples
        if example.expected and example.code == code and red_flags(example.text, language)
    ]
    # "I have had nothing" is another sentence than "I have had nothing since this morning".
    examples = [text for text in examples if not text.endswith("nothing")]
    assert examples

    texts = [around.format(text) for text in examples for around in AROUND[language]]

    assert [text for text in texts if not red_flags(text, language)] == []


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "the nurse fainted at the sink"),
        ("en", "my doctor, she has chest pain"),
        ("es", "la doctora se desmayó"),
    ],
)
def test_a_doctor_who_is_told_of_is_not_spoken_to(language: str, text: str) -> None:
    assert not red_flags(text, language)
