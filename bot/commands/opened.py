"""What the commands share: settings, logging and the open database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from bot import logs, settings
from bot.errors import CuffbellError
from bot.settings import Settings
from storage.engine import Database, open_database
from storage.errors import StorageError


def load_settings() -> Settings:
    """The settings, with logging set up as they say. Raises SettingsError."""
    loaded = settings.load()
    logs.set_up(loaded.log)
    return loaded


@contextmanager
def opened_database(chosen: Settings | None = None) -> Iterator[Database]:
    """The database of the settings, its schema up to date.

    Raises:
        CuffbellError: it cannot be used, or what was asked of it makes no sense; the text
            is the storage's own line.
    """
    url = (chosen or load_settings()).database_url
    try:
        database = open_database(url)
        try:
            yield database
        finally:
            database.dispose()
    except StorageError as error:
        raise CuffbellError(str(error)) from error
