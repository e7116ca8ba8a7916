"""Invitations made in the chat, consent given and taken back, corrections that are told on."""

from __future__ import annotations

import re
from contextlib import AsyncExitStack
from typing import Any

from domain.people import Role
from storage.invitations import Invite


def code_in(text: str) -> str:
    found = re.search(r"/start (\S+)", text)
    assert found is not None
    return found[1]


async def test_a_patient_invites_a_carer_and_sees_first_what_is_told(
    journey: Any, stack: AsyncExitStack
) -> None:
    await journey.all_join()
    robin = await journey.somebody("Robin", stack)

    await journey.patient.says("/invite Robin")
    shown = await journey.patient.reads("A carer would be told")
    assert "Send this" not in shown["text"]
    await journey.patient.presses("Yes, Robin may")
    made = await journey.patient.reads("Send this to Robin")
    await robin.says(f"/start {code_in(made['text'])}")

    await robin.reads("Hollis wants you to be told")
    await journey.patient.says("my face is drooping on one side")
    await robin.reads("Hollis may need an ambulance now")


async def test_who_was_never_agreed_to_is_told_nothing(journey: Any) -> None:
    patient, carer = journey.patient, journey.carer
    await patient.joins()
    for label in ("None of these", "Yes, 112", "Yes, that is right", "On the upper arm"):
        await patient.presses(label)
    await patient.says("31")
    await patient.presses("Left arm")
    await patient.reads("proposed as your carer")
    await carer.joins()
    await carer.reads("has not agreed yet")

    await patient.says("crushing chest pain")
    await patient.reads("I have nobody whom I can tell")

    assert not [text for text in await carer.texts() if "ambulance" in text]


async def test_consent_taken_back_holds_at_once(journey: Any) -> None:
    await journey.all_join()
    await journey.doctor_takes_alarms()
    await journey.patient.says("/family")
    await journey.patient.presses("Stop telling Wren")
    await journey.carer.reads("Hollis has ended this")

    await journey.patient.says("crushing chest pain")
    await journey.doctor.reads("Hollis may need an ambulance now")

    assert not [text for text in await journey.carer.texts() if "ambulance" in text]


async def test_an_edit_of_the_message_that_raised_the_alarm_is_told_to_all(journey: Any) -> None:
    await journey.all_join()
    await journey.doctor_takes_alarms()
    message = await journey.patient.says("192/114, headache")
    await journey.carer.reads("may need an ambulance")

    await journey.patient.visitor.edit(message, "132/84, headache")

    await journey.patient.reads("With the right number there is no alarm")
    for contact in (journey.carer, journey.doctor):
        told = await contact.reads("Hollis has corrected the number")
        assert "132/84" in told["text"]


async def test_a_practitioner_invites_a_patient_who_is_asked_for_consent(
    journey: Any, stack: AsyncExitStack
) -> None:
    await journey.all_join()
    tamsin = await journey.somebody("Tamsin", stack)

    await journey.doctor.says("/patients")
    await journey.doctor.reads("Your patients here")
    await journey.doctor.says("/invite")
    await journey.doctor.reads("What is the patient’s name")
    await journey.doctor.says("Tamsin")
    made = await journey.doctor.reads("Send this to Tamsin")
    await tamsin.says(f"/start {code_in(made['text'])}")
    await tamsin.presses("None of these")
    await tamsin.says("Pune")
    for label in ("Yes, 112", "I take none", "Yes, that is right", "On the wrist", "Right arm"):
        await tamsin.presses(label)
    await tamsin.presses("Yes, Dr. Okafor-Lindqvist may")

    await journey.doctor.reads("Tamsin has agreed")


async def test_no_answer_to_the_signs_is_told_to_the_contacts_after_eight_minutes(
    journey: Any,
) -> None:
    await journey.all_join()
    await journey.patient.says("185/100")
    await journey.patient.reads("Do you have any of these now?")

    for _ in range(7):
        await journey.patient.visitor.move_clock("minute")
    assert not [text for text in await journey.carer.texts() if "185/100" in text]
    await journey.patient.visitor.move_clock("minute")
    await journey.patient.visitor.move_clock("minute")

    told = await journey.carer.reads("Please phone Hollis")
    assert "185/100" in told["text"]


async def test_somebody_invited_without_a_name_is_called_as_in_the_chat(
    journey: Any, stack: AsyncExitStack
) -> None:
    office = journey.trial.program._office
    with office.database.work() as work:
        code = work.invite(Invite(role=Role.PATIENT, zone="Europe/Lisbon"))
    newcomer = await journey.somebody("Tamsin", stack)

    await newcomer.says(f"/start {code}")

    await newcomer.reads("Hello Tamsin")


async def test_the_plan_is_shown_to_the_patient_and_chosen_by_the_practitioner(
    journey: Any,
) -> None:
    await journey.all_join()
    await journey.patient.says("/plan")
    shown = await journey.patient.reads("Your plan: for 7 days")
    assert "Next:" in shown["text"]

    await journey.doctor.says("/patients")
    await journey.doctor.presses("Plan: Hollis")
    await journey.doctor.presses("Regular days: Monday and Thursday mornings")

    await journey.doctor.reads("has a new plan")
    await journey.patient.reads("has given you a new plan")
