"""A device of which only the options were read has no preset read."""

from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("device_now") as changed:
        changed.drop_constraint(op.f("ck_device_now_presets_read_positive"), type_="check")
        changed.create_check_constraint(
            op.f("ck_device_now_presets_read_not_negative"), "0 <= presets_read"
        )
