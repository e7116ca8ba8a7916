"""What a practitioner records for one patient about danger: a severe limit, known signs.

Both only within safe bounds: a limit may be more careful than everybody's and never less
(`danger.limits`), and a known sign still brings the number at once and one question
(`quiet_signs`). The patient is told of either. Pressures in mmHg.
"""

from __future__ import annotations

import re
from typing import Final

from domain.danger import LEAST_SEVERE, MAY_BE_KNOWN, SEVERE
from domain.events import Do
from domain.messages import Line, line, symptom_words
from domain.people import Contact, NoteKind
from domain.talk.turn import Rows, Turn

_PAIR: Final = re.compile(r"\s*(\d{2,3})\s*[/\s]\s*(\d{2,3})\s*")
_USUAL: Final = "usual"
#: Offered as buttons besides the usual limit.
_OFFERED: Final = ((160, 100), (170, 105))


def limits(turn: Turn, contact: Contact, value: str) -> None:
    """From which numbers on a reading is severe: "170/105", or "usual"."""
    name = turn.patient.name
    match = _PAIR.fullmatch(value)
    wanted = (int(match[1]), int(match[2])) if match else None
    bounds = {
        "low": f"{LEAST_SEVERE.systolic}/{LEAST_SEVERE.diastolic}",
        "high": f"{SEVERE.systolic}/{SEVERE.diastolic}",
    }
    if wanted is None and value != _USUAL:
        now = turn.profile.severe or (SEVERE.systolic, SEVERE.diastolic)
        asked = line("practice.limits.ask", name=name, now="{}/{}".format(*now), **bounds)
        turn.tell(contact, asked, buttons=_limit_buttons(turn))
        return
    if wanted is not None and not _is_safe(wanted):
        turn.tell(contact, line("practice.limits.unsafe", **bounds))
        return
    turn.change_profile(severe=wanted)
    shown = "{}/{}".format(*wanted) if wanted else bounds["high"]
    turn.note(NoteKind.LIMITS, code=shown, text=contact.name)
    turn.tell(contact, line("practice.limits.done", name=name, shown=shown))
    turn.say(line("practice.limits.told", doctor=contact.name, shown=shown))


def _is_safe(wanted: tuple[int, int]) -> bool:
    assert LEAST_SEVERE.diastolic is not None
    assert SEVERE.diastolic is not None
    return (
        LEAST_SEVERE.systolic <= wanted[0] <= SEVERE.systolic
        and LEAST_SEVERE.diastolic <= wanted[1] <= SEVERE.diastolic
    )


def _limit_buttons(turn: Turn) -> Rows:
    usual = f"{SEVERE.systolic}/{SEVERE.diastolic}"
    offered = ["{}/{}".format(*pair) for pair in _OFFERED]
    return (
        *(
            (turn.button("button.practice_limit", Do.PRACTICE, f"limits:{pair}", shown=pair),)
            for pair in offered
        ),
        (turn.button("button.practice_limit", Do.PRACTICE, f"limits:{_USUAL}", shown=usual),),
    )


def known(turn: Turn, contact: Contact, value: str) -> None:
    """A long-standing sign, recorded or taken back by its code."""
    before = turn.profile.long_standing
    if value in MAY_BE_KNOWN:
        had = value in before
        after = tuple(code for code in before if code != value) if had else (*before, value)
        turn.change_profile(long_standing=after)
        turn.note(NoteKind.KNOWN_SIGNS, code=",".join(after), text=contact.name)
        turn.say(_told(contact, after))
    _ask_known(turn, contact)


def _told(contact: Contact, codes: tuple[str, ...]) -> Line:
    if not codes:
        return line("practice.known.told_none", doctor=contact.name)
    return line("practice.known.told", doctor=contact.name, symptoms=symptom_words(codes))


def _ask_known(turn: Turn, contact: Contact) -> None:
    name, now = turn.patient.name, turn.profile.long_standing
    stands = (
        line("practice.known.now", name=name, symptoms=symptom_words(now))
        if now
        else line("practice.known.none", name=name)
    )
    rows: Rows = ()
    for code in sorted(MAY_BE_KNOWN):
        label = "button.practice_known_not" if code in now else "button.practice_known"
        words = symptom_words((code,))
        rows += ((turn.button(label, Do.PRACTICE, f"known:{code}", symptom=words),),)
    turn.tell(contact, stands, line("practice.known.ask"), buttons=rows)
