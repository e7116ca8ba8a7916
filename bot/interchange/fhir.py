"""Readings as FHIR R4: a Bundle of Observations of the blood pressure profile.

Pressures in mmHg (UCUM mm[Hg]), pulse in beats per minute (UCUM /min), codes are LOINC.
Averages (96607-7) are not readings and are neither read nor written here.

Source: HL7 FHIR R4, http://hl7.org/fhir/StructureDefinition/bp and .../heartrate.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Final
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from bot.interchange.rows import (
    BadRow,
    BadRowError,
    GoodRow,
    OutgoingReading,
    Rows,
    UnreadableInputError,
    imported_reading,
    read_moment,
    written_moment,
)
from domain.readings import Setting

LOINC: Final = "http://loinc.org"
UCUM: Final = "http://unitsofmeasure.org"
BLOOD_PRESSURE: Final = "85354-9"
SYSTOLIC: Final = "8480-6"
DIASTOLIC: Final = "8462-4"
PULSE: Final = "8867-4"

_PROFILES: Final = "http://hl7.org/fhir/StructureDefinition/"
_CATEGORIES: Final = "http://terminology.hl7.org/CodeSystem/observation-category"
_ABSENCES: Final = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
#: Observations of these statuses never were readings.
_WITHDRAWN: Final = frozenset({"entered-in-error", "cancelled"})
_MMHG: Final = re.compile(r"mm\[Hg\]")
#: What stands in braces is a remark in UCUM and changes nothing: {beats}/min.
_PER_MINUTE: Final = re.compile(r"(\{[^}]*\})?/min")

#: Where a value was measured: the extension of the HL7 guide "Vital Signs with Qualifying
#: Elements", with SNOMED CT. Its address and the codes but that of home are from memory.
SETTING: Final = "http://hl7.org/fhir/us/vitals/StructureDefinition/MeasurementSettingExt"
SNOMED: Final = "http://snomed.info/sct"
CLINIC: Final = "257585005"
#: Places where somebody else than the person measures. Of all others, also unknown ones, a
#: reading counts as taken at home.
_CLINICS: Final = frozenset(
    {
        CLINIC,
        "264358009",  # general practice premises
        "22232009",  # hospital
        "33022008",  # hospital-based outpatient department
        "264372000",  # pharmacy
    }
)

_Json = Mapping[str, object]


def read_bundle(text: str, zone: ZoneInfo | None) -> Rows:
    """The readings of a Bundle.

    Args:
        text: JSON. What in a Bundle is no blood pressure is passed over in silence.
        zone: what a moment without offset is local in; None: such an entry is bad.

    Raises:
        UnreadableInputError: broken JSON, or not a Bundle.
    """
    observations = list(_observations(_entries(text)))
    pulses = _pulses((observation for _, observation in observations), zone)
    good: list[GoodRow] = []
    bad: list[BadRow] = []
    for number, observation in observations:
        if not _has_code(observation, BLOOD_PRESSURE):
            continue
        try:
            good.append(_row(observation, pulses, zone))
        except BadRowError as error:
            bad.append(BadRow(f"entry {number}", str(error)))
    return Rows(tuple(good), tuple(bad))


def _entries(text: str) -> Sequence[object]:
    try:
        bundle = json.loads(text, parse_int=_number, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise UnreadableInputError("broken JSON: a FHIR Bundle is expected after {") from None
    entries = _object(bundle).get("entry")
    if _object(bundle).get("resourceType") != "Bundle" or not isinstance(entries, list | None):
        raise UnreadableInputError("the JSON is not a FHIR R4 Bundle with a list of entries")
    return entries or []


def _number(digits: str) -> int | float:
    """Python refuses to read very long integers, and then the whole Bundle with them."""
    return int(digits) if len(digits) < 10 else float(digits)


def _refuse_constant(name: str) -> float:
    """NaN and Infinity, which Python reads and JSON does not have."""
    raise ValueError(name)


def _observations(entries: Sequence[object]) -> Iterator[tuple[int, _Json]]:
    for number, entry in enumerate(entries, start=1):
        resource = _object(_object(entry).get("resource"))
        status = resource.get("status")
        withdrawn = isinstance(status, str) and status in _WITHDRAWN
        if resource.get("resourceType") == "Observation" and not withdrawn:
            yield number, resource


def _pulses(observations: Iterable[_Json], zone: ZoneInfo | None) -> Mapping[datetime, _Json]:
    """The first pulse Observation of each moment (UTC)."""
    first: dict[datetime, _Json] = {}
    for observation in observations:
        if _has_code(observation, PULSE):
            try:
                _, at = _moment(observation, zone)
            except BadRowError:
                continue  # at no moment, so at none of a reading
            first.setdefault(at.astimezone(UTC), observation)
    return first


def _row(observation: _Json, pulses: Mapping[datetime, _Json], zone: ZoneInfo | None) -> GoodRow:
    written, at = _moment(observation, zone)
    if "dataAbsentReason" in observation:
        raise BadRowError("the values are absent, says its dataAbsentReason")
    systolic = _value("systolic", _component(observation, SYSTOLIC), _MMHG)
    diastolic = _value("diastolic", _component(observation, DIASTOLIC), _MMHG)
    # A component says more than an Observation beside it, also when it says "not known".
    pulse = _component(observation, PULSE)
    if pulse is None:
        pulse = pulses.get(at.astimezone(UTC))
    known = pulse is not None and "valueQuantity" in pulse and "dataAbsentReason" not in pulse
    beats = _value("pulse", pulse, _PER_MINUTE) if known else None
    setting = _setting(observation)
    return GoodRow(written, imported_reading(at, systolic, diastolic, beats, setting))


def _setting(observation: _Json) -> Setting:
    """Where it was measured. Who performed it does not say: a nurse also comes to the house."""
    for extension in map(_object, _list(observation.get("extension"))):
        if extension.get("url") == SETTING:
            concept = _object(extension.get("valueCodeableConcept"))
            for coding in map(_object, _list(concept.get("coding"))):
                code = coding.get("code")
                if coding.get("system") == SNOMED and isinstance(code, str) and code in _CLINICS:
                    return Setting.CLINIC
    return Setting.HOME


def _moment(observation: _Json, zone: ZoneInfo | None) -> tuple[str, datetime]:
    """As written, and as a moment."""
    written = observation.get("effectiveDateTime")
    if not isinstance(written, str):
        raise BadRowError("effectiveDateTime is missing")
    return written, read_moment(written, zone)


def _component(observation: _Json, code: str) -> _Json | None:
    components = map(_object, _list(observation.get("component")))
    return next((one for one in components if _has_code(one, code)), None)


def _value(name: str, holder: _Json | None, unit: re.Pattern[str]) -> int:
    """The whole number in the component or Observation."""
    if holder is None:
        raise BadRowError(f"{name} is missing")
    if "dataAbsentReason" in holder:
        raise BadRowError(f"{name} is absent, says its dataAbsentReason")
    quantity = _object(holder.get("valueQuantity"))
    if "value" not in quantity:
        raise BadRowError(f"{name} is missing")
    if "comparator" in quantity:  # FHIR: changes the meaning, so it may not be passed over
        raise BadRowError(f"{name} is only a bound, not a value")
    code = quantity.get("code")
    if code is not None and not (isinstance(code, str) and unit.fullmatch(code)):
        raise BadRowError(f"{name} is in another unit")
    value = quantity["value"]
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if not isinstance(value, int):  # `true` is 1 here, which lies outside all limits
        raise BadRowError(f"{name} must be a whole number")
    return value


def _has_code(holder: _Json, code: str) -> bool:
    codings = map(_object, _list(_object(holder.get("code")).get("coding")))
    return any(one.get("system") == LOINC and one.get("code") == code for one in codings)


def _object(value: object) -> _Json:
    """The JSON object, or an empty one where something else stands in its place."""
    return value if isinstance(value, dict) else {}


def _list(value: object) -> Sequence[object]:
    return value if isinstance(value, list) else []


def write_bundle(readings: Iterable[OutgoingReading]) -> str:
    """The readings as a Bundle of type collection that `read_bundle` reads back.

    In the order passed. A pulse is an Observation of its own at the same moment, as the
    profile wants it. Only where readings of one moment differ in their pulse it is also a
    component of the pressure, because the moment alone would not say whose it is.
    """
    every = list(readings)
    pulses: dict[datetime, set[int | None]] = {}
    for one in every:
        pulses.setdefault(one.at.astimezone(UTC), set()).add(one.pulse)
    entries: list[dict[str, object]] = []
    for one in every:
        shared = len(pulses[one.at.astimezone(UTC)]) > 1
        entries.append(_entry(_pressure_observation(one, pulse_too=shared)))
        if one.pulse is not None:
            entries.append(_entry(_pulse_observation(one, one.pulse)))
    bundle: dict[str, object] = {"resourceType": "Bundle", "type": "collection"}
    if entries:  # FHIR's JSON has no empty lists
        bundle["entry"] = entries
    return json.dumps(bundle, indent=2) + "\n"


def _entry(observation: dict[str, object]) -> dict[str, object]:
    # A collection wants an absolute address of each resource; there is no server to name.
    name = uuid5(NAMESPACE_URL, f"urn:cuffbell:observation:{observation['id']}")
    return {"fullUrl": name.urn, "resource": observation}


def _pressure_observation(one: OutgoingReading, *, pulse_too: bool) -> dict[str, object]:
    components = [
        _measured(SYSTOLIC, "Systolic blood pressure", _pressure(one.systolic)),
        _measured(DIASTOLIC, "Diastolic blood pressure", _pressure(one.diastolic)),
    ]
    if pulse_too and one.pulse is not None:
        components.append(_measured(PULSE, "Heart rate", _beats(one.pulse)))
    elif pulse_too:
        unknown = {"coding": [{"system": _ABSENCES, "code": "unknown"}]}
        components.append({"code": _code(PULSE, "Heart rate"), "dataAbsentReason": unknown})
    code = _code(BLOOD_PRESSURE, "Blood pressure panel with all children optional")
    return _observation(one, one.reading, "bp", code) | {"component": components}


def _pulse_observation(one: OutgoingReading, beats: int) -> dict[str, object]:
    code = _code(PULSE, "Heart rate")
    common = _observation(one, f"{one.reading}-pulse", "heartrate", code)
    return common | {"valueQuantity": _beats(beats)}


def _observation(
    one: OutgoingReading, name: str, profile: str, code: dict[str, object]
) -> dict[str, object]:
    patient = {"reference": f"Patient/{one.person}"}
    vital_signs = {"system": _CATEGORIES, "code": "vital-signs", "display": "Vital Signs"}
    observation: dict[str, object] = {
        "resourceType": "Observation",
        "id": name,
        "meta": {"profile": [_PROFILES + profile]},
        "status": "final",
        "category": [{"coding": [vital_signs]}],
        "code": code,
        "subject": patient,
        "effectiveDateTime": written_moment(one.at),
    }
    if one.setting is Setting.HOME:
        return observation | {"performer": [patient]}
    # Who measured at the clinic is not known.
    coding = {"system": SNOMED, "code": CLINIC, "display": "Clinic"}
    return observation | {
        "extension": [{"url": SETTING, "valueCodeableConcept": {"coding": [coding]}}]
    }


def _measured(code: str, display: str, quantity: dict[str, object]) -> dict[str, object]:
    return {"code": _code(code, display), "valueQuantity": quantity}


def _code(code: str, display: str) -> dict[str, object]:
    return {"coding": [{"system": LOINC, "code": code, "display": display}]}


def _pressure(value: int) -> dict[str, object]:
    return {"value": value, "unit": "mmHg", "system": UCUM, "code": "mm[Hg]"}


def _beats(value: int) -> dict[str, object]:
    return {"value": value, "unit": "beats/minute", "system": UCUM, "code": "/min"}
