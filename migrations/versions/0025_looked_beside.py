"""What a long file would change is found out beside the pages, and kept beside the file."""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("long_work") as changed:
        changed.drop_constraint(op.f("ck_long_work_kind_known"), type_="check")
        changed.create_check_constraint(
            op.f("ck_long_work_kind_known"),
            "kind IN ('look-at-readings', 'take-in-readings', 're-audit')",
        )
    with op.batch_alter_table("pending_upload") as changed:
        changed.add_column(sa.Column("preview", sa.Text(), nullable=True))
        changed.create_check_constraint(op.f("ck_pending_upload_preview_filled"), "preview <> ''")
