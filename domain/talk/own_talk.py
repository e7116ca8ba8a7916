"""What a patient writes in their own chat: from the text to facts, danger, and the reply.

The order is fixed: what is sure is kept, danger is weighed on the worst that the message
may mean, and only then is anything asked or answered.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from domain import danger
from domain.events import Edited, Said
from domain.messages import line
from domain.people import AlarmStage, JoinStep, NoteKind, Step
from domain.readings import Setting, at_clinic, at_home
from domain.talk import (
    alarm_words,
    answers,
    clinic_talk,
    coaching,
    commands,
    details,
    doubts,
    escalation,
    family,
    fitting,
    joining,
    keeping,
    medicine_talk,
    quiet_signs,
    replies,
    routing,
    severe,
    severe_words,
    signs,
    someone_else,
    typed_answers,
    watch_answers,
    watching,
)
from domain.talk.keeping import Source, Taken
from domain.talk.turn import Turn
from domain.understanding.result import Intent, Remark, Understood

COMMANDS: Final[Mapping[str, Callable[[Turn], None]]] = {
    "ready": coaching.ready,
    "week": commands.week,
    "report": commands.report,
    "family": family.show,
    "details": details.show,
    "settings": commands.settings,
    "plan": commands.plan,
    "help": commands.help_,
    "cautions": commands.cautions,
    "stop": commands.stop,
    "resume": commands.resume,
}


def said(turn: Turn, event: Said, *, named: bool = False) -> None:
    """The patient wrote something; `named`: of two in one chat it was said to be theirs."""
    asked = routing.command(event.text)
    if asked is not None:
        _command(turn, *asked)
        return
    understood = turn.read(event.text, event.written_at)
    if named:
        understood = someone_else.made_own(understood)
    if event.forwarded:
        _forwarded(turn, event, understood)
    elif turn.state.declined:
        _declined(turn, event, understood)
    elif not _answers_a_question(turn, event.text, understood):
        source = Source(message=event.message, text=event.text, written_at=event.written_at)
        _take(turn, source, understood, keeping.take_in(turn, source, understood))


def edited(turn: Turn, event: Edited) -> None:
    """The patient changed a message that they had sent."""
    understood = turn.read(event.text, event.written_at)
    source = Source(message=event.message, text=event.text, written_at=event.written_at)
    made = any(kept.made_by == event.message for kept in turn.patient.readings)
    waiting = turn.state.in_doubt
    in_doubt = waiting is not None and waiting.made_by == event.message
    if event.message in turn.patient.spent and not made and not in_doubt:
        turn.say(line("edit.later_correction"))
        return
    matters = made or bool(understood.readings)
    if matters and event.edited_at - event.written_at > keeping.OLD_EDIT:
        _ask_about_old_edit(turn, source, understood)
        return
    if in_doubt:
        turn.change(in_doubt=None)
    alarm = turn.state.alarm
    caused_alarm = alarm is not None and event.message in alarm.causes
    if made or in_doubt or caused_alarm:
        _take(turn, source, understood, keeping.edit(turn, source, understood))
        return
    _take(turn, source, understood, keeping.take_in(turn, source, understood))


def from_contact(turn: Turn, event: Said) -> None:
    """A contact said that a reading they wrote is the patient's."""
    read = turn.read(event.text, event.written_at)
    understood = someone_else.made_own(read, by_another=True)
    source = Source(message=event.message, text=event.text, written_at=event.written_at)
    made = any(kept.made_by == event.message for kept in turn.patient.readings)
    take = keeping.edit if made else keeping.take_in  # an edited message is not a second reading
    _take(turn, source, understood, take(turn, source, understood))


def doubt_answered(turn: Turn, argument: str) -> None:
    """A button under the question about a message in doubt."""
    waiting = turn.state.in_doubt
    options = doubts.chosen(waiting, argument) if waiting else ()
    if not options:
        turn.say(line("old_button"))
        return
    _settled(turn, keeping.answer_doubt(turn, options))


def doubt_refused(turn: Turn) -> None:
    """None of the options: the right numbers are asked for, the text stays kept."""
    turn.change(in_doubt=None)
    turn.say(line("doubt.type_again"))


