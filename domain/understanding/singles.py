"""Numbers that have no partner: half a pair, a change of one number, or nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from domain.understanding.distractors import is_counted
from domain.understanding.grouping import Amount, spaced_number
from domain.understanding.labels import HIGH, LOW, label_of
from domain.understanding.links import MEDIUM, SPACE, chains, is_stroke
from domain.understanding.pieces import ENDS, Claim, Piece
from domain.understanding.result import Change
from domain.understanding.tokens import Kind
from domain.understanding.whose import OWN, Judge

#: A number without a label is half a pressure only between these, mmHg (common practice).
_LONE_RANGE: Final = (60, 330)
_LONE_ALONE: Final = 30  #: least, when the message says plainly that it is a pressure
#: Roles of words that may come after a lone pressure; another word would be what is counted.
_FOLLOWERS: Final = frozenset(
    {"neutral", "time", "time_now", "clause_word", "connector", "pulse", "pulse_sure", "mmhg"}
)
_NOT_STATED: Final = frozenset({"pulse_sure", "pulse", "mistyped"})
_NOT_CHANGED: Final = _NOT_STATED | {"unit"}  #: "change my dose from 20 to 40"
_SENTENCE_REACH: Final = 60  #: pieces looked at on each side, so that long texts stay linear
_LEAST_HALF: Final = 20  #: beside a whole pair less than this is no half of another
_FEW_WORDS: Final = 4
_MOST_SPOKEN: Final = 3  #: pieces of one number that is spoken in parts
_LEAST_SPOKEN: Final = 20  #: "all down the one side" is no diastolic of 1
_BODY: Final = (34, 42)  #: degrees Celsius of a body (common practice)


#: Without a word of one of these roles no number is named as wrong …
WRONG_ROLES: Final = frozenset({"mistyped", "negation", "change_verb"})
#: … and none replaces another by the words before it.
CORRECTING_ROLES: Final = frozenset({"replaces_sure", "change_verb", "is_really", "read_verb"})


@dataclass(frozen=True, slots=True)
class Single:
    """One number meant as a pressure. `side` is HIGH, LOW or None when it was not said."""

    place: int
    side: str | None
    number: int  #: mmHg


def claim_wrong(pieces: list[Piece]) -> int | None:
    """Claims numbers that "not" stands before ("188 not 138"); returns the last of them.

    "147 not 174 over 91" loses its wrong number, so that 147 meets its partner.
    """
    named = _mistyped(pieces) or _changed(pieces)
    if named is not None:
        return named
    if not any("negation" in piece.roles for piece in pieces):
        return None
    wrong: int | None = None
    has_rival: bool | None = None
    place = 1
    while place < len(pieces):
        piece = pieces[place]
        if not (piece.free and _negated(pieces, place) and _may_be_wrong(pieces, place)):
            place += 1
            continue
        if not _begins_pair(pieces, place):
            if has_rival is None:
                has_rival = _has_rival(pieces)
            if not has_rival:
                place += 1
                continue
            run = spaced_number(pieces, place)
            wrong = run.whole
            for part in run.places:
                pieces[part].take(Claim.WRONG)
        elif _number_just_before(pieces, place):
            wrong = piece.whole
            del pieces[_negation_place(pieces, place) : place + 1]
            continue
        place += 1
    return wrong


def _mistyped(pieces: Sequence[Piece]) -> int | None:
    """Claims a lone number that is only what was typed: "the top is 157, I typed 175"."""
    if not any("mistyped" in piece.roles for piece in pieces):
        return None
    alone = list(lone_numbers(pieces))
    for place in alone:
        if not (place and "mistyped" in pieces[place - 1].roles):
            continue
        typed = spaced_number(pieces, place)
        for other in alone:
            right = spaced_number(pieces, other)
            same_half = other != place and len(right.digits) == len(typed.digits)
            if same_half and _is_stated(pieces, right.places):
                for part in typed.places:
                    pieces[part].take(Claim.WRONG)
                return typed.whole
    return None


def _changed(pieces: Sequence[Piece]) -> int | None:
    """Claims the number that is to be changed into another: "change 162 to 126"."""
    for place in list(lone_numbers(pieces)):
        before = pieces[max(0, place - 5) : place]
        roles = {role for piece in before for role in piece.roles}
        if "change_verb" not in roles or not _NOT_CHANGED.isdisjoint(roles):
            continue
        if "thing" in roles and not any(label_of(piece) for piece in before):
            continue  # "change my weight 80 to 79", but "change the top number 162 to 126"
        run = spaced_number(pieces, place)
        after = pieces[run.places[-1] + 1 :][:2]
        if len(after) == 2 and "change_into" in after[0].roles and after[1].free:
            for part in run.places:
                pieces[part].take(Claim.WRONG)
            return run.whole
    return None


def _is_stated(pieces: Sequence[Piece], places: Sequence[int]) -> bool:
    """Whether the number is said to be so ("the top is 157", "157 is the top one"), no pulse."""
    before, after = pieces[max(0, places[0] - 3) : places[0]], pieces[places[-1] + 1 :][:4]
    if not _NOT_STATED.isdisjoint(role for piece in before for role in piece.roles):
        return False
    return any("is_really" in p.roles or label_of(p) is not None for p in (*before, *after))


def _may_be_wrong(pieces: Sequence[Piece], place: int) -> bool:
    """Whether the number may be one half of a pressure ("not 100 %" and "not one" are not)."""
    run = spaced_number(pieces, place)
    counted = is_counted(pieces, run.places[-1])
    return len(run.digits) in (2, 3) and run.whole >= 20 and not counted


def _has_rival(pieces: Sequence[Piece]) -> bool:
    """Whether a number stands alone that is not itself denied: it takes the wrong one's place."""
    return any(not _negated(pieces, place) for place in lone_numbers(pieces))


