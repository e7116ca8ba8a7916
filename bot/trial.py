"""`cuffbell try`: the whole bot with the local chat, in one process and one folder.

Everything is invented and says so. The folder holds the database and the chats; a later
start on it goes on with both, and with the clock where it stood.
"""

from __future__ import annotations

import asyncio
import os
import secrets
import shutil
import sys
import threading
import webbrowser
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import AbstractAsyncContextManager, asynccontextmanager, contextmanager
from dataclasses import dataclass
from datetime import time, timedelta
from pathlib import Path
from typing import Final

from bot import gazetteer
from bot.app import Office, Program, stop_at_signals
from bot.errors import CuffbellError
from bot.localchat import FolderInUseError, LocalChat, NewerFolderError
from bot.localchat.store import Store
from bot.person_time import PersonTime
from bot.telegram.client import make_client
from domain.people import Role
from domain.plans import PlanKind
from storage.engine import open_database
from storage.errors import StorageError
from storage.export import listed_patients
from storage.invitations import Invite
from storage.work import Work

#: Of nobody's bot: only the local chat knows it.
BOT_ID: Final = 1_000_001
TOKEN_FILE: Final = "token"  # noqa: S105
DATABASE_FILE: Final = "cuffbell.sqlite3"
CHAT_FOLDER: Final = "chat"
CHAT_FILE: Final = "chat.sqlite"
# The local chat has no flood limit: nobody who tries the bot should wait.
_RATE: Final = 500.0
_CHAT_PAUSE: Final = timedelta(seconds=0)


@dataclass(frozen=True, slots=True)
class InventedPerson:
    """Somebody of the scenario. A contact is proposed to the first patient."""

    name: str
    called: str  #: by the bot
    role: Role
    zone: str
    medicine_times: tuple[time, ...] | None = None


#: The scenario of the README. All invented.
PEOPLE: Final = (
    InventedPerson(
        "Hollis Brandreth", "Hollis", Role.PATIENT, "Europe/Lisbon", (time(8), time(20))
    ),
    InventedPerson("Wren Brandreth", "Wren", Role.CARER, "America/Halifax"),
    InventedPerson(
        "Dr. Ottoline Okafor-Lindqvist",
        "Dr. Okafor-Lindqvist",
        Role.PRACTITIONER,
        "Europe/Lisbon",
    ),
)


@dataclass(frozen=True, slots=True)
class Trial:
    """A running trial."""

    base: str  #: address of the page and of the Bot API server, without a slash at the end
    chat: LocalChat
    program: Program
    clock: PersonTime
    working: asyncio.Task[None]  #: ends only when the program does


def try_locally(
    folder: Path,
    *,
    ports: Sequence[int],
    fresh: bool,
    open_browser: bool,
    language: str | None = None,
) -> int:
    """Run the trial on the first free port until Ctrl-C or SIGTERM; the exit status.

    `language`: of the people's chat programs; None goes on with the one from before.

    Raises:
        CuffbellError: the folder or the port is in use, or the folder cannot be read.
    """
    start = running(folder, ports=ports, fresh=fresh, language=language)
    try:
        return asyncio.run(_until_signal(start, folder, open_browser=open_browser))
    except StorageError as error:
        raise CuffbellError(str(error)) from error
    except OSError as error:
        raise CuffbellError(f"The folder {folder} cannot be used: {error.strerror}.") from error


async def _until_signal(
    start: AbstractAsyncContextManager[Trial], folder: Path, *, open_browser: bool
) -> int:
    stopping = asyncio.Event()
    stop_at_signals(stopping.set)
    async with start as trial:
        sys.stdout.write(_greeting(trial.base, folder))
        sys.stdout.flush()
        if open_browser and _has_screen():
            # Some browsers keep the call until they are closed: nobody waits for it.
            threading.Thread(target=webbrowser.open, args=(trial.base,), daemon=True).start()
        stopped = asyncio.create_task(stopping.wait())
        await asyncio.wait((stopped, trial.working), return_when=asyncio.FIRST_COMPLETED)
    return 0


@asynccontextmanager
async def running(
    folder: Path,
    *,
    ports: Sequence[int] = (0,),
    fresh: bool = False,
    language: str | None = None,
    database_url: str | None = None,
) -> AsyncIterator[Trial]:
    """A trial that runs while the block does.

    Args:
        ports: the first free one of these; 0 is any free one.
        fresh: forget what the folder holds.
        language: of the people's chat programs, a tag such as "es"; None keeps the one from
            before, at first English.
        database_url: instead of the SQLite file in the folder.

    Raises:
        CuffbellError: the folder or the port is in use.
    """
    with _plain_refusals():
        if fresh:
            _empty(folder)
    office = Office(open_database(database_url or f"sqlite:///{folder / DATABASE_FILE}"))
    try:
        async with _program_running(office, folder, ports, language) as trial:
            yield trial
    finally:
        office.close()


