"""Chats that are about no single patient: strangers, practitioners, two in one chat, groups."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import count

import pytest

from bot.wording.catalogue import wording
from domain.conversation import respond
from domain.events import (
    Action,
    Actor,
    ChatClosed,
    Do,
    Edited,
    Event,
    GroupSeen,
    OldButton,
    OtherKind,
    Pressed,
    Said,
    SentOther,
    Situation,
)
from domain.outcome import Asking, LeaveGroup, Outcome, PersonInvited, PersonJoined, Rank
from domain.people import ChatId, Consent, Invitation, MessageRef, PersonId, Role, Tie
from domain.practice_list import ACTIONS, Entry, ListedAverage, Reason
from domain.shown import Pair

CHAT = ChatId(500)
NOW = datetime(2026, 3, 10, 7, tzinfo=UTC)
HOLLIS, TAMSIN, DOCTOR = PersonId("hollis"), PersonId("tamsin"), PersonId("okafor")
_numbers = count(1)


def tie(
    patient: str,
    role: Role = Role.PATIENT,
    consent: Consent = Consent.AGREED,
    *,
    alarm_open: bool = False,
    joined: bool = True,
) -> Tie:
    return Tie(
        patient=PersonId(patient.lower()),
        patient_name=patient,
        role=role,
        person=PersonId(patient.lower()) if role is Role.PATIENT else DOCTOR,
        person_name=patient if role is Role.PATIENT else "Dr. Okafor-Lindqvist",
        consent=consent,
        alarm_open=alarm_open,
        joined=joined,
    )


BOTH = (tie("Hollis"), tie("Tamsin"))
PRACTICE = (tie("Hollis", Role.PRACTITIONER), tie("Tamsin", Role.PRACTITIONER))


def happens(
    event: Event,
    *ties: Tie,
    asking: str = "",
    invitation: Invitation | None = None,
) -> Outcome:
    situation = Situation(
        actor=Actor(chat=CHAT),
        ties=ties,
        asking=asking,
        invitation=invitation,
        fresh=("new-person", "new-code"),
        bot_name="a_bot",
    )
    outcome = respond(situation, event, NOW)
    for out in outcome.outgoing:
        assert out.chat == CHAT
        assert wording(out.language).message(out.lines)
    return outcome


def said(text: str, chat: ChatId = CHAT) -> Said:
    message = MessageRef(chat=chat, message=next(_numbers))
    return Said(text=text, message=message, written_at=NOW)


def heard(outcome: Outcome) -> list[str]:
    return [line.key for out in outcome.outgoing for line in out.lines]


def actions(outcome: Outcome) -> list[Action]:
    return [b.action for out in outcome.outgoing for row in out.buttons for b in row]


# --- strangers and invitations


@pytest.mark.parametrize("text", ["hello", "142/91", "/help", "/patients", "/start", "/invite X"])
def test_a_stranger_gets_a_courteous_explanation_and_nothing_else(text: str) -> None:
    outcome = happens(said(text))
    assert heard(outcome) == ["stranger"]
    assert outcome.facts == ()
    assert actions(outcome) == []


def test_a_strangers_picture_is_answered_the_same() -> None:
    photo = SentOther(
        kind=OtherKind.PHOTO, message=MessageRef(chat=CHAT, message=1), written_at=NOW
    )
    assert heard(happens(photo)) == ["stranger"]


def invitation(**values: object) -> Invitation:
    made: dict[str, object] = {
        "person": DOCTOR,
        "name": "Dr. Okafor-Lindqvist",
        "role": Role.PRACTITIONER,
        "expires": NOW + timedelta(days=7),
    }
    return Invitation(**{**made, **values})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("made", "key"),
    [
        (None, "start.unknown"),
        (invitation(used=True), "start.used"),
        (invitation(expires=NOW - timedelta(seconds=1)), "start.expired"),
    ],
)
def test_a_code_that_cannot_be_used_lets_nobody_in(made: Invitation | None, key: str) -> None:
    outcome = happens(said("/start CODE"), invitation=made)
    assert heard(outcome) == [key]
    assert outcome.facts == ()


def test_a_code_works_up_to_its_last_moment() -> None:
    outcome = happens(said("/start CODE"), invitation=invitation(expires=NOW))
    assert heard(outcome) == ["practitioner.welcome"]
    assert [type(fact) for fact in outcome.facts] == [PersonJoined]


# --- practitioners


def test_a_practitioner_lists_their_patients_and_how_they_stand() -> None:
    outcome = happens(
        said("/patients"),
        tie("Hollis", Role.PRACTITIONER, alarm_open=True),
        tie("Tamsin", Role.PRACTITIONER),
        tie("Robin", Role.PRACTITIONER, joined=False),
        tie("Kit", Role.PRACTITIONER, Consent.PROPOSED, alarm_open=True),
    )
    assert heard(outcome) == [
        "patients.title",
        "patients.alarm",
        "patients.following",
        "patients.joining",
        "patients.proposed",
    ]
    assert PersonId("kit") not in {action.about for action in actions(outcome)}


def test_without_a_patient_the_list_says_so() -> None:
    nobody = Tie(
        patient=PersonId(""),
        patient_name="",
        role=Role.PRACTITIONER,
        person=DOCTOR,
        person_name="Dr. Okafor-Lindqvist",
    )
    assert heard(happens(said("/patients"), nobody)) == ["patients.none"]
    assert heard(happens(said("/week"), nobody)) == ["patients.none"]


@pytest.mark.parametrize(
    ("text", "do"),
    [("/week", Do.PATIENT_WEEK), ("/report", Do.PATIENT_REPORT), ("/plan", Do.PATIENT_PLAN)],
)
def test_what_fits_several_patients_is_asked_about_among_those_who_agreed(
    text: str, do: Do
) -> None:
    ties = (*PRACTICE, tie("Kit", Role.PRACTITIONER, Consent.REFUSED))
    found = actions(happens(said(text), *ties))
    assert [(action.do, action.about) for action in found] == [(do, HOLLIS), (do, TAMSIN)]


@pytest.mark.parametrize("steps", [("/invite Robin",), ("/invite", "Robin")])
def test_a_practitioner_invites_a_patient_whose_consent_is_still_to_come(
    steps: tuple[str, ...],
) -> None:
    asking = ""
    outcome = Outcome()
    for text in steps:
        outcome = happens(said(text), *PRACTICE, asking=asking)
        asking = next(f.what for f in outcome.facts if isinstance(f, Asking))
    (made,) = [fact for fact in outcome.facts if isinstance(fact, PersonInvited)]
    assert (made.name, made.role, made.practitioner) == ("Robin", Role.PATIENT, DOCTOR)
    assert made.consent is Consent.PROPOSED
    assert made.expires == NOW + timedelta(days=7)
    assert asking == ""
    assert heard(outcome) == ["invite.made", "invite.patient_consent"]


def test_a_carer_of_two_invites_no_patients() -> None:
    ties = (tie("Hollis", Role.CARER), tie("Tamsin", Role.CARER))
    outcome = happens(said("/invite Robin"), *ties)
    assert heard(outcome) == ["help.several"]
    assert outcome.facts == ()


# --- two patients in one chat


def test_a_text_that_fits_two_is_kept_in_the_buttons_and_filed_for_nobody() -> None:
    outcome = happens(said("142/91"), *BOTH)
    assert heard(outcome) == ["owner.ask"]
    assert outcome.facts == ()
    assert [action.about for action in actions(outcome)] == [HOLLIS, TAMSIN, None]
    assert "142/91" in actions(outcome)[0].argument


@pytest.mark.parametrize(
    "text",
    [
        "192/114 and my chest hurts",
        "chest pain",
        "192/114, headache",
        "192 over ?, headache",
        "131/85 or 181/85, headache",
        "she collapsed",
    ],
)
def test_emergency_advice_does_not_wait_for_whose_it_is(text: str) -> None:
    outcome = happens(said(text), *BOTH)
    assert heard(outcome) == ["emergency.call", "owner.ask"]
    assert outcome.outgoing[0].rank is Rank.ALARM


@pytest.mark.parametrize("text", ["192/114", "192 over ?", "131/85 or 181/85"])
def test_a_severe_number_asks_for_signs_and_whose_it_is_at_once(text: str) -> None:
    outcome = happens(said(text), *BOTH)
    assert heard(outcome) == ["severe.ask", "severe.signs", "severe.if_starts", "owner.ask"]
    assert outcome.outgoing[0].rank is Rank.ALARM


def test_an_edit_that_turns_dangerous_is_answered_too() -> None:
    edit = Edited(
        text="my chest hurts",
        message=MessageRef(chat=CHAT, message=1),
        written_at=NOW,
        edited_at=NOW,
    )
    assert heard(happens(edit, *BOTH)) == ["emergency.call", "owner.ask"]


@pytest.mark.parametrize("text", ["hello", "thank you", "/ready"])
def test_small_talk_in_a_shared_chat_gets_help(text: str) -> None:
    assert heard(happens(said(text), *BOTH)) == ["help.several"]


def test_nobodys_reading_is_left() -> None:
    pressed = Pressed(
        action=Action(do=Do.OWNER_NONE),
        pressed_at=NOW,
        message=MessageRef(chat=CHAT, message=1),
    )
    assert heard(happens(pressed, *BOTH)) == ["owner.left"]


def test_a_practitioner_is_never_offered_a_patient_who_has_not_agreed_as_owner() -> None:
    ties = (*PRACTICE, tie("Kit", Role.PRACTITIONER, Consent.PROPOSED))
    owners = {action.about for action in actions(happens(said("142/91"), *ties))}
    assert owners == {HOLLIS, TAMSIN, None}


# --- groups, old buttons


def test_the_bot_explains_itself_in_a_group_and_leaves() -> None:
    outcome = happens(GroupSeen(chat=CHAT), *BOTH)
    assert heard(outcome) == ["group"]
    assert outcome.facts == (LeaveGroup(chat=CHAT),)


def test_an_old_button_says_that_it_is_old() -> None:
    old = OldButton(message=MessageRef(chat=CHAT, message=1), pressed_at=NOW)
    assert heard(happens(old, *BOTH)) == ["old_button"]


def test_an_event_without_a_chat_and_without_a_patient_leads_to_nothing() -> None:
    situation = Situation(actor=Actor(chat=None))
    assert respond(situation, ChatClosed(chat=CHAT), NOW) == Outcome()


@pytest.mark.parametrize("ties", [(), BOTH])
def test_nobody_is_written_to_because_they_blocked_the_bot(ties: tuple[Tie, ...]) -> None:
    assert happens(ChatClosed(chat=CHAT), *ties) == Outcome()


# --- a practitioner's choices


@pytest.mark.parametrize("text", ["/target 130/80", "/guideline nice", "/changed 3", "/seen 4"])
def test_a_choice_for_one_of_several_patients_asks_for_which(text: str) -> None:
    refused = tie("Kit", Role.PRACTITIONER, Consent.REFUSED)
    cared_for = tie("Robin", Role.CARER)

    found = actions(happens(said(text), *PRACTICE, refused, cared_for))

    assert [(action.do, action.about) for action in found] == [
        (Do.PRACTICE, HOLLIS),
        (Do.PRACTICE, TAMSIN),
    ]
    assert {action.argument for action in found} == {text[1:].replace(" ", ":", 1)}


def test_a_choice_of_somebody_who_does_not_practise_is_no_choice() -> None:
    assert heard(happens(said("/target 130/80"), *BOTH)) == ["help.several"]


@pytest.mark.parametrize(
    ("reason", "marked"), [(Reason.ABOVE_TARGET, True), (Reason.SEVERE_LATELY, False)]
)
def test_what_is_to_be_decided_can_be_marked_under_the_list(reason: Reason, marked: bool) -> None:
    entry = Entry(
        patient=HOLLIS,
        name="Hollis",
        action=ACTIONS[reason],
        reason=reason,
        target=Pair(135, 85),
        average=ListedAverage(
            systolic=Fraction(143),
            diastolic=Fraction(88),
            shown=Pair(143, 88),
            readings=24,
            days=6,
            last_day=date(2026, 3, 9),
            rule="esh",
        ),
        lacks=(),
        last_day=date(2026, 3, 9),
        silent=1,
        asked=14,
        done=14,
        next_day=None,
        worst=Pair(192, 112) if reason is Reason.SEVERE_LATELY else None,
        causes=(),
        pause=None,
    )
    event = said("/patients")
    situation = Situation(actor=Actor(chat=CHAT), ties=PRACTICE, listed=(entry,))

    found = [a for a in actions(respond(situation, event, NOW)) if a.do is Do.PRACTICE]

    assert [a.argument for a in found] == (["seen:@above_target@143/88"] if marked else [])
