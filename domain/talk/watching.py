"""What is said of low pressure, pulse, the unusual and the monitor's mark, beside a reading.

The limits are `domain/watch.py`. A line that leads an answer holds its heading, the biggest
thing first; a question about signs stands under it, and "yes" is an emergency
(`watch_answers.py`). What has been said is noted for the practitioner. Pressures in mmHg,
pulse in beats per minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from domain import danger, watch
from domain.events import Do
from domain.messages import Line, line
from domain.people import Note, NoteKind
from domain.readings import OCCASION_GAP, Occasion, Reading, local_day
from domain.shown import shown_pair
from domain.talk.turn import Rows, Turn
from domain.watch import Finding, Found, Heading

#: A reading or a sign so long ago still counts together with the other; own choice.
IN_FORCE: Final = timedelta(hours=12)
#: The mark of the monitor for a pulse that is not regular, as `understand` reports it.
MARK: Final = "x_irregular_pulse"
#: What `State.asking` begins with while a question about signs is open; its topic follows.
ASKING: Final = "signs:"
#: The topic of the question after an old severe reading: the signs of danger.py.
OLD: Final = "old"
#: Code of the note that none of the signs asked about is there.
NO_SIGNS: Final = "no_signs"
#: A finding of the next visit is not said again before this has passed; own choice.
NEXT_VISIT_EVERY: Final = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing to say. `line` holds its heading."""

    finding: Finding
    heading: Heading
    line: Line
    topic: str = ""  #: which signs are asked about under it
    argument: str = ""  #: of the answer "yes", when it is more than the topic
    number: str = ""  #: as it is noted


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What has to be said beside a reading, in the order in which it is read."""

    heading: Heading = Heading.NOTHING
    first: tuple[Line, ...] = ()  #: for today, with its question: before everything else
    later: tuple[Line, ...] = ()  #: for the next visit, or without a heading
    buttons: Rows = ()
    plain: bool = True  #: nothing was found: only then may numbers be called as they should be


#: Of each row: the key of its line, and which signs are asked about.
_SAID: Final = {
    Finding.LOW: ("low.today", "low"),
    Finding.LOW_WITH_SIGN: ("low.today", "low"),
    Finding.LOW_ON_MEDICINE: ("low.medicine", ""),
    Finding.LOW_DIASTOLIC: ("low.diastolic", ""),
    Finding.SLOW_WITH_SIGN: ("pulse.slow.today", "pulse_dizzy"),
    Finding.VERY_SLOW: ("pulse.slow.today", "pulse_dizzy"),
    Finding.RATHER_SLOW_WITH_SIGN: ("pulse.slow.today", "pulse"),
    Finding.RATHER_SLOW: ("pulse.slow.next_visit", ""),
    Finding.FAST_WITH_SIGN: ("pulse.fast.today", "pulse_dizzy"),
    Finding.VERY_FAST: ("pulse.fast.today", "pulse"),
    Finding.FAST: ("pulse.fast.next_visit", ""),
}


# --- what counts


def told_lately(
    turn: Turn, symptoms: Iterable[str] = (), *, within: timedelta = IN_FORCE
) -> tuple[str, ...]:
    """Symptoms of a message with those of the last hours that have not been denied since."""
    found: list[Note] = []
    for note in turn.patient.notes:
        if turn.now - note.at > within:
            continue
        if note.kind is NoteKind.ALARM_ENDED and note.code == "not_about":
            found = [n for n in found if n.made_by is not None]  # a contact's word, taken back
        elif note.kind is NoteKind.SYMPTOM and note.code == "none":
            found.clear()
        elif note.kind is NoteKind.SYMPTOM:
            found.append(note)
    return tuple(dict.fromkeys((*symptoms, *(note.code for note in found))))


def found_in(
    turn: Turn, readings: Sequence[Reading], symptoms: Iterable[str] = ()
) -> tuple[Found, ...]:
    """What readings of one occasion show, with the signs in force."""
    takes = bool(turn.profile.medicine_times)
    return watch.findings(readings, told_lately(turn, symptoms), on_medicine=takes)


def found_in_pulse(turn: Turn, pulse: int, symptoms: Iterable[str] = ()) -> tuple[Found, ...]:
    """What a pulse without a pressure shows, with the signs in force."""
    return watch.pulse_findings(pulse, told_lately(turn, symptoms))


def may_praise(turn: Turn, readings: Iterable[Reading], symptoms: Iterable[str]) -> bool:
    """Whether a reply may say that the numbers are where they should be.

    Not with a symptom, a doubt, or any number at or above `danger.STILL_HIGH`.
    """
    high = any(danger.STILL_HIGH.reached_by(r.systolic, r.diastolic) for r in readings)
    waits = turn.state.in_doubt is not None or turn.state.alarm is not None
    return not (high or waits or told_lately(turn, symptoms))


# --- beside a reading


def beside_first(turn: Turn, reading: Reading, symptoms: Iterable[str]) -> Advice:
    """Beside the first of two: only what cannot wait for the second."""
    found = [f for f in found_in(turn, (reading,), symptoms) if f.row.every is None]
    items = [_at_first(turn, f, reading) for f in found]
    items += _far(turn, reading.at, (reading.systolic, reading.diastolic), "usual.far.first")
    return advice(turn, items)


def beside_occasion(turn: Turn, occasion: Occasion, symptoms: Iterable[str]) -> Advice:
    """Beside the average of an occasion that is over: all that was found."""
    found = found_in(turn, occasion.readings, symptoms)
    pair = shown_pair(occasion.systolic, occasion.diastolic)
    items = [
        *(_item(f, occasion.readings) for f in found if not _said_before(turn, f, occasion)),
        *_irregular(turn, occasion),
        *_rising(turn),
        *_far(turn, occasion.started, (pair.systolic, pair.diastolic), "usual.far"),
    ]
    return advice(turn, items, since=occasion.started, plain=not found)


def beside_earlier(turn: Turn, readings: Sequence[Reading]) -> Advice:
    """Beside readings of an earlier hour: severe ones that are too old to call anybody for
    ask how the person is now; low ones and their pulse count while they are recent.
    """
    severe = [r for r in readings if turn.limits.is_severe(r.systolic, r.diastolic)]
    items = [_old(r) for r in severe[-1:]]
    recent = [r for r in readings if turn.now - r.at <= IN_FORCE]
    if recent:
        found = [f for f in found_in(turn, recent) if f.row.every is None]
        items += [_item(f, recent) for f in found]
    advised = advice(turn, items)
    measure = (line("old.measure"),) if severe else ()
    return replace(advised, later=(*advised.later, *measure))


def beside_symptoms(turn: Turn, symptoms: Iterable[str]) -> Advice:
    """Beside symptoms without a reading: the last hours' readings count with them."""
    since = turn.now - IN_FORCE
    recent = [k.reading for k in turn.patient.readings if k.reading.at >= since]
    if not recent:
        return Advice()
    with_sign = [f for f in found_in(turn, recent, symptoms) if f.row.every is None]
    return advice(turn, [_item(f, recent) for f in with_sign])


