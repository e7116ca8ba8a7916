"""A stage that checks each outcome against what must hold of every one, and what people type."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time

from hypothesis import strategies as st

from domain.danger import ADULT
from domain.duty import Duty
from domain.outcome import Outcome, Rank, SetTimer
from domain.people import (
    Alarm,
    AlarmStage,
    Contact,
    NoteKind,
    Patient,
    PersonId,
    Role,
    State,
)
from domain.plans import PlanKind
from domain.talk.signs import SIGN
from tests.domain.conftest import (
    CARER,
    CARER_CHAT,
    DOCTOR,
    DOCTOR_CHAT,
    PATIENT_CHAT,
    Stage,
    contact,
    joined_profile,
)

#: What may be sent to somebody who has not agreed to, no longer is, or refused.
WITHOUT_CONSENT = {
    "cautions.whole",
    "contact.wait",
    "other.emergency",
    "consent.contact.withdrawn",
    "consent.contact.refused",
    "alarm.over",
    "owner.left",
}
#: What a person may type, over and over, beside plain readings.
WORDS = (
    "yes",
    "no",
    "none of these",
    "fine",
    "ok",
    "ready",
    "already rested",
    "later",
    "in 30 minutes",
    "skip",
    "my chest hurts",
    "headache",
    "no symptoms",
    "a bit dizzy",
    "I fell this morning",
    "the heart sign flashed",
    "pulse 38",
    "E3",
    "I fainted two days ago",
    "it has passed",
    "I do not want help",
    "the paramedics are here",
    "help",
    "my wife collapsed",
    "192 over ?",
    "131/85 or 181/85",
    "91/142",
    "310/150",
    "18 over 11",
    "should have been 81",
    "I meant 132/91",
    "took my tablet",
    "stop",
    "what does 192/114 mean?",
    "/week",
    "/report",
    "/family",
    "/settings",
    "/help",
    "/stop",
    "/resume",
    "/ready",
    "/invite Robin",
    "/cautions",
    "Robin",
    "112",
    "8 and 20:00",
    "left",
    "34 cm",
    "",
    "🙂" * 50,
)
#: What a contact may write besides.
CONTACT_WORDS = (
    "142/91",
    "192/114",
    "she has chest pain",
    "on my way",
    "I'm with her",
    "she does not answer the phone",
    "mum fainted two days ago",
)
CONTACT_CHATS = {CARER: CARER_CHAT, DOCTOR: DOCTOR_CHAT}


def fresh_stage() -> Stage:
    state = State(
        profile=joined_profile(),
        joined_at=datetime(2026, 3, 9, 12, tzinfo=UTC),
        wanted_plan=PlanKind.FIRST_WEEK,
    )
    contacts: tuple[Contact, ...] = (
        contact(CARER, "Wren", Role.CARER, CARER_CHAT),
        replace(
            contact(DOCTOR, "Dr. Okafor-Lindqvist", Role.PRACTITIONER, DOCTOR_CHAT),
            duty=Duty(live=(time(0), time(0))),
        ),
    )
    patient = Patient(
        id=PersonId("hollis"), name="Hollis", chat=PATIENT_CHAT, state=state, contacts=contacts
    )
    return Stage(patient=patient, now=datetime(2026, 3, 10, 7, tzinfo=UTC))


class Watched(Stage):
    """A stage that checks each outcome against what must hold of every one."""

    def _apply(self, outcome: Outcome) -> None:
        agreed_before = {c.person for c in self.patient.contacts if c.may_be_told}
        alarm_before, open_before = self.alarm, self.patient.state.alarm
        super()._apply(outcome)
        if alarm_before is AlarmStage.EMERGENCY and self.alarm is None:
            assert open_before is not None
            self._ended_as_it_may(open_before, outcome)
        agreed = {c.person for c in self.patient.contacts if c.may_be_told}
        self._no_stranger_is_told(outcome, agreed_before | agreed)
        if self.alarm is AlarmStage.EMERGENCY and alarm_before is not AlarmStage.EMERGENCY:
            self._everybody_is_called(outcome, agreed)
        for change in outcome.timers:
            if isinstance(change, SetTimer):
                assert change.due >= self.now, f"{change.key} is set in the past"

    def _ended_as_it_may(self, before: Alarm, outcome: Outcome) -> None:
        """An emergency ends confirmed, corrected by the rule, or with the contacts exhausted."""
        how = self.noted(NoteKind.ALARM_ENDED)[-1]
        pair = self.pairs()[-2:]
        flagged = set(before.symptoms) & (ADULT.red_flags | {SIGN})
        if how == "calm":
            assert len(pair) == 2
            assert not any(ADULT.is_severe(*numbers) for numbers in pair)
        elif how == "corrected":
            assert not flagged
        else:
            assert how in {"helped", "there", "made_sure", "not_about", "no_word"}
        told = {c.chat for c in self.patient.contacts if c.may_be_told and c.person in before.told}
        failed = {c.chat for c in self.patient.contacts if c.person in before.failed}
        assert told - failed <= {out.chat for out in outcome.outgoing}, "told how it ended"

    def _no_stranger_is_told(self, outcome: Outcome, agreed: set[PersonId]) -> None:
        for out in outcome.outgoing:
            if out.chat == PATIENT_CHAT:
                continue
            person = next(p for p, chat in CONTACT_CHATS.items() if chat == out.chat)
            if person not in agreed:
                assert out.attachment is None
                assert {line.key for line in out.lines} <= WITHOUT_CONSENT

    def _everybody_is_called(self, outcome: Outcome, agreed: set[PersonId]) -> None:
        alarms = [out for out in outcome.outgoing if out.rank is Rank.ALARM]
        own = [out for out in alarms if out.chat == PATIENT_CHAT]
        assert own
        assert own[0].lines[0].key == "emergency.call"
        assert own[0].lines[0].values["number"] == "112"
        called = {out.to for out in alarms if out.to is not None}
        assert agreed <= called


def watched() -> Watched:
    stage = fresh_stage()
    return Watched(patient=stage.patient, now=stage.now)


PAIRS = st.tuples(st.integers(90, 210), st.integers(50, 120)).filter(lambda p: p[0] - p[1] >= 12)
TIMES = st.sampled_from((0.5, 1, 3, 5, 8, 11, 20, 60, 240, 60 * 13, 60 * 25))
