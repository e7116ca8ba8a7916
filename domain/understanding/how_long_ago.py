"""How long ago a red flag of an earlier day was: the day that its sentence names.

Days and spans that count ("last Tuesday", "two days ago") are read as those of readings are;
what says less ("the other day", "last week") is data in `lexicon/<language>_remarks.toml` and
stands for the shortest time that it may mean, because a sign that is too old to matter costs
less than one that is taken for too old.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from domain.understanding.clauses import Words
from domain.understanding.lexicon_files import ByKind, lexicon
from domain.understanding.mention import Mention
from domain.understanding.mentions import find_mentions
from domain.understanding.moments import moment
from domain.understanding.numbers import to_pieces
from domain.understanding.result import Earlier, Span
from domain.understanding.tokens import tokens
from domain.understanding.vocabulary import vocabulary

_NO_TIME: Final = timedelta(0)


@dataclass(frozen=True, slots=True)
class _Past:
    """A time before today as it was named."""

    span: Span
    ago: timedelta


def with_ages(
    earlier: Sequence[Earlier],
    text: str,
    now: datetime,
    language: str,
    words: Words,
    by_kind: ByKind,
) -> tuple[Earlier, ...]:
    """The same with how long ago, where the nearest time in the sentence says it.

    Args:
        earlier: red flags found in `text`.
        now: when the message was sent, aware, with the writer's offset.
        words: of `text`; `by_kind` are the wordings found in them.
    """
    if not earlier:
        return ()
    counted = list(_counted(text, now, language))
    vague = _vague(words, by_kind, language)
    # "three weeks ago" is also "weeks ago"
    times = [*counted, *(v for v in vague if all(_distance(v.span, c.span) for c in counted))]
    return tuple(replace(one, ago=_nearest(one, times, words)) for one in earlier)


def _nearest(one: Earlier, times: Sequence[_Past], words: Words) -> timedelta | None:
    first, last = _sentence_around(one.span, words)
    inside = [t for t in times if first <= t.span[0] < last]
    if not inside:
        return None
    return min(inside, key=lambda t: (_distance(t.span, one.span), t.ago)).ago


def _sentence_around(span: Span, words: Words) -> Span:
    """Where the sentence begins and ends in which the wording stands."""
    at = bisect_right(words.spans, (span[0], span[1])) - 1
    first = last = max(at, 0)
    while first and words.sentence[first - 1] == words.sentence[first]:
        first -= 1
    while last + 1 < len(words) and words.sentence[last + 1] == words.sentence[last]:
        last += 1
    return words.spans[first][0], words.spans[last][1]


def _distance(left: Span, right: Span) -> int:
    return max(left[0] - right[1], right[0] - left[1], 0)


def _vague(words: Words, by_kind: ByKind, language: str) -> Iterator[_Past]:
    rules = lexicon(language).rules
    for match in by_kind.get("ago", ()):
        span = (words.spans[match.start][0], words.spans[match.end - 1][1])
        yield _Past(span, timedelta(hours=int(rules[match.rule].code)))


def _counted(text: str, now: datetime, language: str) -> Iterator[_Past]:
    known = vocabulary(language)
    pieces = to_pieces(tokens(text), known)
    for mention in find_mentions(pieces, known):
        ago = _age(mention, now)
        if ago is not None:
            yield _Past((pieces[mention.start].start, pieces[mention.end - 1].end), ago)


def _age(mention: Mention, now: datetime) -> timedelta | None:
    """How long ago a named time was, or None when it is of today or cannot be told."""
    # "on Tuesday" written on a Tuesday may be today: the shorter counts.
    today = mention.weekday == now.weekday() and not mention.before_today
    if today or (mention.date is not None and mention.date[1:] == (now.month, now.day)):
        return _NO_TIME
    named = moment(mention, now)
    if named is None or named.date() >= now.date():
        return None
    return now - named