def old_edit_answered(turn: Turn, *, yes: bool) -> None:
    """Whether the edit of an old message is to count."""
    waiting = turn.state.in_doubt
    if waiting is None or not waiting.is_edit:
        turn.say(line("old_button"))
        return
    turn.change(in_doubt=None)
    if not yes:
        turn.say(line("edit.left"))
        return
    understood = turn.read(waiting.text, waiting.written_at)
    source = Source(message=waiting.made_by, text=waiting.text, written_at=waiting.written_at)
    _take(turn, source, understood, keeping.edit(turn, source, understood))


# --- before anything is kept


def _command(turn: Turn, name: str, rest: str) -> None:
    alarm = turn.state.alarm
    emergency = alarm is not None and alarm.stage is AlarmStage.EMERGENCY
    # The number to call stays on top of everything; what "undo" may end is not asked for first.
    if alarm is not None and (emergency or (name != "undo" and severe.is_awaited(turn))):
        alarm_words.what_is_open(turn, alarm)
    if name == "invite":
        family.offer_invitation(turn, rest)
    elif name == "undo":
        _undo(turn)
    elif name == "ready" and turn.state.declined:
        turn.say(line("declined.still", number=turn.number))
    elif name in COMMANDS:
        COMMANDS[name](turn)
    elif name == "start" and turn.state.joining is not None:
        joining.ask(turn, turn.state.joining)
    else:
        commands.help_(turn)


def _undo(turn: Turn) -> None:
    taken = commands.undo(turn)
    if taken.changed:
        told = signs.Told(message=taken.changed[0])
        if not escalation.weigh(turn, told, taken.changed):
            coaching.reading_gone(turn)


def _forwarded(turn: Turn, event: Said, understood: Understood) -> None:
    """Somebody else's words: never filed by default, but danger is answered."""
    source = Source(message=event.message, text=event.text, written_at=event.written_at)
    theirs = someone_else.made_anothers(understood)
    matters = someone_else.matters(turn, theirs)
    if matters:
        someone_else.answer(turn, source, theirs)
    if theirs.theirs or not matters:
        turn.say(line("forwarded"))


def _declined(turn: Turn, event: Said, understood: Understood) -> None:
    """Limits for adults do not fit: only the emergency advice is given, whoever it is."""
    told = signs.told_by(understood, event.message, event.written_at)
    pairs = [*told.pairs, *((r.systolic, r.diastolic) for r in understood.readings)]
    # In pregnancy 160/110 is severe (NICE NG133), and any sign of danger counts.
    in_danger = bool(set(told.symptoms) - {watching.MARK}) or any(
        danger.PREGNANCY_SEVERE.reached_by(*p) for p in pairs
    )
    reasons = [note.code for note in turn.patient.notes if note.kind is NoteKind.DECLINED]
    pregnant = bool(reasons) and reasons[-1] == "pregnant"
    today = pregnant and any(danger.PREGNANCY_HIGH.reached_by(*p) for p in pairs)
    key = "danger" if in_danger else "today" if today else "still"
    turn.say(line(f"declined.{key}", number=turn.number))
    source = Source(message=event.message, text=event.text, written_at=event.written_at)
    someone_else.answer(turn, source, understood)


def _answers_a_question(turn: Turn, text: str, understood: Understood) -> bool:
    """Whether the text answers what was asked, and holds no reading and no sign."""
    if joining.takes_place(turn, text, understood):
        return True
    alarm = turn.state.alarm
    if alarm is not None and alarm.stage is AlarmStage.EMERGENCY:
        return typed_answers.says_how_it_is(turn, text, understood)
    if fitting.names_condition(turn, text, understood):
        return joining.text_answer(turn, JoinStep.ADULT, text)
    if understood.readings or understood.signs or someone_else.is_told_of(understood):
        return False
    if Remark.MONITOR_ERROR in understood.remarks:
        return False  # "E3" is no name either
    if typed_answers.may_be_severe(turn, text, understood):
        return False  # "192 over ?" is no name and no length of an arm
    yes = answers.yes_or_no(text, language=turn.language)
    if alarm is not None and alarm.stage is AlarmStage.ASKED:
        return typed_answers.signs_by_word(turn, text)
    if alarm is not None and alarm.stage is AlarmStage.LASTING:
        return typed_answers.worse_by_word(turn, text)
    if typed_answers.seen_by_word(turn, text):
        return True
    if turn.state.asking and typed_answers.asked_for(turn, turn.state.asking, text, understood):
        return True
    step = turn.state.joining
    if step is not None and joining.text_answer(turn, step, text):
        return True
    waiting = turn.state.in_doubt
    if waiting is not None and yes is not None and (waiting.is_edit or waiting.options):
        return _doubt_by_word(turn, yes=yes)
    return typed_answers.prompt_by_word(turn, text)


