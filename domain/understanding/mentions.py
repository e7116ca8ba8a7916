"""Finding the times and dates that a message names. What moment they are: `moments.py`.

Each mention is put together from what stands side by side: "ten past six yesterday evening"
is a clock time, a day and a part of the day.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from domain.understanding.links import is_stroke
from domain.understanding.mention import Mention, joined
from domain.understanding.pieces import Claim, Piece
from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import Part, Vocabulary

_HALF: Final = Fraction(1, 2)
#: As many as are looked at beyond the end, and more than before the beginning.
_NOTHING_BEYOND: Final = (Piece(Kind.MARK, "", -1, -1, False),) * 8
_OTHER_HALF: Final = {"am": "pm", "pm": "am"}
_MOST_ON_A_CLOCK: Final = 31  #: or in a date
_YEAR_DIGITS: Final = 4  #: also of a clock time without a mark ("1930")
#: Minutes of the words behind an hour.
_HOUR_TAILS: Final = {"hour_half": 30, "hour_quarter": 15, "hour_quarter_to": -15}
_HEADING_MARKS: Final = frozenset("-:,–)=")
_BEFORE_HEADING: Final = frozenset(",;:.")
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


class _Finder:
    """Looks for one part of a mention at a place."""

    def __init__(self, pieces: Sequence[Piece], vocabulary: Vocabulary) -> None:
        #: With pieces that are nothing on either side: place -1 is the last of them.
        self._at = [*pieces, *_NOTHING_BEYOND]
        self._vocabulary = vocabulary

    def atom(self, at: int) -> Mention | None:
        """The time that begins at a number or a word of `_TIME_ROLES`."""
        piece = self._at[at]
        if piece.is_number:
            if piece.whole > _MOST_ON_A_CLOCK and len(piece.digits) != _YEAR_DIGITS:
                return self._ago(at)  # a larger number can only count the minutes or hours
            return self._date(at) or self._ago(at) or self._past_hour(at) or self._clock(at)
        return self._word(at, piece)

    def _number(self, place: int, most: int) -> int | None:
        """The small whole number at a place, or None."""
        piece = self._at[place]
        if not piece.is_number or piece.fraction or piece.hidden or len(piece.digits) > 2:
            return None
        return piece.whole if piece.whole <= most else None

    def _word(self, at: int, piece: Piece) -> Mention | None:
        words = self._vocabulary
        roles = piece.roles
        if "half_word" in roles or "quarter_word" in roles:
            return self._past_hour(at)
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
            after = "last_after" in self._at[at + 1].roles
            last = after or "last_word" in self._at[at - 1].roles
            return Mention(at, at + 1 + after, weekday=words.weekdays[text], before_today=last)
        if text in words.short_days and self._is_short_day(at):
            return Mention(at, at + 1, weekday=words.short_days[text])
        return self._month_first(at) if text in words.months else None

    def _half_day(self, at: int, part: Part) -> Mention | None:
        """ "AM: 142/91" at the head of a line or clause, no clock time and no "I am"."""
        heads = self._at[at + 1].text in _HEADING_MARKS or self._at[at + 1].is_number
        if not heads or not self._opens_line(at, at + 1):
            return None
        return Mention(at, at + 1, part=part, half=part.half)

    def _is_short_day(self, at: int) -> bool:
        """Whether "sat" or "sun" is a weekday: by the words beside it."""
        before, after = self._at[at - 1], self._at[at + 1]
        return (
            "day_lead" in before.roles
            or after.text in self._vocabulary.parts
            or after.text in (":", "-")
            or (after.is_number and (at == 0 or before.kind is Kind.LINE))
            or self._opens_line(at, at + 1)
            or (before.is_number and not after.is_word)
        )

    def _month_first(self, at: int) -> Mention | None:
        """ "March 5th"."""
        day = self._number(at + 1, 31)
        if not day or is_stroke(self._at[at + 2]):
            return None
        end = self._after_ordinal(at + 2)
        month = self._vocabulary.months[self._at[at].text]
        return Mention(at, end, date=(None, month, day))

    def _after_ordinal(self, at: int) -> int:
        return at + 1 if "ordinal_suffix" in self._at[at].roles else at

    def _date(self, at: int) -> Mention | None:
        """ "5 March", "5th of March", "2026-03-05", "05/03/2026", "5.3.26"."""
        day = self._number(at, 31)
        months = self._vocabulary.months
        if day:
            after = self._after_ordinal(at + 1)
            if "of_word" in self._at[after].roles:
                after += 1
            if self._at[after].text in months and not self._at[after].is_number:
                return Mention(at, after + 1, date=(None, months[self._at[after].text], day))
        return self._numeric_date(at)

    def _numeric_date(self, at: int) -> Mention | None:
        first, second, third = self._at[at], self._at[at + 2], self._at[at + 4]
        mark = self._at[at + 1]
        if not (mark.glued and second.glued and second.is_number and mark.text in "/-.–"):
            return None
        if not (third.is_number and third.glued and self._at[at + 3].text == mark.text):
            return None
        if len(first.digits) == 4 and first.digits.startswith(("19", "20")):
            month, day = self._number(at + 2, 12), self._number(at + 4, 31)
            if month and day:
                return Mention(at, at + 5, date=(first.whole, month, day))
            return None
        day, month = self._number(at, 31), self._number(at + 2, 31)
        year = third.whole + (2000 if len(third.digits) == 2 else 0)
        if not day or not month or not 1900 <= year <= 2099 or min(day, month) > 12:
            return None
        if month > 12:
            day, month = month, day
        return Mention(at, at + 5, date=(year, month, day))

    def _ago(self, at: int) -> Mention | None:
        """ "20 minutes ago", "one and a half hours ago"."""
        piece = self._at[at]
        end, halves = at + 1, 0
        if "half_more" in self._at[end].roles:
            end, halves = end + 1, 1
        unit = self._vocabulary.minutes.get(self._at[end].text)
        if unit is None or len(piece.digits) > 3:
            return None
        end += 1
        if "half_more" in self._at[end].roles:
            end, halves = end + 1, halves + 1
        while "or_so" in self._at[end].roles:
            end += 1
        if "ago" not in self._at[end].roles:
            return None
        minutes = int((piece.value + halves * _HALF) * unit)
        return Mention(at, end + 1, minutes_ago=minutes)

    def _ago_after(self, at: int) -> Mention | None:
        """A number and a unit behind a word that counts back: "hace 2 horas y media"."""
        piece, unit = self._at[at + 1], self._vocabulary.minutes.get(self._at[at + 2].text)
        if not piece.is_number or unit is None or len(piece.digits) > 3:
            return None
        more = "half_more" in self._at[at + 3].roles
        return Mention(at, at + 3 + more, minutes_ago=int((piece.value + more * _HALF) * unit))

    def _hour_tail(self, at: int) -> Mention | None:
        """What follows the hour: "y media", "menos cuarto", "y veinte"."""
        tail, led = self._at[at + 1].roles, "time_before" in self._at[at - 1].roles
        hour, end = self._at[at].whole, at + 2
        minute = next((m for role, m in _HOUR_TAILS.items() if role in tail), None)
        if minute is None and led and not self._is_pressure(end):
            past = "hour_and" in tail
            minute = self._number(end, 59 if past else 30)
            if not minute or not (past or "hour_less" in tail) or self._is_counted(end):
                return None
            minute, end = minute if past else -minute, end + 1
        if minute is None or self._is_counted(end - 1):
            return None
        end += "minute_word" in self._at[end].roles
        if minute < 0:
            hour, minute = hour - 1 or 12, minute + 60
        mention = self._with_half(at, end, hour % 24, minute)
        sure = led or self._has_time_words(at, mention) or self._opens_line(at, mention.end)
        return mention if sure else None

    def _past_hour(self, at: int) -> Mention | None:
        """ "ten past six", "quarter to eight", "half nine" (9:30), "half past 7"."""
        piece = self._at[at]
        after = at + 1
        if "half_word" in piece.roles:
            if "past_word" in self._at[after].roles:
                after += 1
            hour, half = self._hour(after)
            if not hour or (half is None and self._is_counted(after)):
                return None
            return self._with_half(at, after + 1, hour, 30, half)
        minutes = 15 if "quarter_word" in piece.roles else self._number(at, 29)
        if not minutes:
            return None
        if "minute_word" in self._at[after].roles:
            after += 1
        turn = self._at[after].roles
        hour, half = self._hour(after + 1)
        if (
            not hour
            or not ("past_word" in turn or "to_word" in turn)
            or self._is_pressure(after + 1)
            or ("of_word" in turn and not self._tells_time(at))
        ):
            return None
        if "past_word" in turn:
            return self._with_half(at, after + 2, hour, minutes, half)
        half = _OTHER_HALF.get(half or "")
        return self._with_half(at, after + 2, hour - 1 or 12, 60 - minutes, half)

    def _hour(self, at: int) -> tuple[int | None, str | None]:
        """The hour on a clock face at a place; noon and midnight tell which half too."""
        part = self._vocabulary.parts.get(self._at[at].text)
        if part is None or part.begins is not None or part.clock.hour % 12 or part.clock.minute:
            return self._number(at, 12), None
        return 12, "pm" if part.clock.hour else "am"

    def _tells_time(self, at: int) -> bool:
        """Whether "ten of seven" is an hour, as Americans say, and "3 of 7" is not."""
        piece = self._at[at]
        return piece.spoken or not piece.is_number or "at_word" in self._at[at - 1].roles

    def _is_counted(self, at: int) -> bool:
        after = self._at[at + 1]
        return (
            "unit" in after.roles
            and "am_word" not in after.roles
            and ("pm_word" not in after.roles and "oclock" not in after.roles)
        )

    def _is_pressure(self, at: int) -> bool:
        """Whether a stroke and a number follow, so that the number at `at` is half a pair."""
        after = self._at[at + 1]
        joins = is_stroke(after) or ("over" in after.roles and "on_or_by" not in after.roles)
        return joins and self._at[at + 2].is_number

    def _with_half(
        self, start: int, end: int, hour: int, minute: int, half: str | None = None
    ) -> Mention:
        """The clock time with "am", "pm" or "o'clock" behind it taken in."""
        if "oclock" in self._at[end].roles:
            end += 1
        if "am_word" in self._at[end].roles:
            half, end = "am", end + 1
        elif "pm_word" in self._at[end].roles:
            half, end = "pm", end + 1
        if "hours_tail" in self._at[end].roles and self._at[end].text != "h":
            half, end = half or "24", end + 1
        return Mention(start, end, hour=hour, minute=minute, half=half)

    def _clock(self, at: int) -> Mention | None:
        piece = self._at[at]
        if piece.hidden or self._is_pressure(at) or len(piece.digits) > 4:
            return None
        if self._before_is_stroke(at):
            return None
        if len(piece.digits) == 4:
            return self._four_digits(at)
        if len(piece.digits) > 2 or piece.whole > 24:
            return None
        if piece.fraction:
            return self._with_point(at)
        mark, minute = self._at[at + 1], self._at[at + 2]
        if (
            ("hour_mark" in mark.roles or mark.text in (":",))
            and mark.glued
            and minute.glued
            and len(minute.digits) == 2
        ):
            if minute.is_number and minute.whole < 60 and not minute.fraction:
                return self._written(at, at + 3, piece, minute.whole)
            return None
        return self._bare_hour(at)

    def _before_is_stroke(self, at: int) -> bool:
        before = self._at[at - 1]
        joins = is_stroke(before) or "over" in before.roles
        return joins and self._at[at - 2].is_number

    def _written(self, start: int, end: int, hour: Piece, minute: int) -> Mention | None:
        if self._at[end].text == ":" and self._at[end + 1].glued and self._at[end + 1].is_number:
            end += 2
        plain = "24" if hour.digits.startswith("0") or hour.whole > 12 else None
        return self._with_half(start, end, hour.whole % 24, minute, plain)

    def _four_digits(self, at: int) -> Mention | None:
        piece = self._at[at]
        hour, minute = divmod(piece.whole, 100)
        told = (
            "hours_tail" in self._at[at + 1].roles
            or "am_word" in self._at[at + 1].roles
            or ("pm_word" in self._at[at + 1].roles)
        )
        after_at = "time_before" in self._at[at - 1].roles and (
            "at_word" in self._at[at - 1].roles or self._at[at - 1].text in ("@",)
        )
        follows_number = self._at[at - 1].is_number or self._at[at - 2].is_number
        military = piece.digits.startswith("0") and not piece.glued and not follows_number
        told = told or after_at or military or self._opens_line(at, at + 1)
        if piece.fraction or hour > 23 or minute > 59 or not told:
            return None
        return self._with_half(at, at + 1, hour, minute, "24")

    def _with_point(self, at: int) -> Mention | None:
        """ "6.50": a clock time only beside other words of time, for it may be money or kPa."""
        piece = self._at[at]
        if len(piece.fraction) != 2 or int(piece.fraction) > 59 or piece.whole > 23:
            return None
        mention = self._written(at, at + 1, piece, int(piece.fraction))
        if mention is None or self._at[at - 1].text in ("£", "$", "€"):
            return None
        bracketed = self._at[at - 1].text == "(" and self._at[mention.end].text == ")"
        if bracketed or self._has_time_words(at, mention) or self._opens_line(at, mention.end):
            return mention
        return None

    def _bare_hour(self, at: int) -> Mention | None:
        piece = self._at[at]
        if piece.whole == 0 and not piece.spoken and len(piece.digits) < 2:
            return None
        tail = self._hour_tail(at)
        if tail is not None:
            return tail
        minute = self._spoken_minutes(at)
        end = at + 1 + (minute is not None)
        if minute == 0 and self._at[at + 1].digits == "0":
            # "six oh five"
            units = self._number(at + 2, 9)
            if units is not None:
                minute, end = units, at + 3
        mention = self._with_half(at, end, piece.whole % 24, minute or 0)
        if mention.end > end:
            return mention
        if piece.whole > 23 or self._is_counted(at) or piece.slipped:
            return None
        if minute is not None and self._has_time_words(at, mention):
            return mention
        if ("at_word" in self._at[at - 1].roles or self._at[at - 1].text in ("@",)) or (
            ("time_before" in self._at[at - 1].roles and "time_before" in self._at[at - 2].roles)
            or (
                "roughly_word" in self._at[at - 1].roles
                and piece.whole <= 12
                and self._followed_by_time(mention.end)
            )
        ):
            if self._at[end].is_number and not self._at[end].glued and self._is_dictated(at):
                return None
            return mention
        # "Only one today" is no one o'clock, and "las dos de ayer" are two readings.
        counts = piece.spoken and piece.whole == 1
        if "counting_article" in self._at[at - 1].roles:
            counts = self._at[end].text not in self._vocabulary.parts
        told = self._followed_by_time(mention.end) and piece.whole <= 12
        return mention if told and not counts else None

    def _is_dictated(self, at: int) -> bool:
        """Whether "at 1 42 over 90" is a spaced-out pressure rather than one o'clock."""
        joined = self._at[at].digits + self._at[at + 1].digits
        return len(joined) == 3 and self._is_pressure(at + 1)

    def _spoken_minutes(self, at: int) -> int | None:
        """Minutes that follow an hour with a space ("seven thirty"), no pressure."""
        after = self._at[at + 1]
        if not after.is_number or after.fraction or after.glued or self._is_pressure(at + 1):
            return None
        if len(after.digits) > 2 or after.whole > 59 or self._at[at].whole > 23:
            return None
        if after.spoken or (
            "roughly_at" in self._at[at - 1].roles or self._at[at - 1].text in ("@",)
        ):
            return after.whole if after.whole >= 10 or after.whole == 0 else None
        return None

    def _has_time_words(self, at: int, mention: Mention) -> bool:
        before = self._at[at - 1]
        return (
            "time_before" in before.roles
            or "time" in before.roles
            or "last_night" in before.roles
            or mention.half in ("am", "pm")
            or self._followed_by_time(mention.end)
        )

    def _followed_by_time(self, end: int) -> bool:
        """Whether a part of the day or a day comes next ("8 in the evening", "7 yesterday")."""
        after = self._at[end]
        if "day_link" in after.roles or after.text in (",",):
            after = self._at[end + 1]
        words = self._vocabulary
        return (
            after.text in words.parts
            or "last_night" in after.roles
            or after.text in words.days_back
            or after.text in words.weekdays
        )

    def _opens_line(self, at: int, end: int) -> bool:
        """Whether a line or clause begins with the clock time and goes on with a pressure."""
        before = self._at[at - 1]
        opens = before.kind is Kind.LINE or "clause_word" in before.roles
        if at and not (opens or before.text in _BEFORE_HEADING):
            return False
        while self._at[end].text in _HEADING_MARKS:
            end += 1
        follower = self._at[end]
        return (
            follower.is_number
            and len(follower.digits) in (2, 3)
            and (self._is_pressure(end) or len(follower.digits) == 3)
        )
