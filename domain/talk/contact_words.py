"""What contacts are told in an alarm: keys with their values.

Each message says first what to do. What was only sent is never called known.
"""

from __future__ import annotations

from domain.events import Do
from domain.messages import Line, line, symptom_words
from domain.outcome import Rank
from domain.people import Alarm, AlarmStage, Contact
from domain.talk.alarm_shown import (
    seen_by_contact,
    shown_pairs,
    shown_readings,
    told_of,
)
from domain.talk.details import alarm_details
from domain.talk.turn import Rows, Turn


def call(turn: Turn, contact: Contact, alarm: Alarm, *, update: bool) -> None:
    """What was sent, when, what to do. Repeated until somebody answers."""
    name = turn.patient.name
    key = "contact.emergency.more" if update else "contact.emergency"
    lines = [line(key, name=name, number=turn.number), seen_by_contact(turn, alarm)]
    if not update:
        at = alarm.opened.astimezone(turn.patient.zone)
        lines.append(line("contact.when", name=name, at=at))
    lines.append(line("contact.do", name=name, number=turn.number))
    lines.extend(alarm_details(turn, contact))
    if alarm.patient_said:
        lines.append(line(f"contact.said.{alarm.patient_said}", name=name))
    turn.tell(contact, *lines, buttons=_buttons(turn), rank=Rank.ALARM)


def severe(turn: Turn, contact: Contact, alarm: Alarm, why: str) -> None:
    """`why` is unanswered, no_pair, monitor, still_severe, same_day, passed or unseen."""
    name = turn.patient.name
    if why == "passed":
        _passed(turn, contact, alarm)
        return
    at = alarm.opened.astimezone(turn.patient.zone)
    if why == "unseen":
        spoken = alarm.stage in {AlarmStage.TODAY, AlarmStage.PASSED}
        first = [line("contact.unseen" if spoken else "contact.still_open", name=name, at=at)]
        first.append(seen_by_contact(turn, alarm))
    else:
        shown = shown_pairs(alarm.readings)
        first = [line(f"contact.severe.{why}", name=name, shown=shown, at=at)]
    turn.tell(
        contact,
        *first,
        *(_came_since(turn, alarm) if why in {"no_pair", "monitor"} else ()),
        line("contact.severe.do", name=name, number=turn.number),
        *alarm_details(turn, contact),
        buttons=((turn.button("button.see_to_it", Do.SEE_TO_IT),),),
        rank=Rank.ALARM,
    )


def _came_since(turn: Turn, alarm: Alarm) -> tuple[Line, ...]:
    """What the person has measured since, where it is not the number that is told already."""
    last = turn.patient.readings[-1].reading if turn.patient.readings else None
    if last is None or last.at <= alarm.opened:
        return ()
    return (line("contact.last", shown=shown_readings([last])),)


def what_to_do(turn: Turn, contact: Contact, alarm: Alarm) -> None:
    """They wrote something else while it is open: what was sent, which signs count, and the
    buttons again."""
    name, number = turn.patient.name, turn.number
    lines = [seen_by_contact(turn, alarm), line("contact.severe.do", name=name, number=number)]
    buttons: Rows = ((turn.button("button.see_to_it", Do.SEE_TO_IT),),)
    if alarm.stage is AlarmStage.EMERGENCY:
        lines.append(line("contact.do", name=name, number=number))
        buttons = _buttons(turn)
    turn.tell(contact, *lines, buttons=buttons)


