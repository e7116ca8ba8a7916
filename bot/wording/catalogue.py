"""Turns a `Line` of the domain into words of one language.

Every text that people read stands in `<language>/*.po` beside this file, by key. In a text,
`{name}` is a value; a part after a colon says how a moment or a number is written:

    {at:time} 07:42        {at:day} Tuesday 10 March     {at:weekday} Tuesday
    {at} 10 March 2026     {at:moment} Tuesday 07:42   {n} 142    {n:one} 134.5
    {at:short} Tue 10   {at:dated} Tue 10 Mar   {at:dayofmonth} 10 Mar   {n:signed} +134.5
    {zone:city} Lisbon, of the IANA zone Europe/Lisbon

How a language writes each of these is an entry of its own, `date.<word>` in `common.po`.
HTML marks in a text are kept by `html` and taken out by `plain`; values are always escaped.
"""

from __future__ import annotations

import html as escaping
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Final

from babel import Locale
from babel.dates import format_date, format_datetime, format_time, get_timezone_location
from babel.lists import format_list
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal
from babel.support import Translations

from domain.messages import Line, Value, Words

DEFAULT_LANGUAGE: Final = "en"

_MARK = re.compile(r"<[^<>]+>")
# Which national habit of writing dates and clock times a language is shown in.
_LOCALES: Final = {"en": "en_GB"}


class MissingWordsError(KeyError):
    """A key that the catalogue of a language lacks. Add it to its .po file."""


@dataclass(frozen=True)
class Wording:
    """The words of one language."""

    language: str
    translations: Translations
    keys: frozenset[str]
    plurals: frozenset[str]  #: keys that change with the value named `count`

    @property
    def locale(self) -> Locale:
        return Locale.parse(_LOCALES.get(self.language, self.language))

    def html(self, line: Line) -> str:
        """The line as HTML for the chat: marks kept, values escaped."""
        return self._fill(line.key, line.values, escape=True)

    def plain(self, line: Line) -> str:
        """The line as plain text: for buttons, captions, pictures and reports."""
        return escaping.unescape(_MARK.sub("", self.html(line)))

    def message(self, lines: tuple[Line, ...]) -> str:
        """Several lines as one HTML message, a blank line between."""
        return "\n\n".join(self.html(line) for line in lines)

    def _fill(self, key: str, values: Mapping[str, Value], *, escape: bool) -> str:
        if key not in self.keys:
            raise MissingWordsError(key)
        shown = {name: _Shown(value, self, escape=escape) for name, value in values.items()}
        if key in self.plurals:
            count = values["count"]
            assert isinstance(count, int)
            pattern = self.translations.ungettext(key, f"{key}.many", count)
        else:
            pattern = self.translations.ugettext(key)
        return pattern.format_map(shown)

    def show(self, value: Value, spec: str, *, escape: bool) -> str:
        text = self._shown(value, spec)
        return escaping.escape(text, quote=False) if escape else text

    def _shown(self, value: Value, spec: str) -> str:
        match value:
            case Words(keys):
                words = [self._fill(key, {}, escape=False) for key in keys]
                return format_list(words, locale=self.locale)
            case datetime() | date() | time():
                return self._when(value, spec)
            case Fraction():
                return format_decimal(
                    float(value), format=_pattern(value, spec), locale=self.locale
                )
            case str() if spec == "city":
                return self._city(value)
            case _:
                return str(value)

    def _city(self, zone: str) -> str:
        """The city that a zone is named after, as the language calls it (CLDR)."""
        try:
            found = get_timezone_location(zone, locale=self.locale, return_city=True)
        except LookupError:  # a zone that is newer than the data
            found = zone.replace("_", " ")
        return found.rsplit("/", 1)[-1]

    def _when(self, value: datetime | date | time, spec: str) -> str:
        if isinstance(value, time) or spec == "time":
            clock = value.timetz() if isinstance(value, datetime) else value
            assert isinstance(clock, time)
            return format_time(clock.replace(tzinfo=None), format="HH:mm", locale=self.locale)
        pattern = self._fill(f"date.{spec or 'whole'}", {}, escape=False)
        if isinstance(value, datetime):
            return format_datetime(value, format=pattern, locale=self.locale)
        return format_date(value, format=pattern, locale=self.locale)


def _pattern(value: Fraction, spec: str) -> str:
    """How a number is written; with a sign only where it is not 0.0."""
    if spec == "signed":
        return "0.0;0.0" if round(10 * value) == 0 else "+0.0;\N{MINUS SIGN}0.0"
    return "0.0" if spec == "one" else "0"


class _Shown:
    """A value on its way into a text: `format_map` asks it how it looks."""

    def __init__(self, value: Value, wording: Wording, *, escape: bool) -> None:
        self._value = value
        self._wording = wording
        self._escape = escape

    def __format__(self, spec: str) -> str:
        return self._wording.show(self._value, spec, escape=self._escape)


def languages() -> tuple[str, ...]:
    """The languages that have a catalogue, sorted."""
    folder = resources.files(__package__)
    return tuple(sorted(d.name for d in folder.iterdir() if d.is_dir() and _po_files(d.name)))


@cache
def wording(language: str) -> Wording:
    """The words of a language ("pt-BR" falls back to "pt", unknown ones to English)."""
    known = languages()
    code = language.replace("_", "-").split("-")[0].lower()
    for candidate in (language, code, DEFAULT_LANGUAGE):
        if candidate in known:
            return _load(candidate)
    raise LookupError("The package holds no wording at all. Install Cuffbell anew.")


def _po_files(language: str) -> list[str]:
    folder = resources.files(__package__) / language
    return sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".po"))


def _load(language: str) -> Wording:
    whole = Catalog(locale=language)
    for name in _po_files(language):
        with (resources.files(__package__) / language / name).open("rb") as source:
            for message in read_po(source, locale=language):
                if message.id:
                    whole[message.id] = message
    compiled = io.BytesIO()
    write_mo(compiled, whole)
    compiled.seek(0)
    plurals = frozenset(m.id[0] for m in whole if m.id and not isinstance(m.id, str))
    singular = frozenset(m.id for m in whole if m.id and isinstance(m.id, str))
    return Wording(language, Translations(compiled), singular | plurals, plurals)
