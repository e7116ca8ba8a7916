"""What a message says in numbers: readings, their doubts and their times.

The door of this half is `read_numbers`. Symptoms, negation of symptoms and intents are
found elsewhere. Pressures in mmHg, pulse in beats per minute, moments with the offset of
`now`, spans as half-open ranges of the text as it was sent.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Mapping, Set
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from domain.understanding import centimetres, kilopascals
from domain.understanding.alternatives import (
    OFFERING_ROLES,
    OFFERING_SIGNS,
    REPLACING_ROLES,
    are_alternatives,
    number_instead,
    only_maybe,
    replaces,
    was_mistyped,
)
from domain.understanding.attaching import times_of
from domain.understanding.distractors import claim_others
from domain.understanding.grouping import Grouper, Pair, plausible, spaced_number
from domain.understanding.judging import UNHEARD_ROLES, Verdict, judge
from domain.understanding.labels import LABELS, LOW, PULSE_ROLES, Labels, claim_pulses, find_labels
from domain.understanding.lexicon_data import ENGLISH
from domain.understanding.links import chains
from domain.understanding.mentions import find_mentions
from domain.understanding.numbers import to_pieces
from domain.understanding.pieces import Claim, Piece
from domain.understanding.result import Change, Doubt, Found, Possible, Span
from domain.understanding.singles import (
    CORRECTING_ROLES,
    WRONG_ROLES,
    Single,
    change_of,
    claim_wrong,
    corrected,
    impossible_pair,
    lone_numbers,
    number_before,
    singles,
)
from domain.understanding.tokens import Kind, Token
from domain.understanding.vocabulary import Vocabulary, vocabulary
from domain.understanding.whose import AIMED, OTHERS, OWN, WRONG, Judge, Standing


@dataclass(slots=True, kw_only=True)
class NumbersRead:
    """All that the numbers of one message say. Tuples are in the order of the text.

    Whether the message corrects an earlier one is not decided here, because words without
    numbers decide it too. Take the parts as they are for a new reading, and
    `for_correction()` when the message is found to be a correction. Nothing changes one; it is
    not frozen, because that makes it three times as slow to make.
    """

    readings: tuple[Found, ...] = ()  #: the writer's own, plausible, none in keeping doubt
    doubts: frozenset[Doubt] = frozenset()
    possible: tuple[Possible, ...] = ()  #: every meaning of every doubtful piece, at its worst
    #: The single numbers of this message as a change of the last reading ("bottom was 81",
    #: "should have been 77"); None when there are none or a whole pair is given.
    change: Change | None = None
    #: The message was meant to give a reading of the writer's own: one is reported, or one
    #: is in doubt. False for targets, other people's, questions, pulse alone.
    mentions_reading: bool = False
    #: A pair was left out because it is a target, a limit, or only asked about.
    reading_is_question_or_target: bool = False
    #: A pair was left out because it is somebody else's.
    someone_elses: bool = False
    theirs: tuple[Found, ...] = ()  #: those pairs, plausible and in whole mmHg
    #: The message itself says that a number or pair was wrong and gives another ("188 not
    #: 138", "should have been 77", "I meant 142/91", "instead of 140/90"). A strong hint of
    #: a correction; words alone ("small slip: …") are left to the intents.
    replaces: bool = False
    #: Pairs of the message that it takes back itself ("200 by 100 sorry 120 by 80").
    taken_back: tuple[tuple[int, int], ...] = ()
    pulses: tuple[int, ...] = ()  #: the writer's own of the last hours, given without a pair
    #: Where pairs, half pairs and pulses stand, also those of others or aimed at; no times.
    spans: tuple[Span, ...] = ()

    def for_correction(self) -> NumbersRead:
        """The same read as a correction: a single number is a change, not an incomplete pair."""
        if self.change is None:
            return self
        kept = self.doubts - {Doubt.INCOMPLETE}
        return replace(self, doubts=kept, mentions_reading=bool(self.readings or kept))


_NOTHING: Final = NumbersRead()
#: A pulse without a pressure says nothing of now when it is older.
_LATELY: Final = timedelta(hours=12)
#: Bound here, because a look-up in the enumeration takes longer than a comparison.
_TYPED: Final = Kind.NUMBER
_PRESSURE: Final = Claim.PRESSURE


def read_numbers(
    text: str, toks: list[Token], now: datetime, language: str = ENGLISH
) -> NumbersRead:
    """Find the readings of a message.

    Args:
        text: as it was sent.
        toks: `tokens(text)`.
        now: the moment it was sent, aware, with the offset of the writer's local time.
        language: whose words are read, one of those with a lexicon.
    """
    words = vocabulary(language)
    if _TYPED not in [token.kind for token in toks] and words.number_words.isdisjoint(
        [token.text for token in toks]
    ):
        return _NOTHING
    pieces = to_pieces(toks, words)
    if not any(piece.is_number for piece in pieces):
        return _NOTHING
    return _Reader(text, pieces, now, words).read()


class _Reader:
    """Reads one message: claims what is no pressure, pairs the rest, judges, gives times."""

    def __init__(self, text: str, pieces: list[Piece], now: datetime, words: Vocabulary) -> None:
        self._words = words
        self._pieces = pieces
        self._now = now
        #: Of all words. What needs a word of certain roles is not even looked for where the
        #: message has none: that is so for most of it in most messages.
        self._roles = set[str]().union(*[piece.roles for piece in pieces])
        # First, because it may take a wrong number out and so move the places of the rest.
        self._wrong = claim_wrong(pieces) if self._has(WRONG_ROLES) else None
        self._mentions = find_mentions(pieces, words)
        self._pulses = claim_pulses(pieces) if self._has(PULSE_ROLES) else []
        claim_others(pieces, words, self._roles)
        self._judge = Judge(text, pieces, self._roles)
        self._labelled: Mapping[int, str] = {}
        self._doubts: set[Doubt] = set()
        self._possible: list[Possible] = []
        self._spans: list[Span] = []
        self._standings: set[Standing] = set()
        self._replaces = self._wrong is not None
        self._taken_back: list[Pair] = []
        self._theirs: list[Pair] = []

    def _has(self, roles: Set[str]) -> bool:
        """Whether some word of the message has one of the roles."""
        return not self._roles.isdisjoint(roles)

    def read(self) -> NumbersRead:
        pairs = self._own_pairs(self._all_pairs())
        judged = self._judged(pairs)
        change = self._read_singles(have_pair=bool(pairs))
        readings = self._with_times_and_pulses(judged)
        return NumbersRead(
            readings=tuple(readings),
            doubts=frozenset(self._doubts),
            possible=tuple(self._possible),
            change=None if readings else change,
            mentions_reading=bool(readings or self._doubts),
            reading_is_question_or_target=AIMED in self._standings,
            someone_elses=OTHERS in self._standings,
            theirs=self._read_theirs() if self._theirs else (),
            replaces=self._replaces,
            taken_back=tuple((p.first.whole, p.second.whole) for p in self._taken_back),
            pulses=self._lone_pulses() if self._pulses and not judged else (),
            spans=tuple(sorted(self._spans)),
        )

    def _read_theirs(self) -> tuple[Found, ...]:
        """Somebody else's pairs, for the chat of who looks after them."""
        sure = [
            pair
            for pair in self._theirs
            if pair.first.is_whole
            and pair.second.is_whole
            and plausible(pair.first.whole, pair.second.whole)
        ]
        ranges = [(pair.start, pair.end) for pair in sure]
        moments = times_of(self._pieces, ranges, self._mentions, self._now)
        return tuple(
            Found(
                systolic=pair.first.whole,
                diastolic=pair.second.whole,
                pulse=pair.pulse.whole if pair.pulse else None,
                at=at,
                span=self._span(pair.places),
            )
            for pair, at in zip(sure, moments, strict=True)
        )

    def _lone_pulses(self) -> tuple[int, ...]:
        """The writer's own pulses of the last hours: "pulse 38 and dizzy"."""
        ranges = [(pulse.places[0], pulse.places[-1]) for pulse in self._pulses]
        moments = times_of(self._pieces, ranges, self._mentions, self._now)
        return tuple(
            pulse.whole
            for pulse, at in zip(self._pulses, moments, strict=True)
            if self._judge.standing(pulse.places[0], pulse.places[-1]) is OWN
            and (at is None or self._now - at <= _LATELY)
        )

    def _all_pairs(self) -> list[Pair]:
        """Labelled pairs, then those of what is left, in the order of the text."""
        labels = find_labels(self._pieces) if self._has(LABELS) else Labels()
        self._labelled = labels.single
        pairs = list(labels.pairs)
        self._claim(pairs)
        said_short = centimetres.centimetre_pairs(self._pieces, self._words.lists)
        pairs += said_short
        self._claim(said_short)
        for chain in chains(self._pieces):
            pairs.extend(Grouper(self._pieces, chain).pairs())
        self._claim(pairs)
        return sorted(pairs, key=lambda pair: pair.start)

    def _claim(self, pairs: list[Pair]) -> None:
        for pair in pairs:
            for place in pair.places:
                self._pieces[place].take(_PRESSURE)

    def _span(self, places: tuple[int, ...]) -> Span:
        return self._pieces[min(places)].start, self._pieces[max(places)].end

    def _span_of(self, pair: Pair) -> Span:
        return self._pieces[pair.start].start, self._pieces[pair.end].end

    def _own_pairs(self, pairs: list[Pair]) -> list[Pair]:
        """Without those that are somebody else's, aimed at, asked about or wrong."""
        may_replace, mistyped = self._has(REPLACING_ROLES), "mistyped" in self._roles
        own: list[Pair] = []
        before: Pair | None = None  #: the pair just before, if it is only aimed at
        for pair in pairs:
            self._spans.append(self._span_of(pair))
            standing = self._judge.standing(pair.start, pair.end)
            if before is not None and self._goes_on(before, pair):
                standing = AIMED
            if mistyped and own and standing is OWN:
                standing = WRONG if was_mistyped(self._pieces, own[-1], pair) else OWN
            before = pair if standing is AIMED else None
            self._standings.add(standing)
            if standing is OWN:
                own.append(pair)
            elif standing is WRONG:
                self._taken_back.append(pair)
            elif standing is OTHERS:
                self._theirs.append(pair)
        kept: list[Pair] = []
        for left, right in itertools.pairwise(own):
            instead = may_replace and replaces(self._pieces, left, right)
            (self._taken_back if instead else kept).append(left)
        if own:
            named_wrong = WRONG in self._standings
            named_wrong = named_wrong or self._is_corrected(own[0].start)
            self._replaces = self._replaces or named_wrong or len(kept) < len(own) - 1
            kept.append(own[-1])
        return kept

    def _goes_on(self, before: Pair, pair: Pair) -> bool:
        """Whether "and" or "or" alone joins the pair to the one before."""
        gap = self._pieces[before.end + 1 : pair.start]
        return bool(gap) and all("joins_pairs" in piece.roles for piece in gap)

    def _judged(self, pairs: list[Pair]) -> list[tuple[Pair, tuple[int, int]]]:
        """The pairs that give a reading. Doubts and possible meanings are noted."""
        kpa_said = "kpa" in self._roles and kilopascals.said(self._pieces)
        unheard, maybe = self._has(UNHEARD_ROLES), "maybe" in self._roles
        offered = self._has(OFFERING_ROLES)
        against = {
            place
            for place, (left, right) in enumerate(itertools.pairwise(pairs))
            if offered and are_alternatives(self._pieces, left, right)
        }
        against |= {place + 1 for place in against}
        offered = offered or any(piece.text in OFFERING_SIGNS for piece in self._pieces)
        found: list[tuple[Pair, tuple[int, int]]] = []
        for place, pair in enumerate(pairs):
            verdict = judge(pair, self._pieces, self._words, kpa_said=kpa_said, unheard=unheard)
            instead = number_instead(self._pieces, pair) if offered and verdict.reading else ()
            if place in against or instead or (maybe and only_maybe(self._pieces, pair)):
                possible = instead or verdict.possible or (verdict.reading,)
                verdict = Verdict(
                    None,
                    frozenset({Doubt.AMBIGUOUS}),
                    tuple(p for p in possible if p is not None),
                )
            self._note(verdict, self._span_of(pair))
            if instead:
                self._claim_free_beside(pair)
            if verdict.reading is not None:
                found.append((pair, verdict.reading))
        return found

    def _claim_free_beside(self, pair: Pair) -> None:
        """The other number of an alternative is used up with its pair."""
        for place in (*range(pair.start - 7, pair.start), *range(pair.end + 1, pair.end + 8)):
            if 0 <= place < len(self._pieces) and self._pieces[place].free:
                self._pieces[place].take(_PRESSURE)

    def _note(self, verdict: Verdict, span: Span) -> None:
        self._doubts |= verdict.doubts
        for systolic, diastolic in verdict.possible:
            self._possible.append(Possible(systolic=systolic, diastolic=diastolic, span=span))

    def _read_singles(self, *, have_pair: bool) -> Change | None:
        """Notes half pairs; returns the single numbers as a change of the last reading."""
        pieces = self._pieces
        if not have_pair and not self._labelled:
            impossible = impossible_pair(pieces)
            if impossible and self._judge.standing(*impossible) is OWN:
                first, second = (pieces[p].whole for p in impossible)
                self._note(
                    Verdict(None, frozenset({Doubt.IMPLAUSIBLE}), ((first, second),)),
                    self._span(impossible),
                )
                self._claim_places(impossible)
        found = singles(pieces, self._labelled, self._judge, have_pair=have_pair)
        if not have_pair and not found:
            found = [
                Single(place, None, piece.whole)
                for place, piece in enumerate(pieces)
                if piece.free and piece.whole >= 20 and self._is_corrected(place)
            ]
            if not found and self._wrong is not None:
                found = [
                    Single(place, None, spaced_number(pieces, place).whole)
                    for place in lone_numbers(pieces)
                ][:1]
        for single in found:
            self._spans.append(self._span((single.place,)))
        for single in found:
            if self._wrong is None and self._is_corrected(single.place):
                self._wrong = number_before(pieces, single.place)
        replaced = self._wrong is not None or any(self._is_corrected(s.place) for s in found)
        self._replaces = self._replaces or replaced
        if found and not replaced:
            self._doubts.add(Doubt.INCOMPLETE)
            for single in found:
                span, low = self._span((single.place,)), single.side == LOW
                numbers = [single.number]
                if centimetres.may_be_half(single.number, self._words.lists):
                    numbers.append(single.number * 10)
                self._possible += [
                    Possible(
                        systolic=None if low else number,
                        diastolic=number if low else None,
                        span=span,
                    )
                    for number in numbers
                ]
        return change_of(found, pieces, self._pulses, self._wrong)

    def _is_corrected(self, place: int) -> bool:
        """Whether words before a number say that it replaces another."""
        return self._has(CORRECTING_ROLES) and corrected(self._pieces, place)

    def _claim_places(self, places: tuple[int, ...]) -> None:
        for place in places:
            self._pieces[place].take(_PRESSURE)

    def _with_times_and_pulses(self, judged: list[tuple[Pair, tuple[int, int]]]) -> list[Found]:
        ranges = [(pair.start, pair.end) for pair, _ in judged]
        moments = times_of(self._pieces, ranges, self._mentions, self._now)
        pulses = [pair.pulse.whole if pair.pulse else None for pair, _ in judged]
        for pulse in self._pulses:
            self._spans.append(self._span(pulse.places))
            owner = self._owner_of_pulse(pulse.places[0], ranges)
            if owner is not None and pulses[owner] is None:
                pulses[owner] = pulse.whole
        return [
            Found(
                systolic=numbers[0], diastolic=numbers[1], pulse=pulse, at=at,
                span=self._span_of(pair),
            )
            for (pair, numbers), pulse, at in zip(judged, pulses, moments, strict=True)
        ]  # fmt: skip

    def _owner_of_pulse(self, place: int, ranges: list[tuple[int, int]]) -> int | None:
        """The reading that stands before the pulse, otherwise the first one."""
        before = bisect_left(ranges, (place, 0))
        return max(before - 1, 0) if ranges else None
