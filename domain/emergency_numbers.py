"""The number to call for an ambulance, by country, as dated data.

Checked: all listed numbers are emergency numbers in the public short-number metadata of
libphonenumber 9.0.43, 112 and 911 also in ITU-T E.161.1. Unchecked ones have a number or its
medical use from memory, so the person is asked to confirm in any case. Numbers change: what
the person confirms wins. The country is where the person is now, not a telephone prefix or
a language.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class EmergencyNumber:
    call: str  #: the medical number
    also: tuple[str, ...] = ()  #: others that reach help there
    checked: bool = True


def emergency_number(country: str | None) -> EmergencyNumber | None:
    """The numbers of a country (ISO 3166 code), or None when it is not listed."""
    return NUMBERS.get(country or "")


NUMBERS: Final[Mapping[str, EmergencyNumber]] = {
    "AE": EmergencyNumber("998"),
    "AL": EmergencyNumber("127", ("112",), checked=False),
    "AR": EmergencyNumber("107", ("911",)),
    "AT": EmergencyNumber("144", ("112",)),
    "AU": EmergencyNumber("000", ("112",)),
    "BA": EmergencyNumber("124"),
    "BD": EmergencyNumber("999"),
    "BE": EmergencyNumber("112"),
    "BG": EmergencyNumber("112"),
    "BR": EmergencyNumber("192"),
    "CA": EmergencyNumber("911"),
    "CH": EmergencyNumber("144", ("112",)),
    "CL": EmergencyNumber("131"),
    "CN": EmergencyNumber("120"),
    "CO": EmergencyNumber("123"),
    "CR": EmergencyNumber("911"),
    "CY": EmergencyNumber("112"),
    "CZ": EmergencyNumber("155", ("112",)),
    "DE": EmergencyNumber("112"),
    "DK": EmergencyNumber("112"),
    "DO": EmergencyNumber("911"),
    "DZ": EmergencyNumber("14", checked=False),
    "EC": EmergencyNumber("911"),
    "EE": EmergencyNumber("112"),
    "EG": EmergencyNumber("123"),
    "ES": EmergencyNumber("112"),
    "FI": EmergencyNumber("112"),
    "FR": EmergencyNumber("15", ("112",)),
    "GB": EmergencyNumber("999", ("112",)),
    "GE": EmergencyNumber("112"),
    "GH": EmergencyNumber("112", ("193",), checked=False),
    "GR": EmergencyNumber("166", ("112",)),
    "HK": EmergencyNumber("999"),
    "HR": EmergencyNumber("194", ("112",)),
    "HU": EmergencyNumber("104", ("112",)),
    "ID": EmergencyNumber("112", ("118",), checked=False),
    "IE": EmergencyNumber("112", ("999",)),
    "IL": EmergencyNumber("101"),
    "IN": EmergencyNumber("112", ("108",)),
    "IQ": EmergencyNumber("122", checked=False),
    "IR": EmergencyNumber("115"),
    "IS": EmergencyNumber("112"),
    "IT": EmergencyNumber("112", ("118",)),
    "JM": EmergencyNumber("110"),
    "JO": EmergencyNumber("911"),
    "JP": EmergencyNumber("119"),
    "KE": EmergencyNumber("999", ("112",), checked=False),
    "KR": EmergencyNumber("119"),
    "KW": EmergencyNumber("112"),
    "KZ": EmergencyNumber("103", ("112",)),
    "LB": EmergencyNumber("140"),
    "LK": EmergencyNumber("1990", ("110",), checked=False),
    "LT": EmergencyNumber("112"),
    "LU": EmergencyNumber("112"),
    "LV": EmergencyNumber("113", ("112",)),
    "MA": EmergencyNumber("15", ("141",), checked=False),
    "MK": EmergencyNumber("194", ("112",)),
    "MT": EmergencyNumber("112"),
    "MX": EmergencyNumber("911"),
    "MY": EmergencyNumber("999"),
    "NG": EmergencyNumber("112", ("199",), checked=False),
    "NL": EmergencyNumber("112"),
    "NO": EmergencyNumber("113"),
    "NP": EmergencyNumber("102"),
    "NZ": EmergencyNumber("111"),
    "OM": EmergencyNumber("9999"),
    "PE": EmergencyNumber("106", ("117",), checked=False),
    "PH": EmergencyNumber("911"),
    "PK": EmergencyNumber("1122", ("115",)),
    "PL": EmergencyNumber("112", ("999",)),
    "PT": EmergencyNumber("112"),
    "QA": EmergencyNumber("999"),
    "RO": EmergencyNumber("112"),
    "RS": EmergencyNumber("194", ("112",), checked=False),
    "RU": EmergencyNumber("103", ("112",)),
    "SA": EmergencyNumber("997", ("911",)),
    "SE": EmergencyNumber("112"),
    "SG": EmergencyNumber("995"),
    "SI": EmergencyNumber("112"),
    "SK": EmergencyNumber("155", ("112",)),
    "TH": EmergencyNumber("1669"),
    "TN": EmergencyNumber("190"),
    "TR": EmergencyNumber("112"),
    "TT": EmergencyNumber("811", ("990",), checked=False),
    "TW": EmergencyNumber("119"),
    "TZ": EmergencyNumber("112", ("114",), checked=False),
    "UA": EmergencyNumber("103", ("112",)),
    "UG": EmergencyNumber("999", ("112",), checked=False),
    "US": EmergencyNumber("911"),
    "UY": EmergencyNumber("911", ("105",), checked=False),
    "VN": EmergencyNumber("115"),
    "ZA": EmergencyNumber("10177", ("112",)),
    "ZM": EmergencyNumber("991", ("112",), checked=False),
    "ZW": EmergencyNumber("994", ("112",), checked=False),
}
