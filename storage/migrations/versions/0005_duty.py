"""When a practitioner looks at their patients. Nobody has chosen yet: null is the default."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("persons", sa.Column("duty", sa.Text(), nullable=True))