def danger_told(turn: Turn, reporter: Contact) -> None:
    """To whoever told of danger: what to do, and that it counts as this person's until they say
    that it does not."""
    name = turn.patient.name
    turn.tell(
        reporter,
        line("contact.danger", name=name, number=turn.number),
        line("contact.danger.raised", name=name),
        buttons=(
            (turn.button("button.not_about", Do.NOT_ABOUT, name=name),),
            (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
        ),
        rank=Rank.ALARM,
    )


def ask_if_there(turn: Turn, contact: Contact) -> None:
    """ "I'm with my sister": is that the patient?"""
    turn.tell(
        contact,
        line("contact.with_whom", name=turn.patient.name),
        buttons=_buttons(turn),
        rank=Rank.ALARM,
    )


def _passed(turn: Turn, contact: Contact, alarm: Alarm) -> None:
    assert alarm.sign_at is not None
    at = alarm.sign_at.astimezone(turn.patient.zone)
    symptoms = symptom_words(alarm.symptoms)
    turn.tell(
        contact,
        line("contact.passed", name=turn.patient.name, symptoms=symptoms, at=at),
        line("contact.passed.do", name=turn.patient.name, number=turn.number),
        *alarm_details(turn, contact),
        buttons=((turn.button("button.see_to_it", Do.SEE_TO_IT),),),
        rank=Rank.ALARM,
    )


def _buttons(turn: Turn) -> Rows:
    name = turn.patient.name
    return (
        (turn.button("button.see_to_it", Do.SEE_TO_IT),),
        (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
        (turn.button("button.cannot", Do.CANNOT),),
    )


def to_those_told(turn: Turn, alarm: Alarm, *lines: Line) -> None:
    """To everybody who was told of this alarm."""
    for contact in told_of(turn, alarm):
        turn.tell(contact, *lines, buttons=_buttons(turn), rank=Rank.ALARM)


def changed(turn: Turn, alarm: Alarm) -> None:
    """A number was changed, and the alarm stands all the same."""
    name = turn.patient.name
    to_those_told(turn, alarm, line("contact.changed", name=name), seen_by_contact(turn, alarm))


def make_sure(turn: Turn, reporter: Contact) -> None:
    """The person says that all is calm; whoever told of the signs is asked to make sure."""
    name = turn.patient.name
    shown = shown_readings([turn.patient.readings[-1].reading])
    turn.tell(
        reporter,
        line("contact.calm", name=name, shown=shown),
        buttons=(
            (turn.button("button.it_is_over", Do.IT_IS_OVER, name=name),),
            (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
        ),
        rank=Rank.ALARM,
    )


def ended(turn: Turn, alarm: Alarm, how: str, *, by: str) -> None:
    """Those who were told are told how it ended, with what the person has sent last."""
    last = turn.patient.readings[-1].reading if turn.patient.readings else None
    for contact in told_of(turn, alarm):
        lines = [line(f"contact.ended.{how}", name=turn.patient.name, by=by)]
        if last is not None:
            lines.append(line("contact.last", shown=shown_readings([last])))
        turn.tell(contact, *lines, rank=Rank.ALARM)


# --- what they answered


def answers(turn: Turn, alarm: Alarm, contact: Contact) -> None:
    """A contact will see to it: the person and the other contacts see who."""
    name, number = turn.patient.name, turn.number
    turn.tell(
        contact,
        line("contact.thanks", name=name, number=number),
        buttons=(
            (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
            (turn.button("button.cannot", Do.CANNOT),),
        ),
        rank=Rank.ALARM,
    )
    emergency_open = alarm.stage is AlarmStage.EMERGENCY
    key = "said.see_to_it" if emergency_open else "said.see_to_it.today"
    turn.say(line(key, name=contact.name, number=number), rank=Rank.ALARM)
    _others(turn, alarm, contact, line("contact.other_sees", name=contact.name, patient=name))


def cannot(turn: Turn, alarm: Alarm, contact: Contact) -> None:
    """A contact cannot help: said to everybody, so that nobody relies on them."""
    name, number = turn.patient.name, turn.number
    when = "" if alarm.stage is AlarmStage.EMERGENCY else ".today"
    turn.tell(contact, line(f"contact.cannot{when}", name=name, number=number), rank=Rank.ALARM)
    turn.say(line(f"said.cannot{when}", name=contact.name, number=number), rank=Rank.ALARM)
    other = line("contact.other_cannot", name=contact.name, patient=name)
    _others(turn, alarm, contact, other)


def _others(turn: Turn, alarm: Alarm, contact: Contact, *lines: Line) -> None:
    for other in told_of(turn, alarm):
        if other.person != contact.person:
            turn.tell(other, *lines, rank=Rank.ALARM)


def chase(turn: Turn, alarm: Alarm) -> None:
    """Whoever said that they will see to it is asked whether they are there."""
    name = turn.patient.name
    for contact in told_of(turn, alarm):
        if contact.person in alarm.answered_by:
            turn.tell(
                contact,
                line("contact.chase", name=name, number=turn.number),
                buttons=(
                    (turn.button("button.i_am_there", Do.I_AM_THERE, name=name),),
                    (turn.button("button.still_on_it", Do.SEE_TO_IT),),
                    (turn.button("button.cannot", Do.CANNOT),),
                ),
                rank=Rank.ALARM,
            )


def cannot_reach(turn: Turn, contact: Contact) -> None:
    """The patient does not answer a contact: what to do; the others learn it in an alarm."""
    name, number = turn.patient.name, turn.number
    turn.tell(contact, line("contact.cannot_reach", name=name, number=number), rank=Rank.ALARM)
    alarm = turn.state.alarm
    turn.say(line("said.cannot_reach", name=contact.name, number=number), rank=Rank.ALARM)
    if alarm is not None:
        told = line("contact.other_cannot_reach", name=contact.name, patient=name)
        _others(turn, alarm, contact, told)
