"""The lexicon's files, read as data. What they mean is in the files that ask for them.

A language is one set of files under `lexicon/`, named by its code: `en_numbers.toml` and so on.
"""

from __future__ import annotations

import tomllib
from functools import cache, lru_cache
from importlib import resources
from typing import Any, Final
from unicodedata import category, decomposition, normalize

ENGLISH: Final = "en"
_FOLDER: Final = resources.files("domain.understanding") / "lexicon"


class UnknownLanguageError(LookupError):
    """A language without a lexicon. The text names it and those that there are."""


@cache
def languages() -> tuple[str, ...]:
    """The codes of the languages that have a lexicon, English first, the others sorted."""
    ending = "_symptoms.toml"
    found = {f.name.removesuffix(ending) for f in _FOLDER.iterdir() if f.name.endswith(ending)}
    return ENGLISH, *sorted(found - {ENGLISH})


def nearest_language(tag: str | None) -> str:
    """The language with a lexicon for a tag such as "es-MX"; English when there is none."""
    code = (tag or "").replace("_", "-").split("-")[0].lower()
    return code if code in languages() else ENGLISH


@cache
def lexicon_data(language: str, part: str) -> dict[str, Any]:
    """One file of a language ("numbers", "times", "symptoms", "context", "intents", "answers").

    Accents are folded away in it, as they are in the messages.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
    """
    if language not in languages():
        raise UnknownLanguageError(f"no lexicon for {language!r}: only {', '.join(languages())}")
    text = (_FOLDER / f"{language}_{part}.toml").read_text(encoding="utf-8")
    return tomllib.loads("".join(map(without_accent, text)))


def ordinary_words(language: str) -> list[str]:
    """Words that stand one slip away from a word of the lexicon, and are no slip for it."""
    text = (_FOLDER / f"{language}_ordinary.txt").read_text(encoding="utf-8")
    lines = "".join(map(without_accent, text)).splitlines()
    return [word for line in lines if not line.startswith("#") for word in line.split()]


@lru_cache(maxsize=4096)
def without_accent(character: str) -> str:
    """A Latin letter without its accent, other characters as they are: "é" is "e".

    Accents are left out as often as they are written on a telephone.
    """
    if character.isascii():
        return character
    plain = normalize("NFD", character)[0]
    return plain if plain.isascii() and plain.isalpha() else character


def has_one_form(character: str) -> bool:
    """Whether it is a letter without case, accent or another form: most of Unicode's, as "血"."""
    return category(character) == "Lo" and not decomposition(character)
