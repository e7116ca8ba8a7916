"""`cuffbell average` on the command line: what it takes, what it prints, how it ends."""

from __future__ import annotations

import argparse
import io
import json
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.commands import average
from bot.interchange.fhir import write_bundle
from bot.interchange.rows import OutgoingReading
from domain.averaging_rules import RULES
from domain.readings import Setting

_HEADER = "at,systolic,diastolic,pulse\n"
_GOOD = "2026-05-04T07:30:00+01:00,138,86,66\n"


@dataclass(frozen=True, slots=True)
class _Ended:
    status: int
    out: str
    err: str

    @property
    def result(self) -> dict[str, Any]:
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found

    @property
    def bad(self) -> list[str]:
        """Which rows were named as bad: `line 3`."""
        return [line.split(":")[0] for line in self.err.splitlines()]


def _run(data: str | bytes, *arguments: str) -> _Ended:
    parser = argparse.ArgumentParser()
    average.register(parser.add_subparsers(required=True))
    parsed = parser.parse_args(["average", *arguments])
    raw = data.encode() if isinstance(data, str) else data
    out, err = io.StringIO(), io.StringIO()
    standard_input = io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8")
    with redirect_stdout(out), redirect_stderr(err), patch.object(sys, "stdin", standard_input):
        status = parsed.run(parsed)
    return _Ended(status, out.getvalue(), err.getvalue())


def _all(data: str | bytes, *arguments: str) -> _Ended:
    return _run(data, "--rule", "all", "--json", *arguments)


# --- statuses


