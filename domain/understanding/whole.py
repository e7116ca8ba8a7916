"""The halves put together: numbers, symptoms and intent of one message."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from domain.understanding.changes import tells_of_change
from domain.understanding.clauses import split_words
from domain.understanding.how_long_ago import with_ages
from domain.understanding.intents import choose_intent, intent_cues
from domain.understanding.lexicon_data import ENGLISH
from domain.understanding.lexicon_files import by_kind, lexicon
from domain.understanding.pauses import pause
from domain.understanding.postures import with_postures
from domain.understanding.reading_text import NumbersRead, read_numbers
from domain.understanding.remarks import read_remarks
from domain.understanding.result import Intent, Span, Understood
from domain.understanding.settings_of import said_setting, with_settings
from domain.understanding.symptoms import read_symptoms
from domain.understanding.tokens import tokens

#: Red flags that name no symptom: "took a double dose" tells of medicine, "help" of nothing.
_NO_SYMPTOMS: Final = frozenset({"x_overdose", "x_help", "x_fall", "x_irregular_pulse"})


def understand(text: str, now: datetime, language: str = ENGLISH) -> Understood:
    """What one message says, read in one language.

    Args:
        text: as it was sent; any Unicode text, also none.
        now: the moment it was sent, aware, with the offset of the writer's local time.
        language: a code of `lexicon_data.languages()`.

    Raises:
        UnknownLanguageError: the lexicon has no such language.
    """
    lexicon_ = lexicon(language)
    numbers = read_numbers(text, tokens(text), now, language)
    words = split_words(
        text, _reading_spans(text, numbers), lexicon_.matcher.unjoin, lexicon_.accented
    )
    hits, matches = lexicon_.matcher.find(words)
    found = by_kind(matches, lexicon_.rules)
    symptoms = read_symptoms(words, hits, found, lexicon_)
    named = symptoms.mentioned or symptoms.denies_all
    intent = choose_intent(
        intent_cues(
            words,
            hits,
            found,
            lexicon_,
            symptom_named=named,
            signs=[sign.span for sign in symptoms.signs],
        ),
        # "Is my pulse supposed to be 60?" asks, and puts no number in another's place.
        replaces=numbers.replaces and not (words.asked and not numbers.readings),
        reading=numbers.mentions_reading,
        number=bool(numbers.readings or numbers.possible or numbers.change or numbers.doubts),
        single=bool(numbers.change and numbers.change.loose) and not numbers.readings,
        symptom=any(sign.code not in _NO_SYMPTOMS for sign in symptoms.signs),
        mentioned=named,
        asked=bool(words.asked),
    )
    if intent is Intent.CORRECTION:
        numbers = numbers.for_correction()
    numbers = with_postures(with_settings(numbers, text, words, found, lexicon_), words, found)
    return Understood(
        readings=numbers.readings,
        signs=symptoms.signs,
        denied=symptoms.denied,
        denies_all=symptoms.denies_all,
        others=symptoms.others,
        theirs=numbers.theirs,
        doubts=numbers.doubts,
        possible=numbers.possible,
        intent=intent,
        pulses=numbers.pulses,
        change=numbers.change if intent is Intent.CORRECTION else None,
        taken_back=numbers.taken_back,
        earlier=with_ages(symptoms.earlier, text, now, language, words, found),
        remarks=read_remarks(words, found, lexicon_),
        medicine_changed=tells_of_change(found),
        setting_said=said_setting(found, lexicon_),
        postponed=pause(text, language) if intent is Intent.POSTPONE else None,
    )


def _reading_spans(text: str, numbers: NumbersRead) -> tuple[Span, ...]:
    """Where readings stand. A lone number word is left: "numb down one side"."""
    spans = [reading.span for reading in numbers.readings]
    spans += [possible.span for possible in numbers.possible]
    return tuple((a, b) for a, b in spans if not text[a:b].isalpha())
