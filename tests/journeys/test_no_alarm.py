"""What is no alarm over HTTP: a low reading, its question, a fall, a monitor that fails."""

from __future__ import annotations

from typing import Any


async def test_a_low_reading_is_for_today_and_a_yes_calls(journey: Any) -> None:
    await journey.all_join()
    patient = journey.patient

    await patient.says("86/52")
    low = await patient.reads("Speak to a doctor or nurse today")
    assert low["text"].startswith("Speak to a doctor or nurse today: 86/52 is low")
    await patient.presses("None of these signs")
    await patient.reads("Noted: none of these signs now")
    assert not [text for text in await journey.carer.texts() if "86/52" in text]

    await patient.says("I fell in the kitchen")
    await patient.reads("You write of a fall")
    await patient.presses("Yes, one or more")
    alarm = await patient.reads("Call 112 now")
    assert "a fall" in alarm["text"]
    await journey.carer.reads("Hollis may need an ambulance now")


async def test_three_errors_of_the_monitor_are_left_for_now(journey: Any) -> None:
    await journey.all_join()
    patient = journey.patient

    for _ in range(2):
        await patient.says("Err 3")
        await patient.reads("No number came, so nothing is kept")
    await patient.says("Err 3")
    await patient.reads("3 tries without a number: leave it for now")
