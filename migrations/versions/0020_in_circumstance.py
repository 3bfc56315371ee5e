"""Evidence of a category's limits in one of its circumstances, beside that of the plain ones."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("evidence") as table:
        table.add_column(sa.Column("circumstance", sa.String(), nullable=False, server_default=""))
    with op.batch_alter_table("evidence") as table:
        table.alter_column("circumstance", server_default=None)
