"""Which moment a named time is: local, with the offset of `now`, never after it."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Final

from domain.understanding.mention import Mention

_DAY: Final = timedelta(days=1)
#: A named time that is so little ahead is meant as now ("lunchtime" at a quarter past twelve).
_NEARLY: Final = timedelta(minutes=60)
#: A date longer ago than this is not when a reading was taken.
_OLDEST: Final = timedelta(days=366)
_OLDEST_WITHOUT_YEAR: Final = timedelta(days=120)
#: On a named day hours up to this are of the afternoon when nothing says which half.
_AFTERNOON_HOURS: Final = 4
_NIGHT_ENDS: Final = time(5)
_MOST_DAYS_BACK: Final = 60


def moment(mention: Mention, now: datetime) -> datetime | None:
    """The moment that was named, or None when it is now or not a time that can be told."""
    if mention.is_now:
        return None
    try:
        return _named(mention, now)
    except OverflowError:  # before the first day of the calendar, or after the last
        return None


def _named(mention: Mention, now: datetime) -> datetime | None:
    if mention.minutes_ago is not None:
        back = timedelta(minutes=mention.minutes_ago)
        return now - back if back <= _OLDEST else None
    day = _day(mention, now)
    if _is_after_midnight(mention) and day is not None:
        day += _DAY
    if mention.hour is not None:
        found = _clock_moment(mention, day, now)
    elif mention.part is not None:
        found = _part_moment(mention, day, now)
    elif day is None or day == now.date():
        return None
    else:
        found = datetime.combine(day, now.timetz())
    return found if found is not None and found <= now else None


def _is_after_midnight(mention: Mention) -> bool:
    """ "last night at one" lies in the day after the evening that it is named for."""
    part = mention.part
    at_night = part is not None and part.ends == _NIGHT_ENDS and mention.days_back == 1
    return at_night and mention.hour is not None and mention.hour % 12 < _NIGHT_ENDS.hour


def _day(mention: Mention, now: datetime) -> date | None:
    """The named day, at the latest today; None when no day is named or it cannot be told."""
    today = now.date()
    if mention.days_back is not None:
        return today - mention.days_back * _DAY if mention.days_back <= _MOST_DAYS_BACK else None
    if mention.date is not None:
        return _calendar_day(mention.date, today)
    if mention.weekday is None:
        return None
    back = (today.weekday() - mention.weekday) % 7
    if back == 0 and (mention.before_today or _is_ahead(mention, now)):
        back = 7
    return today - back * _DAY


def _calendar_day(named: tuple[int | None, int, int], today: date) -> date | None:
    year, month, day = named
    for candidate in (year,) if year else (today.year, today.year - 1):
        try:
            found = date(candidate, month, day)
        except ValueError:
            continue
        if found <= today and today - found < (_OLDEST if year else _OLDEST_WITHOUT_YEAR):
            return found
    return None


def _is_ahead(mention: Mention, now: datetime) -> bool:
    """Whether the clock time or part would still be to come if the day were today."""
    if mention.hour is not None:
        return min(_hours(mention)) > now.time()
    if mention.part is not None and not mention.part.holds(now.time()):
        return mention.part.clock > now.time()
    return False


def _hours(mention: Mention) -> list[time]:
    """The clock times that the words may mean, one or two."""
    assert mention.hour is not None
    hour, minute = mention.hour, mention.minute
    if mention.half == "am":
        return [time(hour % 12, minute)]
    if mention.half == "pm":
        # "2 at night" is after midnight, and so is "12 at night".
        at_night = mention.part is not None and mention.part.ends == _NIGHT_ENDS
        if at_night and hour % 12 < 5:
            return [time(hour % 12, minute)]
        return [time(hour % 12 + 12, minute)]
    if mention.half == "24" or hour >= 12 or hour == 0:
        return [time(hour, minute)]
    return [time(hour, minute), time((hour + 12) % 24, minute)]


def _clock_moment(mention: Mention, day: date | None, now: datetime) -> datetime | None:
    clocks = _hours(mention)
    if day is None and not mention.has_day:
        if mention.hour == 12 and mention.half is None and now.time() < _NIGHT_ENDS:
            clocks.append(time(0, mention.minute))
        moments = [
            datetime.combine(now.date() - back * _DAY, clock, now.tzinfo)
            for clock in clocks
            for back in (0, 1)
        ]
        return max((m for m in moments if m <= now), default=None)
    if day is None:
        return None
    if len(clocks) == 2 and day != now.date():
        assert mention.hour is not None
        clocks = [clocks[1] if mention.hour <= _AFTERNOON_HOURS else clocks[0]]
    moments = [datetime.combine(day, clock, now.tzinfo) for clock in clocks]
    return max((m for m in moments if m <= now), default=None)


def _part_moment(mention: Mention, day: date | None, now: datetime) -> datetime | None:
    part = mention.part
    assert part is not None
    if day is not None and day != now.date():
        return datetime.combine(day, part.clock, now.tzinfo)
    if part.holds(now.time()):
        return None
    found = datetime.combine(now.date(), part.clock, now.tzinfo)
    if found <= now:
        return found
    return None if found - now <= _NEARLY or mention.has_day else found - _DAY