@pytest.mark.parametrize(
    "data",
    [
        "",
        "\ufeff",
        "\n",
        " ",
        "\n" + _HEADER + _GOOD,
        "when,top,bottom,pulse\n",
        "at,systolic,diastolic\n",
        "at,systolic,diastolic,pulse,arm\n",
        "At,Systolic,Diastolic,Pulse\n",
        "at;systolic;diastolic;pulse\n",
        '"at,systolic,diastolic,pulse\n',
        (_HEADER + _GOOD).replace("\n", "\r"),
        b"\x00",
        (_HEADER + _GOOD).encode("utf-16"),
        b"\xff\xfe\xfd",
        _GOOD,
        "[]",
    ],
)
def test_what_cannot_be_read_at_all_is_one_line_and_status_2(data: str | bytes) -> None:
    ended = _all(data)
    assert (ended.status, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 1


@pytest.mark.parametrize("data", [_HEADER, _HEADER.rstrip("\n"), _HEADER + "\n\n"])
def test_a_header_alone_is_status_1_and_an_object_without_numbers(data: str) -> None:
    ended = _all(data)
    assert (ended.status, ended.err) == (1, "")
    assert ended.result["systolic"] is None
    assert ended.result["band"] is None
    assert ended.result["enough"] is False
    assert ended.result["missing"]


def test_bad_rows_alone_are_status_1_and_all_named() -> None:
    ended = _all(_HEADER + "a\nb\n")
    assert (ended.status, ended.bad) == (1, ["line 2", "line 3"])
    assert ended.result["readings_used"] == 0


def test_a_rule_that_leaves_all_readings_out_is_status_0() -> None:
    ended = _run(_HEADER + _GOOD, "--rule", "nice", "--json")
    assert (ended.status, ended.err) == (0, "")
    assert ended.result["readings_left_out"] == [
        {"at": "2026-05-04T07:30:00+01:00", "why": "first_day"}
    ]


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["--rule", ""],
        ["--rule", "NICE"],
        ["--rule", "best"],
        ["--rule", "all", "--zone", ""],
        ["--rule", "all", "--zone", "Atlantis/Capital"],
        ["--rule", "all", "--zone", "Europe"],
        ["--rule", "all", "--zone", "/etc/localtime"],
        ["--rule", "all", "--zone", "../zoneinfo/UTC"],
        ["--rule", "all", "--zone", "localtime"],
        ["--rule", "all", "--zone", "right/UTC"],
        ["--rule", "all", "--zone", "UTC\x00"],
        ["--rule", "all", "--zone", "\udcff"],
        ["--rule", "all", "--zone", "x" * 5000],
    ],
)
def test_an_unknown_rule_or_zone_is_one_line_and_status_2(arguments: list[str]) -> None:
    ended = _run(_HEADER + _GOOD, *arguments, "--json")
    assert (ended.status, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 1


def test_the_message_about_a_missing_rule_lists_the_rules() -> None:
    err = _run("").err
    assert all(name in err for name in RULES)


# --- zones


@pytest.mark.parametrize(
    ("at", "half"),
    [
        ("2026-03-08T03:30:00", "evening"),
        # 02:30 does not exist on that morning: with the offset before the change it is 03:30.
        ("2026-03-08T02:30:00", "evening"),
        ("2026-03-08T04:00:00", "morning"),
        ("2026-05-04T10:00:00+00:00", "morning"),
        ("2026-05-04T16:00:00+00:00", None),
    ],
)
def test_a_moment_without_offset_is_local_in_the_zone(at: str, half: str | None) -> None:
    result = _all(f"{_HEADER}{at},138,86,\n", "--zone", "America/New_York").result
    found = [name for name in ("morning", "evening") if result[name]["readings"]]
    assert found == ([half] if half else [])


def test_the_missing_hour_and_the_one_after_it_are_the_same_moment() -> None:
    rows = "2026-03-08T02:30:00,138,86,\n2026-03-08T03:30:00,138,86,\n"
    result = _all(_HEADER + rows, "--zone", "America/New_York").result
    assert result["readings_left_out"] == [{"at": "2026-03-08T03:30:00", "why": "duplicate"}]


def test_a_time_that_comes_twice_is_the_first_one() -> None:
    rows = "2026-11-01T01:30:00,138,86,\n2026-11-01T05:30:00Z,138,86,\n"
    result = _all(_HEADER + rows, "--zone", "America/New_York").result
    assert result["readings_left_out"] == [{"at": "2026-11-01T05:30:00Z", "why": "duplicate"}]


# --- what is shown


def test_numbers_are_json_numbers_with_one_decimal() -> None:
    rows = "2026-05-04T07:30:00Z,134,84,\n2026-05-04T07:31:00Z,135,84,\n"
    assert '"systolic": 134.5, "diastolic": 84.0, "pulse": null' in _all(_HEADER + rows).out


def test_the_text_says_the_same_as_the_object() -> None:
    rows = (
        "2026-05-03T07:30:00Z,139,87,61\n2026-05-04T07:30:00Z,138,86,\n"
        "2026-05-04T14:30:00Z,120,80,\n2026-05-04T21:30:00Z,133,80,70\n"
    )
    ended = _run(_HEADER + rows, "--rule", "722")
    assert ended.status == 0
    expected = [
        "Rule 722: TSOC/THS 2020 (confirmed)",
        "Not enough for this rule: only 2 days with readings that follow one another, at least "
        "4 are needed; only 2 readings, at least 12 are needed.",
        "Average of 1 day: 135.5/83.0 mmHg, pulse 70.0, hypertension (2 readings, 2 occasions)",
        "Morning: 138.0/86.0 mmHg, no pulse, hypertension (1 reading, 1 occasion)",
        "Evening: 133.0/80.0 mmHg, pulse 70.0, not hypertension (1 reading, 1 occasion)",
        "Bands of ISH 2020.",
        "  2026-05-03T07:30:00Z  first day",
        "  2026-05-04T14:30:00Z  neither morning nor evening",
    ]
    lines = ended.out.splitlines()
    assert [line for line in expected if line not in lines] == []


def test_the_text_of_nothing_says_so() -> None:
    ended = _run(_HEADER, "--rule", "esh")
    assert ended.status == 1
    assert "Average of 0 days: none, no readings" in ended.out


# --- anything at all


_LINES = st.lists(
    st.one_of(
        st.text(max_size=30),
        st.sampled_from([_GOOD.strip(), '"', ",,,", "2026-05-04T07:31:00Z,138,86,", "\ufeff"]),
    ),
    max_size=8,
)


@st.composite
def _json_bytes(draw: st.DrawFn) -> bytes:
    """A Bundle whose parts may be anything that JSON can hold."""
    junk: st.SearchStrategy[Any] = st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=2)
            | st.dictionaries(st.sampled_from(["code", "value", "coding", "x"]), inner, max_size=2)
        ),
        max_leaves=4,
    )

    def spoilt(good: Callable[[], Any]) -> Any:
        return draw(junk) if draw(st.integers(0, 7)) == 0 else good()

    def code(name: str) -> Any:
        coding = {"system": spoilt(lambda: "http://loinc.org"), "code": spoilt(lambda: name)}
        return {"coding": spoilt(lambda: [spoilt(lambda: coding)])}

    def component(name: str, value: int) -> Any:
        quantity = {"value": spoilt(lambda: value), "code": spoilt(lambda: "mm[Hg]")}
        return {"code": code(name), "valueQuantity": spoilt(lambda: quantity)}

    def observation() -> Any:
        return {
            "resourceType": "Observation",
            "status": spoilt(lambda: "final"),
            "code": spoilt(lambda: code("85354-9")),
            "effectiveDateTime": spoilt(lambda: "2026-05-04T07:30:00Z"),
            "component": spoilt(lambda: [component("8480-6", 138), component("8462-4", 86)]),
        }

    entry = spoilt(lambda: [spoilt(lambda: {"resource": spoilt(observation)})])
    return json.dumps({"resourceType": "Bundle", "entry": entry}).encode()