@asynccontextmanager
async def _program_running(
    office: Office, folder: Path, ports: Sequence[int], language: str | None
) -> AsyncIterator[Trial]:
    async def deliver() -> None:
        await program.delivery.drained()

    clock = PersonTime(office.database, office.desk, office.threads, deliver)
    token = _token(folder / CHAT_FOLDER)
    chat, base = await _started_chat(folder / CHAT_FOLDER, clock, token, ports)
    try:
        with office.database.work() as work:
            _settle_people(work, chat, language)
        client = make_client(token, base)
        program = Program(office, client, rate=_RATE, invented=True, chat_pause=_CHAT_PAUSE)
        working = asyncio.create_task(program.run())
        try:
            yield Trial(base, chat, program, clock, working)
        finally:
            program.stop()
            await working
    finally:
        await chat.stop()


def _token(folder: Path) -> str:
    """The bot's token of this folder, made at the first start.

    It is random, because a page of somebody else's that is open in the same browser could
    otherwise write into the chats in the bot's name.
    """
    file = folder / TOKEN_FILE
    folder.mkdir(parents=True, exist_ok=True)
    file.touch(mode=0o600)
    if not file.read_text():
        file.write_text(f"{BOT_ID}:{secrets.token_urlsafe(24)}")
    return file.read_text()


async def _started_chat(
    folder: Path, clock: PersonTime, token: str, ports: Sequence[int]
) -> tuple[LocalChat, str]:
    """The local chat on the first of the ports that is free."""
    for candidate in ports:
        with _plain_refusals():
            chat = LocalChat(folder, clock, token, candidate, limits=None)
        try:
            return chat, await chat.start()
        except OSError:
            await chat.stop()
    raise CuffbellError(
        f"Port {ports[0]} is in use. Choose another one with --port, or leave it out."
    )


def _settle_people(work: Work, chat: LocalChat, language: str | None) -> None:
    """Put the people into the local chat; at the first start with real invitations.

    The invitations are committed after the chat has them: a crash in between makes new ones.
    """
    is_first = not listed_patients(work.connection)
    patient_code: str | None = None
    for person in PEOPLE:
        code = work.invite(_invite(person, patient_code)) if is_first else None
        if person.role is Role.PATIENT:
            patient_code = code
        invitation = None if code is None else f"/start {code}"
        chat.add_person(person.name, person.role, person.zone, invitation, language)


def _invite(person: InventedPerson, patient_code: str | None) -> Invite:
    is_patient = person.role is Role.PATIENT
    return Invite(
        role=person.role,
        name=person.called,
        zone=person.zone,
        country=gazetteer.country_of(person.zone) or None,
        medicine_times=person.medicine_times,
        plan=PlanKind.FIRST_WEEK if is_patient else None,
        carer_of=patient_code if person.role is Role.CARER else None,
        practitioner_of=patient_code if person.role is Role.PRACTITIONER else None,
    )


def _empty(folder: Path) -> None:
    """Remove what a trial keeps in its folder, and nothing else that may lie there."""
    chat_file = folder / CHAT_FOLDER / CHAT_FILE
    if chat_file.exists():
        Store(chat_file).close()  # refused while another trial runs on it
    shutil.rmtree(folder / CHAT_FOLDER, ignore_errors=True)
    for ending in ("", "-wal", "-shm"):
        (folder / f"{DATABASE_FILE}{ending}").unlink(missing_ok=True)


@contextmanager
def _plain_refusals() -> Iterator[None]:
    """What the local chat says about its folder, as a line for the host."""
    try:
        yield
    except (FolderInUseError, NewerFolderError) as error:
        raise CuffbellError(str(error)) from error


def _has_screen() -> bool:
    # Without a screen some systems open a browser inside the terminal.
    return sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )


def _greeting(base: str, folder: Path) -> str:
    return (
        f"Open {base}/ in a browser: a patient, a carer and a doctor side by side.\n"
        f"Everything is kept in {folder.absolute()}\n"
        "Everybody and everything in it is invented. This is a trial on your machine: "
        "nobody is called, and it is no medical advice.\n"
        "Stop with Ctrl-C. The next start goes on; --fresh begins anew.\n"
    )
