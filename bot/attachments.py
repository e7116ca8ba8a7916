"""Makes the pictures and reports of messages when they are sent, from what is stored then.

Person time and the patient's own days. What a picture shows is decided in `domain.week` and
`domain.report`, how it is drawn in `bot/pictures`; this file brings the two together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import assert_never

from bot.rendering import LONGEST_CAPTION, length
from bot.telegram.sending import MadeFile
from bot.threads import Threads
from bot.wording.catalogue import Wording, wording
from domain.averaging_rules import rule_named
from domain.messages import Line, line
from domain.outcome import ReportFile, WeekPicture
from domain.people import Note, NoteKind, Patient
from domain.readings import Reading, local_day
from domain.report import ReportView, first_day_of_report, report_view
from domain.week import DAYS_OF_A_WEEK, WeekView, caption, week_view
from storage.engine import Database
from storage.messages import ReadyMessage


@dataclass(frozen=True, slots=True)
class _Material:
    """What is stored of a patient at the moment of sending."""

    patient: Patient
    readings: tuple[Reading, ...]
    notes: tuple[Note, ...]
    now: datetime

    def day_of(self, moment: datetime) -> date:
        return local_day(moment, self.patient.zone)

    def asked(self, first_day: date, last_day: date) -> int | None:
        """Occasions asked for on these local days, None when nothing was."""
        prompts = [note for note in self.notes if note.kind is NoteKind.PROMPTED]
        return sum(first_day <= self.day_of(note.at) <= last_day for note in prompts) or None


class Attachments:
    """Makes attachments. `invented` says on each that the readings are made up."""

    def __init__(
        self, database: Database, threads: Threads, renderers: Threads, *, invented: bool
    ) -> None:
        self._database = database
        self._threads = threads
        self._renderers = renderers
        self._invented = invented

    async def make(self, message: ReadyMessage) -> MadeFile:
        """The file with its caption. Raises what the database or the renderer raises."""
        material = await self._threads.run(self._load, message)
        return await self._renderers.run(self._draw, message, material)

    async def in_words(self, message: ReadyMessage) -> str:
        """What to send, as HTML, when the file cannot be made."""
        material = await self._threads.run(self._load, message)
        words = wording(message.language)
        match message.attachment:
            case WeekPicture() as picture:
                return _caption(words, self._week_caption(material, picture), message.html)
            case _:
                return words.html(line("file.report.failed", name=material.patient.name))

    def _load(self, message: ReadyMessage) -> _Material:
        attachment = message.attachment
        assert attachment is not None
        with self._database.looking() as work:
            patient = work.patient(attachment.patient, lock=False)
            if patient is None:
                raise LookupError("The patient of an attachment is not stored.")
            kept, notes = work.history(attachment.patient)
            return _Material(patient, tuple(k.reading for k in kept), notes, work.now())

    def _draw(self, message: ReadyMessage, material: _Material) -> MadeFile:
        # The renderer takes long to import and is not needed before the first picture.
        from bot.pictures.report import report_pdf
        from bot.pictures.weekly import weekly_png

        words = wording(message.language)
        name = material.patient.name
        match message.attachment:
            case WeekPicture() as picture:
                week = self._week(material, picture)
                day = week.days[0].day.isoformat()
                return MadeFile(
                    content=weekly_png(week, words, name),
                    name=words.plain(line("file.week", day=day)),
                    caption=_caption(words, self._week_caption(material, picture), message.html),
                    is_picture=True,
                )
            case ReportFile(last_day=last):
                told = line("file.report.caption", name=name, last=last)
                return MadeFile(
                    content=report_pdf(self._report(material, last), words, name),
                    name=words.plain(line("file.report", day=last.isoformat())),
                    caption=words.html(told),
                    is_picture=False,
                )
            case None:
                raise ValueError("The message has no attachment.")
            case _:
                assert_never(message.attachment)

    def _week(self, material: _Material, picture: WeekPicture) -> WeekView:
        first = picture.first_day
        last = first + timedelta(days=DAYS_OF_A_WEEK - 1)
        return week_view(
            material.readings,
            zone=material.patient.zone,
            first_day=first,
            target=material.patient.state.profile.target,
            today=material.day_of(material.now),
            asked=material.asked(first, last),
            notes=material.notes,
            invented=self._invented,
        )

    def _week_caption(self, material: _Material, picture: WeekPicture) -> Sequence[Line]:
        return caption(self._week(material, picture), material.patient.name)

    def _report(self, material: _Material, last_day: date) -> ReportView:
        days = [material.day_of(reading.at) for reading in material.readings]
        first_day = first_day_of_report(days, last_day)
        return report_view(
            material.readings,
            zone=material.patient.zone,
            first_day=first_day,
            last_day=last_day,
            rule=rule_named(material.patient.state.rule),
            target=material.patient.state.profile.target,
            made=material.now,
            asked=material.asked(first_day, last_day),
            notes=material.notes,
            invented=self._invented,
        )


def _caption(words: Wording, lines: Iterable[Line], before: str) -> str:
    """The lines as HTML, as many from the first as fit behind what the message says itself."""
    room = LONGEST_CAPTION - length(before) - len("\n\n")
    kept: list[str] = []
    for one in lines:
        candidate = [*kept, words.html(one)]
        if length("\n".join(candidate)) > room:
            break
        kept = candidate
    return "\n".join(kept)