def beside_pulse(turn: Turn, pulse: int, symptoms: Iterable[str]) -> Advice:
    """Beside a pulse without a pressure."""
    items = [_item(f, ()) for f in found_in_pulse(turn, pulse, symptoms)]
    return advice(turn, items)


def advice(
    turn: Turn, items: Sequence[Item], *, since: datetime | None = None, plain: bool = True
) -> Advice:
    """Items put together: the strongest heading leads and the weaker ones are left out.

    What is said is noted, and while its signs are asked about, a typed answer counts.

    Args:
        since: an answer "none of these" since then is not asked for again.
        plain: nothing else was found.
    """
    if not items:
        return Advice(plain=plain)
    heading = max(item.heading for item in items)
    said = [item for item in items if item.heading in {heading, Heading.NOTHING}]
    for item in said:
        note_finding(turn, item.finding, item.number)
    today = [item.line for item in said if item.heading >= Heading.TODAY]
    later = [item.line for item in said if item.heading < Heading.TODAY]
    topic, argument = next(((i.topic, i.argument) for i in said if i.topic), ("", ""))
    if topic and _answered_none(turn, since):
        under: tuple[Line, ...] = (line(f"signs.{topic}.if_starts", number=turn.number),)
        buttons: Rows = ()
    else:
        under, buttons = question(turn, topic, argument) if topic else ((), ())
    return Advice(
        heading=heading,
        first=(*today, *under) if today else (),
        later=tuple(later) if today else (*later, *under),
        buttons=buttons,
        plain=False,
    )


