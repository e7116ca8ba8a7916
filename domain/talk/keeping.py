"""From what was understood to readings that are kept: new ones, corrections, edits, undo.

A reading is a chain of versions, each with the message that made it. An edit of a message
acts on what that message made and leaves a later correction in force; undo takes back the
last kept one and brings no older version back. What is in doubt is stored as text and
becomes a reading when it is answered. Nothing is said here. Pressures in mmHg.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from domain.people import InDoubt, Kept, MessageRef, NoteKind, Option
from domain.readings import (
    LIMITS,
    OCCASION_GAP,
    Bpm,
    CameAs,
    Mmhg,
    Reading,
    Setting,
    spread_over_seconds,
)
from domain.talk.changed_number import with_change
from domain.talk.turn import Turn
from domain.understanding.result import Change, Doubt, Found, Intent, Possible, Understood

#: An edit of a message older than this is asked about first; the project's own choice.
OLD_EDIT: Final = timedelta(hours=48)
#: A missing number so much later is no other half of a pair; the project's own choice.
HALF_WAITS: Final = timedelta(hours=1)
#: A pair that names no wrong one corrects no reading that was sent so long before: "sorry
#: 129/84" in the morning is not the evening's; the project's own choice.
CORRECTS_WITHIN: Final = timedelta(hours=6)
#: A number so long after a measurement stands for no mistyped one of it; the project's choice.
SLIP_WAITS: Final = timedelta(hours=1)

#: Doubts about what is reported itself; the others leave clear readings beside them alone.
_DOUBT_ABOUT_READINGS: Final = frozenset({Doubt.SWAPPED, Doubt.KILOPASCAL})


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The message that readings come from."""

    message: MessageRef
    text: str
    written_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a message did to the readings."""

    kept: tuple[Reading, ...] = ()
    replaced: tuple[tuple[Reading, Reading], ...] = ()  #: before, after
    deleted: tuple[Reading, ...] = ()
    changed: tuple[MessageRef, ...] = ()  #: messages whose numbers no longer stand
    marked: tuple[Reading, ...] = ()  #: taken elsewhere than was thought; the numbers stand
    nothing_to_change: bool = False  #: a correction without anything to correct

    def measured_within(self, span: timedelta, moment: datetime) -> tuple[Reading, ...]:
        """The kept readings that were measured at most so long before a moment."""
        return tuple(r for r in self.kept if moment - r.at <= span)


def take_in(turn: Turn, source: Source, understood: Understood) -> Taken:
    """Keep what is sure, hold what is in doubt, correct what is corrected."""
    slip = bool(understood.readings) and _is_the_right_number(turn, source)
    if slip or understood.intent is Intent.CORRECTION:
        corrected = _correct(turn, source, understood)
        if corrected is not None:
            return corrected
    if understood.setting_said is not None and not _gives_numbers(understood):
        return _said_where(turn, source, understood.setting_said)
    completed = _completed(turn, source, understood)
    if completed is not None:
        return completed
    if understood.doubts:
        _hold(turn, source, understood)
    if understood.doubts & _DOUBT_ABOUT_READINGS:
        return Taken()
    if understood.readings and not understood.doubts:
        turn.change(in_doubt=None)
    return Taken(kept=_keep_all(turn, source, as_readings(turn, source, understood.readings)))


def _is_the_right_number(turn: Turn, source: Source) -> bool:
    """Whether these are the numbers instead of those that were called a typing slip.

    Once, soon, and only for a number of the open alarm: what was kept before it, what comes
    much later and what comes after the right number are readings of their own.
    """
    alarm = turn.state.alarm
    if alarm is None or not alarm.slip:
        return False
    turn.change(alarm=replace(alarm, slip=False))
    waiting, last = turn.state.in_doubt, last_kept(turn)
    if waiting is not None and not waiting.is_edit:
        return True
    if last is None or source.written_at - last.reading.at > SLIP_WAITS:
        return False
    return last.made_by in alarm.causes or last.written_at >= alarm.opened


def as_readings(turn: Turn, source: Source, found: Sequence[Found]) -> tuple[Reading, ...]:
    """The found readings as values; those without a time of their own end at the message's."""
    return _from_options(turn, source, _options(found), CameAs.TYPED)


