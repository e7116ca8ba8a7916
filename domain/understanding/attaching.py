"""Which reading each time belongs to, and which times belong to something else."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from domain.understanding.mention import Mention
from domain.understanding.moments import moment
from domain.understanding.pieces import Piece

_BOUNDARIES: Final = frozenset({",", ";", ".", "!", "?", "\n", "…"})
_SHIELD_REACH: Final = 4
#: Roles of words by which a clause without a reading tells of something else, or of none.
_NOT_MEASURED: Final = frozenset({"other_event", "future", "not_done"})
_EVENT_REACH: Final = 60  #: pieces between a time and its reading that are looked at

Range = tuple[int, int]  #: first and last piece of a reading


def times_of(
    pieces: Sequence[Piece],
    readings: Sequence[Range],
    mentions: Sequence[Mention],
    now: datetime,
) -> list[datetime | None]:
    """For each reading, in the order of the text, when it was measured; None for now."""
    if not mentions or not readings:
        return [None] * len(readings)
    return _Attacher(pieces, readings, mentions, now).attach()


class _Attacher:
    def __init__(
        self,
        pieces: Sequence[Piece],
        readings: Sequence[Range],
        mentions: Sequence[Mention],
        now: datetime,
    ) -> None:
        self._pieces = pieces
        self._readings = readings
        self._now = now
        self._found: dict[int, Mention] = {}
        self._dated: Mention | None = None  #: the last time that was named with its day
        self._header: Mention | None = None  #: a day named alone, for the times that follow it
        self._segments = self._cut(mentions)
        self._following = self._with_reading_behind()
        self._settled = 0  #: readings before this one have all got the time of "both at 8"

    def _cut(self, mentions: Sequence[Mention]) -> list[tuple[Range, list[int], list[Mention]]]:
        """The clauses with the readings and times in them, as (pieces, readings, mentions)."""
        inside = {p for m in mentions for p in range(m.start, m.end)}
        inside.update(p for first, last in self._readings for p in range(first, last + 1))
        edges = [
            place
            for place, piece in enumerate(self._pieces)
            if (piece.text in _BOUNDARIES or "clause_word" in piece.roles) and place not in inside
        ]
        segments: list[tuple[Range, list[int], list[Mention]]] = []
        begin = 0
        starts = [first for first, _ in self._readings]
        for edge in (*edges, len(self._pieces)):
            readings = list(range(bisect_left(starts, begin), bisect_left(starts, edge)))
            times = list(_named_between(mentions, begin, edge))
            if readings or times:
                segments.append(((begin, edge), readings, times))
            begin = edge + 1
        return segments

    def _with_reading_behind(self) -> list[int | None]:
        """For each clause the next one behind it that holds a reading."""
        found: list[int | None] = []
        nearest: int | None = None
        for place in range(len(self._segments) - 1, -1, -1):
            found.append(nearest)
            if self._segments[place][1]:
                nearest = place
        return found[::-1]

    def attach(self) -> list[datetime | None]:
        carried: Mention | None = None
        last: list[int] = []
        for place, ((begin, edge), readings, times) in enumerate(self._segments):
            own = [m for m in times if self._is_own(m, begin, edge, readings)]
            if len(readings) == 1 and len(own) > 1:
                # "Only one today: 142/91 at noon": the time says more than the day.
                for mention in own:
                    if _is_only_today(mention):
                        self._added(mention)
                own = [m for m in own if not _is_only_today(m)] or own
            if readings:
                carried = self._within(readings, own, carried)
                last = readings
            elif own:
                follow = self._next_has_reading(place)
                if follow is not None and not (
                    last and not self._found.keys() & set(last) and follow
                ):
                    carried = self._added_all(own)
                elif last:
                    self._backwards(last, own[0], begin, edge)
                else:
                    carried = self._added_all(own)
        return [
            moment(self._found[i], self._now) if i in self._found else None
            for i in range(len(self._readings))
        ]

    def _added(self, new: Mention) -> Mention:
        """The new time; a day named before stands for it when it has none ("Monday: at 8 …")."""
        if new.has_day or new.is_now or new.minutes_ago is not None:
            self._header = new if new.hour is None and new.part is None else None
            self._dated = new if new.has_day and self._header is None else None
            return new
        if self._header is not None:
            return _on_day_of(new, self._header)
        if self._dated is None:
            return new
        # "Monday morning 140/88, evening 138/86": the same day, when that is later in it.
        same_day = _on_day_of(new, self._dated)
        if new.hour is not None and new.part is None and new.half is None:
            same_day = replace(same_day, part=self._dated.part, half=self._dated.half)
        before, after = moment(self._dated, self._now), moment(same_day, self._now)
        goes_on = before is not None and after is not None and before < after
        return same_day if goes_on else new

    def _added_all(self, new: Sequence[Mention]) -> Mention:
        """The last of several times in a row, with the day that one before it named."""
        return [self._added(mention) for mention in new][-1]

    def _next_has_reading(self, segment: int) -> bool | None:
        """None when no reading follows; True when the next clause with one has a time too."""
        following = self._following[segment]
        return None if following is None else bool(self._segments[following][2])

    def _within(
        self, readings: list[int], own: list[Mention], carried: Mention | None
    ) -> Mention | None:
        """Gives the times of one clause to its readings; returns the time that goes on."""
        if not own:
            if carried is not None:
                for reading in readings:
                    self._found[reading] = carried
            return carried
        starts = [self._readings[i][0] for i in readings]
        if own[0].start < starts[0]:
            current = carried
            begin = -1
            for reading, start in zip(readings, starts, strict=True):
                before = _named_between(own, begin + 1, start)
                current = self._added_all(before) if before else current
                begin = start
                if current is not None:
                    self._found[reading] = current
            return current
        for index, reading in enumerate(readings):
            end = starts[index + 1] if index + 1 < len(readings) else len(self._pieces)
            after = _named_between(own, starts[index] + 1, end)
            if after:
                self._found[reading] = self._added(after[0])
        if self._says_all(self._readings[readings[-1]][1], own[-1]):
            for reading in range(readings[-1] + 1):
                self._found.setdefault(reading, own[-1])
        return carried

    def _backwards(self, last: list[int], mention: Mention, begin: int, edge: int) -> None:
        """A time that stands alone after readings: of the last one, or of all if it says so."""
        says_all = any("all_of_them" in p.roles for p in self._pieces[begin:edge])
        for reading in range(self._settled, last[-1] + 1) if says_all else last[-1:]:
            self._found.setdefault(reading, mention)
        if says_all:
            self._settled = last[-1] + 1

    def _says_all(self, end: int, mention: Mention) -> bool:
        return any("all_of_them" in p.roles for p in self._pieces[end + 1 : mention.start])

    def _is_own(self, mention: Mention, begin: int, edge: int, readings: list[int]) -> bool:
        """Whether the time may be that of a reading rather than of something else."""
        if self._owned_beside(mention):
            return False
        if not readings:
            return not self._is_earlier(mention, begin, edge) and self._speaks_of_measuring(
                mention, begin, edge
            )
        first, last = self._readings[readings[0]][0], self._readings[readings[-1]][1]
        if mention.start > last:
            between = self._pieces[max(last + 1, mention.start - _EVENT_REACH) : mention.start]
            ahead = self._pieces[last + 1 : min(edge, last + 1 + _EVENT_REACH)]
            if any("future" in p.roles for p in ahead):
                return False
            return not self._has_event(between, shielded=False)
        if mention.start < first:
            least = min(first, mention.end + _EVENT_REACH)
            return not self._has_event(self._pieces[mention.end : least], shielded=True)
        return True

    def _has_event(self, pieces: Sequence[Piece], *, shielded: bool) -> bool:
        """Whether something else that has times is named; "after breakfast" may be shielded."""
        for place, piece in enumerate(pieces):
            if "other_event" in piece.roles:
                before = pieces[max(0, place - _SHIELD_REACH) : place]
                if not (shielded and any("event_shield" in p.roles for p in before)):
                    return True
        return False

    def _owned_beside(self, mention: Mention) -> bool:
        """Whether an event stands right beside the time: "tablets at 8", "the 9 o'clock news"."""
        after = self._pieces[mention.end] if mention.end < len(self._pieces) else None
        if after is not None and "other_event" in after.roles and after.is_word:
            return True
        at = mention.start - 1
        while at >= 0 and mention.start - at <= 3:
            piece = self._pieces[at]
            if "until_word" in piece.roles and "loose_until" not in piece.roles:
                return True
            if "other_event" in piece.roles:
                return True
            if not ("time_join" in piece.roles or "event_verb" in piece.roles):
                return False
            at -= 1
        return False

    def _is_earlier(self, mention: Mention, begin: int, edge: int) -> bool:
        """Whether the clause tells of what was sent before: "That was yesterday's. Now 134/82"."""
        first = self._readings[0][0]
        if mention.end > first or (edge + 1 == first and self._pieces[edge].text == ","):
            return False
        lead = self._pieces[begin : mention.start]
        return any("points_away" in p.roles for p in lead) and all(
            "points_away" in p.roles or "earlier_link" in p.roles or p.text == "1"
            for p in lead  # "that one"
        )

    def _speaks_of_measuring(self, mention: Mention, begin: int, edge: int) -> bool:
        """Whether a clause without a reading tells when one was taken."""
        words = [
            p
            for place, p in enumerate(self._pieces[begin:edge], begin)
            if p.is_word and not mention.start <= place < mention.end
        ]
        if any(not _NOT_MEASURED.isdisjoint(w.roles) for w in words):
            return False
        if any("person" in w.roles for w in words):
            return any("person_measures" in w.roles for w in words)
        return any("measure_word" in w.roles for w in words) or all(
            "neutral" in w.roles or "time_join" in w.roles or "all_of_them" in w.roles
            for w in words
        )


def _named_between(mentions: Sequence[Mention], begin: int, end: int) -> Sequence[Mention]:
    """The mentions that begin at piece `begin` or later and before piece `end`."""
    first = bisect_left(mentions, begin, key=_start)
    return mentions[first : bisect_left(mentions, end, key=_start)]


def _start(mention: Mention) -> int:
    return mention.start


def _on_day_of(new: Mention, day: Mention) -> Mention:
    return replace(
        new,
        days_back=day.days_back,
        weekday=day.weekday,
        before_today=day.before_today,
        date=day.date,
    )


def _is_only_today(mention: Mention) -> bool:
    return mention.days_back == 0 and mention.hour is None and mention.part is None