def lone_numbers(pieces: Sequence[Piece]) -> Iterator[int]:
    """Places of free numbers of two or three digits that no stroke ties to another."""
    for place, piece in enumerate(pieces):
        first_of_run = not (place and pieces[place - 1].free)
        if (
            piece.free
            and first_of_run
            and _may_be_wrong(pieces, place)
            and not _begins_pair(pieces, place)
            and not (place and is_stroke(pieces[place - 1]))
        ):
            yield place


def _negation_place(pieces: Sequence[Piece], place: int) -> int:
    at = place - 1
    while "negation" not in pieces[at].roles:
        at -= 1
    return at - 1 if at and pieces[at - 1].text == "," else at


def _negated(pieces: Sequence[Piece], place: int) -> bool:
    for back in range(place - 1, max(-1, place - 4), -1):
        if "negation" in pieces[back].roles:
            return True
        if "negation_link" not in pieces[back].roles and pieces[back].text not in ('"', "'"):
            return False
    return False


def _begins_pair(pieces: Sequence[Piece], place: int) -> bool:
    after = pieces[place + 1] if place + 1 < len(pieces) else None
    return (
        after is not None
        and (is_stroke(after) or ("over" in after.roles and "over_or_by" not in after.roles))
        and place + 2 < len(pieces)
        and pieces[place + 2].is_number
    )


def _number_just_before(pieces: Sequence[Piece], place: int) -> bool:
    """Whether "N not M over D": N is a whole number with no partner of its own."""
    at = _negation_place(pieces, place) - 1
    if at < 0 or not pieces[at].free or len(pieces[at].digits) < 2:
        return False
    before = pieces[at - 1] if at else None
    return before is None or not (is_stroke(before) or "over" in before.roles)


def singles(
    pieces: Sequence[Piece], labelled: Mapping[int, str], judge: Judge, *, have_pair: bool
) -> list[Single]:
    """The free numbers that were meant as one half of a reading of the writer's own."""
    found: list[Single] = []
    free = [place for place, piece in enumerate(pieces) if piece.free]
    if not free:
        return found
    words = sum(p.is_word for p in pieces)
    done = -1
    for place in free:
        if pieces[place].hidden or place <= done:
            continue
        run = spaced_number(pieces, place)
        done = run.places[-1]
        side = labelled.get(place)
        if _is_no_half(pieces, run):
            continue
        meant = (
            (side is not None and not (have_pair and run.whole < _LEAST_HALF))
            or _dangles(pieces, place)
            or (not have_pair and _is_meant(pieces, run, words, len(free)))
            or (have_pair and _next_reading(pieces, place))
        )
        if meant and judge.standing(place, place) is OWN:
            found.append(Single(place, side, run.whole))
    return found


def _is_no_half(pieces: Sequence[Piece], run: Amount) -> bool:
    """Whether a number is too small for any pressure, or a temperature ("T 36.8")."""
    after, piece = run.places[-1] + 1, pieces[run.places[0]]
    if piece.spoken and run.whole < _LEAST_SPOKEN and not piece.fraction:
        return True
    kpa = after < len(pieces) and "kpa" in pieces[after].roles
    return bool(piece.fraction) and not kpa and _BODY[0] <= piece.whole <= _BODY[1]


