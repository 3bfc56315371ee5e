"""Which reports tell what a device holds stands apart from what it holds."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "device_presets",
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("presets", sa.Text(), nullable=False),
        sa.CheckConstraint("presets <> ''", name=op.f("ck_device_presets_presets_filled")),
        sa.ForeignKeyConstraint(
            ["device_id"],
            ["device_now.device_id"],
            name=op.f("fk_device_presets_device_id_device_now"),
        ),
        sa.PrimaryKeyConstraint("device_id", name=op.f("pk_device_presets")),
    )
    op.execute("INSERT INTO device_presets SELECT device_id, presets FROM device_now")
    with op.batch_alter_table("device_now") as changed:
        changed.drop_column("presets")
