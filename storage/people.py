"""Persons and the links between them: who a chat is, whom it may be about, who is called.

Maps rows to `domain.people` values. Invitations: `invitations.py`. Readings and notes:
`records.py`.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection, Row, Select, bindparam, func, select, update

from domain.duty import Duty
from domain.outcome import PersonInvited
from domain.people import (
    RECENT_DAYS,
    ChatId,
    Consent,
    Contact,
    Patient,
    PersonId,
    Role,
    State,
    Tie,
)
from storage import codec, records
from storage.tables import chats, links, persons
from storage.upserts import upsert

_about = persons.alias("about")
_beside = persons.alias("beside")

# Statements of every event are made once: that takes longer than running them.
_PATIENT: Final = select(
    persons,
    select(func.count())
    .select_from(_beside)
    .where(_beside.c.chat == persons.c.chat, _beside.c.state.is_not(None))
    .scalar_subquery()
    .label("in_chat"),
).where(persons.c.id == bindparam("whose"), persons.c.state.is_not(None))
_PATIENT_LOCKED: Final = _PATIENT.with_for_update(of=persons, key_share=True)
_PATIENT_IF_FREE: Final = _PATIENT.with_for_update(of=persons, key_share=True, skip_locked=True)
_CONTACTS: Final = (
    select(
        links,
        persons.c.name,
        persons.c.chat,
        persons.c.language,
        persons.c.zone,
        persons.c.duty,
    )
    .join_from(links, persons, links.c.contact == persons.c.id)
    .where(links.c.patient == bindparam("whose"))
    .order_by(links.c.position, links.c.contact)
)
_HERE: Final = (
    select(persons)
    .where(persons.c.chat == bindparam("where"))
    .order_by(persons.c.created_at, persons.c.id)
)
_LINKED: Final[Select[Any]] = (
    select(
        links.c.patient,
        links.c.role,
        links.c.consent,
        links.c.told_week,
        _about.c.name.label("patient_name"),
        _about.c.alarm_open,
        _about.c.joined,
        persons.c.id.label("person"),
        persons.c.name.label("person_name"),
        persons.c.language.label("person_language"),
        persons.c.duty,
        persons.c.zone,
    )
    .join_from(persons, links, links.c.contact == persons.c.id)
    .join(_about, links.c.patient == _about.c.id)
    .where(persons.c.chat == bindparam("where"))
    .order_by(_about.c.created_at, _about.c.id)
)
_PERSON: Final = select(persons.c.id).where(persons.c.id == bindparam("whose"))
_PERSON_LOCKED: Final = _PERSON.with_for_update(key_share=True)
_PERSON_IF_FREE: Final = _PERSON.with_for_update(key_share=True, skip_locked=True)
_own, _theirs = links.alias("own"), links.alias("theirs")
_COLLEAGUES: Final = (
    select(_beside.c.id, _beside.c.name)
    .distinct()
    .select_from(persons)
    .join(_own, _own.c.contact == persons.c.id)
    .join(_theirs, _theirs.c.patient == _own.c.patient)
    .join(_beside, _beside.c.id == _theirs.c.contact)
    .where(
        persons.c.chat == bindparam("where"),
        _beside.c.id != persons.c.id,
        *(part.c.role == Role.PRACTITIONER for part in (_own, _theirs)),
        *(part.c.consent == Consent.AGREED for part in (_own, _theirs)),
    )
    .order_by(_beside.c.name, _beside.c.id)
)
_ASKING: Final = select(chats.c.asking).where(chats.c.chat == bindparam("where"))


def patient(
    connection: Connection, person: PersonId, now: datetime, *, lock: bool, skip_locked: bool
) -> Patient | None:
    """A patient with contacts and the last `RECENT_DAYS` days; None when there is none.

    With `lock` nobody else changes the patient until the transaction ends; with
    `skip_locked` the answer is None when somebody else holds the lock.
    """
    wanted = _PATIENT
    if lock:
        # The id never changes, so whoever only refers to the row need not wait.
        wanted = _PATIENT_IF_FREE if skip_locked else _PATIENT_LOCKED
    row = connection.execute(wanted, {"whose": person}).first()
    if row is None:
        return None
    since = now - timedelta(days=RECENT_DAYS)
    counting, spent = records.recent(connection, person, since)
    chat = None if row.chat is None else ChatId(row.chat)
    return Patient(
        id=person,
        name=row.name,
        chat=chat,
        language=row.language,
        state=codec.state(row.state),
        contacts=contacts(connection, person),
        readings=counting,
        notes=records.notes_of(connection, person, since),
        spent=spent,
        shares_chat=chat is not None and row.in_chat > 1,
    )


def contacts(connection: Connection, person: PersonId) -> tuple[Contact, ...]:
    """The patient's carers and practitioners in the order in which they are called."""
    return tuple(_contact(row) for row in connection.execute(_CONTACTS, {"whose": person}))


