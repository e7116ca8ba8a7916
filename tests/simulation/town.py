"""Settles the people of a world: who is there, who looks after whom, who has agreed to what.

All of them are invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from random import Random
from typing import TYPE_CHECKING, Final, TypeVar
from zoneinfo import ZoneInfo

from domain.outcome import Outcome, PersonInvited, PersonJoined, SetTimer
from domain.people import ChatId, Consent, Monitor, PersonId, Profile, Role, State
from domain.plans import Plan, PlanKind, next_due
from domain.readings import Arm
from domain.readings import Half as HalfOfDay
from domain.talk.scheduling import CONTACTS, PROMPT, WEEK
from tests.simulation.couples import Couple, Half
from tests.simulation.patients import Patient
from tests.simulation.people import Around, Person, Stranger

if TYPE_CHECKING:
    from tests.simulation.world import World

_PATIENTS: Final = ("Hollis", "Tamsin", "Corwin", "Maudry", "Ansell", "Orlaith", "Perrin")
_AROUND: Final = ("Wren", "Robin", "Lark", "Piper", "Merle", "Finch", "Linnet", "Martlet")
_ZONES: Final = (("Europe/Lisbon", "PT"), ("America/Halifax", "CA"), ("Asia/Kolkata", "IN"))
_Kind = TypeVar("_Kind")
#: How many of so many people.
_PLANS: Final = {
    PlanKind.REGULAR_DAYS: 12,
    PlanKind.TWICE_A_YEAR: 6,
    PlanKind.OWN_DAYS: 1,
    PlanKind.FIRST_WEEK: 1,
}
_CONSENTS: Final = {
    Consent.AGREED: 8,
    Consent.PROPOSED: 2,
    Consent.REFUSED: 1,
    Consent.WITHDRAWN: 1,
}
#: Of those who measure: they look after another one, in the same chat.
_MEASURE_AND_CARE: Final = 0.3


def settle(world: World) -> list[Person]:
    """Everybody, in the database and with a chat."""
    dice = Random(f"{world.seed} town")
    with world.database.work() as work:
        work.set_bot(7, "simulated_bot")
    patients = [
        Patient(world, _name(_PATIENTS, number), world.shape.patient)
        for number in range(world.shape.patients)
    ]
    for patient in patients:
        _move_in(world, patient, dice)
    couples = [
        Couple(world, (f"Sable{number}", f"Osric{number}"), world.shape.patient)
        for number in range(world.shape.couples)
    ]
    together = Random(f"{world.seed} couples")
    for half in (half for couple in couples for half in couple.halves):
        _move_in(world, half, together)
    around: list[Around] = []
    for patient in patients:
        for role in (Role.CARER, Role.CARER, Role.PRACTITIONER):
            if dice.random() < (0.8 if role is Role.CARER else 0.4):
                around.append(_look_after(world, patient, role, len(around), dice))
    for person in dice.sample(around, len(around) // 5):
        _look_after_too(world, person, dice.choice(patients), dice)
    families = Random(f"{world.seed} families")
    for patient in patients:
        if families.random() < _MEASURE_AND_CARE and len(patients) > 1:
            other = families.choice([one for one in patients if one is not patient])
            _comes_to(world, patient, PersonId(f"{patient.id}-cares"), other, Role.CARER, families)
    for half in (half for couple in couples for half in couple.halves):
        if together.random() < 0.8:
            around.append(_look_after(world, half, Role.CARER, len(around), together))
    strangers = [
        Stranger(world, f"Stranger{number}", world.shape.around)
        for number in range(world.shape.strangers)
    ]
    return [*patients, *couples, *around, *strangers]


def _name(names: Sequence[str], number: int) -> str:
    round_, place = divmod(number, len(names))
    return names[place] + (chr(ord("a") + round_ - 1) if round_ else "")


def _move_in(world: World, patient: Patient | Half, dice: Random) -> None:
    zone, country = dice.choice(_ZONES)
    now = world.now()
    first_day = now.astimezone(ZoneInfo(zone)).date() - timedelta(days=dice.randrange(4))
    plan = Plan(kind=_one_of(_PLANS, dice), first_day=first_day)
    prompts = {
        HalfOfDay.MORNING: time(dice.randint(6, 9), dice.choice((0, 15, 30))),
        HalfOfDay.EVENING: time(dice.randint(18, 21), dice.choice((0, 15, 30))),
    }
    profile = Profile(
        zone=zone,
        country=country,
        emergency_number="112",
        medicine_times=(),
        morning_prompt=prompts[HalfOfDay.MORNING],
        evening_prompt=prompts[HalfOfDay.EVENING],
        monitor=Monitor.UPPER_ARM,
        arm_cm=30,
        arm=Arm.LEFT,
        adult=True,
    )
    invited = PersonInvited(
        person=PersonId(patient.id),
        name=patient.name,
        role=Role.PATIENT,
        code=f"code-{patient.id}",
        expires=now + timedelta(days=7),
        state=State(profile=profile, plan=plan, joined_at=now),
        zone=zone,
    )
    due = next_due(plan, prompts, ZoneInfo(zone), now)
    timers = [SetTimer(key=WEEK, due=_sunday(now)), SetTimer(key=CONTACTS, due=now)]
    if due is not None:
        timers.append(SetTimer(key=PROMPT, due=due.moment))
    joined = PersonJoined(person=invited.person, chat=ChatId(patient.chat.id), language="en")
    with world.database.work() as work:
        work.store(None, Outcome(facts=(invited, joined)))
        work.store(work.patient(invited.person), Outcome(timers=tuple(timers)))


def _look_after(
    world: World, patient: Patient | Half, role: Role, number: int, dice: Random
) -> Around:
    person = Around(world, _name(_AROUND, number), world.shape.around)
    _comes_to(world, person, PersonId(person.id), patient, role, dice)
    return person


def _look_after_too(world: World, person: Around, patient: Patient, dice: Random) -> None:
    """Somebody looks after a second patient, in the same chat: an invitation of its own."""
    if patient.id not in person.patients:
        _comes_to(world, person, PersonId(f"{person.id}-too"), patient, Role.CARER, dice)


def _comes_to(
    world: World, person: Person, id: PersonId, patient: Patient | Half, role: Role, dice: Random
) -> None:
    person.patients.append(patient.id)
    consent = _one_of(_CONSENTS, dice)
    invited = PersonInvited(
        person=id,
        name=person.name,
        role=role,
        code=f"code-{id}",
        expires=world.now() + timedelta(days=7),
        patient=PersonId(patient.id),
        consent=consent,
        told_missed=consent is Consent.AGREED and dice.random() < 0.5,
        told_week=consent is Consent.AGREED and dice.random() < 0.5,
    )
    joined = PersonJoined(person=invited.person, chat=ChatId(person.chat.id), language="en")
    with world.database.work() as work:
        work.store(None, Outcome(facts=(invited, joined)))


def _one_of(weights: Mapping[_Kind, int], dice: Random) -> _Kind:
    return dice.choices(list(weights), list(weights.values()))[0]


def _sunday(now: datetime) -> datetime:
    days = (6 - now.weekday()) % 7
    return (now + timedelta(days=days)).replace(hour=20, minute=45, tzinfo=UTC)
