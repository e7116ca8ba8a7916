"""Wordings of the writer's own signs, turned into the third person."""

from __future__ import annotations

import pytest

from domain.understanding.third_persons import ThirdPerson

SPANISH = ThirdPerson(
    verbs={"hablo": "habla", "puedo": "puede"},
    owning={"mi": "mi|su"},
    dative={"me": "le"},
    reflexive={"me": "se"},
)


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        ("no ..1 hablo bien", ["no ..1 habla bien"]),
        ("se me cae ..2 mi brazo", ["se le cae ..2 mi|su brazo"]),
        ("no me puedo mover", ["no le|se puede mover"]),
        ("no_puedo|incapaz mover", ["no_puede mover"]),
        ("se_me|me_duele cae", ["se_le|le_duele cae"]),
    ],
)
def test_a_wording_is_told_of_another(pattern: str, told: list[str]) -> None:
    assert SPANISH.told([pattern]) == told


@pytest.mark.parametrize("pattern", ["mi brazo ..3 dormido", "brazo no puedo|puede", "dolor"])
def test_what_tells_no_person_is_left_out(pattern: str) -> None:
    assert SPANISH.told([pattern]) == []


def test_a_language_without_a_list_turns_nothing() -> None:
    assert ThirdPerson.from_data({}).told(["no me hablo"]) == []
