"""What waits for a contact when the patient ends their consent is not sent any more."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text

from domain.outcome import ContactChanged, Outcome, Rank
from domain.people import ChatId, Consent, PersonId, Role
from storage.health import health
from storage.messages import Lane, ReadyMessage
from storage.outbox import Outbox
from tests.storage.conftest import HOLLIS_CHAT, START, WREN_CHAT, Town

LEASE = timedelta(seconds=25)


@pytest.fixture
def wren(town: Town) -> PersonId:
    """Hollis has joined and has agreed to Wren."""
    hollis = town.hollis()
    person = town.join(town.invite(Role.CARER, "Wren", carer_of=hollis), WREN_CHAT)
    says(town, Consent.AGREED)
    return person


def hollis_of(town: Town) -> PersonId:
    with town.database.work() as work:
        return work.ties(HOLLIS_CHAT)[0].patient


def says(town: Town, consent: Consent, *messages: ReadyMessage) -> None:
    """Hollis says this to the link, and these messages follow from it."""
    hollis = hollis_of(town)
    patient = town.patient(hollis)
    (contact,) = patient.contacts
    changed = ContactChanged(contact=replace(contact, consent=consent, asked=True))
    with town.database.work() as work:
        work.store(work.patient(hollis), Outcome(facts=(changed,)), messages)


def ready(
    town: Town,
    plain: str,
    *,
    to: PersonId | None,
    chat: ChatId = WREN_CHAT,
    lane: Lane = Lane.TEXT,
    rank: Rank = Rank.ALARM,
) -> ReadyMessage:
    about = hollis_of(town)
    return ReadyMessage(
        chat=chat, plain=plain, html=plain, lane=lane, rank=rank, about=about, to=to
    )


def queue(town: Town, *messages: ReadyMessage) -> None:
    with town.database.work() as work:
        work.queue(messages)


def states(town: Town) -> list[tuple[str, str]]:
    with town.database.reading() as connection:
        rows = connection.execute(text("SELECT plain, state FROM outbox ORDER BY id"))
        return [(row.plain, row.state) for row in rows]


@pytest.mark.parametrize("lane", list(Lane))
def test_what_waits_is_recalled_and_the_word_of_the_end_is_sent(
    town: Town, wren: PersonId, lane: Lane
) -> None:
    queue(town, ready(town, "192/114", to=wren, lane=lane))

    says(town, Consent.WITHDRAWN, ready(town, "ended", to=wren, rank=Rank.REPLY))

    assert states(town) == [("192/114", "recalled"), ("ended", "waiting")]
    outbox = Outbox(town.database)
    assert outbox.claim("worker", Lane.FILE, 5, START, LEASE) == []
    (claim,) = outbox.claim("worker", Lane.TEXT, 5, START, LEASE)
    row = outbox.begin(claim, START)
    assert row is not None
    assert row.message.plain == "ended"


def test_what_waits_for_the_patient_and_for_others_goes_out(town: Town, wren: PersonId) -> None:
    queue(
        town,
        ready(town, "own", to=None, chat=HOLLIS_CHAT),
        replace(ready(town, "of another", to=wren), about=PersonId("tamsin")),
        ready(town, "of nobody", to=None),
    )

    says(town, Consent.WITHDRAWN)

    assert {state for _, state in states(town)} == {"waiting"}


@pytest.mark.parametrize("consent", [Consent.AGREED, Consent.WITHDRAWN])
def test_what_never_was_agreed_recalls_nothing(
    town: Town, wren: PersonId, consent: Consent
) -> None:
    says(town, Consent.WITHDRAWN)
    queue(town, ready(town, "wait", to=wren))

    says(town, consent)

    assert states(town) == [("wait", "waiting")]


def test_a_message_that_is_being_sent_is_noted_as_sent_and_the_lane_goes_on(
    town: Town, wren: PersonId
) -> None:
    queue(town, ready(town, "192/114", to=wren))
    outbox = Outbox(town.database)
    (claim,) = outbox.claim("worker", Lane.TEXT, 5, START, LEASE)
    row = outbox.begin(claim, START)
    assert row is not None

    says(town, Consent.WITHDRAWN, ready(town, "ended", to=wren, rank=Rank.REPLY))

    assert outbox.sent(claim, row, 7, START)
    assert states(town) == [("192/114", "sent"), ("ended", "waiting")]
    later = START + timedelta(seconds=2)
    assert [c.chat for c in outbox.claim("worker", Lane.TEXT, 5, later, LEASE)] == [WREN_CHAT]


def test_a_recalled_alarm_is_no_undeliverable_alarm(town: Town, wren: PersonId) -> None:
    queue(town, ready(town, "192/114", to=wren))

    says(town, Consent.WITHDRAWN)

    with town.database.reading() as connection:
        figures = health(connection, START)
    assert (figures.failed_alarms, figures.oldest_alarm) == (0, None)