def _doubt_by_word(turn: Turn, *, yes: bool) -> bool:
    waiting = turn.state.in_doubt
    assert waiting is not None
    if waiting.is_edit:
        old_edit_answered(turn, yes=yes)
    elif not yes:
        doubt_refused(turn)
    elif waiting.together or len(waiting.options) == 1:
        doubt_answered(turn, "all")
    else:
        doubts.ask(turn)
    return True


# --- after it is kept


def _take(turn: Turn, source: Source, understood: Understood, taken: Taken) -> None:
    if understood.denies_all and not understood.symptoms:
        turn.note(NoteKind.SYMPTOM, code="none", made_by=source.message)
    for code in understood.symptoms:
        turn.note(NoteKind.SYMPTOM, code=code, text=source.text, made_by=source.message)
    if understood.intent is Intent.MEDICINE:
        turn.note(NoteKind.MEDICINE, text=source.text, made_by=source.message)
    if understood.intent is Intent.UNDO and not taken.changed:
        taken = keeping.undo(turn)
    recent = tuple(r for r in taken.kept if watch_answers.calls(r, source.written_at))
    told = signs.told_by(understood, source.message, source.written_at, recent)
    told = replace(told, pairs=(*told.pairs, *watch_answers.together(turn, told)))
    answered = escalation.weigh(turn, told, taken.changed)
    someone_else.answer(turn, source, understood)
    earlier = quiet_signs.note_earlier(turn, told)
    if answered or watch_answers.call_now(turn, told, understood.pulses):
        return
    step = turn.state.joining
    if Remark.MONITOR_ERROR in understood.remarks:
        watch_answers.monitor_error(turn, source.message, said=not taken.kept)
        if not (taken.kept or taken.changed or understood.symptoms or understood.doubts):
            if step is not None and not severe.is_awaited(turn):
                joining.ask(turn, step)
            return
    if step is not None and turn.state.alarm is None and _says_nothing(understood, taken):
        joining.not_understood(turn, step)
        return
    if earlier and not taken.kept and _is_only_told(turn, understood):
        turn.say(*earlier)
    else:
        _reply(turn, source, understood, taken)
        if earlier and not severe.is_awaited(turn):
            turn.say(*earlier)
    if step is not None and turn.state.in_doubt is None:
        joining.ask(turn, step)


def _is_only_told(turn: Turn, understood: Understood) -> bool:
    """Whether a message tells only of signs that are gone, and nothing more urgent is open."""
    told = understood.intent in {Intent.SYMPTOM, Intent.OTHER} and not understood.symptoms
    return told and not severe.is_awaited(turn)


def _says_nothing(understood: Understood, taken: Taken) -> bool:
    """Whether nothing in a message can be answered, so that an open question is put again."""
    fell = watch_answers.fall_in(understood) is not None
    other = understood.others or someone_else.is_told_of(understood)
    answered = other or understood.symptoms or taken.changed or fell
    return understood.intent is Intent.OTHER and not answered


def _settled(turn: Turn, taken: Taken) -> None:
    """A message in doubt counts now: danger first, then the usual reply."""
    made_by = taken.changed[0]
    kept = next(k for k in turn.patient.readings if k.made_by == made_by)
    source = Source(message=made_by, text=kept.text, written_at=kept.written_at)
    recent = tuple(r for r in taken.kept if watch_answers.calls(r, source.written_at))
    pairs = tuple((r.systolic, r.diastolic) for r in recent)
    told = signs.Told(message=made_by, written_at=source.written_at, pairs=pairs, kept=recent)
    told = replace(told, pairs=(*pairs, *watch_answers.together(turn, told)))
    if not (escalation.weigh(turn, told, taken.changed) or watch_answers.call_now(turn, told)):
        _reply_to_readings(turn, taken, (), source)


