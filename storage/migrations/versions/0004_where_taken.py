"""Where a reading was taken. Those that were there before count as taken at home.

The packed weeks hold readings at home only, so they stay as they are.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    setting = sa.Column("setting", sa.String(length=8), nullable=False, server_default="home")
    op.add_column("readings", setting)
