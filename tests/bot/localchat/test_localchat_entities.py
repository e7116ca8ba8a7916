"""From the bots' HTML to text with entities, and back to HTML that is safe in the page."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bot.localchat.entities import parse_html, tidied, utf16_length
from bot.localchat.rebuilding import safe_html
from bot.localchat.refusals import Refusal


@pytest.mark.parametrize(
    ("source", "text", "entities"),
    [
        ("plain", "plain", []),
        ("<b>a</b><strong>b</strong>", "ab", [("bold", 0, 1), ("bold", 1, 1)]),
        ("<i>a</i><em>b</em>", "ab", [("italic", 0, 1), ("italic", 1, 1)]),
        ("<u>a</u><s>b</s>", "ab", [("underline", 0, 1), ("strikethrough", 1, 1)]),
        ("<code>a</code><pre>b</pre>", "ab", [("code", 0, 1), ("pre", 1, 1)]),
        ("<tg-spoiler>a</tg-spoiler>", "a", [("spoiler", 0, 1)]),
        ('<span class="tg-spoiler">a</span>', "a", [("spoiler", 0, 1)]),
        ("<blockquote>a</blockquote>", "a", [("blockquote", 0, 1)]),
        ("<blockquote expandable>a</blockquote>", "a", [("expandable_blockquote", 0, 1)]),
        ("<B>a</B>", "a", [("bold", 0, 1)]),
        ("<b><i>a</i>b</b>", "ab", [("bold", 0, 2), ("italic", 0, 1)]),
        ("&lt;b&gt; &amp; &quot;&#39;&#x1FA7A;", "<b> & \"'🩺", []),
        ("fish & chips &nbsp;", "fish & chips &nbsp;", []),
        ("🩺<b>🩺</b>x", "🩺🩺x", [("bold", 2, 2)]),
        ("<b></b>a", "a", []),
        ('<a href="tel:112">112</a>', "112", []),
        ('<a href="javascript:x">112</a>', "112", []),
    ],
)
def test_html_becomes_text_with_entities(
    source: str, text: str, entities: list[tuple[str, int, int]]
) -> None:
    found_text, found = parse_html(source)

    assert found_text == text
    assert [(e["type"], e["offset"], e["length"]) for e in found] == entities


def test_a_link_keeps_its_address() -> None:
    text, entities = parse_html('<a href="https://example.org/?a=1&amp;b=2">here</a>')

    assert text == "here"
    assert [entity["url"] for entity in entities] == ["https://example.org/?a=1&b=2"]
    assert safe_html(text, entities) == (
        '<a href="https://example.org/?a=1&amp;b=2" target="_blank" '
        'rel="noopener noreferrer">here</a>'
    )


def test_white_space_at_the_ends_is_cut_and_entities_follow() -> None:
    text, entities = tidied(*parse_html("\n 🩺 <b> ok </b> \n"))

    assert text == "🩺  ok"
    assert entities == ({"type": "bold", "offset": 3, "length": 3},)


def test_commands_are_marked_but_not_inside_code() -> None:
    _, entities = tidied(*parse_html("/week or <code>/undo</code>"))

    assert [(e["type"], e["offset"], e["length"]) for e in entities] == [
        ("bot_command", 0, 5),
        ("code", 9, 5),
    ]


@pytest.mark.parametrize(
    ("text", "entities", "shown"),
    [
        ("<script>&", [], "&lt;script&gt;&amp;"),
        ("a\nb", [("bold", 0, 3)], "<b>a\nb</b>"),
        ("abc", [("bold", 0, 2), ("italic", 1, 2)], "<b>a<i>b</i></b><i>c</i>"),
        ("🩺x", [("bold", 2, 1)], "🩺<b>x</b>"),
        ("abc", [("bold", 1, 99)], "a<b>bc</b>"),
        ("abc", [("mention", 0, 3)], "abc"),
    ],
)
def test_html_for_the_page_has_only_our_own_tags(
    text: str, entities: list[tuple[str, int, int]], shown: str
) -> None:
    marks = [{"type": t, "offset": offset, "length": length} for t, offset, length in entities]

    assert safe_html(text, marks) == shown


def test_a_link_that_runs_a_script_never_reaches_the_page() -> None:
    link = {"type": "text_link", "offset": 0, "length": 1, "url": "javascript:alert(1)"}

    assert safe_html("x", [link]) == "x"


_words = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
_trees = st.recursive(
    _words.map(lambda words: ("", [words])),
    lambda inner: st.tuples(st.sampled_from(["b", "i", "u", "s", "code"]), st.lists(inner)),
    max_leaves=12,
)


@given(_trees)
@example(("b", [("", ["🩺"]), ("i", [("", ["<"])])]))
def test_what_goes_in_as_html_comes_out_with_the_same_words(tree: Any) -> None:
    text, entities = parse_html(_written(tree))

    assert text == _spoken(tree)
    assert all(0 <= e["offset"] < e["offset"] + e["length"] <= utf16_length(text) for e in entities)
    again, _ = parse_html(safe_html(text, entities).replace("&#x27;", "'"))
    assert again == text


@given(st.text(max_size=60) | st.text("<>/&;ab\"'= 🩺", max_size=30))
def test_any_text_is_parsed_or_refused_with_a_reason(source: str) -> None:
    try:
        outcome = parse_html(source)[0]
    except Refusal as refusal:
        outcome = refusal.description

    parsed = len(outcome) <= len(source)
    assert parsed or outcome.startswith("Bad Request: can't parse entities: ")


def _written(tree: Any) -> str:
    tag, parts = tree
    if not tag:
        return str(parts[0]).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return f"<{tag}>{''.join(_written(part) for part in parts)}</{tag}>"


def _spoken(tree: Any) -> str:
    tag, parts = tree
    return str(parts[0]) if not tag else "".join(_spoken(part) for part in parts)
