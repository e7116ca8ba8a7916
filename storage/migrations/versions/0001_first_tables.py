"""All tables of the first release."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from storage.moments import UtcMoment

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# SQLite numbers rows by itself only in a column of exactly this type.
NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    _people()
    _days()
    _chats()
    _delivery()
    _clocks()
    gate = sa.table("send_gate", sa.column("id", sa.Integer()), sa.column("next_at", UtcMoment()))
    op.bulk_insert(gate, [{"id": 1, "next_at": datetime(2000, 1, 1, tzinfo=UTC)}])


def _people() -> None:
    """Persons, links and invitations."""
    op.create_table(
        "persons",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=True),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.Column("state", sa.Text(), nullable=True),
        sa.Column("alarm_open", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("joined", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("created_at", UtcMoment(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_persons")),
    )
    op.create_index(op.f("ix_persons_chat"), "persons", ["chat"])
    op.create_table(
        "links",
        sa.Column("patient", sa.String(length=64), nullable=False),
        sa.Column("contact", sa.String(length=64), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("consent", sa.String(length=16), nullable=False),
        sa.Column("told_missed", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("told_week", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("reachable", sa.Boolean(), nullable=False),
        sa.Column("asked", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.ForeignKeyConstraint(["contact"], ["persons.id"], name=op.f("fk_links_contact")),
        sa.ForeignKeyConstraint(["patient"], ["persons.id"], name=op.f("fk_links_patient")),
        sa.PrimaryKeyConstraint("patient", "contact", name=op.f("pk_links")),
    )
    op.create_index(op.f("ix_links_contact"), "links", ["contact"])
    op.create_table(
        "invitations",
        sa.Column("code_sha256", sa.String(length=64), nullable=False),
        sa.Column("person", sa.String(length=64), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("patient", sa.String(length=64), nullable=True),
        sa.Column("expires", UtcMoment(), nullable=False),
        sa.Column("used_at", UtcMoment(), nullable=True),
        sa.ForeignKeyConstraint(["patient"], ["persons.id"], name=op.f("fk_invitations_patient")),
        sa.ForeignKeyConstraint(["person"], ["persons.id"], name=op.f("fk_invitations_person")),
        sa.PrimaryKeyConstraint("code_sha256", name=op.f("pk_invitations")),
    )


def _days() -> None:
    """What is kept of a person: readings, notes, timers."""
    op.create_table(
        "readings",
        sa.Column("number", NUMBER, nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("chain", sa.String(length=64), nullable=False),
        sa.Column("replaces", sa.String(length=64), nullable=True),
        sa.Column("person", sa.String(length=64), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("systolic", sa.Integer(), nullable=False),
        sa.Column("diastolic", sa.Integer(), nullable=False),
        sa.Column("pulse", sa.Integer(), nullable=True),
        sa.Column("at", UtcMoment(), nullable=False),
        sa.Column("zone", sa.String(length=64), nullable=False),
        sa.Column("arm", sa.String(length=8), nullable=True),
        sa.Column("came_as", sa.String(length=16), nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=False),
        sa.Column("message", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("written_at", UtcMoment(), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["persons.id"], name=op.f("fk_readings_person")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_readings")),
        sa.UniqueConstraint("id", name=op.f("uq_readings_id")),
    )
    op.create_index(op.f("ix_readings_chain"), "readings", ["chain"])
    op.create_index(op.f("ix_readings_chat_message"), "readings", ["chat", "message"])
    op.create_index(op.f("ix_readings_person_at"), "readings", ["person", "at"])
    op.create_table(
        "notes",
        sa.Column("number", NUMBER, nullable=False),
        sa.Column("person", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("at", UtcMoment(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=True),
        sa.Column("message", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["persons.id"], name=op.f("fk_notes_person")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_notes")),
    )
    op.create_index(op.f("ix_notes_chat_message"), "notes", ["chat", "message"])
    op.create_index(op.f("ix_notes_person_at"), "notes", ["person", "at"])
    op.create_table(
        "timers",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("person", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("due", UtcMoment(), nullable=False),
        sa.Column("attempts", sa.Integer(), server_default=sa.text("0"), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["persons.id"], name=op.f("fk_timers_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_timers")),
        sa.UniqueConstraint("person", "key", name=op.f("uq_timers_person_key")),
    )
    op.create_index(op.f("ix_timers_due"), "timers", ["due"])


def _chats() -> None:
    """What came from the platform."""
    op.create_table(
        "chats",
        sa.Column("chat", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("asking", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("chat", name=op.f("pk_chats")),
    )
    op.create_table(
        "buttons",
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("created_at", UtcMoment(), nullable=False),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_buttons")),
    )
    op.create_index(op.f("ix_buttons_created_at"), "buttons", ["created_at"])
    op.create_table(
        "seen_updates",
        sa.Column("bot", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("update_id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("at", UtcMoment(), nullable=False),
        sa.PrimaryKeyConstraint("bot", "update_id", name=op.f("pk_seen_updates")),
    )
    op.create_index(op.f("ix_seen_updates_at"), "seen_updates", ["at"])
    op.create_table(
        "unhandled",
        sa.Column("number", NUMBER, nullable=False),
        sa.Column("bot", sa.BigInteger(), nullable=False),
        sa.Column("update_id", sa.BigInteger(), nullable=True),
        sa.Column("chat", sa.BigInteger(), nullable=True),
        sa.Column("at", UtcMoment(), nullable=False),
        sa.Column("event", sa.Text(), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_unhandled")),
    )
    op.create_table(
        "bots",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("username", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bots")),
    )


def _delivery() -> None:
    """Messages that wait, by chat and lane."""
    op.create_table(
        "lanes",
        sa.Column("chat", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("lane", sa.String(length=8), nullable=False),
        sa.Column("lease", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("leased_until", UtcMoment(), nullable=False),
        sa.Column("worker", sa.String(length=120), server_default="", nullable=False),
        sa.Column("next_at", UtcMoment(), nullable=False),
        sa.Column("head_rank", sa.Integer(), nullable=True),
        sa.Column("head_due", UtcMoment(), nullable=True),
        sa.Column("head_ready", UtcMoment(), nullable=False),
        sa.PrimaryKeyConstraint("chat", "lane", name=op.f("pk_lanes")),
    )
    op.create_index(
        "ix_lanes_head",
        "lanes",
        ["lane", "head_rank", "head_due"],
        postgresql_where=sa.text("head_rank IS NOT NULL"),
        sqlite_where=sa.text("head_rank IS NOT NULL"),
    )
    op.create_table(
        "outbox",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("chat", sa.BigInteger(), nullable=False),
        sa.Column("lane", sa.String(length=8), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("queued_at", UtcMoment(), nullable=False),
        sa.Column("not_before", UtcMoment(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("html", sa.Text(), nullable=False),
        sa.Column("plain", sa.Text(), nullable=False),
        sa.Column("language", sa.String(length=35), nullable=False),
        sa.Column("buttons", sa.Text(), nullable=True),
        sa.Column("keyboard", sa.Text(), nullable=True),
        sa.Column("attachment", sa.Text(), nullable=True),
        sa.Column("about", sa.String(length=64), nullable=True),
        sa.Column("to_person", sa.String(length=64), nullable=True),
        sa.Column("leave", sa.Boolean(), nullable=False),
        sa.Column("sent_at", UtcMoment(), nullable=True),
        sa.Column("platform_message", sa.BigInteger(), nullable=True),
        sa.Column("problem", sa.String(length=16), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
    )
    op.create_index("ix_outbox_sent_at", "outbox", ["sent_at"])
    op.create_index(
        "ix_outbox_waiting",
        "outbox",
        ["chat", "lane", "rank", "id"],
        postgresql_where=sa.text("state = 'waiting'"),
        sqlite_where=sa.text("state = 'waiting'"),
    )


def _clocks() -> None:
    """The pace of sending, and the clock of persons."""
    op.create_table(
        "send_gate",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("next_at", UtcMoment(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_send_gate")),
    )
    op.create_table(
        "clock",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("offset_microseconds", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clock")),
    )
