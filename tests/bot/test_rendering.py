"""Messages become finished texts: split where they are too long, buttons on the last piece."""

from __future__ import annotations

import html
import logging
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.rendering import LONGEST_CAPTION, LONGEST_TEXT, length, plain, render, split
from domain.events import Action, Do
from domain.messages import line
from domain.outcome import Button, Keyboard, Outgoing, Rank, WeekPicture
from domain.people import ChatId, PersonId
from storage import Lane

HOLLIS = ChatId(1001)
MORNING = line("half.morning")
READY = Button(label=line("half.evening"), action=Action(do=Do.READY, about=PersonId("hollis")))


def test_lines_become_paragraphs_and_buttons_get_tokens() -> None:
    rendered = render(
        Outgoing(
            chat=HOLLIS,
            lines=(MORNING, MORNING),
            rank=Rank.ALARM,
            buttons=((READY,), (READY,)),
            about=PersonId("hollis"),
            to=PersonId("wren"),
        )
    )

    (message,) = rendered.messages
    assert message.html == message.plain == "morning\n\nmorning"
    assert (message.chat, message.rank, message.lane) == (HOLLIS, Rank.ALARM, Lane.TEXT)
    assert (message.about, message.to) == ("hollis", "wren")
    tokens = [button.token for row in message.buttons for button in row]
    assert [len(row) for row in message.buttons] == [1, 1]
    assert len(set(tokens)) == 2
    assert rendered.actions == dict.fromkeys(tokens, READY.action)
    assert all(len(token.encode()) <= 64 for token in tokens)


def test_nothing_to_say_is_no_message() -> None:
    assert render(Outgoing(chat=HOLLIS, lines=())).messages == ()


def test_an_attachment_goes_in_the_lane_of_files_even_without_words() -> None:
    picture = WeekPicture(patient=PersonId("hollis"), first_day=date(2026, 3, 9))

    (message,) = render(Outgoing(chat=HOLLIS, lines=(), attachment=picture)).messages

    assert (message.html, message.lane, message.attachment) == ("", Lane.FILE, picture)


def test_a_caption_that_is_too_long_goes_on_behind_the_picture() -> None:
    picture = WeekPicture(patient=PersonId("hollis"), first_day=date(2026, 3, 9))

    messages = render(
        Outgoing(chat=HOLLIS, lines=(MORNING,) * 300, attachment=picture, buttons=((READY,),))
    ).messages

    assert [message.attachment for message in messages] == [picture, None]
    assert {message.lane for message in messages} == {Lane.FILE}
    assert length(messages[0].html) <= LONGEST_CAPTION
    assert [bool(message.buttons) for message in messages] == [False, True]


def test_a_long_text_is_split_at_the_ends_of_paragraphs() -> None:
    messages = render(
        Outgoing(
            chat=HOLLIS,
            lines=(MORNING,) * 1000,
            buttons=((READY,),),
            keyboard=Keyboard(keys=(MORNING,), locate=MORNING),
        )
    ).messages

    assert len(messages) == 3
    assert all(length(message.html) <= LONGEST_TEXT for message in messages)
    assert "\n\n".join(message.html for message in messages) == "\n\n".join(["morning"] * 1000)
    assert [bool(message.buttons) for message in messages] == [False, False, True]
    keyboard = messages[-1].keyboard
    assert keyboard is not None
    assert (keyboard.keys, keyboard.locate) == (("morning",), "morning")


def test_an_alarm_whose_wording_lacks_a_sentence_still_goes_out(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with caplog.at_level(logging.ERROR):
        rendered = render(Outgoing(chat=HOLLIS, lines=(line("no.such.words"), MORNING)))

    assert [message.plain for message in rendered.messages] == ["morning"]
    assert "wording failed" in caplog.text


@pytest.mark.parametrize(
    ("given_html", "units"),
    [("<b>142</b> &amp; 91", 8), ("👵", 2), ("", 0), ("a &lt; b", 5)],
)
def test_a_length_is_counted_as_the_platform_does(given_html: str, units: int) -> None:
    assert length(given_html) == units


def test_a_mark_in_a_short_paragraph_survives_a_split() -> None:
    pieces = list(split(["x" * 90, "<b>call</b> 112"], 99, 99))

    assert pieces == ["x" * 90, "<b>call</b> 112"]


_PARAGRAPHS = st.lists(st.text(st.characters(exclude_categories=["Cs"]), min_size=1), min_size=1)


@given(_PARAGRAPHS, st.integers(4, 40), st.integers(40, 80))
def test_no_word_of_a_text_is_lost_by_splitting(texts: list[str], first: int, longest: int) -> None:
    paragraphs = [html.escape(text, quote=False) for text in texts if text.strip()]

    pieces = list(split(paragraphs, first, longest))

    limits = [first] + [longest] * len(pieces)
    assert all(length(piece) <= limit for piece, limit in zip(pieces, limits, strict=False))
    whole = re.sub(r"\s+", "", "".join(plain(piece) for piece in pieces))
    assert whole == re.sub(r"\s+", "", "".join(plain(text) for text in paragraphs))