def _options(found: Sequence[Found]) -> tuple[Option, ...]:
    return tuple(
        Option(
            systolic=f.systolic, diastolic=f.diastolic, pulse=f.pulse, at=f.at, setting=f.setting
        )
        for f in found
    )


def _from_options(
    turn: Turn, source: Source, options: Sequence[Option], came_as: CameAs
) -> tuple[Reading, ...]:
    def reading(option: Option) -> Reading:
        pulse = option.pulse
        if pulse is not None and LIMITS.pulse_problem(pulse) is not None:
            pulse = None
        return Reading(
            systolic=Mmhg(option.systolic),
            diastolic=Mmhg(option.diastolic),
            pulse=None if pulse is None else Bpm(pulse),
            at=option.at or source.written_at,
            arm=turn.profile.arm,
            came_as=came_as,
            setting=option.setting or Setting.HOME,
        )

    made = [reading(option) for option in options]
    # Those of one moment, the message's or "both at ten past ten", are no repeats of each other.
    of_moment: dict[datetime, list[int]] = {}
    for place, one in enumerate(made):
        of_moment.setdefault(one.at, []).append(place)
    for moment, places in of_moment.items():
        spread = spread_over_seconds([made[place] for place in places], moment)
        for place, one in zip(places, spread, strict=True):
            made[place] = one
    return tuple(made)


def _keep_all(turn: Turn, source: Source, readings: Sequence[Reading]) -> tuple[Reading, ...]:
    for reading in readings:
        turn.keep(reading, source.message, source.text, source.written_at)
    return tuple(readings)


# --- doubts


def _plausible(possible: Sequence[Possible]) -> Iterator[Option]:
    for p in possible:
        if p.systolic is None or p.diastolic is None:
            continue
        if LIMITS.pressure_problem(p.systolic, p.diastolic) is None:
            yield Option(systolic=p.systolic, diastolic=p.diastolic, setting=p.setting)


def _in_centimetres(understood: Understood, options: Sequence[Option]) -> tuple[Option, ...]:
    """What a pair taken for kilopascals is where people say centimetres: "14,2 con 9,1".

    They are asked which it is: a "yes" to 107/68 would hide 142/91.
    """
    if understood.doubts != {Doubt.KILOPASCAL} or len(understood.readings) != 1:
        return ()
    found = understood.readings[0]
    return tuple(
        replace(o, pulse=found.pulse, at=found.at)
        for o in options
        if (o.systolic, o.diastolic) != (found.systolic, found.diastolic)
    )


def _hold(turn: Turn, source: Source, understood: Understood) -> None:
    """Store the text at once; it counts when the question is answered."""
    about_readings = bool(understood.doubts & _DOUBT_ABOUT_READINGS)
    options = tuple(dict.fromkeys(_plausible(understood.possible)))[:4]
    if about_readings:
        centimetres = _in_centimetres(understood, options)
        about_readings = not centimetres
        options = (*centimetres, *_options(understood.readings))
    lone = [p for p in understood.possible if p.systolic is None or p.diastolic is None]
    turn.change(
        in_doubt=InDoubt(
            text=source.text,
            made_by=source.message,
            written_at=source.written_at,
            doubts=tuple(sorted(understood.doubts)),
            options=options,
            together=about_readings,
            known_systolic=lone[0].systolic if lone and not options else None,
            known_diastolic=lone[0].diastolic if lone and not options else None,
            setting=lone[0].setting if lone else None,
        )
    )
    turn.note(NoteKind.IN_DOUBT, text=source.text, made_by=source.message)


def hold_edit(turn: Turn, source: Source) -> None:
    """The edit of an old message waits for a yes; what it made stands until then."""
    held = InDoubt(
        text=source.text,
        made_by=source.message,
        written_at=source.written_at,
        doubts=(),
        is_edit=True,
    )
    turn.change(in_doubt=held)
    turn.note(NoteKind.IN_DOUBT, text=source.text, made_by=source.message)


