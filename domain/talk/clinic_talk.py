"""What is said of readings taken at the clinic: kept, marked, no part of the average at home.

The marks themselves are made in `keeping.py`. Pressures in mmHg.
"""

from __future__ import annotations

from domain.events import Do
from domain.messages import Line, line
from domain.readings import Reading, Setting
from domain.talk import escalation, keeping, replies, routing, signs, watching
from domain.talk.keeping import Source
from domain.talk.turn import Turn
from domain.watch import Heading


def came(
    turn: Turn, readings: tuple[Reading, ...], symptoms: tuple[str, ...], source: Source
) -> None:
    """Readings of the clinic were kept. No target at home is held against them."""
    advice = watching.beside_earlier(turn, readings)
    lines: list[Line] = [
        line("clinic.kept", shown=replies.shown(r), at=r.at.astimezone(turn.patient.zone))
        for r in readings
    ]
    if advice.heading >= Heading.TODAY:
        lines = [*advice.first, *lines, *advice.later]
    else:
        lines += advice.later
        lines += replies.symptom_lines(turn, symptoms) or [line("clinic.why")]
    argument = routing.packed(source.message, source.written_at, "")
    turn.say(
        *lines,
        line("caution.short"),
        buttons=(
            *advice.buttons,
            (turn.button("button.taken_at_home", Do.TAKEN_AT_HOME, argument),),
        ),
    )


def marked(turn: Turn, readings: tuple[Reading, ...]) -> None:
    """Readings that were kept before were taken elsewhere than was thought."""
    said = (line(f"clinic.marked.{r.setting}", shown=replies.shown(r)) for r in readings)
    turn.say(*said)


def taken_at_home(turn: Turn, argument: str) -> None:
    """The button under a reading of the clinic: it was taken at home after all."""
    said = routing.unpacked(argument)
    taken = keeping.mark(turn, said.message, Setting.HOME) if said is not None else None
    if said is None or taken is None or not taken.marked:
        turn.say(line("old_button"))
        return
    recent = taken.measured_within(signs.OLD_READING, turn.now)
    told = signs.Told(
        message=said.message,
        written_at=said.written_at,
        pairs=tuple((r.systolic, r.diastolic) for r in recent),
        kept=recent,
    )
    if not escalation.weigh(turn, told):
        marked(turn, taken.marked)
