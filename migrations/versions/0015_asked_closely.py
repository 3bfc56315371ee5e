"""Of which alarms a look asks priority, delay and latching as well."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("reading_look") as table:
        table.add_column(sa.Column("closely", sa.Text(), nullable=False, server_default="[]"))
        table.create_check_constraint(op.f("ck_reading_look_closely_filled"), "closely <> ''")
    with op.batch_alter_table("reading_look") as table:
        table.alter_column("closely", server_default=None)
