"""Whatever people send, in whatever order: nothing is raised, lost, or told to a stranger.

A machine of Hypothesis drives one patient's conversation with texts, edits, buttons and
time. Beside it stands a model that knows only of plain readings ("142/91"), edits and undo.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from domain import alarm_table
from domain.danger import ADULT
from domain.duty import Duty
from domain.events import (
    ChatClosed,
    ChatOpened,
    DeliveryFailed,
    DeliveryProblem,
    Do,
    OtherKind,
    SentOther,
    TimerFell,
)
from domain.outcome import Outcome, Rank, SetTimer
from domain.people import (
    Alarm,
    AlarmStage,
    ChatId,
    Consent,
    Contact,
    JoinStep,
    MessageRef,
    NoteKind,
    Patient,
    PersonId,
    Role,
    State,
)
from domain.plans import PlanKind
from domain.talk.signs import SIGN
from storage import codec
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
_WITHOUT_CONSENT = {
    "cautions.whole",
    "contact.wait",
    "other.emergency",
    "consent.contact.withdrawn",
    "consent.contact.refused",
    "alarm.over",
    "owner.left",
}
#: What a person may type, over and over, beside plain readings.
_WORDS = (
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
_CONTACT_WORDS = (
    "142/91",
    "192/114",
    "she has chest pain",
    "on my way",
    "I'm with her",
    "she does not answer the phone",
    "mum fainted two days ago",
)
_CONTACT_CHATS = {CARER: CARER_CHAT, DOCTOR: DOCTOR_CHAT}


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
            person = next(p for p, chat in _CONTACT_CHATS.items() if chat == out.chat)
            if person not in agreed:
                assert out.attachment is None
                assert {line.key for line in out.lines} <= _WITHOUT_CONSENT

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


_pairs = st.tuples(st.integers(90, 210), st.integers(50, 120)).filter(lambda p: p[0] - p[1] >= 12)
_times = st.sampled_from((0.5, 1, 3, 5, 8, 11, 20, 60, 240, 60 * 13, 60 * 25))


class Conversation(RuleBasedStateMachine):
    """Texts, edits, buttons and time, in any order."""

    def __init__(self) -> None:
        super().__init__()
        self.stage = watched()
        self.stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)

    @rule(text=st.sampled_from(_WORDS))
    def says(self, text: str) -> None:
        self.stage.says(text)

    @rule(pair=_pairs, also=st.sampled_from(("", ", headache", ", no symptoms", " 138/88")))
    def measures(self, pair: tuple[int, int], also: str) -> None:
        before = len(self.stage.pairs())
        doubtful = self.stage.patient.state.alarm
        self.stage.says(f"{pair[0]}/{pair[1]}{also}")
        if self.stage.patient.state.declined:
            return  # too young, by the settings: nothing is kept
        if doubtful is None or not doubtful.slip:
            assert len(self.stage.pairs()) == before + (2 if "138" in also else 1)

    @rule(
        text=st.sampled_from(
            (*_WORDS, "142/91", "192/114", "she has chest pain", "on my way", "I'm with her")
        )
    )
    def a_contact_says(self, text: str) -> None:
        self.stage.says(text, chat=CARER_CHAT)

    @rule(data=st.data(), chat=st.sampled_from((PATIENT_CHAT, CARER_CHAT, DOCTOR_CHAT)))
    def somebody_presses_any_button_ever_given(self, data: st.DataObject, chat: ChatId) -> None:
        given_here = [
            button.action
            for out in self.stage.given
            if out.chat == chat
            for row in out.buttons
            for button in row
        ]
        if given_here:
            action = data.draw(st.sampled_from(given_here[-12:]))
            self.stage.presses(action.do, action.argument, chat=chat)

    @rule(
        do=st.sampled_from((Do.CONSENT_YES, Do.CONSENT_WITHDRAW, Do.CONSENT_ALARMS, Do.CONSENT_NO))
    )
    def the_patient_changes_a_consent(self, do: Do) -> None:
        self.stage.presses(do, CARER)

    @rule(text=st.sampled_from(("142/91", "never mind", "192/114", "131/85 or 141/85", "headache")))
    def edits_the_last_reading(self, text: str) -> None:
        readings = [k for k in self.stage.patient.readings if k.made_by.chat == PATIENT_CHAT]
        if readings:
            last = readings[-1]
            self.stage.edits(last.made_by, text, written_at=last.written_at)

    @rule(text=st.sampled_from(("/undo", "undo")))
    def takes_one_back(self, text: str) -> None:
        before = len(self.stage.pairs())
        self.stage.says(text)
        assert len(self.stage.pairs()) == max(before - 1, 0)

    @rule(kind=st.sampled_from(OtherKind))
    def sends_something_else(self, kind: OtherKind) -> None:
        message = MessageRef(chat=PATIENT_CHAT, message=next(self.stage._numbers))
        self.stage.happens(SentOther(kind=kind, message=message, written_at=self.stage.now))

    @rule(opened=st.booleans())
    def the_carer_blocks_or_lets_in(self, opened: bool) -> None:
        event = ChatOpened(chat=CARER_CHAT) if opened else ChatClosed(chat=CARER_CHAT)
        self.stage.happens(event, chat=CARER_CHAT)

    @rule(minutes=_times)
    def time_passes(self, minutes: float) -> None:
        self.stage.passes(minutes=minutes)

    @rule(hours=st.sampled_from((1, 3, 9)))
    def the_program_stood_still(self, hours: int) -> None:
        """Due timers fall late, all at once."""
        self.stage.now += timedelta(hours=hours)
        self.stage.passes(minutes=0)

    @precondition(lambda self: self.stage.alarm is AlarmStage.EMERGENCY)
    @rule()
    def an_emergency_ends_and_prompts_go_on(self) -> None:
        self.stage.presses(Do.HELP_CAME)
        assert self.stage.alarm is None
        plan = self.stage.patient.state.plan
        if plan is not None and not self.stage.patient.state.paused:
            assert self.stage.timers["prompt"] > self.stage.now

    @rule()
    def the_program_starts_anew(self) -> None:
        """All that is known comes from the database again."""
        state = codec.state(codec.state_text(self.stage.patient.state))
        assert state == self.stage.patient.state
        self.stage.patient = replace(self.stage.patient, state=state)

    @rule(person=st.sampled_from((CARER, DOCTOR)), problem=st.sampled_from(DeliveryProblem))
    def an_alarm_cannot_be_delivered(self, person: PersonId, problem: DeliveryProblem) -> None:
        alarm = self.stage.patient.state.alarm
        if alarm is None or person not in alarm.told:
            return
        event = DeliveryFailed(
            chat=_CONTACT_CHATS[person], to=person, problem=problem, was_alarm=True
        )
        self.stage.take_sent()
        self.stage.fails_to_deliver(event)
        if person not in alarm.failed:
            assert "emergency.unreachable" in self.stage.heard()

    @invariant()
    def an_open_alarm_can_always_end(self) -> None:
        if self.stage.alarm is not None:
            assert "alarm.end" in self.stage.timers

    @invariant()
    def an_emergency_that_nobody_answered_has_a_next_call(self) -> None:
        alarm = self.stage.patient.state.alarm
        if alarm is None or alarm.stage is not AlarmStage.EMERGENCY or alarm.answered_by:
            return
        assert "emergency.again" in self.stage.timers

    @invariant()
    def whoever_will_see_to_it_is_asked_later(self) -> None:
        alarm = self.stage.patient.state.alarm
        if alarm is not None and alarm.stage is AlarmStage.EMERGENCY and alarm.answered_by:
            assert {"emergency.chase", "emergency.chased"} & set(self.stage.timers)

    @invariant()
    def waits_stand_only_in_their_stages(self) -> None:
        for wait in alarm_table.WAITS:
            if wait.key in self.stage.timers:
                assert self.stage.alarm in wait.stages

    @invariant()
    def an_open_occasion_always_comes_to_an_end(self) -> None:
        if self.stage.step is not None:
            assert "occasion.missed" in self.stage.timers


TestConversation = Conversation.TestCase
TestConversation.settings = settings(max_examples=120, stateful_step_count=30, deadline=None)


# --- readings against a simple model


class Model:
    """What a careful reader would keep of plain readings, edits and undo."""

    def __init__(self) -> None:
        self.made: dict[MessageRef, list[tuple[int, int]]] = {}
        self.order: list[MessageRef] = []

    def says(self, message: MessageRef, pairs: Iterable[tuple[int, int]]) -> None:
        self.made[message] = list(pairs)
        self.order.append(message)

    def undo(self) -> None:
        for message in reversed(self.order):
            if self.made[message]:
                self.made[message].pop()
                return

    @property
    def pairs(self) -> list[tuple[int, int]]:
        return sorted(pair for pairs in self.made.values() for pair in pairs)


class Readings(RuleBasedStateMachine):
    """Every reading that was sent counts, once, in its last version."""

    def __init__(self) -> None:
        super().__init__()
        self.stage = watched()
        self.model = Model()

    @rule(pairs=st.lists(_pairs, min_size=1, max_size=3))
    def measures(self, pairs: list[tuple[int, int]]) -> None:
        message = self.stage.says(" ".join(f"{s}/{d}" for s, d in pairs))
        self.model.says(message, pairs)
        self.stage.passes(minutes=1)

    @rule(data=st.data(), pairs=st.lists(_pairs, max_size=2))
    def edits(self, data: st.DataObject, pairs: list[tuple[int, int]]) -> None:
        if not self.model.order:
            return
        message = data.draw(st.sampled_from(self.model.order))
        written = next(
            (k.written_at for k in self.stage.patient.readings if k.made_by == message), None
        )
        if written is None or self.stage.now - written > timedelta(hours=48):
            return
        text = " ".join(f"{s}/{d}" for s, d in pairs) or "never mind"
        self.stage.edits(message, text, written_at=written)
        self.model.made[message] = pairs

    @rule()
    def takes_one_back(self) -> None:
        self.stage.says("/undo")
        self.model.undo()
        self.stage.passes(minutes=1)

    @rule(text=st.sampled_from(("hello", "headache", "no", "my chest hurts", "/week", "")))
    def says_something_else(self, text: str) -> None:
        self.stage.says(text)
        self.stage.passes(minutes=1)

    @rule(minutes=_times)
    def time_passes(self, minutes: float) -> None:
        self.stage.passes(minutes=minutes)

    @invariant()
    def the_conversation_keeps_what_the_model_keeps(self) -> None:
        assert sorted(self.stage.pairs()) == self.model.pairs


TestReadings = Readings.TestCase
TestReadings.settings = settings(max_examples=100, stateful_step_count=20, deadline=None)


# --- any text at all, at any place


def asked_for_signs(stage: Stage) -> None:
    stage.says("192/114")


def in_an_emergency(stage: Stage) -> None:
    stage.says("192/114 and my chest hurts")


def in_doubt(stage: Stage) -> None:
    stage.says("131/85 or 141/85")


def in_an_occasion(stage: Stage) -> None:
    stage.says("142/91")


def joining(step: JoinStep) -> Callable[[Stage], None]:
    def put(stage: Stage) -> None:
        state = replace(stage.patient.state, joining=step, joined_at=None)
        stage.patient = replace(stage.patient, state=state)

    return put


def naming_a_carer(stage: Stage) -> None:
    stage.says("/invite")


_PLACES: tuple[Callable[[Stage], None], ...] = (
    lambda stage: None,
    asked_for_signs,
    in_an_emergency,
    in_doubt,
    in_an_occasion,
    naming_a_carer,
    *(joining(step) for step in JoinStep),
)
_TEXTS = st.one_of(
    st.text(max_size=300),
    st.text(alphabet="0123456789/ .,:?-", max_size=80),
    st.text(max_size=20).map(lambda part: (part * 5000)[:5000]),
    st.lists(st.sampled_from(_WORDS), max_size=6).map(" ".join),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(put=st.sampled_from(_PLACES), text=_TEXTS, chat=st.sampled_from((PATIENT_CHAT, CARER_CHAT)))
def test_any_text_at_any_place_is_answered_and_nothing_kept_is_lost(
    put: Callable[[Stage], None], text: str, chat: ChatId
) -> None:
    stage = watched()
    put(stage)
    kept = set(stage.pairs())
    message = stage.says(text, chat=chat)
    asked_to_change = any(fact.__class__.__name__ == "ReadingDeleted" for fact in stage.facts)
    replaced = any(getattr(fact, "replaces", None) for fact in stage.facts)
    assert asked_to_change or replaced or kept <= set(stage.pairs())
    stage.edits(message, text[::-1])
    stage.passes(hours=26)
    assert "prompt" not in stage.timers or stage.timers["prompt"] > stage.now


def test_a_timer_of_an_older_version_is_let_go() -> None:
    stage = watched()
    stage.happens(TimerFell(key="no.such.timer", due=stage.now), chat=None)
    assert stage.sent == []


def test_a_contact_without_consent_learns_nothing_whatever_they_write() -> None:
    stage = watched()
    without = tuple(replace(c, consent=Consent.PROPOSED) for c in stage.patient.contacts)
    stage.patient = replace(stage.patient, contacts=without)
    for text in (*_WORDS, "142/91", "she collapsed", "/plan"):
        stage.says(text, chat=CARER_CHAT)
        stage.says(text, chat=DOCTOR_CHAT)
    assert {key for chat in (CARER_CHAT, DOCTOR_CHAT) for key in stage.heard(chat)} <= (
        _WITHOUT_CONSENT
    )
