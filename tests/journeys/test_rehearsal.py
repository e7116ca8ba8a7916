"""A rehearsal over HTTP: the patient, the carer's button, and an alarm that is real."""

from __future__ import annotations

import logging
from typing import Any

import pytest


async def test_the_first_rehearsal_tells_the_patient_who_has_answered(journey: Any) -> None:
    await journey.all_join()

    begun = await journey.until("Rehearsal, nothing has happened")
    assert "Wren" in begun["text"]
    assert "Dr. Okafor" not in begun["text"], "practitioners are no night watch"
    asked = await journey.carer.reads("Rehearsal, nothing has happened to Hollis")
    assert all("ehearsal" in part for part in asked["text"].split("\n\n"))
    await journey.carer.presses("Rehearsal: I have seen this")

    await journey.carer.reads("noted, Hollis will read that you have answered")
    result = await journey.patient.reads("The rehearsal is over")
    assert "Wren answered within one minute" in result["text"]


async def test_an_alarm_in_the_middle_of_it_is_real(journey: Any) -> None:
    await journey.all_join()
    await journey.until("Rehearsal, nothing has happened")
    await journey.carer.reads("Rehearsal, nothing has happened to Hollis")

    await journey.patient.says("crushing chest pain")

    await journey.carer.reads("Hollis may need an ambulance now")
    await journey.carer.reads("The rehearsal is broken off")
    await journey.carer.presses("Rehearsal: I have seen this")
    await journey.carer.reads("An alarm from now on is real")


async def test_address_and_key_are_given_in_the_chat_and_stand_in_no_log(
    journey: Any, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    await journey.all_join()
    await journey.patient.says("/details")
    await journey.patient.presses("Yes, in an alarm")
    await journey.patient.reads("What is your address")
    await journey.patient.says("12 Harbour Lane, flat 3")
    await journey.patient.reads("On which telephone")
    await journey.patient.presses("Leave this out")
    await journey.patient.reads("Who has a key")
    await journey.patient.says("Tamsin next door has a key")

    shown = await journey.patient.reads("This is shown in an alarm")
    assert "12 Harbour Lane, flat 3" in shown["text"]
    assert "Tamsin next door has a key" in shown["text"]
    ours = [r for r in caplog.records if r.name.startswith(("bot", "storage", "domain"))]
    logged = "\n".join(map(str, map(vars, ours)))
    assert ours
    assert not [secret for secret in ("Harbour", "Tamsin") if secret in logged]
