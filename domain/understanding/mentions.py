"""Finding the times and dates that a message names. What moment they are: `moments.py`.

Each mention is put together from what stands side by side: "ten past six yesterday evening"
is a clock time, a day and a part of the day.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from domain.understanding.clock_times import ClockTimes
from domain.understanding.links import is_stroke
from domain.understanding.mention import Mention, joined
from domain.understanding.pieces import Claim, Piece
from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import Part, Vocabulary

_HALF: Final = Fraction(1, 2)
_MOST_ON_A_CLOCK: Final = 31  #: or in a date
_YEAR_DIGITS: Final = 4  #: also of a clock time without a mark ("1930")
_HEADING_MARKS: Final = frozenset("-:,–)=")
#: Roles of the words that begin a time, or are one.
_TIME_ROLES: Final = frozenset({"half_word", "quarter_word", "time_now", "time", "ago_before"})


def find_mentions(pieces: Sequence[Piece], vocabulary: Vocabulary) -> list[Mention]:
    """All times in order. The numbers in them are claimed."""
    finder = _Finder(pieces, vocabulary)
    found: list[Mention] = []
    at = 0
    while at < len(pieces):
        piece = pieces[at]
        begins = piece.is_number or not _TIME_ROLES.isdisjoint(piece.roles)
        atom = finder.atom(at) if begins else None
        if atom is None:
            at += 1
            continue
        for piece in pieces[atom.start : atom.end]:
            if piece.is_number:
                piece.take(Claim.TIME)
        whole = joined(pieces, found[-1], atom) if found else None
        if whole is None:
            found.append(atom)
        else:
            found[-1] = whole
        at = atom.end
    return found


class _Finder(ClockTimes):
    """Looks for one part of a mention at a place: a clock time, a day, a date, a time ago."""

    def atom(self, at: int) -> Mention | None:
        """The time that begins at a number or a word of `_TIME_ROLES`."""
        piece = self.at[at]
        if piece.is_number:
            if piece.whole > _MOST_ON_A_CLOCK and len(piece.digits) != _YEAR_DIGITS:
                return self._ago(at)  # a larger number can only count the minutes or hours
            return self._date(at) or self._ago(at) or self.past_hour(at) or self.clock(at)
        return self._word(at, piece)

    def _word(self, at: int, piece: Piece) -> Mention | None:
        words = self.vocabulary
        roles = piece.roles
        if "half_word" in roles or "quarter_word" in roles:
            return self.past_hour(at)
        if "time_now" in roles:
            return Mention(at, at + 1, is_now=True)
        if "ago_before" in roles:
            return self._ago_after(at)
        if "time" not in roles:
            return None
        text = piece.text
        if text in words.parts:
            part = words.parts[text]
            today = 0 if "of_today" in roles else None
            return Mention(at, at + 1, part=part, half=part.half, days_back=today)
        if text in words.last_parts:
            part = words.parts[words.last_parts[text]]
            back = 1 + ("before_last" in roles)
            return Mention(at, at + 1, part=part, half=part.half, days_back=back)
        if text in words.half_days:
            return self._half_day(at, words.parts[words.half_days[text]])
        if text in words.days_back:
            return Mention(at, at + 1, days_back=words.days_back[text])
        if text in words.spans_ago:
            return Mention(at, at + 1, minutes_ago=words.spans_ago[text])
        if text in words.weekdays:
            after = "last_after" in self.at[at + 1].roles
            last = after or "last_word" in self.at[at - 1].roles
            return Mention(at, at + 1 + after, weekday=words.weekdays[text], before_today=last)
        if text in words.short_days and self._is_short_day(at):
            return Mention(at, at + 1, weekday=words.short_days[text])
        return self._month_first(at) if text in words.months else None

    def _half_day(self, at: int, part: Part) -> Mention | None:
        """ "AM: 142/91" at the head of a line or clause, no clock time and no "I am"."""
        heads = self.at[at + 1].text in _HEADING_MARKS or self.at[at + 1].is_number
        if not heads or not self.opens_line(at, at + 1):
            return None
        return Mention(at, at + 1, part=part, half=part.half)

    def _is_short_day(self, at: int) -> bool:
        """Whether "sat" or "sun" is a weekday: by the words beside it."""
        before, after = self.at[at - 1], self.at[at + 1]
        return (
            "day_lead" in before.roles
            or after.text in self.vocabulary.parts
            or after.text in (":", "-")
            or (after.is_number and (at == 0 or before.kind is Kind.LINE))
            or self.opens_line(at, at + 1)
            or (before.is_number and not after.is_word)
        )

    def _month_first(self, at: int) -> Mention | None:
        """ "March 5th"."""
        day = self.number(at + 1, 31)
        if not day or is_stroke(self.at[at + 2]):
            return None
        end = self._after_ordinal(at + 2)
        month = self.vocabulary.months[self.at[at].text]
        return Mention(at, end, date=(None, month, day))

    def _after_ordinal(self, at: int) -> int:
        return at + 1 if "ordinal_suffix" in self.at[at].roles else at

    def _date(self, at: int) -> Mention | None:
        """ "5 March", "5th of March", "2026-03-05", "05/03/2026", "5.3.26"."""
        day = self.number(at, 31)
        months = self.vocabulary.months
        if day:
            after = self._after_ordinal(at + 1)
            if "of_word" in self.at[after].roles:
                after += 1
            if self.at[after].text in months and not self.at[after].is_number:
                return Mention(at, after + 1, date=(None, months[self.at[after].text], day))
        return self._numeric_date(at)

    def _numeric_date(self, at: int) -> Mention | None:
        first, second, third = self.at[at], self.at[at + 2], self.at[at + 4]
        mark = self.at[at + 1]
        if not (mark.glued and second.glued and second.is_number and mark.text in "/-.–"):
            return None
        if not (third.is_number and third.glued and self.at[at + 3].text == mark.text):
            return None
        if len(first.digits) == 4 and first.digits.startswith(("19", "20")):
            month, day = self.number(at + 2, 12), self.number(at + 4, 31)
            if month and day:
                return Mention(at, at + 5, date=(first.whole, month, day))
            return None
        day, month = self.number(at, 31), self.number(at + 2, 31)
        year = third.whole + (2000 if len(third.digits) == 2 else 0)
        if not day or not month or not 1900 <= year <= 2099 or min(day, month) > 12:
            return None
        if month > 12:
            day, month = month, day
        return Mention(at, at + 5, date=(year, month, day))

    def _ago(self, at: int) -> Mention | None:
        """ "20 minutes ago", "one and a half hours ago"."""
        piece = self.at[at]
        end, halves = at + 1, 0
        if "half_more" in self.at[end].roles:
            end, halves = end + 1, 1
        unit = self.vocabulary.minutes.get(self.at[end].text)
        if unit is None or len(piece.digits) > 3:
            return None
        end += 1
        if "half_more" in self.at[end].roles:
            end, halves = end + 1, halves + 1
        while "or_so" in self.at[end].roles:
            end += 1
        if "ago" not in self.at[end].roles:
            return None
        minutes = int((piece.value + halves * _HALF) * unit)
        return Mention(at, end + 1, minutes_ago=minutes)

    def _ago_after(self, at: int) -> Mention | None:
        """A number and a unit behind a word that counts back: "hace 2 horas y media"."""
        piece, unit = self.at[at + 1], self.vocabulary.minutes.get(self.at[at + 2].text)
        if not piece.is_number or unit is None or len(piece.digits) > 3:
            return None
        more = "half_more" in self.at[at + 3].roles
        return Mention(at, at + 3 + more, minutes_ago=int((piece.value + more * _HALF) * unit))
