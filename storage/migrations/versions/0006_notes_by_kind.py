"""Notes of a kind by moment: the practitioner's list asks for a few kinds of many people."""

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(op.f("ix_notes_kind_at"), "notes", ["kind", "at"])
