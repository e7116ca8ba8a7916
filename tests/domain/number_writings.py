"""The ways in which a whole number from 0 to 999 is written or said in English messages."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

UNITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TEENS = [
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["-", "-", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def below_hundred(number: int, joint: str = " ") -> str:
    if number < 20:
        return (UNITS + TEENS)[number]
    ten, unit = divmod(number, 10)
    return TENS[ten] + (joint + UNITS[unit] if unit else "")


def british(number: int) -> str:
    """ "a hundred and forty-two", as read out in Britain."""
    hundred, rest = divmod(number, 100)
    if not hundred:
        return below_hundred(number, "-")
    head = "a hundred" if hundred == 1 else f"{UNITS[hundred]} hundred"
    return head + (f" and {below_hundred(rest, '-')}" if rest else "")


def in_full(number: int) -> str:
    """ "one hundred and forty two", without a hyphen."""
    return british(number).replace("-", " ").replace("a hundred", "one hundred")


def american(number: int) -> str:
    """ "one hundred forty two", without "and"."""
    hundred, rest = divmod(number, 100)
    if not hundred:
        return below_hundred(number)
    return f"{UNITS[hundred]} hundred" + (f" {below_hundred(rest)}" if rest else "")


def shortly(number: int) -> str:
    """ "one forty two", "one oh eight"."""
    hundred, rest = divmod(number, 100)
    if not hundred:
        return below_hundred(number)
    if not rest:
        return f"{UNITS[hundred]} hundred"
    return f"{UNITS[hundred]} " + (f"oh {UNITS[rest]}" if rest < 10 else below_hundred(rest))


def digit_by_digit(number: int) -> str:
    return " ".join(UNITS[int(digit)] for digit in str(number))


def in_digits_from(zero: str) -> Callable[[int], str]:
    """Digits of a script, by its zero."""
    return lambda number: "".join(chr(ord(zero) + int(digit)) for digit in str(number))


#: A zero of every script and width whose decimal digits Unicode knows.
ZEROS = [
    chr(point)
    for point in range(0x110000)
    if unicodedata.category(chr(point)) == "Nd" and unicodedata.decimal(chr(point)) == 0
]

WRITINGS: dict[str, Callable[[int], str]] = {
    "digits": str,
    "british": british,
    "in full": in_full,
    "american": american,
    "shortly": shortly,
    "digit by digit": digit_by_digit,
    "with hyphens": lambda number: shortly(number).replace(" ", "-"),
    "full width": in_digits_from("０"),
    "arabic": in_digits_from("٠"),
    "persian": in_digits_from("۰"),
    "devanagari": in_digits_from("०"),
    "bengali": in_digits_from("০"),
    "thai": in_digits_from("๐"),
    "mathematical bold": in_digits_from("𝟎"),
    "letter O for zero": lambda number: str(number).replace("0", "O"),
    "letter l for one": lambda number: str(number).replace("1", "l"),
    "letter I for one": lambda number: str(number).replace("1", "I"),
}