@settings(max_examples=400, deadline=None)
@given(
    data=st.one_of(
        st.binary(max_size=200),
        st.binary(max_size=100).map(lambda raw: _HEADER.encode() + raw),
        _LINES.map(lambda lines: (_HEADER + "\n".join(lines)).encode("utf-8", "surrogatepass")),
        _json_bytes(),
        st.text(max_size=40).map(lambda text: ("{" + text).encode("utf-8", "surrogatepass")),
    ),
    rule=st.sampled_from(sorted(RULES)),
    zone=st.sampled_from([[], ["--zone", "Europe/Lisbon"]]),
    as_json=st.sampled_from([[], ["--json"]]),
)
def test_no_bytes_on_standard_input_end_in_a_traceback(
    data: bytes, rule: str, zone: list[str], as_json: list[str]
) -> None:
    ended = _run(data, "--rule", rule, *zone, *as_json)
    assert ended.status in {0, 1, 2}
    assert (ended.out == "") == (ended.status == 2)
    assert (ended.err == "") or ended.status in {1, 2}


# --- as a program


def _program(*arguments: str, data: bytes | None) -> subprocess.CompletedProcess[bytes]:
    code = (
        "import argparse, sys; from bot.commands import average; p = argparse.ArgumentParser();"
        "average.register(p.add_subparsers()); a = p.parse_args();"
        "status = a.run(a);"
        "heavy = {'babel', 'sqlalchemy', 'pydantic', 'telegram', 'typst'} & set(sys.modules);"
        "sys.exit(f'imports {heavy}' if heavy else status)"
    )
    return subprocess.run(
        [sys.executable, "-c", code, "average", *arguments],
        input=data,
        stdin=subprocess.DEVNULL if data is None else None,
        capture_output=True,
        check=False,
    )


def test_the_program_imports_nothing_heavy_and_starts_in_under_half_a_second() -> None:
    took = []
    for _ in range(3):
        begun = time.perf_counter()
        ended = _program("--rule", "all", "--json", data=(_HEADER + _GOOD).encode())
        took.append(time.perf_counter() - begun)
        assert (ended.returncode, ended.stderr) == (0, b"")
        assert json.loads(ended.stdout)["systolic"] == 138
    assert min(took) < 0.5


def test_the_program_without_input_is_status_2() -> None:
    ended = _program("--rule", "all", data=None)
    assert (ended.returncode, ended.stdout) == (2, b"")
    assert len(ended.stderr.splitlines()) == 1


# --- taken at the clinic


def test_a_bundle_gives_the_average_of_home_and_names_what_was_taken_at_the_clinic() -> None:
    at = datetime(2026, 5, 4, 7, 30, tzinfo=timezone(timedelta(hours=1)))
    home = OutgoingReading(person="p", reading="r-1", at=at, systolic=138, diastolic=86, pulse=None)
    later = at + timedelta(hours=4)
    clinic = replace(home, reading="r-2", at=later, systolic=160, setting=Setting.CLINIC)

    found = _all(write_bundle([home, clinic])).result

    assert (found["systolic"], found["readings_used"]) == (138.0, 1)
    assert found["readings_left_out"] == [{"at": "2026-05-04T11:30:00+01:00", "why": "clinic"}]
