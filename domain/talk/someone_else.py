"""What a patient tells of somebody else: "my wife collapsed", "mum has 192/114".

The advice is given at once, whoever it is. A patient may look after others in the same chat.
A sign of danger then counts as that person's until it is denied; of several, and for a
number, it is asked whose it is. Somebody else's reading is never filed by default. The limits
are everybody's (`danger.ADULT`), because nothing is known of who it is. Pressures in mmHg.
"""

from __future__ import annotations

from dataclasses import replace

from domain import danger
from domain.messages import Line, line
from domain.outcome import Rank
from domain.people import Consent, Role, Tie
from domain.talk import quiet_signs, signs, unowned
from domain.talk.alarm_shown import shown_pairs
from domain.talk.keeping import Source
from domain.talk.signs import Pair
from domain.talk.turn import NO_NUMBER, Rows, Turn
from domain.understanding.result import Intent, Possible, Understood


def made_own(understood: Understood, *, by_another: bool = False) -> Understood:
    """A message that is about this patient, whoever wrote it: "she" is the patient.

    Of numbers of both, `by_another` says that the writer's own are not the patient's; danger is
    weighed on them all the same.
    """
    readings = understood.readings or understood.theirs
    possible = understood.possible
    if by_another and understood.theirs:
        readings = understood.theirs
        possible += tuple(
            Possible(systolic=one.systolic, diastolic=one.diastolic, span=one.span)
            for one in understood.readings
        )
    return replace(
        understood,
        readings=readings,
        possible=possible,
        theirs=(),
        signs=(*understood.signs, *understood.others),
        others=(),
        earlier=tuple(replace(sign, theirs=False) for sign in understood.earlier),
    )


def made_anothers(understood: Understood) -> Understood:
    """A message that somebody else wrote: "I" is not the writer of this chat."""
    return replace(
        understood,
        readings=(),
        theirs=(*understood.readings, *understood.theirs),
        signs=(),
        others=(*understood.signs, *understood.others),
        earlier=tuple(replace(sign, theirs=True) for sign in understood.earlier),
    )


def matters(turn: Turn, understood: Understood) -> bool:
    """Whether it tells of danger, or of somebody whom the writer may look after."""
    danger_told = _flags(understood) or _severe(understood) or _passed(understood)
    return bool(danger_told or (_cared_for(turn) and understood.theirs))


def is_told_of(understood: Understood) -> bool:
    """Whether a patient's message says something of somebody else that has to be answered."""
    return bool(_flags(understood) or understood.theirs or _passed(understood))


def is_all(understood: Understood) -> bool:
    """Whether nothing else of the message is left to be answered in words."""
    plain = understood.intent in {Intent.OTHER, Intent.SYMPTOM} or bool(_flags(understood))
    return is_told_of(understood) and plain and not understood.symptoms


def answer(turn: Turn, source: Source, understood: Understood) -> None:
    """The advice first; then whose it is, where the writer looks after somebody here."""
    if not is_told_of(understood):
        return
    flags, high = _flags(understood), _severe(understood)
    cared = _cared_for(turn)
    alone = cared[0] if len(cared) == 1 else None
    if flags and alone is not None:
        # Taken to be theirs until it is denied: their timer calls, and asks the writer.
        theirs = line("contact.danger", name=alone.patient_name, number=NO_NUMBER)
        _await(turn, source, cared, high, flags)
        turn.say(*_advice(turn, understood), theirs, rank=Rank.ALARM)
        return
    lines = _advice(turn, understood)
    rows: Rows = ()
    if cared:
        lines.append(line("owner.ask"))
        rows = unowned.whose(cared, source.message, source.written_at, source.text)
        _await(turn, source, cared, high, flags)
    turn.say(*lines, buttons=rows, rank=Rank.ALARM if flags or high else Rank.REPLY)


def _advice(turn: Turn, understood: Understood) -> list[Line]:
    flags, high, number = _flags(understood), _severe(understood), turn.number
    if flags:
        return [line("other.emergency", number=number)]
    if high:
        return [line("other.severe", shown=shown_pairs(high), number=number)]
    if _passed(understood):
        return [line("other.passed", number=number)]
    return [line("other.not_yours")]


def _await(
    turn: Turn,
    source: Source,
    cared: tuple[Tie, ...],
    high: tuple[Pair, ...],
    flags: tuple[str, ...],
) -> None:
    """Without an answer it counts as theirs; at once where it can only be one person's."""
    persons = tuple(tie.patient for tie in cared)
    fact = unowned.awaited(persons, source.message, high, flags, turn.now)
    if fact is not None:
        turn.fact(replace(fact, due=turn.now) if flags and len(persons) == 1 else fact)


def _cared_for(turn: Turn) -> tuple[Tie, ...]:
    """Whom the writer looks after and may hear of, each once."""
    found = {
        tie.patient: tie
        for tie in turn.situation.ties
        if tie.role is Role.CARER
        and tie.consent is Consent.AGREED
        and tie.patient != turn.patient.id
    }
    return tuple(found.values())


def _flags(understood: Understood) -> tuple[str, ...]:
    """Signs of theirs that cannot wait."""
    codes = dict.fromkeys(sign.code for sign in understood.others)
    severe = bool(_severe(understood))
    if severe:
        # "Mum has 192/114 and chest pain" may tell of either: it counts for both.
        codes.update(dict.fromkeys(understood.symptoms))
    return signs.that_cannot_wait(codes, danger.ADULT, severe=severe)


def _severe(understood: Understood) -> tuple[Pair, ...]:
    pairs: list[Pair] = [(found.systolic, found.diastolic) for found in understood.theirs]
    return tuple(dict.fromkeys(pair for pair in pairs if danger.is_severe(*pair)))


def _passed(understood: Understood) -> bool:
    return any(sign.theirs for sign in quiet_signs.to_be_seen(understood.earlier))
