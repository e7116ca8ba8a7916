"""The tables. What fills and reads them stands in the files named after them.

Moments are UTC. Values of the domain that are only ever read whole (a patient's state, a
button's action) are JSON texts, see `codec.py`. The migrations make these tables; a test
compares the two.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    false,
    literal_column,
    text,
)

from storage.moments import UtcMoment

metadata: Final = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# SQLite numbers rows by itself only in a column of exactly this type.
_Number = BigInteger().with_variant(Integer, "sqlite")


def _person(name: str = "person", *, nullable: bool = False) -> Column[str]:
    return Column(name, String(64), ForeignKey("persons.id"), nullable=nullable)


persons: Final = Table(
    "persons",
    metadata,
    Column("id", String(64), primary_key=True),
    Column("name", Text, nullable=False),
    Column("role", String(16), nullable=False),  # as invited; other roles are links
    Column("chat", BigInteger, index=True),
    Column("language", String(35), nullable=False),
    Column("zone", String(64), nullable=False),
    Column("state", Text),  # of a patient, else null
    Column("duty", Text),  # of a practitioner who chose when to look, else null
    Column("alarm_open", Boolean, nullable=False, server_default=false()),
    Column("joined", Boolean, nullable=False, server_default=false()),
    Column("unreachable", Boolean, nullable=False, server_default=false()),  # of a patient
    Column("created_at", UtcMoment, nullable=False),
)

links: Final = Table(
    "links",
    metadata,
    Column("patient", String(64), ForeignKey("persons.id"), primary_key=True),
    Column("contact", String(64), ForeignKey("persons.id"), primary_key=True, index=True),
    Column("role", String(16), nullable=False),
    Column("position", Integer, nullable=False),  # in which order they are called
    Column("consent", String(16), nullable=False),
    Column("told_missed", Boolean, nullable=False, server_default=false()),
    Column("told_week", Boolean, nullable=False, server_default=false()),
    Column("reachable", Boolean, nullable=False),
    Column("asked", Boolean, nullable=False, server_default=false()),
)

invitations: Final = Table(
    "invitations",
    metadata,
    Column("code_sha256", String(64), primary_key=True),
    _person(),
    Column("role", String(16), nullable=False),
    _person("patient", nullable=True),
    Column("expires", UtcMoment, nullable=False),
    Column("used_at", UtcMoment),
)

readings: Final = Table(
    "readings",
    metadata,
    Column("number", _Number, primary_key=True),  # the order in which versions appeared
    Column("id", String(64), nullable=False, unique=True),
    Column("chain", String(64), nullable=False, index=True),  # id of its first version
    Column("replaces", String(64)),
    _person(),
    Column("state", String(16), nullable=False),  # kept, replaced, deleted
    Column("systolic", Integer, nullable=False),
    Column("diastolic", Integer, nullable=False),
    Column("pulse", Integer),
    Column("at", UtcMoment, nullable=False),
    Column("zone", String(64), nullable=False),  # the person's, when it was kept
    Column("arm", String(8)),
    Column("came_as", String(16), nullable=False),
    Column("setting", String(8), nullable=False, server_default="home"),  # home, clinic
    Column("chat", BigInteger, nullable=False),
    Column("message", BigInteger, nullable=False),
    Column("text", Text, nullable=False),
    Column("written_at", UtcMoment, nullable=False),
    Index(None, "person", "at"),
    Index(None, "chat", "message"),
)

# Copies of the readings at home that count, by week and person, see `reading_weeks.py`.
reading_weeks: Final = Table(
    "reading_weeks",
    metadata,
    Column("week", Integer, primary_key=True, autoincrement=False),
    Column("person", String(64), ForeignKey("persons.id"), primary_key=True),
    Column("packed", LargeBinary, nullable=False),
    sqlite_with_rowid=False,  # so that the weeks of all people lie together
)

notes: Final = Table(
    "notes",
    metadata,
    Column("number", _Number, primary_key=True),
    _person(),
    Column("kind", String(16), nullable=False),
    Column("at", UtcMoment, nullable=False),
    Column("code", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("chat", BigInteger),
    Column("message", BigInteger),
    Index(None, "person", "at"),
    Index(None, "kind", "at"),
    Index(None, "chat", "message"),
)

timers: Final = Table(
    "timers",
    metadata,
    Column("id", _Number, primary_key=True),
    _person(),
    Column("key", String(120), nullable=False),
    Column("due", UtcMoment, nullable=False, index=True),  # person time
    Column("attempts", Integer, nullable=False, server_default=text("0")),
    UniqueConstraint("person", "key"),
)
#: Timers of texts whose owner is awaited. Few of many, so that nothing else pays for them;
#: in the order of bytes, which PostgreSQL's usual order of texts is not.
OWNER_AWAITED: Final = {
    "postgresql": text("key ~>=~ 'owner:' AND key ~<~ 'owner;'"),
    "sqlite": text("key >= 'owner:' AND key < 'owner;'"),
}
Index(
    "ix_timers_owner",
    timers.c.key,
    postgresql_ops={"key": "text_pattern_ops"},
    postgresql_where=OWNER_AWAITED["postgresql"],
    sqlite_where=OWNER_AWAITED["sqlite"],
)

chats: Final = Table(
    "chats",
    metadata,
    Column("chat", BigInteger, primary_key=True, autoincrement=False),
    Column("asking", Text, nullable=False),
)

lanes: Final = Table(
    "lanes",
    metadata,
    Column("chat", BigInteger, primary_key=True, autoincrement=False),
    Column("lane", String(8), primary_key=True),
    Column("lease", BigInteger, nullable=False, server_default=text("0")),
    Column("leased_until", UtcMoment, nullable=False),
    Column("worker", String(120), nullable=False, server_default=""),
    Column("next_at", UtcMoment, nullable=False),  # the chat's next allowed moment
    Column("head_rank", Integer),  # null when nothing waits
    Column("head_due", UtcMoment),
    Column("head_ready", UtcMoment, nullable=False),
)
Index(
    "ix_lanes_head",
    lanes.c.lane,
    lanes.c.head_rank,
    lanes.c.head_due,
    postgresql_where=lanes.c.head_rank.is_not(None),
    sqlite_where=lanes.c.head_rank.is_not(None),
)

outbox: Final = Table(
    "outbox",
    metadata,
    Column("id", _Number, primary_key=True),
    Column("chat", BigInteger, nullable=False),
    Column("lane", String(8), nullable=False),
    Column("rank", Integer, nullable=False),
    Column("state", String(8), nullable=False),  # waiting, sent, failed, recalled
    Column("queued_at", UtcMoment, nullable=False),
    Column("not_before", UtcMoment, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("html", Text, nullable=False),
    Column("plain", Text, nullable=False),
    Column("language", String(35), nullable=False),
    Column("buttons", Text),
    Column("keyboard", Text),
    Column("attachment", Text),
    Column("about", String(64)),
    Column("to_person", String(64)),
    Column("leave", Boolean, nullable=False),
    Column("first_tried_at", UtcMoment),
    Column("sent_at", UtcMoment),  # or given up, when the state is failed or recalled
    Column("platform_message", BigInteger),
    Column("problem", String(16)),
)
#: A row that is still to be sent. A literal, not a parameter: with a parameter PostgreSQL
#: cannot tell that the index below fits.
WAITS: Final = outbox.c.state == literal_column("'waiting'")
Index(
    "ix_outbox_waiting",
    outbox.c.chat,
    outbox.c.lane,
    outbox.c.rank,
    outbox.c.id,
    postgresql_where=text("state = 'waiting'"),
    sqlite_where=text("state = 'waiting'"),
)
Index("ix_outbox_sent_at", outbox.c.sent_at)

buttons: Final = Table(
    "buttons",
    metadata,
    Column("token", String(64), primary_key=True),
    Column("chat", BigInteger, nullable=False),
    Column("action", Text, nullable=False),
    Column("created_at", UtcMoment, nullable=False, index=True),
)

seen_updates: Final = Table(
    "seen_updates",
    metadata,
    Column("bot", BigInteger, primary_key=True, autoincrement=False),
    Column("update_id", BigInteger, primary_key=True, autoincrement=False),
    Column("at", UtcMoment, nullable=False, index=True),  # machine time
)

unhandled: Final = Table(
    "unhandled",
    metadata,
    Column("number", _Number, primary_key=True),
    Column("bot", BigInteger, nullable=False),
    Column("update_id", BigInteger),
    Column("chat", BigInteger),
    Column("at", UtcMoment, nullable=False),
    Column("event", Text, nullable=False),  # the whole event as JSON
    Column("problem", Text, nullable=False),  # kind of error and place in the code
)

send_gate: Final = Table(
    "send_gate",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("next_at", UtcMoment, nullable=False),
)

# One row for each process of the bot, see `runs.py`. Machine time.
runs: Final = Table(
    "runs",
    metadata,
    Column("id", String(64), primary_key=True),
    Column("started_at", UtcMoment, nullable=False),
    Column("seen_at", UtcMoment, nullable=False, index=True),
    Column("polled_at", UtcMoment),  # the platform last answered the question for updates
    Column("rang_at", UtcMoment),  # the alarm clock last handled all that was due
)

clock: Final = Table(
    "clock",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("offset_microseconds", BigInteger, nullable=False),
)

bots: Final = Table(
    "bots",
    metadata,
    Column("id", BigInteger, primary_key=True, autoincrement=False),
    Column("username", Text, nullable=False),
)