def question(turn: Turn, topic: str, argument: str = "") -> tuple[tuple[Line, ...], Rows]:
    """The question about the signs of a topic, with its buttons; `argument` goes with "yes"."""
    if not turn.state.asking or turn.state.asking.startswith(ASKING):
        turn.change(asking=f"{ASKING}{argument or topic}")
    lines = (
        line("signs.ask"),
        line("severe.signs" if topic == OLD else f"signs.{topic}"),
        line("severe.if_sign", number=turn.number),
    )
    return lines, (
        (turn.button("button.no_signs", Do.WATCH_NONE, topic),),
        (turn.button("button.signs", Do.WATCH_YES, argument or topic),),
    )


def note_finding(turn: Turn, finding: Finding, number: str) -> None:
    """Kept for the practitioner; once for an occasion."""
    lately = turn.now - OCCASION_GAP
    if not any(n.code == finding and n.at >= lately for n in _noted(turn)):
        turn.note(NoteKind.FINDING, code=finding, text=number)


def said_now(turn: Turn) -> bool:
    """Whether this very message has been answered with something for today."""
    today = {row.finding for row in watch.ROWS if row.heading is Heading.TODAY}
    return any(note.at == turn.now and note.code in today for note in _noted(turn))


def stop_asking(turn: Turn) -> None:
    """From here on "yes" answers something else; the buttons of the question stay."""
    if turn.state.asking.startswith(ASKING):
        turn.change(asking="")


# --- single findings


def _item(found: Found, readings: Sequence[Reading]) -> Item:
    key, topic = _SAID[found.finding]
    if found.finding is Finding.VERY_FAST and found.number >= watch.FAST_WITH_SIGN_FROM:
        topic = "pulse_dizzy"  # from there on dizziness makes it an emergency
    number = str(found.number)
    if found.row.number is watch.Number.LOWEST_SYSTOLIC:
        lowest = min(readings, key=lambda r: r.systolic)
        number = f"{lowest.systolic}/{lowest.diastolic}"
    return Item(
        finding=found.finding,
        heading=Heading.TODAY if found.row.heading is Heading.CALL else found.row.heading,
        line=line(key, shown=number),
        topic=topic,
        number=number,
    )


def _old(reading: Reading) -> Item:
    """It leads the answer as what is for today does; its question is all that is asked."""
    shown = f"{reading.systolic}/{reading.diastolic}"
    return Item(
        finding=Finding.OLD_SEVERE,
        heading=Heading.TODAY,
        line=line("old.severe", shown=shown),
        topic=OLD,
        argument=f"{OLD}:{shown}",
        number=shown,
    )


def _at_first(turn: Turn, found: Found, reading: Reading) -> Item:
    item = _item(found, (reading,))
    if found.finding is not Finding.VERY_FAST:
        return item
    # It may be the way from the kitchen: asked about now, headed after the second reading.
    resting = line("pulse.fast.rest", shown=item.number)
    return Item(
        finding=found.finding, heading=Heading.NOTHING, line=resting, topic=item.topic,
        number=item.number,
    )  # fmt: skip


