"""What a walk over the whole fleet reads stands together.

The model stands beside what a device holds, and retired devices, which are few, are found by
themselves.
"""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("device_now") as changed:
        changed.add_column(sa.Column("model", sa.String(), nullable=True))
    op.execute(
        "UPDATE device_now SET model = "
        "(SELECT model FROM device WHERE device.id = device_now.device_id)"
    )
    with op.batch_alter_table("device_now") as changed:
        changed.alter_column("model", existing_type=sa.String(), nullable=False)
        changed.create_check_constraint(op.f("ck_device_now_model_filled"), "model <> ''")
    retired = sa.text("status = 'retired'")
    op.create_index(
        "ix_device_retired", "device", ["id"], sqlite_where=retired, postgresql_where=retired
    )
