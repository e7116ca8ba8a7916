"""Words that say which number is which: systolic, diastolic or pulse, before or after it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from domain.understanding.grouping import Amount, Pair, amount, is_pulse, plausible, spaced_number
from domain.understanding.links import STRONG, link_between
from domain.understanding.pieces import Claim, Piece
from domain.understanding.tokens import Kind

HIGH: Final = "high"
LOW: Final = "low"
#: Roles of the words that are a label …
LABELS: Final = frozenset({"high_sure", "high", "low_sure", "low"})
#: … and of those that may make a number a pulse.
PULSE_ROLES: Final = frozenset({"pulse_sure", "pulse", "rate_tail"})

#: Pieces that may stand between a label and its number; fewer for words of many meanings.
_REACH: Final = 7
_SOFT_REACH: Final = 3
_PASSABLE: Final = frozenset(":=-–—,()\"'[]*_~#→>.")


@dataclass(frozen=True, slots=True)
class Labels:
    """Labelled pairs, and labelled numbers whose partner is missing."""

    pairs: tuple[Pair, ...] = ()
    single: Mapping[int, str] = field(default_factory=dict)  #: place of a free number -> HIGH, LOW


def label_of(piece: Piece) -> str | None:
    if LABELS.isdisjoint(piece.roles):
        return None
    if "high_sure" in piece.roles or "high" in piece.roles:
        return HIGH
    return LOW


def claim_pulses(pieces: Sequence[Piece]) -> list[Amount]:
    """Claims the numbers that are labelled as pulse; returns them."""
    claimed: list[Amount] = []
    for place, piece in enumerate(pieces):
        if "pulse_sure" in piece.roles or "pulse" in piece.roles:
            number = _pulse_at(pieces, place)
            if number is not None:
                for part in number.places:
                    pieces[part].take(Claim.PULSE)
                claimed.append(number)
        elif "rate_tail" in piece.roles and _is_per_minute(pieces, place):
            pieces[place - 2].take(Claim.PULSE)
            claimed.append(amount(pieces, (place - 2,)))
    return claimed


def _is_per_minute(pieces: Sequence[Piece], place: int) -> bool:
    """Whether "/" and a number stand before "min": "66/min"."""
    if place < 2 or pieces[place - 1].text != "/" or not pieces[place - 2].free:
        return False
    if label_of(pieces[place]) and _number_after(pieces, place, _SOFT_REACH) is not None:
        return False  # "max 142 / min 91"
    return is_pulse(pieces[place - 2].whole) and not _has_stroke_before(pieces, place - 2)


def _pulse_at(pieces: Sequence[Piece], label: int) -> Amount | None:
    sure = "pulse_sure" in pieces[label].roles
    # "68 bpm" and "68 beats, ..." : a number that touches or just precedes, not half of a pair.
    before = label - 1
    while before >= 0 and pieces[before].text in ("(", '"', "'", "-", ",") and label - before < 3:
        before -= 1
    after = _number_after(pieces, label, _REACH if sure else _SOFT_REACH + 1)
    if after is not None:
        number = spaced_number(pieces, after)
        return number if is_pulse(number.whole) else None
    if (
        before >= 0
        and pieces[before].free
        and (sure or pieces[label].kind is Kind.MARK)
        and is_pulse(pieces[before].whole)
        and not _has_stroke_before(pieces, before)
    ):
        return amount(pieces, _with_spoken_hundred(pieces, before))
    return None


def _with_spoken_hundred(pieces: Sequence[Piece], place: int) -> tuple[int, ...]:
    """The places of a spoken number and of the "one" before it that is its hundred."""
    one, rest = pieces[place - 1] if place else pieces[place], pieces[place]
    spoken = one.free and one.spoken and rest.spoken
    hundred = spoken and one.digits == "1" and len(rest.digits) == 2
    return (place - 1, place) if hundred else (place,)


def _has_stroke_before(pieces: Sequence[Piece], place: int) -> bool:
    if place < 2 or not pieces[place - 2].is_number:
        return False
    return link_between(pieces, place - 2, place) is STRONG


def _number_after(pieces: Sequence[Piece], label: int, reach: int) -> int | None:
    """The free number that the label at `label` stands before, no half of a stroke pair."""
    for place in range(label + 1, min(len(pieces), label + 1 + reach)):
        piece = pieces[place]
        if piece.is_number:
            if not piece.free or piece.fraction:
                return None
            nearby = next(
                (p for p in range(place + 1, min(len(pieces), place + 4)) if pieces[p].free), None
            )
            if nearby and link_between(pieces, place, nearby) is STRONG:
                return None
            return place
        headed = piece.kind is Kind.LINE and _heads_line(pieces, place - 1)
        if not headed and (not _passable(piece) or label_of(piece)):
            return None
    return None


def _heads_line(pieces: Sequence[Piece], place: int) -> bool:
    """Whether the label at or before `place` stands alone on its line, as on the display."""
    while place > 0 and pieces[place].text in _PASSABLE:
        place -= 1
    if place < 0 or not pieces[place].is_word:
        return False
    return place == 0 or pieces[place - 1].kind is Kind.LINE


def _passable(piece: Piece) -> bool:
    if piece.is_word:
        return (
            "connector" in piece.roles
            or "pulse" in piece.roles
            or "pulse_sure" in piece.roles
            or "rate_tail" in piece.roles
        )
    return piece.text in _PASSABLE or piece.text > "\u2190"


def find_labels(pieces: Sequence[Piece]) -> Labels:
    """Pairs whose numbers are labelled, in the order written, and lone labelled numbers."""
    labelled = _assign(pieces)
    pairs: list[Pair] = []
    waiting: int | None = None
    for place in sorted(labelled):
        if waiting is not None and labelled[waiting] != labelled[place]:
            pairs.append(_labelled_pair(pieces, waiting, place, labelled[waiting]))
            waiting = None
        else:
            waiting = place
    paired = {p for pair in pairs for p in pair.places}
    for place in sorted(labelled):
        if place not in paired:
            pair = _with_unlabelled(pieces, place, labelled, paired)
            if pair is not None:
                pairs.append(pair)
                paired.update(pair.places)
    single = {p: label for p, label in labelled.items() if p not in paired}
    return Labels(tuple(pairs), single)


def _with_unlabelled(
    pieces: Sequence[Piece], place: int, labelled: dict[int, str], paired: set[int]
) -> Pair | None:
    """The pair of a labelled number and a near one without label ("142 and the bottom 91")."""
    label = labelled[place]
    for step in (-1, 1):
        other = _near_free(pieces, place, step)
        if other is None or other in labelled or other in paired:
            continue
        first, second = (other, place) if step < 0 else (place, other)
        first_label = label if step > 0 else (LOW if label == HIGH else HIGH)
        pair = _labelled_pair(pieces, first, second, first_label)
        high, low = (pair.first, pair.second) if first_label == HIGH else (pair.second, pair.first)
        if plausible(high.whole, low.whole):
            return pair
    return None


def _near_free(pieces: Sequence[Piece], place: int, step: int) -> int | None:
    """A free number with only labels and joining words between; none that a stroke ties."""
    at = (_last_of(pieces, place) if step > 0 else place) + step
    for _ in range(_REACH):
        if not 0 <= at < len(pieces):
            return None
        piece = pieces[at]
        if piece.is_number:
            if not piece.free or len(piece.digits) > 3 or piece.fraction:
                return None
            while step < 0 and at and pieces[at - 1].free:
                at -= 1
            return at if label_of(piece) is None else None
        if "replaces_sure" in piece.roles:
            return None  # one number in place of another, not two of a pair
        if not (
            _passable(piece)
            or label_of(piece)
            or ("pair_joiner" in piece.roles or piece.text in (",", "&"))
        ):
            return None
        at += step
    return None


def _labelled_pair(pieces: Sequence[Piece], first: int, second: int, label: str) -> Pair:
    return Pair(_amount_at(pieces, first), _amount_at(pieces, second), STRONG, first_label=label)


def _amount_at(pieces: Sequence[Piece], place: int) -> Amount:
    """The labelled number, closed up with short ones that follow ("top one forty two")."""
    places = [place]
    while (
        places[-1] + 1 < len(pieces)
        and pieces[places[-1] + 1].free
        and sum(len(pieces[p].digits) for p in places) + len(pieces[places[-1] + 1].digits) <= 3
        and not pieces[places[-1] + 1].fraction
        and not pieces[place].fraction
    ):
        places.append(places[-1] + 1)
    return amount(pieces, places)


def _assign(pieces: Sequence[Piece]) -> dict[int, str]:
    """Which free numbers carry which label. Each label is used once."""
    used: set[int] = set()
    found: dict[int, str] = {}
    numbers = [p for p, piece in enumerate(pieces) if piece.free]
    heads = [p for p in numbers if not (p and pieces[p - 1].free)]
    for index, place in enumerate(heads):
        if place in found:
            continue
        before = _labels_before(pieces, place)
        follower = heads[index + 1] if index + 1 < len(heads) else None
        if len(before) == 2 and follower is not None and not used & set(before):
            used.update(before)
            found[place] = _sure_label(pieces[before[0]])
            found[follower] = _sure_label(pieces[before[1]])
            continue
        label = next((b for b in before if b not in used), None)
        if label is None:
            label = _label_after(pieces, place, follower)
        if label is not None and label not in used:
            used.add(label)
            found[place] = _sure_label(pieces[label])
    return _without_half_pairs(pieces, heads, found)


def _sure_label(piece: Piece) -> str:
    label = label_of(piece)
    assert label is not None
    return label


def _labels_before(pieces: Sequence[Piece], place: int) -> list[int]:
    """Labels that stand before the number, first one first; two when both come together."""
    found: list[int] = []
    for back in range(place - 1, max(-1, place - 1 - _REACH), -1):
        piece = pieces[back]
        if label_of(piece):
            soft = not ("high_sure" in piece.roles or "low_sure" in piece.roles)
            if soft and place - back > _SOFT_REACH and not found:
                break
            if found and label_of(pieces[found[0]]) == label_of(piece):
                break
            found.insert(0, back)
            if len(found) == 2:
                break
        elif found:
            if not (
                "over" in piece.roles
                or ("label_joiner" in piece.roles or piece.text in ("/", "&", ",", "-", "|", "\\"))
            ):
                break
        elif piece.kind is Kind.LINE and _heads_line(pieces, back - 1):
            continue
        elif piece.kind is Kind.LINE or not _passable(piece):
            if piece.text == "." and back and label_of(pieces[back - 1]):
                continue
            break
    return found


def _label_after(pieces: Sequence[Piece], place: int, follower: int | None) -> int | None:
    """The label that stands after the number, unless it is rather the next number's."""
    parted = False
    end = place
    while end + 1 < len(pieces) and pieces[end + 1].free:
        end += 1
    for ahead in range(end + 1, min(len(pieces), end + 6)):
        piece = pieces[ahead]
        if label_of(piece):
            if follower is None or ahead not in _labels_before(pieces, follower):
                return None if parted and "single_letter" in piece.roles else ahead
            closes = _label_after(pieces, follower, None)
            return ahead if not parted and closes is not None and closes != ahead else None
        if "label_parter" in piece.roles or piece.text in (",", ";", "\n", "."):
            parted = True
            if piece.text in (";", "\n", "."):
                return None
        elif not (
            "connector_after" in piece.roles
            or "mmhg" in piece.roles
            or piece.text in ("(", '"', "'", "-", "=", "[")
        ):
            return None
    return None


def _without_half_pairs(
    pieces: Sequence[Piece], numbers: list[int], found: dict[int, str]
) -> dict[int, str]:
    """Without labels of one half of a stroke pair whose other half has none ("high 162/94")."""
    kept = dict(found)
    for left, right in itertools.pairwise(numbers):
        if link_between(pieces, _last_of(pieces, left), right) is STRONG and (
            (left in found) != (right in found) or found.get(left) == found.get(right)
        ):
            kept.pop(left, None)
            kept.pop(right, None)
    return kept


def _last_of(pieces: Sequence[Piece], place: int) -> int:
    while place + 1 < len(pieces) and pieces[place + 1].free:
        place += 1
    return place
