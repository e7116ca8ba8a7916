"""Which numbers of a chain make a pair, and which follow it as its pulse.

Numbers that dictation or a thumb has spaced out ("1 53 over 89", "one four two") are closed
up when just one pair can result. What a pair is worth is judged elsewhere (`judging.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise, product
from typing import Final

from domain.readings import LIMITS
from domain.understanding.links import MEDIUM, SPACE, STRONG, WEAK, Chain, Link
from domain.understanding.pieces import Piece
from domain.understanding.tokens import Kind

#: Longest run of spaced-out pieces that is tried in every way: "1 4 2 9 1 7 6".
_LONGEST_RUN: Final = 8
_MOST_DIGITS: Final = 3  #: of a pressure or a pulse
#: How many pieces each of two or three numbers takes.
Sizes = tuple[int, ...]
#: For each length of a run, the sizes of the two or three numbers that it may be closed up to.
_SIZES: Final[dict[int, list[Sizes]]] = {
    length: [
        sizes
        for parts in (2, 3)
        for sizes in product(range(1, _MOST_DIGITS + 1), repeat=parts)
        if sum(sizes) == length
    ]
    for length in range(2, _LONGEST_RUN + 1)
}
#: After a line break or "and", a third number above this is rather another reading.
_SURE_PULSE: Final = 129
#: Joined only by "and" or "then", two numbers this near are rather two systolics.
_WEAK_DIFFERENCE: Final = 20
#: kPa of a pressure written without a stroke, and least difference (common practice).
_KPA: Final = (5, 40)
_KPA_DIFFERENCE: Final = 3


@dataclass(slots=True)
class Amount:
    """One number of a pair, made of one piece or of several that were closed up.

    Nothing changes one, nor a pair. They are not frozen, because that makes them three times
    as slow to make.
    """

    digits: str
    fraction: str
    whole: int  #: long runs of digits are only "very large"
    places: tuple[int, ...]
    hidden: tuple[int, ...] = ()

    @property
    def is_whole(self) -> bool:
        return not self.fraction.strip("0")


@dataclass(slots=True)
class Pair:
    """Two numbers that were meant as a pressure, in the order written."""

    first: Amount
    second: Amount
    link: Link
    pulse: Amount | None = None
    #: "high" and "low" when the first is labelled so; None without labels.
    first_label: str | None = None
    #: Other pairs that the same digits may be: (systolic, diastolic) in mmHg.
    alternatives: tuple[tuple[int, int], ...] = ()
    #: Where its numbers and its pulse stand, and the first and the last of these places.
    places: tuple[int, ...] = field(init=False)
    start: int = field(init=False)
    end: int = field(init=False)

    def __post_init__(self) -> None:
        self.places = self.first.places + self.second.places
        if self.pulse is not None:
            self.places += self.pulse.places
        self.start = min(self.first.places[0], self.second.places[0])
        self.end = max(self.places)


def plausible(systolic: int, diastolic: int) -> bool:
    return LIMITS.pressure_problem(systolic, diastolic) is None


def either_way(first: int, second: int) -> bool:
    return plausible(first, second) or plausible(second, first)


def is_pulse(number: int) -> bool:
    return LIMITS.pulse_problem(number) is None


def amount(pieces: Sequence[Piece], places: Sequence[int]) -> Amount:
    """The number that the pieces at `places` make when closed up."""
    if len(places) == 1:
        piece = pieces[places[0]]
        return Amount(piece.digits, piece.fraction, piece.whole, tuple(places), piece.hidden)
    digits = "".join([pieces[p].digits for p in places])
    return Amount(digits, "", int(digits[:9]), tuple(places))


def spaced_number(pieces: Sequence[Piece], place: int) -> Amount:
    """The number at `place`, closed up with those right behind it ("one forty two")."""
    if place + 1 == len(pieces) or not pieces[place + 1].free:
        return amount(pieces, (place,))
    places = [place]
    while (
        len(places) <= _MOST_DIGITS and places[-1] + 1 < len(pieces) and pieces[places[-1] + 1].free
    ):
        places.append(places[-1] + 1)
    closed = amount(pieces, places)
    fits = len(closed.digits) <= _MOST_DIGITS and not any(pieces[p].fraction for p in places)
    return closed if fits else amount(pieces, places[:1])


def _joinable(pieces: Sequence[Piece], places: Sequence[int]) -> bool:
    """Whether pieces may be closed up to one number of at most three digits."""
    if len(places) == 1:
        return True
    if sum(len(pieces[p].digits) for p in places) > _MOST_DIGITS:
        return False
    return not any(pieces[p].fraction or pieces[p].hidden for p in places)


class Grouper:
    """Walks along one chain and gives its pairs; what is left over stays free."""

    def __init__(self, pieces: Sequence[Piece], chain: Chain) -> None:
        self._pieces = pieces
        self._places = chain.places
        self._links = chain.links
        self._run_ends = _run_ends(chain.links)

    def pairs(self) -> Iterator[Pair]:
        at = 0
        while at < len(self._places) - 1:
            end = self._run_end(at)
            stroke_follows = self._link(end) is STRONG
            pair = None
            if stroke_follows and end - at >= 2 and self._is_pair_run(at, at + 1):
                pair = self._spaced(at, end - 1)
            if pair is None and end < len(self._links):
                pair = self._linked(at, end)
            if pair is None and end > at and not stroke_follows:
                pair = self._spaced(at, end)
            if pair is None:
                at = at + 1 if end > at and not stroke_follows else end + 1
                continue
            yield pair
            at = self._places.index(pair.end, at) + 1

    def _link(self, at: int) -> Link | None:
        return self._links[at] if at < len(self._links) else None

    def _run_end(self, at: int) -> int:
        """Last index of the numbers from `at` on that only spaces part."""
        return self._run_ends[at]

    def _whole(self, index: int) -> int:
        return self._pieces[self._places[index]].whole

    def _linked(self, at: int, end: int) -> Pair | None:
        """The pair on both sides of the separator after `end`."""
        link = self._links[end]
        right_end = self._run_end(end + 1)
        stroke_follows = self._link(right_end) is STRONG
        if link is not STRONG:
            # The number before a stroke belongs to the pair of that stroke.
            if (stroke_follows and right_end == end + 1) or self._is_pair_run(at, end):
                return None
        elif stroke_follows and right_end > end + 1:
            right_end -= 1
        return self._linked_ways(at, end, right_end, link)

    def _is_pair_run(self, at: int, end: int) -> bool:
        """Whether two neighbours make a pair, among the last numbers of a run."""
        first = max(at, end - _LONGEST_RUN)
        return any(either_way(self._whole(i), self._whole(i + 1)) for i in range(first, end))

    def _linked_ways(self, at: int, end: int, right_end: int, link: Link) -> Pair | None:
        ways = self._ways(at, end, right_end)
        chosen, others = self._choose(ways)
        if chosen is None:
            kpa = link is MEDIUM and self._may_be_kpa(self._places[end], self._places[end + 1])
            if link is not STRONG and not kpa:
                return None
            chosen = ways[0]
        elif not self._close_enough(chosen, link):
            return None
        pulse = self._pulse_after(end + len(chosen[1].places), link)
        return Pair(chosen[0], chosen[1], link, pulse, alternatives=others)

    def _ways(self, at: int, end: int, right_end: int) -> list[tuple[Amount, Amount]]:
        """The two numbers beside the separator after `end`, closed up in every way."""
        places = self._places
        if at == end and right_end == end + 1:
            return [(self._one(end), self._one(right_end))]
        lefts = self._closed([places[i : end + 1] for i in range(end, max(at, end - 2) - 1, -1)])
        last = min(right_end, end + 3)
        rights = self._closed([places[end + 1 : i + 1] for i in range(end + 1, last + 1)])
        return [(left, right) for left in lefts for right in rights]

    def _one(self, index: int) -> Amount:
        return amount(self._pieces, self._places[index : index + 1])

    def _closed(self, runs: Iterable[tuple[int, ...]]) -> list[Amount]:
        """The numbers that runs of pieces make, each longer than the last, as far as they can."""
        found: list[Amount] = []
        for run in runs:
            if not _joinable(self._pieces, run):
                break
            found.append(amount(self._pieces, run))
        return found

    def _choose(
        self, ways: list[tuple[Amount, Amount]]
    ) -> tuple[tuple[Amount, Amount] | None, tuple[tuple[int, int], ...]]:
        """The way to read the digits, with the other pairs when several can result."""
        if len(ways) == 1:
            (way,) = ways
            return (way if either_way(way[0].whole, way[1].whole) else None), ()
        ways = [way for way in ways if not self._leaves_hundred(way)] or ways
        good = [way for way in ways if plausible(way[0].whole, way[1].whole)]
        if not good:
            return next((w for w in ways if either_way(w[0].whole, w[1].whole)), None), ()
        if len(good) == 1:
            return good[0], ()
        # "one" before a spoken two-digit number is a hundred.
        spoken = [w for w in good if all(self._pieces[p].spoken for p in w[0].places)]
        if spoken:
            return max(spoken, key=lambda w: len(w[0].places)), ()
        if self._is_ordinal_before(good[0][0].places[0]):
            return good[0], ()
        return good[0], tuple((w[0].whole, w[1].whole) for w in good)

    def _leaves_hundred(self, way: tuple[Amount, Amount]) -> bool:
        """Whether a spoken "one" is cut from the two digits that it makes a hundred of."""
        before, second = way[0].places[0] - 1, way[1].places
        return self._is_hundred(before, way[0].places[0]) or (
            len(second) == 1 and self._is_hundred(second[0], second[0] + 1)
        )

    def _is_hundred(self, place: int, after: int) -> bool:
        if place < 0 or after >= len(self._pieces):
            return False
        one, rest = self._pieces[place], self._pieces[after]
        both_spoken = one.free and rest.free and one.spoken and rest.spoken
        return both_spoken and one.digits == "1" and len(rest.digits) == 2

    def _is_ordinal_before(self, place: int) -> bool:
        """Whether the number before `place` counts the readings ("try 2 98/60")."""
        before = place - 2
        if before < 0:
            return any(piece.kind is Kind.LINE for piece in self._pieces)
        ahead = self._pieces[before]
        return ahead.kind is Kind.LINE or "ordinal_noun" in ahead.roles

    def _close_enough(self, way: tuple[Amount, Amount], link: Link) -> bool:
        first, second = way[0].whole, way[1].whole
        if link is WEAK:
            return abs(first - second) >= _WEAK_DIFFERENCE and min(first, second) >= 30
        if link is Link.MARK:
            return plausible(first, second)
        return True

    def _pulse_after(self, index: int, pair_link: Link) -> Amount | None:
        """The third number, when what follows the pair is one."""
        if index >= len(self._links):
            return None
        link = self._links[index]
        start = index + 1
        end = self._run_end(start)
        if self._link(end) is STRONG:
            end -= 1
        rest = self._places[start : min(end + 1, start + _LONGEST_RUN)]
        if not rest:
            return None
        found = amount(self._pieces, rest)
        if len(rest) > 1 and not (len(found.digits) <= 3 and _joinable(self._pieces, rest)):
            if len(rest) % 2 == 0 and either_way(self._whole(start), self._whole(start + 1)):
                return None
            found = amount(self._pieces, rest[:1])
        if not found.is_whole or not is_pulse(found.whole):
            return None
        loose = link in (WEAK, Link.LINE, Link.MARK) and link is not pair_link
        if loose and found.whole > _SURE_PULSE:
            return None
        return None if self._begins_pair(start, end, link) else found

    def _begins_pair(self, start: int, end: int, link: Link) -> bool:
        """Whether the number at `start` rather begins the next pair of a list."""
        after = self._link(end)
        if end > start or after is None or after is SPACE or link is STRONG:
            return False
        pair_follows = plausible(self._whole(start), self._whole(end + 1))
        return pair_follows and (self._link(end + 1) is not STRONG)

    def _spaced(self, at: int, end: int) -> Pair | None:
        """A pair, perhaps with a pulse, among numbers that only spaces part."""
        run = self._places[at : min(end + 1, at + _LONGEST_RUN)]
        typed = [self._pieces[p].whole for p in run]
        if plausible(typed[0], typed[1]) or self._may_be_kpa(run[0], run[1]):
            return self._spaced_pair(run, at)
        ways = [self._closed_up(run, way) for way in self._good_sizes(run)]
        if ways:
            others = tuple(dict.fromkeys((w[0].whole, w[1].whole) for w in ways))
            way = ways[0]
            pulse = way[2] if len(way) > 2 else None
            if pulse is None and len(run) == end - at + 1:
                pulse = self._pulse_after(end, SPACE)
            return Pair(
                way[0], way[1], SPACE, pulse, alternatives=others if len(others) > 1 else ()
            )
        if len(run) <= 3 and either_way(typed[0], typed[1]):
            return self._spaced_pair(run, at)
        return None

    def _good_sizes(self, run: Sequence[int]) -> list[Sizes]:
        """Every way to close the run up to a pair, or to a pair with a pulse."""
        pieces = [self._pieces[p] for p in run]
        digits = [piece.digits for piece in pieces]
        alone = [bool(piece.fraction or piece.hidden) for piece in pieces]
        return [way for way in _SIZES.get(len(run), ()) if _makes_pair(way, digits, alone)]

    def _closed_up(self, run: Sequence[int], way: Sizes) -> tuple[Amount, ...]:
        edges = pairwise((0, *accumulate(way)))
        return tuple(amount(self._pieces, run[start:end]) for start, end in edges)

    def _may_be_kpa(self, first: int, second: int) -> bool:
        """Whether two numbers with decimals may be a pressure in kPa, the systolic first."""
        left, right = self._pieces[first], self._pieces[second]
        if not (left.fraction and right.fraction):
            return False
        return _KPA[0] <= right.value and right.value + _KPA_DIFFERENCE <= left.value <= _KPA[1]

    def _spaced_pair(self, run: Sequence[int], at: int) -> Pair:
        first, second = amount(self._pieces, run[:1]), amount(self._pieces, run[1:2])
        return Pair(first, second, SPACE, self._pulse_after(at + 1, SPACE))


def _run_ends(links: Sequence[Link]) -> list[int]:
    """For each number of a chain, the last one of the run of spaces that it stands in."""
    ends = list(range(len(links) + 1))
    for place in range(len(links) - 1, -1, -1):
        if links[place] is SPACE:
            ends[place] = ends[place + 1]
    return ends


def _makes_pair(way: Sizes, digits: Sequence[str], alone: Sequence[bool]) -> bool:
    """Whether pieces closed up in this way are a pair, perhaps with a pulse.

    Asked of the digits alone, before any value is made of them: most ways make no pair. A
    piece that is `alone`, with decimals or unreadable digits, is not closed up with others.
    """
    numbers, at = [], 0
    for size in way:
        closed = "".join(digits[at : at + size])
        if size > 1 and (len(closed) > _MOST_DIGITS or any(alone[at : at + size])):
            return False
        numbers.append(int(closed[:9]))
        at += size
    return plausible(numbers[0], numbers[1]) and (len(numbers) == 2 or is_pulse(numbers[2]))
