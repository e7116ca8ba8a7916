"""Every language says what English says: key for key, value for value, number for number."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from fractions import Fraction
from pathlib import Path
from string import Formatter
from typing import Final

import pytest

from bot.telegram.menu import MENU, menu
from bot.wording import catalogue
from bot.wording.catalogue import DEFAULT_LANGUAGE, Wording, languages, wording
from domain.messages import Line, Value, Words, line

FOLDER = Path(catalogue.__file__).parent
ENGLISH = wording(DEFAULT_LANGUAGE)
OTHERS = [language for language in languages() if language != DEFAULT_LANGUAGE]
KEYS = sorted(ENGLISH.keys)
PAIRS = [pytest.param(other, key, id=f"{other} {key}") for other in OTHERS for key in KEYS]

#: One, several, none, and numbers for which some languages have forms of their own.
COUNTS = (1, 2, 0, 5, 21)

#: Texts that are rightly written as in English, by language.
SAME: Mapping[str, frozenset[str]] = {
    "es": frozenset(
        {"button.consent_no", "button.plan_of", "band.normal", "report.column.pressure"}
    ),
}

#: Texts about the choice of a language, readable for people of every language at once.
IN_EVERY_LANGUAGE = {
    "command.language",
    "language.name.en",
    "language.name.es",
    "language.which",
    "settings.change.language",
}

#: What is never said: soothing, praise, the name of a level, a disease as the person's, a dose.
FORBIDDEN: Mapping[str, str] = {
    "en": (
        r"don.t worry|do not worry|well done|great|alarm level"
        r"|you have (?:hypertension|a stroke|had a)|\d ?mg\b|take (?:one|two|half|another)\b"
    ),
    "es": (
        r"se preocupe|preocuparse|tranquil|bien hecho|enhorabuena|felici|estupend|no pasa nada"
        r"|nivel de alarma|(?:usted|le) (?:tiene hipertensión|está dando|padece)|infarto|derrame"
        r"|\d ?mg\b|(?<!no )\btom(?:e|ar) (?:una|dos|media|otra|más)\b"
    ),
}
#: Sentences that each list must catch, so that it is known to work.
NEVER: Mapping[str, tuple[str, ...]] = {
    "en": ("Please do not worry.", "You have hypertension.", "Take one 5 mg tablet.", "Well done!"),
    "es": (
        "No se preocupe.",
        "Quédese tranquila.",
        "Usted padece hipertensión.",
        "Tome media pastilla de 5 mg.",
    ),
}

#: Characters. A button is read at arm's length and hit by a thumb; only what is asked once, and
#: the plans that a practitioner chooses from, may need a whole line.
LONGEST_BUTTON = 36
LONGEST_ANSWER = 44
LONGEST_PLAN = 48

MOMENT = datetime(2026, 3, 3, 7, 5, tzinfo=UTC)
SAMPLES: Mapping[str, Value] = {
    "number": "999",
    "name": "Hollis",
    "patient": "Tamsin",
    "names": "Wren, Dr. Okafor-Lindqvist",
    "by": "Wren",
    "shown": "186/112",
    "minutes": 20,
    "count": 4,
    "value": Fraction(269, 2),
    "morning": time(7, 30),
    "evening": time(19, 30),
    "at": MOMENT,
    "made": MOMENT,
    "first": date(2026, 3, 2),
    "last": date(2026, 3, 8),
    "day": date(2026, 3, 3),
    "symptoms": Words(("symptom.headache", "symptom.nausea")),
    "half": Words(("half.evening",)),
    "arm": Words(("arm.left",)),
    "role": Words(("role.carer",)),
}


def text_of(words: Wording, key: str, count: int = 1) -> str:
    """The text as it stands in the catalogue, in the form for so many."""
    if key in words.plurals:
        return words.translations.ungettext(key, f"{key}.many", count)
    return words.translations.ugettext(key)


def fields(text: str) -> set[tuple[str, str]]:
    """The values that a text names, each with the way in which it is written."""
    return {(name, spec or "") for _, name, spec, _ in Formatter().parse(text) if name}


def sample(key: str, count: int = 4) -> Line:
    """The line with a value for everything that its English text names."""
    named = {name for one in COUNTS for name, _ in fields(text_of(ENGLISH, key, one))}
    values = {name: SAMPLES.get(name, f"<{name}>") for name in named}
    if key in ENGLISH.plurals:
        values["count"] = count
    return line(key, **values)


def marks(text: str) -> Counter[str]:
    """What must be there as often in every language: HTML, bullets, commands, paragraphs."""
    return Counter(re.findall(r"</?\w+>|•|(?<![\w>/])/[a-z]+\b|\n", text))


def numbers(text: str) -> Counter[str]:
    return Counter(re.findall(r"\d+", Formatter().vformat(text, (), _Nothing())))


class _Nothing(dict[str, object]):
    """Leaves every value out of a text."""

    def __missing__(self, key: str) -> _Empty:
        return _Empty()


class _Empty:
    def __format__(self, spec: str) -> str:
        return ""


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_the_files_and_the_keys_of_english(language: str) -> None:
    words = wording(language)

    def of(folder: str) -> dict[str, list[str]]:
        found = sorted((FOLDER / folder).glob("*.po"))
        return {po.name: re.findall(r'^msgid "(.+)"$', po.read_text("utf-8"), re.M) for po in found}

    assert of(language) == of(DEFAULT_LANGUAGE)
    assert words.keys == ENGLISH.keys
    assert words.plurals == ENGLISH.plurals


@pytest.mark.parametrize("language", languages())
def test_no_key_stands_twice_in_a_language(language: str) -> None:
    every = "".join(po.read_text("utf-8") for po in (FOLDER / language).glob("*.po"))
    times = Counter(re.findall(r'^msgid "(.+)"$', every, re.M))

    assert [key for key, count in times.items() if count > 1] == []


@pytest.mark.parametrize("language", languages())
def test_each_file_says_its_language_and_its_plural_forms(language: str) -> None:
    for po in (FOLDER / language).glob("*.po"):
        head = po.read_text("utf-8").partition("\n\nmsgid")[0]

        assert f'"Language: {language}\\n"' in head, po.name
        assert re.search(r'"Plural-Forms: nplurals=\d; plural=.+;\\n"', head), po.name


@pytest.mark.parametrize(("language", "key"), PAIRS)
def test_a_text_names_the_values_that_the_english_names(language: str, key: str) -> None:
    words = wording(language)
    for count in COUNTS:
        english, other = fields(text_of(ENGLISH, key, count)), fields(text_of(words, key, count))
        optional = {("count", "")} if key in ENGLISH.plurals and count == 1 else set()

        assert other - optional == english - optional


@pytest.mark.parametrize(("language", "key"), PAIRS)
def test_a_text_has_the_marks_and_the_numbers_of_the_english(language: str, key: str) -> None:
    if key.startswith("date."):
        return
    words = wording(language)
    for count in COUNTS:
        english, other = text_of(ENGLISH, key, count), text_of(words, key, count)

        assert marks(other) == marks(english)
        assert numbers(other) == numbers(english)
        # The biggest thing stands first, in bold, wherever it does in English.
        assert other.startswith("<b>") == english.startswith("<b>")


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_left_in_english_but_words_that_are_the_same(language: str) -> None:
    words = wording(language)

    def says_something(key: str) -> bool:
        return bool(re.search(r"[^\W\d]", re.sub(r"\{.*?\}|<.*?>", "", text_of(ENGLISH, key))))

    same = {
        key
        for key in ENGLISH.keys
        if says_something(key)
        and not key.startswith("date.")
        and any(text_of(words, key, n) == text_of(ENGLISH, key, n) for n in COUNTS)
    }

    assert same == (SAME[language] | IN_EVERY_LANGUAGE) & ENGLISH.keys


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("key", KEYS)
def test_every_text_can_be_filled_in_with_the_same_values(language: str, key: str) -> None:
    words = wording(language)
    for count in COUNTS:
        said = sample(key, count)
        shown, english = words.plain(said), ENGLISH.plain(said)

        assert shown.strip() == shown != ""
        assert not re.search(r"[{}]|\b[a-z_]+\.many\b", shown)
        for name, value in said.values.items():
            if isinstance(value, str) and value in english:
                assert value in shown, name


@pytest.mark.parametrize("language", languages())
def test_danger_says_whom_to_call_wherever_english_does(language: str) -> None:
    words = wording(language)
    danger = (FOLDER / DEFAULT_LANGUAGE / "danger.po").read_text("utf-8")
    said = re.findall(r'^msgid "(.+)"$', danger, re.M)
    keys = [key for key in said if "{number}" in text_of(ENGLISH, key)]

    assert len(keys) > 15
    for key in keys:
        assert "999" in words.plain(sample(key)), key
    assert "112" in words.plain(line("emergency.call", number=Words(("number.unknown",))))


@pytest.mark.parametrize("language", languages())
def test_nothing_soothes_praises_diagnoses_or_names_a_dose(language: str) -> None:
    words, forbidden = wording(language), re.compile(FORBIDDEN[language], re.I)

    assert [said for said in NEVER[language] if not forbidden.search(said)] == []
    for key in KEYS:
        assert not forbidden.search(words.plain(sample(key))), key


@pytest.mark.parametrize("language", languages())
def test_a_button_is_short_enough_for_a_thumb(language: str) -> None:
    words = wording(language)
    limits = {
        r"button\.|settings\.change\.": LONGEST_BUTTON,
        r"join\.(?:number|prompt)\.yes|join\.place\.share": LONGEST_ANSWER,
        r"join\.(?:adult|barred_arm|medicine|monitor|cuff|arm)\.(?!again)": LONGEST_ANSWER,
        r"plan\..+\.name$": LONGEST_PLAN,
    }
    for pattern, limit in limits.items():
        buttons = [words.plain(sample(key)) for key in KEYS if re.match(pattern, key)]

        assert buttons
        assert [text for text in buttons if len(text) > limit] == []


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize(
    ("key", "button"),
    [
        ("prompt.reminder", "button.skip"),
        ("step.prompted", "button.ready"),
        ("emergency.answered", "button.see_to_it"),
        ("said.see_to_it", "button.see_to_it"),
        ("said.see_to_it.today", "button.see_to_it"),
        ("severe.if_sign", "button.signs"),
        ("join.prompt.again", "join.prompt.yes"),
    ],
)
def test_a_button_that_a_text_names_is_called_so(language: str, key: str, button: str) -> None:
    words = wording(language)
    quoted = re.search("“(.+?)[.,]?”", words.plain(sample(key)))

    assert quoted
    assert words.plain(sample(button)).startswith(quoted[1])


@pytest.mark.parametrize("language", languages())
def test_the_menu_of_commands_is_in_the_language(language: str) -> None:
    entries = menu(language)

    assert [entry.command for entry in entries] == list(MENU)
    assert len({entry.description for entry in entries}) == len(MENU)
    assert all(0 < len(entry.description) <= 40 for entry in entries)


@pytest.mark.parametrize(
    ("text", "value", "english", "spanish"),
    [
        ("date.whole", MOMENT, "3 March 2026", "3 de marzo de 2026"),
        ("date.day", MOMENT, "Tuesday 3 March", "martes 3 de marzo"),
        ("date.weekday", date(2026, 3, 7), "Saturday", "sábado"),
        ("date.moment", MOMENT, "Tuesday 07:05", "martes a las 07:05"),
        ("date.short", date(2026, 3, 2), "Mon 2", "lun 2"),
        ("date.dated", date(2026, 3, 4), "Wed 4 Mar", "mié 4 mar"),
        ("date.dayofmonth", date(2026, 8, 31), "31 Aug", "31 ago"),
        ("date.time", MOMENT, "07:05", "07:05"),
        ("number.one", Fraction(269, 2), "134.5", "134,5"),
        ("number.signed", Fraction(25, 10), "+2.5", "+2,5"),
        ("number.signed", Fraction(-25, 10), "−2.5", "−2,5"),
        ("number.signed", Fraction(-4, 100), "0.0", "0,0"),
        ("number", 142, "142", "142"),
    ],
)
def test_dates_and_numbers_are_written_as_the_language_does(
    text: str, value: Value, english: str, spanish: str
) -> None:
    spec = text.partition(".")[2].replace("whole", "")

    assert ENGLISH.show(value, spec, escape=False) == english
    assert wording("es").show(value, spec, escape=False) == spanish


def test_spanish_is_spoken_to_every_spanish_client() -> None:
    for client in ("es", "es-ES", "es-419", "es-MX"):
        assert wording(client).language == "es"


#: "Dolor y hinchazón" would be wrong, and the list is joined by "y" whatever follows.
SOUNDS_LIKE_I: Final = re.compile(r"(?:h?[ií])(?![aeo])", re.I)


def test_no_spanish_word_of_a_list_begins_with_the_sound_that_needs_another_and() -> None:
    spanish = wording("es")
    words = [spanish.plain(sample(key)) for key in KEYS if key.startswith("symptom.")]

    assert SOUNDS_LIKE_I.match("hinchazón")
    assert [word for word in words if SOUNDS_LIKE_I.match(word)] == []
    both = Words(("symptom.dizziness", "symptom.ankle_swelling"))
    assert spanish.show(both, "", escape=False) == "mareo y tobillos hinchados"
