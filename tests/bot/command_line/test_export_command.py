"""`cuffbell export`: every format, exactly as other programs rely on it."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest

from storage.engine import open_database
from storage.export import listed_patients


def test_every_version_is_exported_as_a_line_with_what_became_of_it(host: Any) -> None:
    host.invite("--role", "patient", "--name", "Hollis", "--zone", "Europe/Lisbon")
    person = host.patient_id()
    host.keep_readings(person)

    status, out, err = host.run("export")

    lines = [json.loads(line) for line in out.splitlines()]
    assert (status, err) == (0, "")
    assert [(line["systolic"], line["state"]) for line in lines] == [
        (124, "replaced"),
        (142, "kept"),
        (150, "deleted"),
    ]
    assert len({line["reading"] for line in lines}) == 3
    kept = lines[1]
    assert list(kept) == [
        "person", "reading", "at", "systolic", "diastolic", "pulse", "text", "state"
    ]  # fmt: skip
    assert kept | {"reading": ""} == {
        "person": person,
        "reading": "",
        "at": "2026-07-10T07:42:00+01:00",  # summer time in Lisbon
        "systolic": 142,
        "diastolic": 91,
        "pulse": 72,
        "text": "142/91/72",
        "state": "kept",
    }


def test_csv_holds_what_counts_in_the_four_columns_that_average_reads(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_readings(host.patient_id())

    status, out, _ = host.run("export", "--format", "csv")

    assert status == 0
    assert out == "at,systolic,diastolic,pulse\n2026-07-10T07:42:00+01:00,142,91,72\n"


def test_more_columns_come_after_the_four(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_readings(host.patient_id())

    _, out, _ = host.run("export", "--format", "csv", "--columns", "all")

    header = "at,systolic,diastolic,pulse,person,reading,arm,came_as,text,setting"
    assert out.splitlines()[0] == header
    assert out.splitlines()[1].endswith(",home")
    assert out.splitlines()[1].startswith("2026-07-10T07:42:00+01:00,142,91,72,")


def test_fhir_holds_what_counts_as_a_bundle(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_readings(host.patient_id())

    _, out, _ = host.run("export", "--format", "fhir")

    bundle = json.loads(out)
    assert bundle["resourceType"] == "Bundle"
    assert "142" in out
    assert "124" not in out


def test_a_reading_of_the_clinic_is_marked_wherever_there_is_room(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_readings(host.patient_id())
    host.keep_at_clinic(host.patient_id())

    lines = [json.loads(line) for line in host.run("export")[1].splitlines()]
    wide = host.run("export", "--format", "csv", "--columns", "all")[1].splitlines()
    bundle = json.loads(host.run("export", "--format", "fhir")[1])

    assert [line.get("setting") for line in lines] == [None, None, None, "clinic"]
    assert [row.rsplit(",", 1)[1] for row in wide] == ["setting", "home", "clinic"]
    pressures = [entry["resource"] for entry in bundle["entry"]][::2]
    assert ["extension" in one for one in pressures] == [False, True]


def test_four_columns_have_no_room_for_the_mark_and_say_so(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_at_clinic(host.patient_id())

    status, out, err = host.run("export", "--format", "csv")

    assert status == 0
    assert out == "at,systolic,diastolic,pulse\n2026-07-10T07:42:00+01:00,165,91,72\n"
    assert "taken at the clinic" in err
    assert err.count("\n") == 1


def test_csv_of_several_people_asks_for_one_of_them(host: Any) -> None:
    host.invite("--role", "patient", "--name", "Hollis")
    hollis = host.patient_id()
    host.invite("--role", "patient", "--name", "Tamsin")
    opened = open_database(host.url)
    with opened.reading() as connection:
        everybody = [listed.person for listed in listed_patients(connection)]
    opened.dispose()
    for person in everybody:
        host.keep_readings(person)

    refused = host.run("export", "--format", "csv")
    status, out, _ = host.run("export", "--format", "csv", "--person", hollis)

    assert (refused[0], refused[1]) == (2, "")
    assert "--person" in refused[2]
    assert (status, len(out.splitlines())) == (0, 2)


def test_an_export_of_nobody_is_empty(host: Any) -> None:
    assert host.run("export") == (0, "", "")
    assert host.run("export", "--format", "csv")[1] == "at,systolic,diastolic,pulse\n"


@pytest.mark.parametrize(
    "words", [("--person", "nobody"), ("--columns", "all"), ("--format", "xml")]
)
def test_a_senseless_export_gets_status_two_and_one_line(host: Any, words: tuple[str, ...]) -> None:
    status, out, err = host.run("export", *words)

    assert (status, out) == (2, "")
    assert err.count("\n") == 1


def test_a_reader_that_has_enough_is_no_error(host: Any) -> None:
    host.invite("--role", "patient", "--zone", "Europe/Lisbon")
    host.keep_readings(host.patient_id())

    script = f"{sys.executable} -m bot.cli export | true"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", script], capture_output=True, text=True)

    assert done.stderr == ""
