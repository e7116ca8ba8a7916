"""Spoken numbers, units and digits against sources outside the project."""

from __future__ import annotations

import sys
import unicodedata
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from text_to_num import text2num

from domain.readings import whole
from domain.understanding.kilopascals import MMHG_PER_KPA
from domain.understanding.numbers import to_pieces
from domain.understanding.reading_text import read_numbers
from domain.understanding.tokens import Kind, tokens
from domain.understanding.vocabulary import vocabulary
from tests.domain.number_writings import UNITS, below_hundred
from tests.domain.number_writings_es import in_full

NOW = datetime(2026, 3, 10, 7, 42, tzinfo=UTC)


def spelt(number: int, hyphen: str) -> str:
    hundred, rest = divmod(number, 100)
    if not hundred:
        return below_hundred(number, hyphen)
    return f"{UNITS[hundred]} hundred" + (f" and {below_hundred(rest, hyphen)}" if rest else "")


@pytest.mark.parametrize("hyphen", [" ", "-"])
@pytest.mark.parametrize("number", range(301))
def test_spoken_numbers_agree_with_text2num(number: int, hyphen: str) -> None:
    """Judge: the open-source package text2num (its English rules), 0 to 300."""
    words = spelt(number, hyphen)

    pieces = to_pieces(tokens(words), vocabulary())

    assert [p.digits for p in pieces] == [str(text2num(words, "en"))]


@pytest.mark.parametrize("number", range(301))
def test_spoken_spanish_numbers_agree_with_text2num(number: int) -> None:
    """Judge: the open-source package text2num (its Spanish rules), 0 to 300."""
    words = in_full(number)

    pieces = to_pieces(tokens(words), vocabulary("es"))

    assert [p.digits for p in pieces] == [str(text2num(words, "es"))]


@pytest.mark.parametrize("tenths", range(50, 401))
def test_kilopascals_agree_with_the_definition_of_the_millimetre_of_mercury(tenths: int) -> None:
    """Source: UCUM, m[Hg] = 133.3220 kPa; BIPM SI brochure, 1 mmHg = 133.322 Pa (from memory)."""
    kilopascals = Fraction(tenths, 10)

    by_ucum = kilopascals * 1000 / Fraction("133.3220")

    assert whole(kilopascals * MMHG_PER_KPA) == whole(by_ucum)


def test_every_decimal_digit_of_unicode_is_read() -> None:
    """Source: the Unicode Character Database (general category Nd), as Python ships it."""
    digits = [c for c in map(chr, range(sys.maxunicode + 1)) if unicodedata.category(c) == "Nd"]

    assert len(digits) > 600
    for digit in digits:
        found = tokens(digit)
        assert [(t.kind, t.text) for t in found] == [(Kind.NUMBER, str(unicodedata.decimal(digit)))]


def test_a_reading_in_every_script_with_decimal_digits_is_read() -> None:
    """Source: the Unicode Character Database; each script's zero begins a run of ten."""
    zeros = [c for c in map(chr, range(sys.maxunicode + 1)) if unicodedata.decimal(c, -1) == 0]

    for zero in zeros:
        text = "/".join("".join(chr(ord(zero) + int(d)) for d in n) for n in ("142", "91"))
        found = read_numbers(text, tokens(text), NOW)
        assert [(r.systolic, r.diastolic) for r in found.readings] == [(142, 91)]
