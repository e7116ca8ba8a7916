"""Keeps what the domain decides: SQLite or PostgreSQL, one transaction for each event.

    database = open_database("sqlite:///cuffbell.db")
    with database.work() as work:            # one event
        patient = work.patient(person)
        work.store(patient, outcome, messages, actions)
    Outbox(database).claim(...)              # delivery

Knows the domain's values, no chat library and no wording.
"""

from storage.engine import Database, open_database
from storage.errors import (
    BadDatabaseUrlError,
    DatabaseUnreachableError,
    NewerSchemaError,
    OutcomeWithoutPatientError,
    StorageError,
    UnknownPersonError,
)
from storage.export import ListedPatient, Version, listed_patients, versions
from storage.invitations import Invite
from storage.messages import (
    Claim,
    Lane,
    ReadyMessage,
    ShownButton,
    ShownKeyboard,
    Waiting,
)
from storage.outbox import Outbox
from storage.records import VersionState
from storage.timers import Timer
from storage.work import Work

__all__ = [
    "BadDatabaseUrlError",
    "Claim",
    "Database",
    "DatabaseUnreachableError",
    "Invite",
    "Lane",
    "ListedPatient",
    "NewerSchemaError",
    "Outbox",
    "OutcomeWithoutPatientError",
    "ReadyMessage",
    "ShownButton",
    "ShownKeyboard",
    "StorageError",
    "Timer",
    "UnknownPersonError",
    "Version",
    "VersionState",
    "Waiting",
    "Work",
    "listed_patients",
    "open_database",
    "versions",
]
