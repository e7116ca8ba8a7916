"""Invitations: from the chat, and from the command line.

A code is kept as its hash only, works once and expires. Links that come with an invitation
are proposals: the patient is asked in the chat before anybody is told anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Final

from sqlalchemy import Connection, select, update

from domain.averaging_rules import DEFAULT_RULE
from domain.outcome import PersonInvited, SetTimer
from domain.people import Consent, Helpline, Invitation, PersonId, Profile, Role, State
from domain.plans import PlanKind
from domain.talk.scheduling import CONTACTS
from storage import people, timers
from storage.errors import UnknownPersonError
from storage.fresh import code_digest, fresh_values
from storage.tables import invitations, persons

#: How long a code from the command line works.
CODE_DAYS: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Invite:
    """Who is invited from the command line. `carer_of`, `practitioner_of`: code or id."""

    role: Role
    name: str = ""
    zone: str | None = None  #: IANA name
    country: str | None = None  #: ISO 3166
    medicine_times: tuple[time, ...] | None = None  #: local; () is "takes none"
    out_of_hours: Helpline | None = None
    plan: PlanKind | None = None
    target: tuple[int, int] | None = None  #: mmHg, as the practitioner chose it
    rule: str | None = None  #: a name of `averaging_rules.RULES`, as the practitioner chose it
    carer_of: str | None = None
    practitioner_of: str | None = None


def invite(connection: Connection, wanted: Invite, now: datetime) -> str:
    """Make the person, the code and the proposed links; the code.

    Raises:
        UnknownPersonError: nobody has the code or id in `carer_of` or `practitioner_of`.
    """
    person, code = fresh_values(2)
    fact = PersonInvited(
        person=PersonId(person),
        name=wanted.name,
        role=wanted.role,
        code=code,
        expires=now + timedelta(days=CODE_DAYS),
        state=_first_state(wanted) if wanted.role is Role.PATIENT else None,
        zone=wanted.zone or "UTC",
    )
    proposals = [
        (_patient(connection, given), role)
        for given, role in (
            (wanted.carer_of, Role.CARER),
            (wanted.practitioner_of, Role.PRACTITIONER),
        )
        if given is not None
    ]
    people.invite(connection, fact, now)
    for patient, role in proposals:
        people.link(connection, patient, fact.person, role, Consent.PROPOSED)
        _ask_if_joined(connection, patient, now)
    keep_code(connection, replace(fact, patient=proposals[0][0]) if proposals else fact)
    return code


def keep_code(connection: Connection, fact: PersonInvited) -> None:
    """Keep the hash of an invitation's code."""
    connection.execute(
        invitations.insert().values(
            code_sha256=code_digest(fact.code),
            person=fact.person,
            role=fact.role,
            patient=fact.patient,
            expires=fact.expires,
        )
    )


def invitation(connection: Connection, code: str) -> Invitation | None:
    """What a code stands for, used or not; locked, so that only one chat can use it."""
    row = connection.execute(
        select(invitations, persons.c.name)
        .join_from(invitations, persons, invitations.c.person == persons.c.id)
        .where(invitations.c.code_sha256 == code_digest(code))
        .with_for_update(of=invitations)
    ).first()
    if row is None:
        return None
    patient = None if row.patient is None else PersonId(row.patient)
    return Invitation(
        person=PersonId(row.person),
        name=row.name,
        role=Role(row.role),
        expires=row.expires,
        used=row.used_at is not None,
        patient=patient,
        patient_name="" if patient is None else people.name_of(connection, patient),
    )


def use(connection: Connection, person: PersonId, now: datetime) -> None:
    """The person has joined: none of their codes works any more."""
    connection.execute(
        update(invitations)
        .where(invitations.c.person == person, invitations.c.used_at.is_(None))
        .values(used_at=now)
    )


def _first_state(wanted: Invite) -> State:
    profile = Profile(
        zone=wanted.zone,
        country=wanted.country,
        medicine_times=wanted.medicine_times,
        out_of_hours=wanted.out_of_hours,
    )
    if wanted.target is not None:
        profile = replace(profile, target=wanted.target)
    return State(profile=profile, wanted_plan=wanted.plan, rule=wanted.rule or DEFAULT_RULE)


def _patient(connection: Connection, code_or_id: str) -> PersonId:
    """The patient whom an invitation code (used or not) or an id names."""
    by_code = connection.scalar(
        select(invitations.c.person).where(invitations.c.code_sha256 == code_digest(code_or_id))
    )
    found = connection.scalar(
        select(persons.c.id).where(
            persons.c.id == (by_code or code_or_id.strip()), persons.c.state.is_not(None)
        )
    )
    if found is None:
        raise UnknownPersonError
    return PersonId(found)


def _ask_if_joined(connection: Connection, patient: PersonId, now: datetime) -> None:
    # A patient who is in a chat already is shown the proposal at once. Whoever is still
    # to come, or in the middle of joining, is shown it by the conversation at its end.
    joined = connection.scalar(
        select(persons.c.joined).where(persons.c.id == patient).with_for_update()
    )
    if joined:
        timers.change(connection, patient, [SetTimer(key=CONTACTS, due=now)])
