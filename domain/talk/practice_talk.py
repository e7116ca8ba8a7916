"""The practitioner's list in words: its groups, a line for each patient, a sentence to say.

Shared by the chat and the command line. What stands in the list, and in which order:
`domain/practice_list.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import Final

from domain.messages import Line, Value, Words, line, symptom_words
from domain.people import PersonId
from domain.practice_list import LATELY_DAYS, Action, Entry, Lately, Reason
from domain.record_quality import Cause, said_to_the_person
from domain.watch import Finding

#: No chat message names more patients: nobody reads on, and buttons have an end too.
MOST_LISTED: Final = 25

#: Of one patient no more of the last days is told.
MOST_LATELY: Final = 3

#: What can be said to somebody who measures too little.
_SAY: Final = {
    Reason.NO_READINGS: "patients.say.silent",
    Reason.SILENT: "patients.say.silent",
    Reason.BEHIND: "patients.say.silent",
    Reason.TOO_FEW: "patients.say.full_week",
    Reason.ABOVE_TOO_FEW: "patients.say.full_week",
}


def told(entries: Sequence[Entry]) -> tuple[list[Line], list[PersonId]]:
    """The lines of a chat message, and whom they name, in that order."""
    shown = entries[:MOST_LISTED]
    lines = []
    for action, group in groupby(shown, lambda entry: entry.action):
        count = sum(entry.action is action for entry in entries)
        lines.append(group_line(action, count))
        for entry in group:
            lines.append(reason_line(entry))
            lines += lately_lines(entry)
            sentence = sentence_to_say(entry)
            lines += [sentence] if sentence is not None else []
    if len(entries) > len(shown):
        lines.append(line("patients.more", more=len(entries) - len(shown)))
    return lines, [entry.patient for entry in shown]


def group_line(action: Action, count: int) -> Line:
    """What to do about the patients below it, and how many they are."""
    return line(f"patients.group.{action}", number=count)


def reason_line(entry: Entry) -> Line:
    """Why somebody stands where they stand, with the numbers."""
    key = f"patients.reason.{entry.reason}"
    if entry.reason is Reason.AS_ASKED and entry.average is None:
        key = "patients.reason.as_asked.none"
    if entry.reason is Reason.TOO_FEW and not entry.lacks:
        key = "patients.reason.too_few.old"
    return line(key, **_values(entry))


def lately_lines(entry: Entry) -> list[Line]:
    """What happened in the last days: how alarms ended, what was found, the latest first."""
    return [_lately_line(one) for one in sorted(entry.lately, key=_day, reverse=True)[:MOST_LATELY]]


def _day(one: Lately) -> date:
    return one.day


def _lately_line(one: Lately) -> Line:
    if one.is_alarm:
        return line("patients.lately.alarm", day=one.day, how=Words((f"patients.how.{one.code}",)))
    found = Words((f"patients.found.{one.code}",))
    if one.code == Finding.EARLIER_SIGN:
        signs = symptom_words(one.number.split(","))
        return line("patients.lately.found", day=one.day, found=found, number=signs)
    key = "patients.lately.found" if one.number else "patients.lately.found.bare"
    return line(key, day=one.day, found=found, number=one.number)


def sentence_to_say(entry: Entry) -> Line | None:
    """What may be wrong with the data and a sentence that helps; None where none does."""
    if entry.action is Action.CHASE and entry.reason in _SAY and not entry.causes:
        return line(_SAY[entry.reason])
    if entry.action not in {Action.DECIDE, Action.CHASE} or not entry.causes:
        return None
    cause = entry.causes[0]
    seconds = entry.pause if cause is Cause.NO_FULL_MINUTE else None
    asked = Words((said_to_the_person(cause).key,))
    return line(f"patients.say.{cause}", seconds=seconds or 0, asked=asked)


def _values(entry: Entry) -> dict[str, Value]:
    """All that any of the lines names; each takes its own."""
    average = entry.average
    last: date | None = entry.last_day
    values: dict[str, Value] = {
        "name": entry.name,
        "target": str(entry.target),
        "silent": entry.silent or 0,
        "asked": entry.asked,
        "done": entry.done,
        "lately": LATELY_DAYS,
    }
    if entry.until is not None:
        values["until"] = entry.until
    if entry.worst is not None:
        values["shown"] = str(entry.worst)
    elif average is not None:
        values |= {"shown": str(average.shown), "readings": average.readings}
        values["days"] = average.days
        last = average.last_day
    if last is not None:
        values["last"] = last
    if entry.lacks:
        lack = entry.lacks[0]
        least = Words((f"patients.least.{lack.least}",))
        values |= {"found": lack.found, "needed": lack.needed, "least": least}
    return values
