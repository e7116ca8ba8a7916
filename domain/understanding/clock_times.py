"""Clock times as people write and say them: "7.15", "ten past six", "half nine", "at 8".

A number is a clock time only where something beside it says so, and never half of a pressure.
Days, dates and parts of the day: `mentions.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from domain.understanding.links import is_stroke
from domain.understanding.mention import Mention
from domain.understanding.pieces import Piece
from domain.understanding.tokens import Kind
from domain.understanding.vocabulary import Vocabulary

#: As many as are looked at beyond the end, and more than before the beginning.
_NOTHING_BEYOND: Final = (Piece(Kind.MARK, "", -1, -1, False),) * 8
_OTHER_HALF: Final = {"am": "pm", "pm": "am"}
#: Minutes of the words behind an hour.
_HOUR_TAILS: Final = {"hour_half": 30, "hour_quarter": 15, "hour_quarter_to": -15}
_HEADING_MARKS: Final = frozenset("-:,–)=")
_BEFORE_HEADING: Final = frozenset(",;:.")


class ClockTimes:
    """Looks for a clock time at a place of one message."""

    def __init__(self, pieces: Sequence[Piece], vocabulary: Vocabulary) -> None:
        #: With pieces that are nothing on either side: place -1 is the last of them.
        self.at = [*pieces, *_NOTHING_BEYOND]
        self.vocabulary = vocabulary

    def number(self, place: int, most: int) -> int | None:
        """The small whole number at a place, or None."""
        piece = self.at[place]
        if not piece.is_number or piece.fraction or piece.hidden or len(piece.digits) > 2:
            return None
        return piece.whole if piece.whole <= most else None

    def _hour_tail(self, at: int) -> Mention | None:
        """What follows the hour: "y media", "menos cuarto", "y veinte"."""
        tail, led = self.at[at + 1].roles, "time_before" in self.at[at - 1].roles
        hour, end = self.at[at].whole, at + 2
        minute = next((m for role, m in _HOUR_TAILS.items() if role in tail), None)
        if minute is None and led and not self._is_pressure(end):
            past = "hour_and" in tail
            minute = self.number(end, 59 if past else 30)
            if not minute or not (past or "hour_less" in tail) or self._is_counted(end):
                return None
            minute, end = minute if past else -minute, end + 1
        if minute is None or self._is_counted(end - 1):
            return None
        end += "minute_word" in self.at[end].roles
        if minute < 0:
            hour, minute = hour - 1 or 12, minute + 60
        mention = self._with_half(at, end, hour % 24, minute)
        sure = led or self._has_time_words(at, mention) or self.opens_line(at, mention.end)
        return mention if sure else None

    def past_hour(self, at: int) -> Mention | None:
        """ "ten past six", "quarter to eight", "half nine" (9:30), "half past 7"."""
        piece = self.at[at]
        after = at + 1
        if "half_word" in piece.roles:
            if "past_word" in self.at[after].roles:
                after += 1
            hour, half = self._hour(after)
            if not hour or (half is None and self._is_counted(after)):
                return None
            return self._with_half(at, after + 1, hour, 30, half)
        minutes = 15 if "quarter_word" in piece.roles else self.number(at, 29)
        if not minutes:
            return None
        if "minute_word" in self.at[after].roles:
            after += 1
        turn = self.at[after].roles
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
        part = self.vocabulary.parts.get(self.at[at].text)
        if part is None or part.begins is not None or part.clock.hour % 12 or part.clock.minute:
            return self.number(at, 12), None
        return 12, "pm" if part.clock.hour else "am"

    def _tells_time(self, at: int) -> bool:
        """Whether "ten of seven" is an hour, as Americans say, and "3 of 7" is not."""
        piece = self.at[at]
        return piece.spoken or not piece.is_number or "at_word" in self.at[at - 1].roles

    def _is_counted(self, at: int) -> bool:
        after = self.at[at + 1]
        return (
            "unit" in after.roles
            and "am_word" not in after.roles
            and ("pm_word" not in after.roles and "oclock" not in after.roles)
        )

    def _is_pressure(self, at: int) -> bool:
        """Whether a stroke and a number follow, so that the number at `at` is half a pair."""
        after = self.at[at + 1]
        joins = is_stroke(after) or ("over" in after.roles and "on_or_by" not in after.roles)
        return joins and self.at[at + 2].is_number

    def _with_half(
        self, start: int, end: int, hour: int, minute: int, half: str | None = None
    ) -> Mention:
        """The clock time with "am", "pm" or "o'clock" behind it taken in."""
        if "oclock" in self.at[end].roles:
            end += 1
        if "am_word" in self.at[end].roles:
            half, end = "am", end + 1
        elif "pm_word" in self.at[end].roles:
            half, end = "pm", end + 1
        if "hours_tail" in self.at[end].roles and self.at[end].text != "h":
            half, end = half or "24", end + 1
        return Mention(start, end, hour=hour, minute=minute, half=half)

    def clock(self, at: int) -> Mention | None:
        piece = self.at[at]
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
        mark, minute = self.at[at + 1], self.at[at + 2]
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
        before = self.at[at - 1]
        joins = is_stroke(before) or "over" in before.roles
        return joins and self.at[at - 2].is_number

    def _written(self, start: int, end: int, hour: Piece, minute: int) -> Mention | None:
        if self.at[end].text == ":" and self.at[end + 1].glued and self.at[end + 1].is_number:
            end += 2
        plain = "24" if hour.digits.startswith("0") or hour.whole > 12 else None
        return self._with_half(start, end, hour.whole % 24, minute, plain)

    def _four_digits(self, at: int) -> Mention | None:
        piece = self.at[at]
        hour, minute = divmod(piece.whole, 100)
        told = (
            "hours_tail" in self.at[at + 1].roles
            or "am_word" in self.at[at + 1].roles
            or ("pm_word" in self.at[at + 1].roles)
        )
        after_at = "time_before" in self.at[at - 1].roles and (
            "at_word" in self.at[at - 1].roles or self.at[at - 1].text in ("@",)
        )
        follows_number = self.at[at - 1].is_number or self.at[at - 2].is_number
        military = piece.digits.startswith("0") and not piece.glued and not follows_number
        told = told or after_at or military or self.opens_line(at, at + 1)
        if piece.fraction or hour > 23 or minute > 59 or not told:
            return None
        return self._with_half(at, at + 1, hour, minute, "24")

    def _with_point(self, at: int) -> Mention | None:
        """ "6.50": a clock time only beside other words of time, for it may be money or kPa."""
        piece = self.at[at]
        if len(piece.fraction) != 2 or int(piece.fraction) > 59 or piece.whole > 23:
            return None
        mention = self._written(at, at + 1, piece, int(piece.fraction))
        if mention is None or self.at[at - 1].text in ("£", "$", "€"):
            return None
        bracketed = self.at[at - 1].text == "(" and self.at[mention.end].text == ")"
        if bracketed or self._has_time_words(at, mention) or self.opens_line(at, mention.end):
            return mention
        return None

    def _bare_hour(self, at: int) -> Mention | None:
        piece = self.at[at]
        if piece.whole == 0 and not piece.spoken and len(piece.digits) < 2:
            return None
        tail = self._hour_tail(at)
        if tail is not None:
            return tail
        minute = self._spoken_minutes(at)
        end = at + 1 + (minute is not None)
        if minute == 0 and self.at[at + 1].digits == "0":
            # "six oh five"
            units = self.number(at + 2, 9)
            if units is not None:
                minute, end = units, at + 3
        mention = self._with_half(at, end, piece.whole % 24, minute or 0)
        if mention.end > end:
            return mention
        if piece.whole > 23 or self._is_counted(at) or piece.slipped:
            return None
        if minute is not None and self._has_time_words(at, mention):
            return mention
        if ("at_word" in self.at[at - 1].roles or self.at[at - 1].text in ("@",)) or (
            ("time_before" in self.at[at - 1].roles and "time_before" in self.at[at - 2].roles)
            or (
                "roughly_word" in self.at[at - 1].roles
                and piece.whole <= 12
                and self._followed_by_time(mention.end)
            )
        ):
            if self.at[end].is_number and not self.at[end].glued and self._is_dictated(at):
                return None
            return mention
        # "Only one today" is no one o'clock, and "las dos de ayer" are two readings.
        counts = piece.spoken and piece.whole == 1
        if "counting_article" in self.at[at - 1].roles:
            counts = self.at[end].text not in self.vocabulary.parts
        told = self._followed_by_time(mention.end) and piece.whole <= 12
        return mention if told and not counts else None

    def _is_dictated(self, at: int) -> bool:
        """Whether "at 1 42 over 90" is a spaced-out pressure rather than one o'clock."""
        joined = self.at[at].digits + self.at[at + 1].digits
        return len(joined) == 3 and self._is_pressure(at + 1)

    def _spoken_minutes(self, at: int) -> int | None:
        """Minutes that follow an hour with a space ("seven thirty"), no pressure."""
        after = self.at[at + 1]
        if not after.is_number or after.fraction or after.glued or self._is_pressure(at + 1):
            return None
        if len(after.digits) > 2 or after.whole > 59 or self.at[at].whole > 23:
            return None
        if after.spoken or (
            "roughly_at" in self.at[at - 1].roles or self.at[at - 1].text in ("@",)
        ):
            return after.whole if after.whole >= 10 or after.whole == 0 else None
        return None

    def _has_time_words(self, at: int, mention: Mention) -> bool:
        before = self.at[at - 1]
        return (
            "time_before" in before.roles
            or "time" in before.roles
            or "last_night" in before.roles
            or mention.half in ("am", "pm")
            or self._followed_by_time(mention.end)
        )

    def _followed_by_time(self, end: int) -> bool:
        """Whether a part of the day or a day comes next ("8 in the evening", "7 yesterday")."""
        after = self.at[end]
        if "day_link" in after.roles or after.text in (",",):
            after = self.at[end + 1]
        words = self.vocabulary
        return (
            after.text in words.parts
            or "last_night" in after.roles
            or after.text in words.days_back
            or after.text in words.weekdays
        )

    def opens_line(self, at: int, end: int) -> bool:
        """Whether a line or clause begins with the clock time and goes on with a pressure."""
        before = self.at[at - 1]
        opens = before.kind is Kind.LINE or "clause_word" in before.roles
        if at and not (opens or before.text in _BEFORE_HEADING):
            return False
        while self.at[end].text in _HEADING_MARKS:
            end += 1
        follower = self.at[end]
        return (
            follower.is_number
            and len(follower.digits) in (2, 3)
            and (self._is_pressure(end) or len(follower.digits) == 3)
        )