def ties(connection: Connection, chat: ChatId) -> tuple[Tie, ...]:
    """Whom a chat may be about: the patients in it, then the patients of its contacts.

    A practitioner without any patient yet has one tie with an empty patient id, so that
    the conversation knows that they may invite.
    """
    here = connection.execute(_HERE, {"where": chat}).all()
    own = [_own_tie(row) for row in here if row.state is not None]
    linked_rows = connection.execute(_LINKED, {"where": chat}) if here else ()
    others = [_linked_tie(row) for row in linked_rows]
    linked = {tie.person for tie in others}
    alone = [
        _unlinked_tie(row)
        for row in here
        if row.role == Role.PRACTITIONER and PersonId(row.id) not in linked
    ]
    return (*own, *others, *alone)


def name_of(connection: Connection, person: PersonId) -> str:
    return connection.scalar(select(persons.c.name).where(persons.c.id == person)) or ""


def add_person(
    connection: Connection,
    person: PersonId,
    name: str,
    role: Role,
    zone: str,
    state: State | None,
    now: datetime,
) -> None:
    """A new person, not yet in any chat. `state` is a patient's, else None."""
    connection.execute(
        persons.insert().values(
            id=person,
            name=name,
            role=role,
            language="en",
            zone=zone,
            state=None if state is None else codec.state_text(state),
            alarm_open=False,
            joined=False,
            created_at=now,
        )
    )


def link(
    connection: Connection,
    patient_id: PersonId,
    contact: PersonId,
    role: Role,
    consent: Consent = Consent.PROPOSED,
    *,
    told_missed: bool = False,
    told_week: bool = False,
) -> None:
    """Link a contact to a patient, as the last to be called. An existing link stays as it is."""
    already = connection.scalar(
        select(func.count())
        .select_from(links)
        .where(links.c.patient == patient_id, links.c.contact == contact)
    )
    if already:
        return
    last = connection.scalar(
        select(func.max(links.c.position)).where(links.c.patient == patient_id)
    )
    connection.execute(
        links.insert().values(
            patient=patient_id,
            contact=contact,
            role=role,
            position=0 if last is None else last + 1,
            consent=consent,
            told_missed=told_missed,
            told_week=told_week,
            reachable=True,
            asked=False,
        )
    )


def change_contact(connection: Connection, patient_id: PersonId, contact: Contact) -> None:
    """Store what the patient said to a link, and whether the contact can be reached."""
    connection.execute(
        update(links)
        .where(links.c.patient == patient_id, links.c.contact == contact.person)
        .values(
            consent=contact.consent,
            told_missed=contact.told_missed,
            told_week=contact.told_week,
            reachable=contact.reachable,
            asked=contact.asked,
        )
    )


def invite(connection: Connection, fact: PersonInvited, now: datetime) -> None:
    """A new person with the links that come with the invitation (not the code itself)."""
    state = (fact.state or State()) if fact.role is Role.PATIENT else fact.state
    add_person(connection, fact.person, fact.name, fact.role, fact.zone, state, now)
    if fact.patient is not None:
        link(
            connection,
            fact.patient,
            fact.person,
            fact.role,
            fact.consent,
            told_missed=fact.told_missed,
            told_week=fact.told_week,
        )
    if fact.practitioner is not None:
        link(connection, fact.person, fact.practitioner, Role.PRACTITIONER, fact.consent)


