"""Whatever people send, in whatever order: nothing is raised, lost, or told to a stranger.

A machine of Hypothesis drives one patient's conversation with texts, edits, buttons and
time. Beside it stands a model that knows only of plain readings ("142/91"), edits and undo.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from domain import alarm_table
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
from domain.people import (
    AlarmStage,
    ChatId,
    Consent,
    JoinStep,
    MessageRef,
    PersonId,
)
from storage import codec
from tests.domain.conftest import (
    CARER,
    CARER_CHAT,
    DOCTOR,
    DOCTOR_CHAT,
    PATIENT_CHAT,
    Stage,
)
from tests.domain.watched_stage import (
    CONTACT_CHATS,
    PAIRS,
    TIMES,
    WITHOUT_CONSENT,
    WORDS,
    watched,
)


class Conversation(RuleBasedStateMachine):
    """Texts, edits, buttons and time, in any order."""

    def __init__(self) -> None:
        super().__init__()
        self.stage = watched()
        self.stage.presses(Do.PATIENT_PLAN, "first-week", chat=DOCTOR_CHAT)

    @rule(text=st.sampled_from(WORDS))
    def says(self, text: str) -> None:
        self.stage.says(text)

    @rule(pair=PAIRS, also=st.sampled_from(("", ", headache", ", no symptoms", " 138/88")))
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
            (*WORDS, "142/91", "192/114", "she has chest pain", "on my way", "I'm with her")
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

    @rule(minutes=TIMES)
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
            chat=CONTACT_CHATS[person], to=person, problem=problem, was_alarm=True
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
    st.lists(st.sampled_from(WORDS), max_size=6).map(" ".join),
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
    for text in (*WORDS, "142/91", "she collapsed", "/plan"):
        stage.says(text, chat=CARER_CHAT)
        stage.says(text, chat=DOCTOR_CHAT)
    assert {key for chat in (CARER_CHAT, DOCTOR_CHAT) for key in stage.heard(chat)} <= (
        WITHOUT_CONSENT
    )