def _reply(turn: Turn, source: Source, understood: Understood, taken: Taken) -> None:
    waiting = turn.state.in_doubt
    if taken.nothing_to_change:
        turn.say(line("correct.nothing"))
    elif taken.marked:
        clinic_talk.marked(turn, taken.marked)
    elif taken.replaced:
        _say_replaced(turn, taken)
        added = replace(taken, kept=taken.kept[len(taken.replaced) :])
        if added.kept:
            _reply_to_readings(turn, added, understood.symptoms, source)
    elif taken.deleted:
        gone = taken.deleted[0]
        at = gone.at.astimezone(turn.patient.zone)
        turn.say(line("undo.done", shown=replies.shown(gone), at=at))
        coaching.reading_gone(turn)
    elif taken.kept:
        _reply_to_readings(turn, taken, understood.symptoms, source)
        watch_answers.standing_drop(turn, understood)
        watch_answers.fell(turn, source.message, understood)
    elif waiting is None or waiting.made_by != source.message:
        _reply_to_words(turn, source, understood)
    if waiting is not None and waiting.made_by == source.message:
        doubts.ask(turn)


def _reply_to_readings(turn: Turn, taken: Taken, symptoms: tuple[str, ...], source: Source) -> None:
    clinic, home = at_clinic(taken.kept), at_home(taken.kept)
    fresh = [r for r in home if keeping.is_fresh(r, source.written_at)]
    earlier = tuple(r for r in home if r not in fresh)
    if clinic:
        clinic_talk.came(turn, clinic, symptoms, source)
    if earlier:
        replies.kept_for_earlier(turn, earlier)
    if fresh:
        coaching.readings_came(turn, fresh[-1], symptoms)


def _say_replaced(turn: Turn, taken: Taken) -> None:
    for before, after in taken.replaced:
        turn.say(line("correct.done", before=replies.shown(before), after=replies.shown(after)))
    after = taken.replaced[-1][1]
    if turn.state.occasion is None and after.setting is Setting.HOME:
        occasion = coaching.occasion_of(turn, after)
        if len(occasion.readings) > 1:
            replies.occasion_done(turn, occasion, ())
            return
    replies.corrected(turn, after)


def _reply_to_words(turn: Turn, source: Source, understood: Understood) -> None:
    """No reading in it: what kind of message is it?"""
    if someone_else.is_all(understood):
        return
    match understood.intent:
        case Intent.MEDICINE:
            open_ = turn.state.occasion
            asked = open_ is not None and open_.step is Step.PROMPTED
            measure = (line("medicine.measure"),) if asked else ()
            when, days = medicine_talk.question(turn, understood)
            turn.say(line("medicine.noted"), *measure, *when, buttons=days)
        case Intent.STOP if not severe.is_awaited(turn):
            commands.stop(turn)
        case _ if _puts_off(understood) and severe.cannot_wait(turn):
            pass
        case _ if severe.remind_what_is_open(turn):
            pass
        case _ if watch_answers.fell(turn, source.message, understood):
            pass
        case Intent.SYMPTOM | Intent.OTHER if understood.pulses:
            watch_answers.pulse_alone(turn, understood.pulses, understood.symptoms)
        case Intent.SYMPTOM | Intent.OTHER if understood.symptoms:
            replies.symptoms_noted(turn, understood.symptoms)
        case Intent.SYMPTOM:
            turn.say(line("symptom.none_noted"))
        case Intent.POSTPONE:
            coaching.postpone(turn, understood.postponed)
        case Intent.SKIP:
            coaching.skip(turn)
        case Intent.UNDO:
            turn.say(line("undo.nothing"))
        case Intent.QUESTION:
            turn.say(line("question", number=turn.number), buttons=replies.caution_buttons(turn))
            if turn.state.occasion is not None:
                coaching.say_step(turn)  # "what now?" is a question too
        case _:
            _reply_to_other(turn)


def _puts_off(understood: Understood) -> bool:
    """ "I'm off to bed", "I'll do it tomorrow"."""
    bed = Remark.GOING_TO_BED in understood.remarks
    return bed or understood.intent in {Intent.POSTPONE, Intent.SKIP}


def _reply_to_other(turn: Turn) -> None:
    if turn.state.occasion is not None:
        coaching.say_step(turn)
    elif turn.state.alarm is not None:  # "nobody answers at the practice": what to do then
        severe_words.what_is_open(turn, turn.state.alarm)
    else:
        turn.say(line("other"))


def _ask_about_old_edit(turn: Turn, source: Source, understood: Understood) -> None:
    """Danger in the new text is answered at once; the old reading waits for a yes."""
    told = signs.told_by(understood, source.message, source.written_at)
    keeping.hold_edit(turn, source)
    if not escalation.weigh(turn, told):
        doubts.ask(turn)
