"""Timers of texts whose owner is awaited are found without a look at everybody's timers."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(
        "ix_timers_owner",
        "timers",
        ["key"],
        postgresql_ops={"key": "text_pattern_ops"},
        postgresql_where=sa.text("key ~>=~ 'owner:' AND key ~<~ 'owner;'"),
        sqlite_where=sa.text("key >= 'owner:' AND key < 'owner;'"),
    )
