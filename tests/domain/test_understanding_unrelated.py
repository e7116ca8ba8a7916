"""A sentence that has nothing to do with it never takes a red flag away.

The sentences around have questions, denials, other people and other times of their own. The
wordings are everyday ones, four or so of each red flag; how signs are found in general is
tested in `test_understanding_symptoms.py`.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from domain.danger import RED_FLAGS, Level, message_level
from domain.understanding import understand

NOW = datetime(2026, 3, 10, 10, 42, tzinfo=UTC)

WORDINGS = {
    "chest_pain": (
        "my chest hurts",
        "pain across my chest",
        "tight band round my chest",
        "chest feels heavy",
    ),
    "breathlessness": (
        "I can't get my breath",
        "short of breath",
        "gasping for air just sitting here",
    ),
    "face_droop": (
        "my face is drooping on one side",
        "one side of my mouth is hanging down",
        "my smile has gone crooked",
    ),
    "speech_trouble": (
        "my speech is slurred",
        "my words come out all jumbled",
        "I can't get my words out",
    ),
    "one_sided_weakness": (
        "my left arm has gone weak",
        "my right leg won't move",
        "one side of my body is numb",
    ),
    "loss_of_balance": (
        "I suddenly can't stand up straight",
        "I keep falling to one side",
        "I can't walk straight all of a sudden",
    ),
    "seizure": (
        "I had a fit",
        "I had a seizure this morning",
        "I had a convulsion",
    ),
    "fainting": (
        "I passed out",
        "I fainted in the kitchen",
        "I lost consciousness for a moment",
    ),
    "tearing_back_pain": (
        "tearing pain in my back",
        "ripping pain between my shoulder blades",
        "my back feels like it is being torn apart",
    ),
    "sudden_vision_loss": (
        "I can't see out of my left eye",
        "I suddenly lost my sight",
        "everything went black in one eye",
    ),
    "confusion": (
        "I am confused",
        "I feel muddled and don't know what day it is",
        "I don't know where I am",
    ),
    "worst_headache": (
        "worst headache of my life",
        "a thunderclap headache",
        "the worst headache I have ever had",
    ),
}

UNRELATED = (
    "It rained all day.",
    "The reading was 131/78.",
    "My niece is coming on Sunday.",
    "I had toast.",
    "No other news.",
    "Thank you.",
    "Good morning.",
    "The bus was late again.",
    "Is it going to snow?",
    "Did you get my message?",
    "When is the next reading due?",
    "No, I have not been shopping.",
    "I didn't sleep much.",
    "There was no post today.",
    "I have never liked tea.",
    "The cat is asleep.",
    "My daughter phoned.",
    "My husband is fine.",
    "She isn't coming.",
    "He doesn't like the new cuff.",
    "I took my tablets at 8.",
    "I haven't taken my tablets.",
    "The battery is not flat.",
    "I weigh 81 kg.",
    "Nobody was in.",
    "What a lovely day!",
    "Do I need a new monitor?",
    "I went to church yesterday.",
    "We may go out later.",
    "If it stays dry we will walk.",
    "The neighbours were not in.",
    "I used to live in Leeds.",
    "Last year we had a garden.",
    "My sugar was 6.3.",
    "It was not cold.",
    "The shop had none left.",
    "I will measure again later.",
    "Nothing on the television.",
    "My pulse is 72.",
    "Not much else to say.",
    "Are you there?",
    "I never got your letter.",
    "The doctor was not there.",
    "Without my glasses I can't read the display.",
    "Neither of us drives.",
    "All is quiet here.",
    "The pain in the neck next door is back.",
    "Please don't shout.",
    "My wife says hello.",
    "Should I ring the surgery?",
    "It wasn't me who called.",
    "The test was negative.",
    "I denied it.",
    "No.",
    "Yes.",
    "No thanks.",
    "We ruled out a holiday.",
    "He had a fall in 2019.",
    "That is gone now.",
)
PLACES = ("{0} {1}", "{1}. {0}", "{0} {1}. {0}", "{0}\n{1}", "{1}\n{0}", "{1} 🙂 {0}")


def test_every_red_flag_has_wordings_and_there_are_enough_sentences() -> None:
    assert WORDINGS.keys() == RED_FLAGS
    assert min(map(len, WORDINGS.values())) >= 3
    assert len(set(UNRELATED)) >= 40


@pytest.mark.parametrize("code", WORDINGS)
def test_the_wordings_are_found_alone(code: str) -> None:
    assert [w for w in WORDINGS[code] if code not in understand(w, NOW).symptoms] == []


@pytest.mark.parametrize("unrelated", UNRELATED)
def test_an_unrelated_sentence_is_no_emergency(unrelated: str) -> None:
    assert message_level((), understand(unrelated, NOW).symptoms) is Level.NONE


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("code", WORDINGS)
def test_an_unrelated_sentence_takes_no_red_flag_away(code: str, place: str) -> None:
    texts = [place.format(other, words) for words in WORDINGS[code] for other in UNRELATED]

    assert [text for text in texts if code not in understand(text, NOW).symptoms] == []


@pytest.mark.parametrize("code", WORDINGS)
def test_nor_do_two_different_ones(code: str) -> None:
    pairs = zip(UNRELATED, reversed(UNRELATED), strict=True)
    texts = [f"{a} {words}. {b}" for a, b in pairs for words in WORDINGS[code]]

    assert [text for text in texts if code not in understand(text, NOW).symptoms] == []
