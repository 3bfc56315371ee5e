"""A shift check after whose device's values were opened is told apart: it is no blind reading."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("report") as changed:
        changed.drop_constraint(op.f("ck_report_origin_known"), type_="check")
        changed.create_check_constraint(
            op.f("ck_report_origin_known"),
            "origin IN ('form', 'crew', 'seen', 'settled', 'file', 'api')",
        )
    with op.batch_alter_table("shift_check") as changed:
        changed.add_column(
            sa.Column("seen", sa.Boolean(), nullable=False, server_default=sa.false())
        )
    with op.batch_alter_table("shift_check") as changed:
        changed.alter_column("seen", existing_type=sa.Boolean(), server_default=None)
