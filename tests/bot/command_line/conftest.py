"""The command line as a host uses it: commands run in this process, on one database."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot import cli
from bot.settings import PREFIX, SHAPES
from domain.outcome import Outcome, PersonJoined, ReadingDeleted, ReadingKept
from domain.people import ChatId, MessageRef, Patient, PersonId, ReadingId
from domain.readings import Bpm, Mmhg, Reading, Setting
from storage.engine import open_database
from storage.export import listed_patients, versions

AT = datetime(2026, 7, 10, 6, 42, tzinfo=UTC)


@dataclass(frozen=True)
class Host:
    """Whoever types the commands."""

    capsys: pytest.CaptureFixture[str]
    url: str

    def run(self, *words: str) -> tuple[int, str, str]:
        """Status, standard output and standard error of a command."""
        try:
            status = cli.main(words)
        except SystemExit as ended:
            status = int(ended.code or 0)
        shown = self.capsys.readouterr()
        return status, shown.out, shown.err

    def invite(self, *words: str) -> str:
        """The code of an invitation."""
        status, out, _ = self.run("invite", *words)
        assert status == 0
        return out.splitlines()[0]

    def patient_id(self) -> PersonId:
        """Whoever was invited first."""
        database = open_database(self.url)
        with database.reading() as connection:
            person = listed_patients(connection)[0].person
        database.dispose()
        return person

    def patient(self) -> Patient | None:
        """The first patient with everything that is known of them."""
        person = self.patient_id()
        database = open_database(self.url)
        with database.work() as work:
            patient = work.patient(person)
        database.dispose()
        return patient

    def keep_at_clinic(self, person: PersonId) -> None:
        """One reading that was taken at the clinic, and counts."""
        database = open_database(self.url)
        fact = _kept(165, "165/91/72 at the surgery")
        fact = replace(fact, reading=replace(fact.reading, setting=Setting.CLINIC))
        with database.work() as work:
            work.store(work.patient(person), Outcome(facts=(fact,)))
        database.dispose()

    def keep_readings(self, person: PersonId) -> None:
        """Three versions: one corrected away, one that counts, one that was taken back."""
        database = open_database(self.url)
        with database.work() as work:
            joined = PersonJoined(person=person, chat=ChatId(5), language="en")
            work.store(work.patient(person), Outcome(facts=(joined, _kept(124, "124/91/72"))))
        with database.work() as work:
            first = next(iter(versions(work.connection, person))).kept.id
            facts = (_kept(142, "142/91/72", first), _kept(150, "150/91/72"))
            work.store(work.patient(person), Outcome(facts=facts))
        with database.work() as work:
            found = versions(work.connection, person)
            gone = next(v.kept.id for v in found if v.kept.text == "150/91/72")
            work.store(work.patient(person), Outcome(facts=(ReadingDeleted(id=gone),)))
        database.dispose()


def _kept(systolic: int, text: str, replaces: ReadingId | None = None) -> ReadingKept:
    return ReadingKept(
        reading=Reading(systolic=Mmhg(systolic), diastolic=Mmhg(91), pulse=Bpm(72), at=AT),
        made_by=MessageRef(chat=ChatId(5), message=1),
        text=text,
        written_at=AT,
        replaces=replaces,
    )


@pytest.fixture(autouse=True)
def host(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> Host:
    """A host with an empty database and nothing else set."""
    for name in SHAPES:
        monkeypatch.delenv(f"{PREFIX}{name.upper()}", raising=False)
    url = f"sqlite:///{tmp_path / 'cuffbell.db'}"
    monkeypatch.setenv("CUFFBELL_DATABASE", url)
    monkeypatch.setenv("CUFFBELL_DATA", str(tmp_path))
    return Host(capsys, url)
