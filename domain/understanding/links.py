"""What stands between two numbers, and so how closely they belong together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Final

from domain.understanding.pieces import Piece


class Link(IntEnum):
    """How two neighbouring numbers are joined, from a bare space to a stroke."""

    SPACE = 1
    LINE = 2  #: a line break
    MARK = 3  #: a full stop, a semicolon or another sign that is no usual separator
    WEAK = 4  #: "and", "then", "with"
    MEDIUM = 5  #: a dash, a comma, a colon
    STRONG = 6  #: a stroke, "over", "on", "by"


#: Bound here for all that compare links, because a look-up in the enumeration takes ten times
#: as long as the comparison.
SPACE: Final = Link.SPACE
WEAK: Final = Link.WEAK
MEDIUM: Final = Link.MEDIUM
STRONG: Final = Link.STRONG

_STROKES: Final = frozenset("/\\|⁄∕÷¦│┃∣⧸⟋")
_MEDIUM: Final = frozenset(",:-–—‒―−‐‑，、٫٬،~～∶：→>×x")
#: Signs that decorate without parting: quotes, brackets, emphasis.
_DECORATION: Final = frozenset("\"'()[]{}*_`«»<^")
_LINK_OF: Final = (
    dict.fromkeys(_DECORATION, Link.SPACE)
    | dict.fromkeys(_MEDIUM, Link.MEDIUM)
    | dict.fromkeys(_STROKES, Link.STRONG)
    | {"\n": Link.LINE}
)
#: More pieces than this between two numbers and they are not one pair.
_LONGEST_GAP: Final = 10


@dataclass(slots=True)
class Chain:
    """Numbers without a claim that follow each other, and what joins each to the next.

    Nothing changes one. It is not frozen, because that makes it three times as slow to make.
    """

    places: tuple[int, ...]  #: indexes into the pieces
    links: tuple[Link, ...]  #: one fewer than `places`


def chains(pieces: Sequence[Piece]) -> list[Chain]:
    """All free numbers of the message, in runs that nothing but separators interrupts."""
    found: list[Chain] = []
    places: list[int] = []
    links: list[Link] = []
    for place, piece in enumerate(pieces):
        if not piece.free:
            continue
        link = link_between(pieces, places[-1], place) if places else None
        if link is None and places:
            found.append(Chain(tuple(places), tuple(links)))
            places, links = [], []
        if link is not None:
            links.append(link)
        places.append(place)
    if places:
        found.append(Chain(tuple(places), tuple(links)))
    return found


def link_between(pieces: Sequence[Piece], left: int, right: int) -> Link | None:
    """How the numbers at two places are joined; None when other words part them."""
    if right - left > _LONGEST_GAP:
        return None
    gap = pieces[left + 1 : right]
    if len(gap) == 1 and gap[0].text in _STROKES and not gap[0].roles:
        return STRONG
    link, labelled, homophone, filled = SPACE, False, False, False
    for piece in gap:
        if piece.is_number:
            return None
        if "homophone" in piece.roles:
            homophone = True
            continue
        if "filler" in piece.roles:
            filled = True
            continue
        if "some" in piece.roles or ("decade" in piece.roles and piece.glued):
            continue
        kind = _link_of(piece)
        if kind is None:
            if not ("high_sure" in piece.roles or "low_sure" in piece.roles):
                if len(gap) == 1 and "near_over" in piece.roles:
                    return STRONG
                return None
            labelled = True
        elif kind > link:
            link = kind
    if (labelled or filled) and link is not STRONG:
        return None
    if homophone and link is not STRONG:
        # "142 to 91": joined, but only loosely; what it means is in doubt.
        return WEAK if len(gap) == 1 else None
    return link


def _link_of(piece: Piece) -> Link | None:
    if piece.is_word:
        if "over" in piece.roles:
            return STRONG
        if "weak_link" in piece.roles:
            return WEAK
        if "mmhg" in piece.roles or "kpa" in piece.roles or "decoration" in piece.roles:
            return SPACE
        return _LINK_OF.get(piece.text)
    link = _LINK_OF.get(piece.text)
    if link is None:
        return SPACE if piece.text > "\u2190" else Link.MARK
    return link


def is_stroke(piece: Piece) -> bool:
    return piece.text in _STROKES