def _said_before(turn: Turn, found: Found, occasion: Occasion) -> bool:
    every = found.row.every
    return every is not None and _noted_within(turn, found.finding, every, occasion)


def _noted_within(
    turn: Turn, finding: Finding, span: timedelta, occasion: Occasion | None = None
) -> bool:
    """Whether it was said in this span; this occasion's own word does not count."""
    before = turn.now if occasion is None else occasion.started
    return any(n.code == finding and turn.now - span < n.at < before for n in _noted(turn))


def _noted(turn: Turn) -> Iterator[Note]:
    return (note for note in turn.patient.notes if note.kind is NoteKind.FINDING)


def _answered_none(turn: Turn, since: datetime | None) -> bool:
    return since is not None and any(n.code == NO_SIGNS and n.at >= since for n in _noted(turn))


def _far(turn: Turn, began: datetime, pair: tuple[int, int], key: str) -> list[Item]:
    """Far from the person's own usual: said plainly, measured again, both kept."""
    earlier = [kept.reading for kept in turn.patient.readings]
    own = watch.usual(earlier, began, turn.patient.zone)
    if own is None or not watch.is_far(*pair, own):
        return []
    shown, usual = f"{pair[0]}/{pair[1]}", f"{own[0]}/{own[1]}"
    said = line(key, shown=shown, usual=usual)
    return [Item(finding=Finding.FAR_FROM_USUAL, heading=Heading.NOTHING, line=said, number=shown)]


def _rising(turn: Turn) -> list[Item]:
    readings = [kept.reading for kept in turn.patient.readings]
    rise = watch.rises(readings, turn.profile.target[0], turn.local_now.date(), turn.patient.zone)
    if rise is None or _noted_within(turn, Finding.RISING, NEXT_VISIT_EVERY):
        return []
    said = line("usual.rising", rise=rise, days=watch.RISE_DAYS)
    return [Item(finding=Finding.RISING, heading=Heading.NEXT_VISIT, line=said, number=str(rise))]


# --- the monitor's mark


def readings_marked(turn: Turn, occasion: Occasion) -> int:
    """How many readings of an occasion carry the mark, as far as messages tell.

    A mark told by itself counts for the occasion in whose time it was written; one told with
    two readings counts for both.
    """
    began = occasion.started - OCCASION_GAP
    ended = occasion.readings[-1].at + OCCASION_GAP
    marks = [
        note
        for note in turn.patient.notes
        if note.kind is NoteKind.SYMPTOM and note.code == MARK and began <= note.at <= ended
    ]
    made = [k.made_by for k in turn.patient.readings if k.reading in occasion.readings]
    return sum(max(1, made.count(note.made_by)) for note in marks if note.made_by is not None)


def shows_mark(turn: Turn, symptoms: Iterable[str]) -> bool:
    """Whether a message tells of the mark, and that is news."""
    return MARK in symptoms and not turn.profile.irregular


def _irregular(turn: Turn, occasion: Occasion) -> list[Item]:
    """The mark again and again: a doctor should see a tracing of the heart.

    Not of whoever has an irregular heartbeat that is known.
    """
    if turn.profile.irregular:
        return []
    zone = turn.patient.zone
    marks = [n for n in turn.patient.notes if n.kind is NoteKind.SYMPTOM and n.code == MARK]
    marked = readings_marked(turn, occasion)
    days = [local_day(note.at, zone) for note in marks]
    if not marked or not watch.is_irregular(marked, days, turn.local_now.date()):
        return []
    if _noted_within(turn, Finding.IRREGULAR, NEXT_VISIT_EVERY, occasion):
        return []
    return [
        Item(
            finding=Finding.IRREGULAR,
            heading=Heading.NEXT_VISIT,
            line=line("irregular.next_visit"),
            topic="irregular",
            number=str(marked),
        )
    ]
