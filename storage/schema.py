"""Brings the schema up to date, under a lock, and refuses a newer one.

Whoever opens the database does this: the bot, every command, every replica. The second one
waits for the first and then finds nothing to do. `migrations/` holds the steps.
"""

from __future__ import annotations

from importlib import resources
from typing import Final

from sqlalchemy import Connection, inspect, text

from storage.errors import NewerSchemaError
from storage.migrations import HEAD

# Any number will do, as long as every release uses the same one.
_ADVISORY_LOCK: Final = 0x43554646


def bring_up_to_date(connection: Connection) -> None:
    """Run the migrations that are missing, in the caller's transaction.

    Raises:
        NewerSchemaError: the schema is of a release newer than this one.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(
            text("SELECT pg_advisory_xact_lock(:number)"), {"number": _ADVISORY_LOCK}
        )
    found = schema_version(connection)
    if found != HEAD:
        _migrate(connection, found)


def schema_version(connection: Connection) -> str | None:
    """The revision that the database has, None when it is empty."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found


def _migrate(connection: Connection, found: str | None) -> None:
    # Importing Alembic takes longer than everything else here, and is rarely needed.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(resources.files("storage") / "migrations"))
    known = {revision.revision for revision in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise NewerSchemaError(found)
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
