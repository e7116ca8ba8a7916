"""What must hold for every text whatever: the same as `tests/benchmarks/understanding_fuzz.py`."""

from __future__ import annotations

import itertools
import random
import runpy
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from domain.understanding import Understood, understand
from domain.understanding.lexicon_data import ENGLISH, languages

FUZZ: dict[str, Any] = runpy.run_path(
    str(Path(__file__).parents[1] / "benchmarks" / "understanding_fuzz.py")
)
problem, shrunk, texts = FUZZ["problem"], FUZZ["shrunk"], FUZZ["texts"]
NOW = datetime(2026, 3, 10, 7, 42, tzinfo=timezone(timedelta(hours=1)))

#: All of the calendar but its edges, in every zone.
MOMENTS = st.builds(
    lambda days, minutes, offset: (
        datetime(2, 1, 1, tzinfo=UTC) + timedelta(days=days, minutes=minutes)
    ).astimezone(timezone(timedelta(minutes=offset))),
    st.integers(0, 9_990 * 365),
    st.integers(0, 24 * 60 - 1),
    st.integers(-23 * 60, 23 * 60),
)
TEXTS = st.one_of(
    st.lists(st.sampled_from(FUZZ["PIECES"]), max_size=60).map("".join),
    st.text(max_size=300),
    st.text(st.sampled_from("0123456789/ .,:-\n?olI"), max_size=80),
)


@given(TEXTS, MOMENTS, st.sampled_from(languages()))
@settings(max_examples=1_000, deadline=None)
@example("two two two over two zero zero", NOW, ENGLISH)
@example("142/91 at 24:00 on 29/02/2027", NOW, ENGLISH)
@example("'s" * 100, NOW, ENGLISH)
def test_what_is_understood_is_possible_whatever_the_text(
    text: str, now: datetime, language: str
) -> None:
    assert problem(text, now, language) is None


@pytest.mark.parametrize("year", [1, 9999])
@pytest.mark.parametrize("offset", [-12, 0, 14])
@pytest.mark.parametrize("when", ["yesterday at 7", "an hour ago", "last night", "on Monday at 9"])
def test_the_ends_of_the_calendar_hide_no_danger(year: int, offset: int, when: str) -> None:
    month, day = (1, 1) if year == 1 else (12, 31)
    now = datetime(year, month, day, 0, 30, tzinfo=timezone(timedelta(hours=offset)))

    understood = understand(f"192/114 {when}, my chest hurts", now)

    assert [(r.systolic, r.diastolic) for r in understood.readings] == [(192, 114)]
    assert understood.symptoms == ("chest_pain",)


@given(st.text(min_size=300, max_size=10_000))
@settings(max_examples=50, deadline=None)
def test_so_it_is_for_long_texts(text: str) -> None:
    assert problem(text, NOW) is None


@pytest.mark.parametrize("text", ["a" + "'s" * 5_000, "dizzy" + "s'" * 600])
def test_a_word_of_many_possessives_is_understood(text: str) -> None:
    assert problem(text, NOW) is None


def test_the_same_seed_tries_the_same_texts() -> None:
    def tried(seed: str) -> list[tuple[str, datetime, str]]:
        return list(itertools.islice(texts(random.Random(seed), FUZZ["sample_texts"]()), 50))

    assert tried("1 0") == tried("1 0") != tried("1 1")


def test_what_is_found_is_shrunk_to_what_is_needed() -> None:
    assert shrunk("a lot of x before y and more", lambda t: "x" in t and "y" in t) == "xy"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"systolic": 40}, "implausible pressure"),
        ({"pulse": 300}, "implausible pulse"),
        ({"at": NOW + timedelta(minutes=1)}, "measured in the future"),
        ({"span": (3, 3)}, "span outside"),
        ({"span": (0, 99)}, "span outside"),
    ],
)
def test_a_wrong_understanding_is_noticed(change: dict[str, Any], said: str) -> None:
    (found,) = understand("142/91", NOW).readings
    wrong = Understood(readings=(replace(found, **change),))

    of_readings = FUZZ["_problem_of_readings"](wrong, NOW)
    of_places = FUZZ["_problem_of_places"](wrong, "142/91")

    assert said in f"{of_readings} {of_places}"
