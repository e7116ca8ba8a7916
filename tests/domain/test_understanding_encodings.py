"""The same words in another encoding say the same: accents apart from letters, unseen signs."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime

import pytest

from domain.talk import answers
from domain.understanding import Understood, languages, understand
from domain.understanding.clauses import fold
from tests.domain.message_tables import all_number_rows, intent_rows, symptom_rows

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)
FIELDS = ("denied", "denies_all", "doubts", "intent", "change", "taken_back", "postponed")


def said(understood: Understood) -> tuple[object, ...]:
    """All that was understood but where it stands in the text."""
    return (
        [(r.systolic, r.diastolic, r.pulse, r.at) for r in understood.readings],
        [(s.code, s.passed, s.unsure) for s in understood.signs],
        [(p.systolic, p.diastolic) for p in understood.possible],
        [s.code for s in understood.others],
        *(getattr(understood, field) for field in FIELDS),
    )


def test_accents_sent_apart_from_their_letters_change_nothing() -> None:
    texts = [row.text for row in symptom_rows("es")] + [text for _, text in intent_rows("es")]
    texts += [row[-1] for row in all_number_rows("es")]
    apart = {text: unicodedata.normalize("NFD", text) for text in texts if not text.isascii()}
    assert len(apart) > 500

    for text, other in apart.items():
        assert said(understand(other, NOW, "es")) == said(understand(text, NOW, "es")), text


@pytest.mark.parametrize(
    ("text", "code", "piece"),
    [
        ("tengo la cara cai\u0301da", "face_droop", "cara cai\u0301da"),
        ("hoy me desmaye\u0301", "fainting", "desmaye\u0301"),
        ("n\u0303ato y con na\u0301useas, 142/91", "nausea", "na\u0301useas"),
        ("my ch\u00adest h\u200burts", "chest_pain", "ch\u00adest h\u200burts"),
        ("\u200echest pain\u200e, 142/91", "chest_pain", "chest pain"),
        ("che\u0336s\u0336t\u0336 pain", "chest_pain", "che\u0336s\u0336t\u0336 pain"),
    ],
)
def test_a_sign_is_found_and_pointed_at_whatever_its_letters_carry(
    text: str, code: str, piece: str
) -> None:
    found = [s for lang in languages() for s in understand(text, NOW, lang).signs if s.code == code]

    assert found
    assert {text[start:end].strip("\u200e") for start, end in (s.span for s in found)} == {piece}


@pytest.mark.parametrize("mark", ["\u0301", "\u200d", "\u00ad", "\ufe0f", "\u0489"])
def test_nothing_but_marks_is_no_word(mark: str) -> None:
    assert said(understand(mark * 10_000, NOW)) == said(Understood())


def test_an_answer_is_read_whatever_its_letters_carry() -> None:
    assert fold("ESPAN\u0303OL") == "espanol"
    assert answers.yes_or_no("si\u0301", language="es") is True
    assert answers.clock_times("8 de la man\u0303ana y 8 de la noche", language="es") == (
        answers.clock_times("8 de la mañana y 8 de la noche", language="es")
    )
