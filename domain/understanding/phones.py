"""Numbers of telephones, and those inside the address of a page. None is a pressure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from domain.understanding.pieces import Claim, Piece

_PHONE_DIGITS: Final = 9
_SHORTEST_PHONE: Final = 7  #: digits of "555-0142"
_LONGEST_READINGS: Final = 13  #: digits that numbers in a row may have and be readings
_LONGEST_ADDRESS: Final = 20  #: pieces of the address of a page looked back over
_IN_PHONE: Final = frozenset("-()–")


def claim_phones(pieces: Sequence[Piece], numbers: Sequence[int]) -> None:
    """A run of digits parted by spaces or dashes that is as long as a telephone number."""
    if sum([len(pieces[place].digits) for place in numbers]) < _SHORTEST_PHONE:
        return
    run: list[int] = []
    for place in (*numbers, None):
        if run and (place is None or not _phone_goes_on(pieces, run[-1], place)):
            if _is_phone(pieces, run):
                for claimed in run:
                    pieces[claimed].take(Claim.OTHER)
            run = []
        if place is not None and not pieces[place].fraction and not pieces[place].spoken:
            run.append(place)


def _is_phone(pieces: Sequence[Piece], run: Sequence[int]) -> bool:
    lengths = [len(pieces[place].digits) for place in run]
    if lengths == [3, 4] and run[1] - run[0] == 2 and pieces[run[0] + 1].text == "-":
        return True
    if sum(lengths) < _PHONE_DIGITS:
        return False
    if sum(lengths) > _LONGEST_READINGS or max(lengths) >= 4:
        return True
    first = pieces[run[0]].digits
    zero = first.startswith("0") and len(first) >= 3
    plus = run[0] > 0 and pieces[run[0] - 1].text == "+"
    return zero or plus or _is_called(pieces, run[0])


def _is_called(pieces: Sequence[Piece], place: int) -> bool:
    """Whether a thing with a number of its own is named right before, "is" may stand between."""
    for back in range(place - 1, max(-1, place - 4), -1):
        if "thing" in pieces[back].roles:
            return True
        if "thing_link" not in pieces[back].roles:
            return False
    return False


def _phone_goes_on(pieces: Sequence[Piece], left: int, right: int) -> bool:
    if right - left > 3:
        return False
    for piece in pieces[left + 1 : right]:
        if not (piece.text in _IN_PHONE or (piece.text == "." and pieces[right].glued)):
            return False
    return True


def claim_addresses(pieces: Sequence[Piece], numbers: Sequence[int]) -> None:
    """Numbers inside the address of a page: from "http" or "page.example/" to the next space."""
    done = -1
    for place in numbers:
        if place <= done or place < 2 or not pieces[place].glued or not _in_address(pieces, place):
            continue
        done = place
        while done + 1 < len(pieces) and pieces[done + 1].glued:
            done += 1
        for inside in numbers:
            if place <= inside <= done:
                pieces[inside].take(Claim.OTHER)


def _in_address(pieces: Sequence[Piece], place: int) -> bool:
    """Whether what touches the number from before names a page, or a place on one."""
    at = place
    while at and pieces[at].glued and place - at < _LONGEST_ADDRESS:
        at -= 1
        if "web_head" in pieces[at].roles:
            return True
        if (
            pieces[at].text == "."
            and at + 2 < place
            and pieces[at].glued
            and pieces[at - 1].is_word
            and pieces[at + 1].is_word
            and pieces[at + 2].text == "/"
        ):
            return True
    return False