def _completed(turn: Turn, source: Source, understood: Understood) -> Taken | None:
    """The missing number of a pair that was given by half, if that is what was sent."""
    waiting = turn.state.in_doubt
    if waiting is None or (waiting.known_systolic is None) == (waiting.known_diastolic is None):
        return None
    if source.written_at - waiting.written_at > HALF_WAITS:
        return None
    lone = [p for p in understood.possible if (p.systolic is None) != (p.diastolic is None)]
    if understood.readings or len(lone) != 1:
        return None
    number = lone[0].systolic if lone[0].systolic is not None else lone[0].diastolic
    assert number is not None
    first = waiting.known_systolic if waiting.known_systolic is not None else number
    second = waiting.known_diastolic if waiting.known_diastolic is not None else number
    if LIMITS.pressure_problem(first, second) is not None:
        return None
    whole = Option(systolic=first, diastolic=second, setting=lone[0].setting or waiting.setting)
    return answer_doubt(turn, (whole,))


def answer_doubt(turn: Turn, options: Sequence[Option]) -> Taken:
    """The person has said what the message in doubt meant: now it counts."""
    waiting = turn.state.in_doubt
    assert waiting is not None, "called only while a message is in doubt"
    source = Source(message=waiting.made_by, text=waiting.text, written_at=waiting.written_at)
    turn.change(in_doubt=None)
    readings = _from_options(turn, source, options, CameAs.CONFIRMED)
    return Taken(kept=_keep_all(turn, source, readings), changed=(source.message,))


# --- corrections, edits, undo


def _correct(turn: Turn, source: Source, understood: Understood) -> Taken | None:
    """The message stands instead of the one before. None when it is a new reading after all."""
    last = last_kept(turn)
    waiting = turn.state.in_doubt
    if understood.readings and waiting is not None and not waiting.is_edit:
        return _instead_of_doubt(turn, source, understood, waiting)
    if understood.readings:
        new = as_readings(turn, source, understood.readings)
        named = _named_wrong(turn, understood)
        if named is not None and len(new) == 1:
            return _replace(turn, source, (named,), _as_before(new, (named,), understood))
        if last is None or _corrects_itself(understood, last.reading):
            return None
        if source.written_at - last.written_at > CORRECTS_WITHIN:
            return None
        old = _of_message(turn, last.made_by)[-len(new) :]
        return _replace(turn, source, old, _as_before(new, old, understood))
    if understood.change is None:
        return None
    if last is None:
        return Taken(nothing_to_change=True)
    target = _meant(turn, understood.change) or last
    changed = with_change(target.reading, understood.change)
    if changed is None:
        return Taken(nothing_to_change=True)
    return _replace(turn, source, (target,), (changed,))


def _as_before(
    new: Sequence[Reading], old: Sequence[Kept], understood: Understood
) -> tuple[Reading, ...]:
    """The new readings, taken where the old ones were unless the correction says where."""
    moved = (
        after if found.setting else replace(after, setting=before.reading.setting)
        for after, before, found in zip(new, old, understood.readings, strict=False)
    )
    return (*moved, *new[len(old) :])


def _named_wrong(turn: Turn, understood: Understood) -> Kept | None:
    """The newest reading that is the whole pair which the message takes back."""
    for kept in reversed(_by_message(turn)):
        if (kept.reading.systolic, kept.reading.diastolic) in understood.taken_back:
            return kept
    return None


def _corrects_itself(understood: Understood, last: Reading) -> bool:
    """Whether a message takes back a pair of its own ("200 by 100 sorry 120 by 80").

    Then it is a new reading, and the one before stands: of the wrong pair's numbers none
    is that reading's.
    """
    wrong = {number for pair in understood.taken_back for number in pair}
    wrong -= {n for r in understood.readings for n in (r.systolic, r.diastolic)}
    return bool(wrong) and wrong.isdisjoint({last.systolic, last.diastolic})


