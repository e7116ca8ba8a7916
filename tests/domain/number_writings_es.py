"""Spanish writings of a number, for the tests that read them back."""

from __future__ import annotations

from collections.abc import Callable

BELOW_THIRTY = [
    *("cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve"),
    *("diez", "once", "doce", "trece", "catorce", "quince", "dieciséis", "diecisiete"),
    *("dieciocho", "diecinueve", "veinte", "veintiuno", "veintidós", "veintitrés"),
    *("veinticuatro", "veinticinco", "veintiséis", "veintisiete", "veintiocho", "veintinueve"),
]
TENS = [*"---", "treinta", "cuarenta", "cincuenta", "sesenta", "setenta", "ochenta", "noventa"]
HUNDREDS = ["-", "ciento", "doscientos", "trescientos"]


def below_hundred(number: int) -> str:
    if number < len(BELOW_THIRTY):
        return BELOW_THIRTY[number]
    ten, unit = divmod(number, 10)
    return TENS[ten] + (f" y {BELOW_THIRTY[unit]}" if unit else "")


def in_full(number: int) -> str:
    """ "ciento cuarenta y dos", "cien", "doscientos diez"."""
    hundred, rest = divmod(number, 100)
    if not hundred:
        return below_hundred(number)
    if number == 100:
        return "cien"
    return HUNDREDS[hundred] + (f" {below_hundred(rest)}" if rest else "")


def apart(number: int) -> str:
    """Sixteen and twenty-one in the old way: "diez y seis", "veinte y uno"."""
    hundred, rest = divmod(number, 100)
    ten, unit = divmod(rest, 10)
    if (ten == 1 and unit >= 6) or (ten == 2 and unit):
        lead = f"{HUNDREDS[hundred]} " if hundred else ""
        return f"{lead}{'diez' if ten == 1 else 'veinte'} y {BELOW_THIRTY[unit]}"
    return in_full(number)


def shortly(number: int) -> str:
    """ "uno cuarenta y dos"; what has no hundred, or a small rest, in full."""
    hundred, rest = divmod(number, 100)
    return f"uno {below_hundred(rest)}" if hundred == 1 and rest >= 10 else in_full(number)


def with_slips(number: int) -> str:
    """As it is heard: "siento sincuenta i dos", "nobenta"."""
    words = in_full(number).replace("cincuenta", "sincuenta").replace("noventa", "nobenta")
    words = words.replace("ciento ", "siento ") if number % 100 >= 10 else words
    return words.replace(" y ", " i ")


def without_accents(number: int) -> str:
    return in_full(number).replace("é", "e").replace("ó", "o")


def half_typed(number: int) -> str:
    """ "ciento 42"."""
    hundred, rest = divmod(number, 100)
    return f"ciento {rest}" if hundred == 1 and rest >= 10 else str(number)


WRITINGS: dict[str, Callable[[int], str]] = {
    "digits": str,
    "in full": in_full,
    "capitals": lambda number: in_full(number).upper(),
    "apart": apart,
    "shortly": shortly,
    "with slips": with_slips,
    "without accents": without_accents,
    "half typed": half_typed,
    "run together": lambda number: in_full(number).replace(" ", ""),
}