def _dangles(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a stroke stands beside the number with nothing readable behind it."""
    if pieces[place].whole < 20 or len(pieces[place].digits) > 3:
        return False
    after = pieces[place + 1] if place + 1 < len(pieces) else None
    if after is not None and (is_stroke(after) or "over" in after.roles):
        follower = pieces[place + 2] if place + 2 < len(pieces) else None
        if follower is None or "unreadable" in follower.roles:
            return True
        if is_stroke(after) or "over_soft" not in after.roles:
            return follower.kind is not Kind.NUMBER and (
                not follower.is_word or not is_stroke(after)
            )
        return follower.text in ("?", "-", "_", "…")
    before = pieces[place - 1] if place else None
    if before is None or not (is_stroke(before) or "over_only" in before.roles):
        return False
    ahead = pieces[place - 2] if place > 1 else None
    return ahead is None or ahead.text in ("?", "-", "_", "*", "…") or "unreadable" in ahead.roles


def _is_meant(pieces: Sequence[Piece], run: Amount, words: int, numbers: int) -> bool:
    """Whether a number without a label is a pressure by its size and the words about it."""
    place, end = run.places[0], run.places[-1]
    piece = pieces[place]
    before = pieces[place - 1] if place else None
    after = pieces[end + 1] if end + 1 < len(pieces) else None
    if piece.fraction:
        return after is not None and "kpa" in after.roles
    if piece.slipped or len(run.digits) not in (2, 3):
        return False
    if before is not None and "age_before" in before.roles and len(run.digits) == 2:
        return False
    low, high = _LONE_RANGE
    ends = after is None or not after.is_word or not _FOLLOWERS.isdisjoint(after.roles)
    bare = words <= 1 and numbers == len(run.places)
    if bare:
        return ends and _LONE_ALONE <= run.whole <= high
    if not low <= run.whole <= high:
        return False
    if len(run.digits) == 2:
        return _speaks_just_before(pieces, place) and _speaks_of_pressure(pieces, place)
    if _speaks_of_pressure(pieces, place, "pressure_sure"):
        return True
    return ends and (words <= _FEW_WORDS or place == 0 or _speaks_of_pressure(pieces, place))


def _speaks_of_pressure(pieces: Sequence[Piece], place: int, role: str = "pressure_word") -> bool:
    begin, least = place, max(0, place - _SENTENCE_REACH)
    while begin > least and pieces[begin - 1].text not in ENDS:
        begin -= 1
    end, most = place, min(len(pieces), place + _SENTENCE_REACH)
    while end < most and pieces[end].text not in ENDS:
        end += 1
    return any(role in p.roles for p in pieces[begin:end])


def _speaks_just_before(pieces: Sequence[Piece], place: int) -> bool:
    return any(
        "pressure_word" in p.roles and "too_common" not in p.roles
        for p in pieces[max(0, place - 4) : place]
    )


def _next_reading(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a three-digit number after a pair begins the next one: "second one only 138"."""
    piece = pieces[place]
    if len(piece.digits) != 3 or not 100 <= piece.whole <= 260 or piece.fraction:
        return False
    return any("next_one" in p.roles for p in pieces[max(0, place - 5) : place])


def impossible_pair(pieces: Sequence[Piece]) -> tuple[int, int] | None:
    """Places of two free numbers, alone in their chain, that look like a pair but cannot be."""
    for chain in chains(pieces):
        if len(chain.places) != 2 or chain.links[0] not in (SPACE, MEDIUM):
            continue
        first, second = (pieces[p] for p in chain.places)
        sizes = sorted((first.whole, second.whole))
        if first.fraction or second.fraction or not (sizes[0] >= 30 and 100 <= sizes[1] <= 9999):
            continue
        return chain.places[0], chain.places[1]
    return None


def change_of(
    found: Sequence[Single], pieces: Sequence[Piece], pulses: Sequence[Amount], wrong: int | None
) -> Change | None:
    """The single numbers as a change of the last reading."""
    high = next((s.number for s in found if s.side == HIGH), None)
    low = next((s.number for s in found if s.side == LOW), None)
    loose = [s for s in found if s.side is None]
    pulse = pulses[-1].whole if pulses and not found else None
    if high is None and low is None and not loose and pulse is None:
        return None
    if len(loose) > 1 and wrong is None:
        wrong = loose[0].number
    return Change(
        systolic=high,
        diastolic=low,
        pulse=pulse,
        loose=loose[-1].number if loose else None,
        wrong=wrong,
    )


def corrected(pieces: Sequence[Piece], place: int) -> bool:
    """Whether words just before the number say that it replaces another ("should be 77")."""
    if _reads_as(pieces, place):
        return True
    for back in range(place - 1, max(-1, place - 5), -1):
        piece = pieces[back]
        if "replaces_sure" in piece.roles or "change_verb" in piece.roles:
            return True
        passable = "connector" in piece.roles or piece.text in (",", ":")
        if not passable and label_of(piece) is None:
            return False
    return False


def _reads_as(pieces: Sequence[Piece], place: int) -> bool:
    """ "read 147 as 127", "for 147 read 127": the number at `place` ends such words."""
    before, ahead = place - 1, place - 2
    if ahead > 1 and pieces[ahead].text == ",":
        ahead -= 1
    if ahead < 1 or not pieces[ahead].is_number:
        return False
    lead = ahead
    while lead > max(0, ahead - _MOST_SPOKEN) and pieces[lead - 1].is_number:
        lead -= 1
    outer = pieces[lead - 1].roles if lead else frozenset()
    between = pieces[before].roles
    told = "is_really" in between and "told_before" in outer  # "I typed 314, it is 134"
    return (
        told
        or ("read_as" in between and "read_verb" in outer)
        or ("read_verb" in between and "read_as" in outer)
    )


def number_before(pieces: Sequence[Piece], place: int) -> int | None:
    """The number of two or three digits that stands shortly before the one at `place`."""
    for back in range(place - 1, max(-1, place - 6), -1):
        if pieces[back].free and len(pieces[back].digits) in (2, 3):
            return pieces[back].whole
    return None
