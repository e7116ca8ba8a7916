"""From the text of one message to what it says: readings, symptoms, doubts, intent.

The door is `understand`. Numbers are read in `reading_text.py`, symptoms in `symptoms.py`,
what the message is for in `intents.py`; the words that all of them know are data under
`lexicon/`. Nothing is remembered from one message to the next.
"""

from __future__ import annotations

from domain.understanding.lexicon_data import ENGLISH, languages, nearest_language
from domain.understanding.result import (
    Change,
    Doubt,
    Earlier,
    Found,
    Intent,
    Possible,
    Remark,
    Sign,
    Understood,
)
from domain.understanding.several import understand_any
from domain.understanding.whole import understand

__all__ = [
    "ENGLISH",
    "Change",
    "Doubt",
    "Earlier",
    "Found",
    "Intent",
    "Possible",
    "Remark",
    "Sign",
    "Understood",
    "languages",
    "nearest_language",
    "understand",
    "understand_any",
]
