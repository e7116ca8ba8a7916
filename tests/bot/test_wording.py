"""Every key that the domain says has words; every entry is used; the words keep the rules."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from bot.wording.catalogue import MissingWordsError, Wording, languages, wording
from domain.messages import Words, line

ROOT = Path(__file__).parents[2]
DOMAIN = sorted((ROOT / "domain").rglob("*.py"))
ENGLISH = wording("en")

#: Parts that are filled in at run time are tried by the conversation's own tests.
LITERAL = {
    node.args[0].value
    for path in DOMAIN
    for node in ast.walk(ast.parse(path.read_text()))
    if isinstance(node, ast.Call)
    and isinstance(node.func, ast.Name)
    and node.func.id == "line"
    and node.args
    and isinstance(node.args[0], ast.Constant)
}


@pytest.mark.parametrize("key", sorted(LITERAL))
def test_every_key_that_stands_in_the_domain_has_words(key: str) -> None:
    assert key in ENGLISH.keys


@pytest.mark.parametrize("key", sorted(ENGLISH.keys))
def test_every_entry_is_named_somewhere_in_the_code(key: str) -> None:
    code = "\n".join(
        path.read_text()
        for part in ("domain", "bot")
        for path in sorted((ROOT / part).rglob("*"))
        if path.suffix in {".py", ".typ", ".toml"}
    )
    stem = key
    while stem:
        if f'"{stem}"' in code or f'"{stem}.{{' in code or f'"{stem}." ' in code:
            return
        stem, _, _ = stem.rpartition(".")
    pytest.fail(f"nothing says {key}: take it out, or use it")


def test_a_key_without_words_is_refused_by_name() -> None:
    with pytest.raises(MissingWordsError, match=r"no\.such\.key"):
        ENGLISH.plain(line("no.such.key"))


def test_values_are_escaped_and_marks_are_kept() -> None:
    said = line("reading.first", shown="<b>1</b> & 2")

    assert ENGLISH.html(said) == "<b>&lt;b&gt;1&lt;/b&gt; &amp; 2</b> is kept."
    assert ENGLISH.plain(said) == "<b>1</b> & 2 is kept."


def test_several_symptoms_are_read_as_a_list() -> None:
    words = Words(("symptom.headache", "symptom.nausea", "symptom.cough"))

    text = ENGLISH.plain(line("seen.symptoms", symptoms=words))

    assert re.search(r"headache, .+ and ", text)


# CLDR's exemplar cities (from memory), and what is left of a name where it knows none.
@pytest.mark.parametrize(
    ("zone", "english", "spanish"),
    [
        ("Europe/Lisbon", "Lisbon", "Lisboa"),
        ("America/New_York", "New York", "Nueva York"),
        ("America/Argentina/Buenos_Aires", "Buenos Aires", "Buenos Aires"),
        ("America/St_Johns", "St John’s", "San Juan de Terranova"),
        ("UTC", "UTC", "UTC"),
        ("Europe/New_Town", "New Town", "New Town"),
    ],
)
def test_a_zone_is_named_by_its_city_as_the_language_calls_it(
    zone: str, english: str, spanish: str
) -> None:
    named = line("settings.place", zone=zone)

    assert ENGLISH.plain(named) == f"Your clock is that of {english}"
    assert wording("es").plain(named) == f"Su hora es la de {spanish}"


@pytest.mark.parametrize("language", languages())
def test_no_entry_of_danger_soothes_praises_or_names_a_level(language: str) -> None:
    words: Wording = wording(language)
    soothing = re.compile(r"don.t worry|do not worry|well done|great|urgent|alarm level", re.I)
    for key in words.keys:
        if key.startswith(("emergency", "severe", "seen", "low", "contact", "ended")):
            assert not soothing.search(words.translations.ugettext(key)), key


def test_an_unknown_language_falls_back_to_english() -> None:
    assert wording("xx").language == "en"
    assert wording("en-US").language == "en"
