"""FHIR R4 Bundles: what in one is a reading, what makes it bad, and that ours read back.

Source: HL7 FHIR R4, the blood pressure profile and its published example; the numbers of the
example, 107 and 60 on 2012-09-17, are confirmed.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.interchange.fhir import read_bundle, write_bundle
from bot.interchange.incoming import read_rows
from bot.interchange.rows import OutgoingReading, Rows, UnreadableInputError
from domain.readings import Setting

_AT = "2026-05-04T07:30:00+01:00"
_Json = dict[str, Any]


def _code(code: str, system: str = "http://loinc.org") -> _Json:
    return {"coding": [{"system": "http://example.org", "code": "x"}, _coding(code, system)]}


def _coding(code: str, system: str) -> _Json:
    return {"system": system, "code": code}


def _component(code: str, value: object, unit: str = "mm[Hg]") -> _Json:
    return {"code": _code(code), "valueQuantity": {"value": value, "code": unit}}


def _pressure(at: str = _AT) -> _Json:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": _code("85354-9"),
        "effectiveDateTime": at,
        "component": [_component("8480-6", 138), _component("8462-4", 86)],
    }


def _pulse(value: object = 66, at: str = _AT) -> _Json:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": _code("8867-4"),
        "effectiveDateTime": at,
        "valueQuantity": {"value": value, "code": "/min"},
    }


def _read(*resources: object, zone: ZoneInfo | None = None) -> Rows:
    entries = [{"resource": resource} for resource in resources]
    return read_bundle(json.dumps({"resourceType": "Bundle", "entry": entries}), zone)


def _numbers(rows: Rows) -> list[tuple[int, int, int | None]]:
    return [(r.reading.systolic, r.reading.diastolic, r.reading.pulse) for r in rows.good]


# --- the Bundle


@pytest.mark.parametrize(
    "text",
    [
        "{",
        "{}",
        '{"resourceType": "Bundle"',
        '{"resourceType": "Bundle"} {}',
        '{"resourceType": "Observation"}',
        '{"resourceType": ["Bundle"], "entry": []}',
        '{"resourceType": "Bundle", "entry": {}}',
        '{"resourceType": "Bundle", "entry": "none"}',
        '{"resourceType": "Bundle", "entry": [NaN]}',
        '{"resourceType": "Bundle", "entry": ' + "[" * 100_000,
        '{"a":' * 100_000,
    ],
)
def test_what_is_no_bundle_cannot_be_read(text: str) -> None:
    with pytest.raises(UnreadableInputError):
        read_bundle(text, None)


@pytest.mark.parametrize("before", ["", "\ufeff", " \r\n\t", "\ufeff\n"])
def test_white_space_and_a_mark_may_stand_before_it(before: str) -> None:
    bundle = json.dumps({"resourceType": "Bundle", "entry": [{"resource": _pressure()}]})
    assert _numbers(read_rows((before + bundle).encode(), None)) == [(138, 86, None)]


def test_a_bundle_that_is_not_utf_8_is_broken() -> None:
    with pytest.raises(UnreadableInputError):
        read_rows(b'{"resourceType": "Bundle", "note": "\xff"}', None)


@pytest.mark.parametrize("bundle", [{}, {"entry": []}, {"entry": None}])
def test_a_bundle_without_entries_has_no_readings(bundle: _Json) -> None:
    assert read_bundle(json.dumps({"resourceType": "Bundle", **bundle}), None) == Rows((), ())


# --- what is passed over


@pytest.mark.parametrize(
    "other",
    [
        None,
        [],
        "text",
        7,
        {},
        {"resourceType": "Patient"},
        _pulse(),
        _pressure() | {"resourceType": "Procedure"},
        _pressure() | {"status": "entered-in-error"},
        _pressure() | {"status": "cancelled"},
        _pressure() | {"code": _code("96607-7")},
        _pressure() | {"code": _code("85354-9", "http://snomed.info/sct")},
        _pressure() | {"code": {"coding": {"system": "http://loinc.org", "code": "85354-9"}}},
        _pressure() | {"code": "85354-9"},
    ],
)
def test_other_entries_are_passed_over_in_silence_but_counted(other: object) -> None:
    rows = _read(other, _pressure(), _pressure("2026-05-04"))
    assert _numbers(rows) in ([(138, 86, None)], [(138, 86, 66)])
    assert [row.where for row in rows.bad] == ["entry 3"]


@pytest.mark.parametrize("entry", [None, [], "text", {}, {"resource": []}])
def test_an_entry_of_any_form_is_passed_over(entry: object) -> None:
    bundle = {"resourceType": "Bundle", "entry": [entry, {"resource": _pressure()}]}
    rows = read_bundle(json.dumps(bundle), None)
    assert (_numbers(rows), rows.bad) == ([(138, 86, None)], ())


@pytest.mark.parametrize("status", ["preliminary", "amended", "corrected", "unknown", [], None])
def test_any_other_status_counts(status: object) -> None:
    assert _numbers(_read(_pressure() | {"status": status})) == [(138, 86, None)]


# --- good and bad readings


def _with(path: str, value: object) -> Callable[[], _Json]:
    """A pressure with what stands at `path` (keys and places, dotted) replaced."""

    def made() -> _Json:
        found = deepcopy(_pressure())
        holder: Any = found
        *steps, last = [int(step) if step.isdigit() else step for step in path.split(".")]
        for step in steps:
            holder = holder[step]
        holder[last] = value
        return found

    return made


def test_the_systolic_may_be_any_whole_number_within_the_limits() -> None:
    for value in (142, 142.0, 1.42e2):
        assert _numbers(_read(_with("component.0.valueQuantity.value", value)())) == [
            (142, 86, None)
        ]


@pytest.mark.parametrize("quantity", [{"value": 142}, {"value": 142, "unit": "mmHg", "code": None}])
def test_the_unit_may_be_absent(quantity: _Json) -> None:
    assert _numbers(_read(_with("component.0.valueQuantity", quantity)())) == [(142, 86, None)]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("effectiveDateTime", "2026-05-04"),
        ("effectiveDateTime", "2026-05"),
        ("effectiveDateTime", "2026-05-04T07:30:00"),
        ("effectiveDateTime", " " + _AT),
        ("effectiveDateTime", None),
        ("effectiveDateTime", 20260504),
        ("effectiveDateTime", [_AT]),
        ("component", None),
        ("component", {}),
        ("component", []),
        ("component", [None, 7, "text", []]),
        ("component.0", _component("8462-4", 86)),
        ("component.1", _component("8480-6", 138)),
        ("component.0.code", _code("8480-6", "urn:other")),
        ("component.0.code", ["8480-6"]),
        ("component.0.valueQuantity", None),
        ("component.0.valueQuantity", [138]),
        ("component.0.valueQuantity", 138),
        ("component.0.valueQuantity", {}),
        ("component.0.dataAbsentReason", {"text": "cuff error"}),
        ("dataAbsentReason", {"text": "refused"}),
        ("component.0.valueQuantity.code", "kPa"),
        ("component.0.valueQuantity.code", "mmHg"),
        ("component.0.valueQuantity.code", ""),
        ("component.0.valueQuantity.code", ["mm[Hg]"]),
        ("component.0.valueQuantity.comparator", ">"),
        ("component.0.valueQuantity.value", 142.5),
        ("component.0.valueQuantity.value", "142"),
        ("component.0.valueQuantity.value", True),
        ("component.0.valueQuantity.value", None),
        ("component.0.valueQuantity.value", [142]),
        ("component.0.valueQuantity.value", -142),
        ("component.0.valueQuantity.value", 301),
        ("component.0.valueQuantity.value", 95),
        ("component.0.valueQuantity.value", 1e300),
        ("component.0.valueQuantity.value", 10**4000),
    ],
)
def test_what_is_missing_or_something_else_makes_the_entry_bad(path: str, value: object) -> None:
    rows = _read(_pressure(), _with(path, value)())
    assert len(rows.good) == 1
    assert [row.where for row in rows.bad] == ["entry 2"]
    assert "\n" not in rows.bad[0].reason


@pytest.mark.parametrize("number", ["1e400", "-1e400", "9" * 5000])
def test_a_number_too_large_for_the_machine_spoils_its_own_entry_only(number: str) -> None:
    text = json.dumps(
        {
            "resourceType": "Bundle",
            "entry": [
                {"resource": _pressure()},
                {"resource": _with("component.0.valueQuantity.value", 4321)()},
            ],
        }
    )
    rows = read_bundle(text.replace("4321", number), None)
    assert (len(rows.good), len(rows.bad)) == (1, 1)


def test_a_moment_without_offset_is_local_in_the_zone() -> None:
    resource = _pressure("2026-05-04T07:30:00")
    (row,) = _read(resource, zone=ZoneInfo("America/Halifax")).good
    assert row.at == "2026-05-04T07:30:00"
    assert row.reading.at == datetime.fromisoformat("2026-05-04T10:30:00+00:00")


def test_the_published_example_has_no_time_and_is_named_as_bad() -> None:
    """HL7 FHIR R4, Observation/blood-pressure: its effectiveDateTime is 2012-09-17."""
    example = _published_example()
    assert [row.where for row in _read(example).bad] == ["entry 1"]
    with_time = example | {"effectiveDateTime": "2012-09-17T09:00:00Z"}
    assert _numbers(_read(with_time)) == [(107, 60, None)]


def _published_example() -> _Json:
    """What of the example matters here: its codings, values, units and date."""
    snomed = "http://snomed.info/sct"
    systolic = _component("8480-6", 107)
    systolic["code"]["coding"] = [
        _coding("8480-6", "http://loinc.org"),
        _coding("271649006", snomed),
    ]
    return {
        "resourceType": "Observation",
        "meta": {"profile": ["http://hl7.org/fhir/StructureDefinition/vitalsigns"]},
        "status": "final",
        "code": {
            "coding": [_coding("85354-9", "http://loinc.org")],
            "text": "Blood pressure systolic & diastolic",
        },
        "subject": {"reference": "Patient/example"},
        "effectiveDateTime": "2012-09-17",
        "performer": [{"reference": "Practitioner/example"}],
        "bodySite": {"coding": [_coding("368209003", snomed)]},
        "component": [systolic, _component("8462-4", 60)],
    }


# --- pulse

_ABSENT: Mapping[str, object] = {"code": _code("8867-4"), "dataAbsentReason": {"text": "unknown"}}


@pytest.mark.parametrize(
    ("components", "beside", "pulse"),
    [
        ([], [], None),
        ([_component("8867-4", 70, "/min")], [], 70),
        ([_component("8867-4", 70, "/min")], [_pulse(66)], 70),
        ([_component("8867-4", 70, "{beats}/min")], [], 70),
        ([_ABSENT], [_pulse(66)], None),
        ([], [_pulse(66)], 66),
        ([], [_pulse(66.0)], 66),
        ([], [_pulse(66), _pulse(70)], 66),
        ([], [_pulse(66, "2026-05-04T06:30:00Z")], 66),
        ([], [_pulse(66, "2026-05-04T07:30:01+01:00")], None),
        ([], [_pulse(66, "2026-05-04"), _pulse(70)], 70),
        ([], [_pulse(66) | {"effectiveDateTime": []}], None),
        ([], [_pulse(66) | {"status": "entered-in-error"}], None),
        ([], [_pulse(66) | {"status": "cancelled"}, _pulse(70)], 70),
        ([], [_pulse(66) | {"code": _code("8867-4", "urn:other")}], None),
        ([], [_pulse() | {"valueQuantity": None, "dataAbsentReason": {}}], None),
    ],
)
def test_the_pulse_is_a_component_or_the_first_observation_of_that_moment(
    components: list[_Json], beside: list[_Json], pulse: int | None
) -> None:
    resource = _pressure()
    resource["component"] += components
    for order in ([resource, *beside], [*beside, resource]):
        rows = _read(*order)
        assert (_numbers(rows), rows.bad) == ([(138, 86, pulse)], ())


@pytest.mark.parametrize("value", [19, 251, 66.5, "66", True])
def test_an_impossible_pulse_makes_the_whole_reading_bad(value: object) -> None:
    assert [row.where for row in _read(_pulse(value), _pressure()).bad] == ["entry 2"]


# --- writing


def _outgoing(pulse: int | None, *, minute: int = 30, reading: str = "r-1") -> OutgoingReading:
    at = datetime(2026, 5, 4, 7, minute, tzinfo=ZoneInfo("Europe/Lisbon"))
    return OutgoingReading(
        person="p-1", reading=reading, at=at, systolic=138, diastolic=86, pulse=pulse
    )


def test_a_written_observation_has_what_the_profile_asks_for() -> None:
    bundle = json.loads(write_bundle([_outgoing(66)]))
    assert (bundle["resourceType"], bundle["type"]) == ("Bundle", "collection")
    pressure, pulse = (entry["resource"] for entry in bundle["entry"])
    assert pressure["meta"]["profile"] == ["http://hl7.org/fhir/StructureDefinition/bp"]
    assert pulse["meta"]["profile"] == ["http://hl7.org/fhir/StructureDefinition/heartrate"]
    for one in (pressure, pulse):
        assert one["status"] == "final"
        assert one["category"][0]["coding"][0]["code"] == "vital-signs"
        assert one["subject"] == {"reference": "Patient/p-1"}
        assert one["effectiveDateTime"] == _AT
    assert pressure["code"]["coding"][0]["code"] == "85354-9"
    assert [
        (c["code"]["coding"][0]["code"], c["valueQuantity"]["value"], c["valueQuantity"]["code"])
        for c in pressure["component"]
    ] == [("8480-6", 138, "mm[Hg]"), ("8462-4", 86, "mm[Hg]")]
    assert pulse["code"]["coding"][0]["code"] == "8867-4"
    assert (pulse["valueQuantity"]["value"], pulse["valueQuantity"]["code"]) == (66, "/min")


def test_each_entry_has_an_address_of_its_own_that_stays_the_same() -> None:
    readings = [_outgoing(66), _outgoing(70, minute=31, reading="r-2")]
    first, again = (
        [entry["fullUrl"] for entry in json.loads(write_bundle(readings))["entry"]]
        for _ in range(2)
    )
    assert first == again
    assert len(set(first)) == 4
    assert all(address.startswith("urn:uuid:") for address in first)


def test_no_readings_are_a_bundle_without_entries() -> None:
    assert json.loads(write_bundle([])) == {"resourceType": "Bundle", "type": "collection"}
    assert read_bundle(write_bundle([]), None) == Rows((), ())


def test_readings_of_one_moment_keep_each_its_own_pulse() -> None:
    pulses = [70, None, 66, 70]
    rows = read_bundle(write_bundle([_outgoing(pulse) for pulse in pulses]), None)
    assert [row.reading.pulse for row in rows.good] == pulses


# --- where it was taken

_SETTING = "http://hl7.org/fhir/us/vitals/StructureDefinition/MeasurementSettingExt"


def test_a_reading_of_the_clinic_carries_its_place_and_no_performer() -> None:
    taken = replace(_outgoing(66), setting=Setting.CLINIC)

    for entry in json.loads(write_bundle([taken]))["entry"]:
        (extension,) = entry["resource"]["extension"]
        assert extension["url"] == _SETTING
        (coding,) = extension["valueCodeableConcept"]["coding"]
        assert (coding["system"], coding["code"]) == ("http://snomed.info/sct", "257585005")
        assert "performer" not in entry["resource"]


def test_a_reading_at_home_is_performed_by_the_patient() -> None:
    for entry in json.loads(write_bundle([_outgoing(66)]))["entry"]:
        assert "extension" not in entry["resource"]
        assert entry["resource"]["performer"] == [{"reference": "Patient/p-1"}]


@pytest.mark.parametrize(
    ("code", "setting"),
    [
        ("257585005", Setting.CLINIC),
        ("22232009", Setting.CLINIC),  # hospital
        ("264358009", Setting.CLINIC),  # general practice
        ("264362003", Setting.HOME),
        ("0", Setting.HOME),
        (7, Setting.HOME),
        (None, Setting.HOME),
    ],
)
def test_where_it_was_taken_is_read_from_the_extension(code: object, setting: Setting) -> None:
    bundle = json.loads(write_bundle([replace(_outgoing(None), setting=Setting.CLINIC)]))
    extension = bundle["entry"][0]["resource"]["extension"][0]
    extension["valueCodeableConcept"]["coding"][0]["code"] = code

    (row,) = read_bundle(json.dumps(bundle), None).good

    assert row.reading.setting is setting


@pytest.mark.parametrize(
    "extension",
    [
        [],
        None,
        [{"url": "http://example.org/other", "valueCodeableConcept": {}}],
        [{"url": _SETTING}],
        [{"url": _SETTING, "valueCodeableConcept": {"text": "clinic"}}],
        [{"url": _SETTING, "valueCodeableConcept": {"coding": [{"code": "257585005"}]}}],
    ],
)
def test_a_reading_without_a_known_place_counts_as_taken_at_home(extension: object) -> None:
    bundle = json.loads(write_bundle([_outgoing(None)]))
    bundle["entry"][0]["resource"]["extension"] = extension

    (row,) = read_bundle(json.dumps(bundle), None).good

    assert row.reading.setting is Setting.HOME


# Few moments, so that some readings share one.
_MOMENTS = st.builds(
    lambda minute, offset: datetime(
        2026, 5, 4, 7, minute, tzinfo=timezone(timedelta(minutes=offset))
    ),
    st.integers(0, 2),
    st.sampled_from([0, 60, -210]),
)


@given(
    st.lists(
        st.builds(
            OutgoingReading,
            person=st.just("p-1"),
            reading=st.just("r-1"),
            at=_MOMENTS,
            systolic=st.integers(210, 300),
            diastolic=st.integers(20, 200),
            pulse=st.none() | st.integers(20, 250),
            setting=st.sampled_from(Setting),
        ),
        max_size=6,
    )
)
def test_what_is_written_reads_back_as_it_was(outgoing: list[OutgoingReading]) -> None:
    rows = read_bundle(write_bundle(outgoing), None)
    assert rows.bad == ()
    assert [
        (row.reading.at, row.reading.systolic, row.reading.diastolic, row.reading.pulse)
        for row in rows.good
    ] == [(one.at, one.systolic, one.diastolic, one.pulse) for one in outgoing]
    assert [row.reading.setting for row in rows.good] == [one.setting for one in outgoing]
    assert [row.reading.at.utcoffset() for row in rows.good] == [
        one.at.utcoffset() for one in outgoing
    ]