def _instead_of_doubt(
    turn: Turn, source: Source, understood: Understood, waiting: InDoubt
) -> Taken:
    """The message before was in doubt: it is settled, and no older reading is touched."""
    turn.change(in_doubt=None)
    kept = _keep_all(turn, source, as_readings(turn, source, understood.readings))
    return Taken(kept=kept, changed=(waiting.made_by,))


def _meant(turn: Turn, change: Change) -> Kept | None:
    """The newest reading that holds the number which was named as wrong."""
    if change.wrong is None:
        return None
    for kept in reversed(_by_message(turn)):
        if change.wrong in {kept.reading.systolic, kept.reading.diastolic, kept.reading.pulse}:
            return kept
    return None


def _replace(
    turn: Turn,
    source: Source,
    old: Sequence[Kept],
    new: Sequence[Reading],
    *,
    same_moments: bool = True,
) -> Taken:
    """New versions for old ones in order; what is over is deleted or added.

    A correction was measured when the wrong one was; an edit says its moments itself.
    """
    replaced: list[tuple[Reading, Reading]] = []
    for before, after in zip(old, new, strict=False):
        moved = replace(after, at=before.reading.at) if same_moments else after
        turn.keep(moved, source.message, source.text, source.written_at, replaces=before.id)
        replaced.append((before.reading, moved))
    for surplus in old[len(new) :]:
        turn.delete(surplus)
    added = _keep_all(turn, source, new[len(old) :])
    return Taken(
        kept=(*(after for _, after in replaced), *added),
        replaced=tuple(replaced),
        deleted=tuple(kept.reading for kept in old[len(new) :]),
        changed=tuple(dict.fromkeys((*(kept.made_by for kept in old), source.message))),
    )


def _gives_numbers(understood: Understood) -> bool:
    return bool(understood.readings or understood.possible or understood.change)


def _said_where(turn: Turn, source: Source, setting: Setting) -> Taken:
    """Where the last message's readings were taken: "that was at the doctor's"."""
    last = last_kept(turn)
    if last is None or source.written_at - last.written_at > OLD_EDIT:
        return Taken()
    return mark(turn, last.made_by, setting)


def mark(turn: Turn, message: MessageRef, setting: Setting) -> Taken:
    """The readings of a message were taken there. Nothing where that is known already.

    Those taken at home after all are among the kept ones: they are weighed like new ones.
    """
    marked = []
    for kept in _of_message(turn, message):
        if kept.reading.setting is not setting:
            after = replace(kept.reading, setting=setting)
            turn.keep(after, kept.made_by, kept.text, kept.written_at, replaces=kept.id)
            marked.append(after)
    at_home = tuple(marked) if setting is Setting.HOME else ()
    return Taken(kept=at_home, marked=tuple(marked))


def edit(turn: Turn, source: Source, understood: Understood) -> Taken:
    """A message was edited: what it made is replaced; without a reading it is taken out."""
    old = _of_message(turn, source.message)
    if understood.doubts:
        deleted = tuple(kept.reading for kept in old)
        for kept in old:
            turn.delete(kept)
        _hold(turn, source, understood)
        return Taken(deleted=deleted, changed=(source.message,))
    new = as_readings(turn, source, understood.readings)
    return _replace(turn, source, old, new, same_moments=False)


def undo(turn: Turn) -> Taken:
    """Take back the last kept reading; nothing older comes back in its place."""
    last = last_kept(turn)
    if last is None:
        return Taken(nothing_to_change=True)
    turn.delete(last)
    return Taken(deleted=(last.reading,), changed=(last.made_by,))


def last_kept(turn: Turn) -> Kept | None:
    """The reading that was sent last."""
    ordered = _by_message(turn)
    return ordered[-1] if ordered else None


def is_fresh(reading: Reading, written_at: datetime) -> bool:
    """Whether it was measured when it was written, so that an occasion may go on from it."""
    return written_at - reading.at <= OCCASION_GAP


def _by_message(turn: Turn) -> list[Kept]:
    return sorted(turn.patient.readings, key=lambda k: (k.written_at, k.reading.at))


def _of_message(turn: Turn, message: MessageRef) -> list[Kept]:
    return [kept for kept in turn.patient.readings if kept.made_by == message]
