"""When a message was first tried, which processes live, which patients cannot be reached."""

import sqlalchemy as sa
from alembic import op

from storage.moments import UtcMoment

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("outbox", sa.Column("first_tried_at", UtcMoment()))
    op.add_column(
        "persons",
        sa.Column("unreachable", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    op.create_table(
        "runs",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("started_at", UtcMoment(), nullable=False),
        sa.Column("seen_at", UtcMoment(), nullable=False),
        sa.Column("polled_at", UtcMoment()),
        sa.Column("rang_at", UtcMoment()),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_runs")),
    )
    op.create_index(op.f("ix_runs_seen_at"), "runs", ["seen_at"])