def join(connection: Connection, person: PersonId, chat: ChatId, language: str, name: str) -> None:
    """The person is reached in this chat from now on; `name` is "" to leave it as it is."""
    values: dict[str, Any] = {"chat": chat, "language": language}
    if name:
        values["name"] = name
    connection.execute(update(persons).where(persons.c.id == person).values(**values))


def save(connection: Connection, before: Patient, after: Patient) -> None:
    """Store a patient's new state, name and language. Readings, notes and links are facts."""
    values: dict[str, Any] = {}
    if after.state != before.state:
        values = {
            "state": codec.state_text(after.state),
            "alarm_open": after.state.alarm is not None,
            "joined": after.state.joined_at is not None and after.state.joining is None,
            "zone": after.state.profile.zone or "UTC",
            "unreachable": after.state.unreachable,
        }
    values |= {
        name: getattr(after, name)
        for name in ("name", "language")
        if getattr(after, name) != getattr(before, name)
    }
    if values:
        connection.execute(update(persons).where(persons.c.id == before.id).values(**values))


def choose_language(connection: Connection, chat: ChatId, language: str) -> None:
    """Everybody who is reached in the chat is spoken to in this language."""
    connection.execute(update(persons).where(persons.c.chat == chat).values(language=language))


def choose_duty(connection: Connection, person: PersonId, duty: Duty) -> None:
    """When a practitioner looks, from now on."""
    text = codec.duty_text(duty)
    connection.execute(update(persons).where(persons.c.id == person).values(duty=text))


def lock_person(connection: Connection, person: PersonId, *, wait: bool = False) -> bool:
    """Lock a person's row; False when there is none, or somebody is busy with it."""
    statement = _PERSON_LOCKED if wait else _PERSON_IF_FREE
    return connection.scalar(statement, {"whose": person}) is not None


def chat_of(connection: Connection, person: PersonId) -> ChatId | None:
    """Where somebody is reached; None before they have joined."""
    chat = connection.scalar(select(persons.c.chat).where(persons.c.id == person))
    return None if chat is None else ChatId(chat)


def colleagues(connection: Connection, chat: ChatId) -> tuple[tuple[PersonId, str], ...]:
    """Other practitioners of the patients who agreed to the practitioner of this chat."""
    rows = connection.execute(_COLLEAGUES, {"where": chat})
    return tuple((PersonId(row.id), row.name) for row in rows)


def asking(connection: Connection, chat: ChatId) -> str:
    """What the chat was asked outside any patient's conversation, "" when nothing."""
    return connection.scalar(_ASKING, {"where": chat}) or ""


def set_asking(connection: Connection, chat: ChatId, what: str) -> None:
    upsert(connection, chats, [{"chat": chat, "asking": what}], changed=("asking",))


def _contact(row: Row[Any]) -> Contact:
    return Contact(
        person=PersonId(row.contact),
        name=row.name,
        role=Role(row.role),
        chat=None if row.chat is None else ChatId(row.chat),
        language=row.language,
        zone=row.zone,
        consent=Consent(row.consent),
        told_missed=row.told_missed,
        told_week=row.told_week,
        reachable=row.reachable,
        asked=row.asked,
        duty=codec.duty(row.duty),
    )


def _own_tie(row: Row[Any]) -> Tie:
    return Tie(
        patient=PersonId(row.id),
        patient_name=row.name,
        role=Role.PATIENT,
        person=PersonId(row.id),
        person_name=row.name,
        alarm_open=row.alarm_open,
        joined=row.joined,
        language=row.language,
    )


def _linked_tie(row: Row[Any]) -> Tie:
    return Tie(
        patient=PersonId(row.patient),
        patient_name=row.patient_name,
        role=Role(row.role),
        person=PersonId(row.person),
        person_name=row.person_name,
        consent=Consent(row.consent),
        alarms_only=not row.told_week,
        alarm_open=row.alarm_open,
        joined=row.joined,
        duty=codec.duty(row.duty),
        zone=row.zone,
        language=row.person_language,
    )


def _unlinked_tie(row: Row[Any]) -> Tie:
    return Tie(
        patient=PersonId(""),
        patient_name="",
        role=Role.PRACTITIONER,
        person=PersonId(row.id),
        person_name=row.name,
        joined=False,
        language=row.language,
    )
