"""Nobody can take a line of a rehearsal for an alarm, in whatever language it is read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

import pytest

from bot.wording.catalogue import DEFAULT_LANGUAGE, languages, wording

#: The word that each line has, by language.
MARK: Final[Mapping[str, str]] = {"en": r"\brehearsal\b", "es": r"\bensayo\b"}
KEYS: Final = sorted(
    key
    for key in wording(DEFAULT_LANGUAGE).keys
    if key.startswith(("rehearsal.", "button.rehearsal"))
)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("key", KEYS)
def test_every_text_of_a_rehearsal_is_marked_as_one(language: str, key: str) -> None:
    words = wording(language)
    if key in words.plurals:
        texts = [words.translations.ungettext(key, f"{key}.many", count) for count in (1, 2)]
    else:
        texts = [words.translations.ugettext(key)]

    assert all(re.search(MARK[language], text, re.I) for text in texts)
